package models

import "testing"

// By hand: 5 + 2 + 3 = 10, and 7 + 3 = 10; cards score nothing, and no score is no score of 0.
func TestAScoreIsAddedUpFromTheEventsAndNeverAssumed(t *testing.T) {
	got := ScoresOf([]ScoreEvents{
		{1, EventTry, true, 1}, {1, EventConversion, true, 1}, {1, EventPenaltyGoal, true, 1},
		{1, EventPenaltyTry, false, 1}, {1, EventDropGoal, false, 1}, {1, EventYellowCard, false, 2},
		{2, EventSubstitution, true, 8},
	})
	if len(got) != 1 || got[1] != (MatchScore{1, 10, 10}) {
		t.Errorf("scores %+v", got)
	}
}
