package models

import (
	"encoding/json"
	"reflect"
	"testing"
)

func TestARoundIsClosedWhenAllHaveFiguresOrAWeekOrALaterRoundIsOver(t *testing.T) {
	const today = Date("2026-02-20")
	for _, c := range []struct {
		what string
		days []RoundDay
		want Date
	}{
		{"nothing played", nil, ""},
		{"nothing recorded", []RoundDay{{"2026-02-14", 15, 0}}, ""},
		{"some are missing", []RoundDay{{"2026-02-14", 15, 14}}, ""},
		{"all have figures", []RoundDay{{"2026-02-14", 15, 15}}, "2026-02-14"},
		{"a week has passed", []RoundDay{{"2026-02-13", 15, 1}}, "2026-02-13"},
		{"a later round has begun", []RoundDay{{"2026-02-14", 15, 3}, {"2026-02-18", 15, 1}}, "2026-02-14"},
		{"a later match has no figures", []RoundDay{{"2026-02-07", 15, 3}, {"2026-02-18", 15, 0}}, "2026-02-07"},
		{"a day to come", []RoundDay{{"2026-02-14", 15, 15}, {"2026-02-21", 15, 15}}, "2026-02-14"},
		{"both have all", []RoundDay{{"2026-02-14", 15, 15}, {"2026-02-18", 9, 9}}, "2026-02-18"},
	} {
		if got := ClosedRound(c.days, today); got != c.want {
			t.Errorf("%s: the last closed round is %q, want %q", c.what, got, c.want)
		}
	}
}

// What is published of a trend has no member that speaks of the others, and no digit that is not printed.
func TestAPublishedTrendSaysNothingOfTheOthers(t *testing.T) {
	x := func(v float64) *float64 { return &v }
	e := func(mean float64) *Estimate {
		return &Estimate{mean, Range{mean - 0.123456, mean + 0.123456}, Range{mean - 0.3, mean + 0.3}}
	}
	full := TrendFigures{
		Verdict: "improving", Matches: 7, Minutes: 433.5, Trials: 3, Converged: true, Note: "read with care",
		Start: e(0.41237), Now: e(0.61234), Change: e(0.2), Next: e(0.6), Improved: x(0.99731), Declined: x(0.0012),
		Worthwhile: x(0.0312),
		Standing:   &Standing{Of: 9, Rank: 2.3}, Variation: x(0.11),
		Odd:   []OddMatch{{MatchID: 4, Value: 0.123456, Expected: 0.543219, Tail: 0.0123}},
		Curve: []CurvePoint{{"2026-02-14", *e(0.5555)}}, Goals: []GoalOutlook{{GoalID: 3, Reached: 0.123456, Now: 0.00123}},
	}
	before, err := json.Marshal(full)
	if err != nil {
		t.Fatal(err)
	}
	got := full.Published("%")
	round := func(mean float64) *Estimate {
		return &Estimate{RoundTo(0.01, mean), Range{RoundTo(0.01, mean-0.123456), RoundTo(0.01, mean+0.123456)},
			Range{RoundTo(0.01, mean-0.3), RoundTo(0.01, mean+0.3)}}
	}
	want := TrendFigures{
		Verdict: "improving", Matches: 7, Minutes: 433.5, Trials: 3, Converged: true, Note: "read with care",
		Start: round(0.41237), Now: round(0.61234), Change: round(0.2), Next: round(0.6), Improved: x(1), Declined: x(0),
		Odd:   []OddMatch{{MatchID: 4, Value: 0.123456, Expected: 0.54, Tail: 0.01}},
		Curve: []CurvePoint{{"2026-02-14", *round(0.5555)}}, Goals: []GoalOutlook{{GoalID: 3, Reached: 0.12, Now: 0}},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("published\n%+v, want\n%+v", got, want)
	}
	if round(0.61234).Mean != 0.61 || RoundTo(0.1, 3.14159) != 3.1 {
		t.Error("rounding does not give the printed digits")
	}
	if after, err := json.Marshal(full); err != nil || string(after) != string(before) {
		t.Errorf("the trend itself was changed, %v:\n%s\n%s", err, before, after)
	}
}
