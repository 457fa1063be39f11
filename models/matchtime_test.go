package models

import "testing"

// clk is a clock given as half, minutes and seconds.
func clk(half, minute, second int) Clock { return Clock{Half: half, Second: 60*minute + second} }

func match80() Match {
	squad := int64(4)
	return Match{Record: Record{ID: 9, AcademyID: 1}, SeasonID: 3, SquadID: &squad, Date: "2025-10-04",
		Opponent: "Ferrow Vale", Halves: 2, HalfMinutes: 40}
}

func TestPositionClipsAddedTimeToTheHalf(t *testing.T) {
	m := match80()
	for _, c := range []struct {
		clock Clock
		want  float64
	}{
		{clk(1, 0, 0), 0},
		{clk(1, 39, 59), 2399},
		{clk(1, 40, 0), 2400},
		{clk(1, 44, 10), 2400}, // added time of the first half
		{clk(2, 40, 0), 2400},
		{clk(2, 41, 30), 2490}, // the same reading as added time, a half later
		{clk(2, 80, 0), 4800},
		{clk(2, 86, 0), 4800},
		{clk(2, 12, 0), 2400}, // before the half's start
		{clk(0, 50, 0), 0},
		{clk(3, 90, 0), 4800},
	} {
		if got := m.Position(c.clock); got != c.want {
			t.Errorf("Position(%s) = %v, want %v", c.clock, got, c.want)
		}
	}
	m.HalfMinutes = 35
	if got := m.Position(clk(2, 71, 0)); got != 4200 {
		t.Errorf("with halves of 35 minutes the match ends at %v, want 4200", got)
	}
}

func TestMinutesComeFromStints(t *testing.T) {
	m := match80()
	for _, c := range []struct {
		name   string
		stints []Stint
		want   float64
	}{
		{"the whole match", []Stint{{On: clk(1, 0, 0), Off: clk(2, 80, 0)}}, 80},
		{"half by half", []Stint{{On: clk(1, 0, 0), Off: clk(1, 40, 0)}, {On: clk(2, 40, 0), Off: clk(2, 80, 0)}}, 80},
		{"off in added time", []Stint{{On: clk(1, 0, 0), Off: clk(1, 42, 0)}}, 40},
		{"on in added time", []Stint{{On: clk(1, 41, 0), Off: clk(2, 55, 30)}}, 15.5},
		{"rolling substitutions", []Stint{{On: clk(1, 0, 0), Off: clk(1, 20, 0)}, {On: clk(1, 30, 0), Off: clk(2, 50, 0)},
			{On: clk(2, 70, 0), Off: clk(2, 80, 0)}}, 50},
		{"none recorded", nil, 33},
	} {
		a := Appearance{Minutes: 33, Stints: c.stints}
		if got := a.MinutesIn(m); got != c.want {
			t.Errorf("%s: %v minutes, want %v", c.name, got, c.want)
		}
	}
}

func TestClockReadsAsHalfAndTime(t *testing.T) {
	if got := clk(2, 41, 5).String(); got != "half 2, 41:05" {
		t.Errorf("String() = %q", got)
	}
	if got := (Clock{Half: 1, Second: 6000}).Time(); got != "100:00" {
		t.Errorf("Time() = %q", got)
	}
	if clk(1, 44, 0).Compare(clk(2, 40, 0)) >= 0 {
		t.Error("added time of the first half does not come before the second half")
	}
}
