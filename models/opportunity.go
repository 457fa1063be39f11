package models

import (
	"maps"
	"math"
	"slices"
)

// TeamCount is a count that only team totals have: how many opportunities a match offered.
type TeamCount struct {
	Code       string `json:"code"`
	Label      string `json:"label"`
	Definition string `json:"definition"`
	Unit       string `json:"unit,omitempty"` // empty for a count
}

// The counts of what a match offered.
const (
	MatchRucks      = "match_rucks"
	OpponentCarries = "opponent_carries"
	BallInPlay      = "ball_in_play"
)

// TeamCountCatalogue returns the counts that only totals of the whole team have, beside those of CountCatalogue.
func TeamCountCatalogue() []TeamCount {
	return []TeamCount{
		{Code: MatchRucks, Label: "Rucks in the match",
			Definition: "All rucks in the match, after carries by either side."},
		{Code: OpponentCarries, Label: "Opponents' carries",
			Definition: "Every carry by the opponents, including those that ended in a pass or an offload."},
		{Code: BallInPlay, Label: "Ball in play", Unit: "minutes",
			Definition: "Minutes when the clock ran and the ball was in play: no stoppages, and no time while a set " +
				"piece forms."},
	}
}

// Opportunity is the count of team totals that says how much a match offered of what is counted: rucks to come to,
// carriers to tackle, or, for everything else, time with the ball in play.
func Opportunity(count string) string {
	switch count {
	case "ruck_arrivals", "breakdown_turnovers_won", "breakdown_penalties":
		return MatchRucks
	case "tackles_made", "tackles_won", "tackles_missed", "tackle_results_recorded":
		return OpponentCarries
	}
	return BallInPlay
}

// Opportunities say what the matches of a squad's season offered, as multiples of the usual: a match with twice the
// rucks of the mean match is two matches to come to rucks in. The mean is over the matches in which it was recorded.
type Opportunities map[int64]map[string]float64

// OpportunitiesOf reads them off the totals of the whole team. Of a match without totals, or with a count of 0,
// nothing is known.
func OpportunitiesOf(totals []TeamTotals) Opportunities {
	o := Opportunities{}
	for _, c := range TeamCountCatalogue() {
		var sum, n float64
		for _, t := range totals {
			if v := t.Counts[c.Code]; t.Scope == WholeTeam && v > 0 {
				sum, n = sum+v, n+1
			}
		}
		for _, t := range totals {
			v := t.Counts[c.Code]
			if t.Scope != WholeTeam || !(v > 0) {
				continue
			}
			if o[t.MatchID] == nil {
				o[t.MatchID] = map[string]float64{}
			}
			o[t.MatchID][c.Code] = v / (sum / n)
		}
	}
	return o
}

// Times is how many usual matches one full match was worth for a count; 1 if that was not recorded.
func (o Opportunities) Times(match int64, count string) float64 {
	if times, ok := o[match][Opportunity(count)]; ok {
		return times
	}
	return 1
}

// teamCounts checks counts of a whole team: those of the catalogue, and those that only team totals have.
func (f *findings) teamCounts(where string, c Counts) {
	own, shared := map[string]float64{}, Counts{}
	maps.Copy(shared, c)
	for _, t := range TeamCountCatalogue() {
		if v, ok := c[t.Code]; ok {
			own[t.Code] = v
			delete(shared, t.Code)
		}
	}
	for _, code := range slices.Sorted(maps.Keys(own)) {
		v, place := own[code], where+"."+code
		switch {
		case !f.finite(place, v):
		case v < 0:
			f.add(place, "%s is less than 0", number(v))
		case code == BallInPlay && v > mostBallInPlay:
			f.add(place, "%s is more than the %d minutes of any match; write minutes", number(v), mostBallInPlay)
		case v > mostCount:
			f.add(place, "%s is too many; the most is %d", number(v), mostCount)
		case code != BallInPlay && v != math.Trunc(v):
			f.add(place, "%s is not a whole number", number(v))
		}
	}
	f.counts(where, shared)
}

// mostBallInPlay are the minutes of the longest match that can be recorded: four periods of 40.
const mostBallInPlay = 160
