package scenario

import (
	"slices"

	"throughline/models"
)

// What the match sheets of the squads count: the youngest squad's is kept by hand and counts less.
var (
	sheetBasic = []string{
		"carries", "contacts", "contacts_won", "gain_line_over", "passes", "offloads", "kicks", "tackles_made",
		"tackles_missed",
		"attack_rucks", "defence_rucks", "breakdown_turnovers_won", "tries", "penalties_conceded", "errors",
	}
	sheetMore = []string{
		"metres", "defenders_beaten", "passes_accurate", "offloads_accurate", "tackles_won", "ruck_arrivals_effective",
		"breakdown_penalties",
		"catches_attempted", "catches", "catches_clean", "line_breaks", "try_assists", "turnovers_won", "turnovers_conceded",
	}
	sheetKicks = []string{"exits", "exits_completed"}
	teamCounts = []string{
		"involvements", "ruck_arrivals", "scrums", "lineouts", "support_lines", "repositions",
	}
)

// totals makes a match sheet's totals of an actor. If the actor was logged too, the sheet counts one more now and
// then.
func (g *game) totals(d dice, a *actor, logged bool) *models.MatchTotals {
	source, codes := "analyst's match sheet", slices.Concat(sheetBasic, sheetMore)
	if *g.match.SquadID == under16 {
		source, codes = "handwritten match sheet", slices.Clone(sheetBasic)
	}
	if a.place == scrumHalf || a.place == flyHalf || a.place == fullback {
		codes = append(codes, sheetKicks...)
	}
	t := &models.MatchTotals{Record: local(int64(len(g.Plays) + 1)), MatchID: g.match.ID, PlayerID: a.player,
		Source: source, Counts: models.Counts{}}
	for _, code := range codes {
		t.Counts[code] = a.count(code)
	}
	if logged && d.chance(0.3) {
		t.Counts[pick(d, []string{"carries", "passes", "tackles_made", "attack_rucks"})]++
	}
	return t
}

// teamTotals writes down what the team, its forwards and its backs did, for most matches.
func (g *game) teamTotals() {
	if !g.d.chance(0.88) {
		return
	}
	codes := slices.Concat(sheetBasic, sheetMore, teamCounts)
	split := g.d.chance(0.75)
	for _, scope := range []models.Scope{models.WholeTeam, models.Forwards, models.Backs} {
		if scope != models.WholeTeam && !split {
			continue
		}
		counts := models.Counts{}
		for _, code := range codes {
			sum := 0.0
			for _, a := range g.team {
				if scope == models.WholeTeam || a.place.forward() == (scope == models.Forwards) {
					sum += a.count(code)
				}
			}
			counts[code] = round(sum, 1)
		}
		g.TeamTotals = append(g.TeamTotals, models.TeamTotals{
			Record: local(int64(len(g.TeamTotals) + 1)), MatchID: g.match.ID, Scope: scope, Counts: counts,
		})
	}
}

// count is the true number for a count of the catalogue: as if every act of the actor had been logged.
func (a *actor) count(code string) float64 {
	if a.counted == nil {
		play := models.Play{Match: *a.match, Appearance: a.out.appearance(a.match)}
		all := models.LoggedPlay{Log: models.Log{Record: local(1), Depth: models.Full, Kinds: everyKind, Finished: true}}
		ids := map[*act]int64{}
		for i, x := range a.acts {
			v := x.Involvement
			v.ID = int64(i + 1)
			ids[x] = v.ID
			if from, linked := ids[x.from]; linked {
				v.LinkedTo = &from
			}
			all.Involvements = append(all.Involvements, v)
		}
		play.Logs = []models.LoggedPlay{all}
		a.counted = play.Counted()
	}
	return round(a.counted[code], 1)
}
