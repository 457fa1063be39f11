package models

import "testing"

// A match of 150 rucks beside one of 50 is one and a half usual matches, by hand: the mean is 100.
func TestAMatchCountsForAsManyAsItOfferedWhereThatIsRecorded(t *testing.T) {
	of := func(match int64, scope Scope, c Counts) TeamTotals {
		return TeamTotals{MatchID: match, Scope: scope, Counts: c}
	}
	o := OpportunitiesOf([]TeamTotals{
		of(1, WholeTeam, Counts{MatchRucks: 150, BallInPlay: 30}), of(2, WholeTeam, Counts{MatchRucks: 50}),
		of(3, Forwards, Counts{MatchRucks: 900}), of(4, WholeTeam, Counts{"carries": 80}),
		of(5, WholeTeam, Counts{MatchRucks: 0}),
	})
	for _, want := range []struct {
		match int64
		count string
		times float64
	}{{1, "ruck_arrivals", 1.5}, {2, "ruck_arrivals", 0.5}, {3, "ruck_arrivals", 1}, {4, "ruck_arrivals", 1},
		{5, "ruck_arrivals", 1}, {1, "carries", 1}, {1, "tackles_made", 1}, {9, "carries", 1}} {
		if got := o.Times(want.match, want.count); !same(got, want.times) {
			t.Errorf("match %d, %s: %v usual matches, want %v", want.match, want.count, got, want.times)
		}
	}
}

func TestWhatAMatchOfferedIsOfTheWholeTeamAndBelievable(t *testing.T) {
	valid := TeamTotals{MatchID: 1, Scope: WholeTeam, Counts: Counts{MatchRucks: 150, BallInPlay: 33.5, "carries": 90}}
	if err := valid.Validate(); err != nil {
		t.Error(err)
	}
	for _, c := range []Counts{{BallInPlay: 2010}, {MatchRucks: 1.5}, {OpponentCarries: -1}, {"rucks": 3}} {
		if err := (TeamTotals{MatchID: 1, Scope: WholeTeam, Counts: c}).Validate(); err == nil {
			t.Errorf("%v passed", c)
		}
	}
	if err := (TeamTotals{MatchID: 1, Scope: Backs, Counts: Counts{MatchRucks: 150}}).Validate(); err == nil {
		t.Error("rucks of the backs passed")
	}
}
