package scenario

import (
	"math"

	"throughline/models"
)

// finer is how a player does what only some logs take down: calling for the ball, and the pass from the base. Level
// and slope are on the logit and the log scale.
type finer struct{ callLevel, callSlope, passLevel, passSlope float64 }

// finerOf draws a player's. It throws dice of its own, as all finer details do: whether a log takes them down changes
// nothing else of the season.
func (s *simulation) finerOf(player int64) finer {
	d := stream(s.seed, "finer levels", player)
	return finer{d.normal(0.3, 0.5), d.normal(0, 0.3), d.normal(math.Log(0.9), 0.12), d.normal(0, 0.06)}
}

// Of the full logs, those that take the finer details down, and of each such detail what is left out even there.
const (
	finerLogs = 0.7
	finerGaps = 0.03
)

// luck is drawn once for every act, so that two who log it see the same.
type luck struct {
	share float64 // 0 to 1
	noise float64 // standard normal
	left  float64 // 0 to 1: below finerGaps the detail is not taken down
}

// drawFiner gives every act its luck.
func (a *actor) drawFiner() {
	d := stream(a.seed, "finer details", a.match.ID, a.player)
	for _, x := range a.acts {
		x.luck = luck{d.Float64(), d.NormFloat64(), d.Float64()}
	}
}

// takesFiner says whether a log takes the finer details down. It is asked at full depth only.
func (g *game) takesFiner(l *models.Log) bool {
	return l.Depth == models.Full && stream(g.seed, "finer log", l.MatchID, l.PlayerID).chance(finerLogs)
}

// refine adds to a logged involvement the detail that a log at full depth may take down of it. It follows from what the
// log has of the involvement, so that the two never contradict each other.
func (a *actor) refine(x *act, v *models.Involvement) {
	if x.luck.left < finerGaps {
		return
	}
	switch v.Kind {
	case models.KindPass:
		if x.from == nil && a.place == scrumHalf && (x.phase.source == "ruck" || x.phase.source == "scrum") {
			v.Measures = withMeasure(v.Measures, "seconds_to_pass", a.passSeconds(x))
		}
	case models.KindKick:
		v.Details["form"] = a.kickForm(x)
	case models.KindCatch, models.KindSupportLine:
		own := &a.finer[a.player-1]
		v.Details["called"] = yesNo(x.luck.share < logistic(own.callLevel+own.callSlope*elapsed(a.match.Date)))
	case models.KindDefenceRuck:
		if decision := decided(x, v); decision != "" {
			v.Details["decision"] = decision
		}
	case models.KindReposition:
		a.refineReposition(x, v)
	}
}

func (a *actor) passSeconds(x *act) float64 {
	own := &a.finer[a.player-1]
	seconds := math.Exp(own.passLevel + own.passSlope*elapsed(a.match.Date) + 0.3*x.luck.noise)
	return min(max(round(seconds, 1), 0.3), 4)
}

// kickForm is a 50:22 where the flow of the match has one, and a box kick for about half of a scrum half's kicks from
// the base of a ruck or a scrum (*common practice*).
func (a *actor) kickForm(x *act) string {
	switch {
	case x.phase.of.fifty22:
		return "fifty_22"
	case a.place == scrumHalf && (x.phase.source == "ruck" || x.phase.source == "scrum") && x.luck.share < 0.55:
		return "box"
	}
	return "other"
}

// decided says whether the player contested at a defence ruck. Where nothing came of it, most stayed out; empty if the
// log has no effect.
func decided(x *act, v *models.Involvement) string {
	switch effect := v.Details["effect"]; {
	case effect == "":
		return ""
	case effect != "no_effect" || x.luck.share < 0.35:
		return "contest"
	}
	return "stay_out"
}

// refineReposition says where the player was in the chase of a kick, or else whether they folded around the ruck. Both
// go with being in place.
func (a *actor) refineReposition(x *act, v *models.Involvement) {
	ph, place := x.phase, v.Details["in_place"]
	if place != "yes" && place != "no" {
		return
	}
	inPlace := place == "yes"
	if ph.of.ours && ph.last && ph.of.ended == "kick" {
		if next := a.flow.after(ph.of); next == nil || next.ours || next.started != "kick_return" {
			return // no opponent caught it
		}
		v.Details["chase"] = chased(x.luck.share, inPlace)
		return
	}
	if from := v.Details["from"]; from != "ground" && from != "ruck" {
		return
	}
	switch {
	case x.luck.share > 0.4:
		v.Details["fold"] = "stayed"
	case inPlace:
		v.Details["fold"] = "folded"
	default:
		v.Details["fold"] = "late"
	}
}

func chased(share float64, inPlace bool) string {
	switch {
	case inPlace && share < 0.35, !inPlace && share < 0.05:
		return "up"
	case inPlace && share < 0.9, !inPlace && share < 0.3:
		return "in_line"
	}
	return "behind"
}

func yesNo(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}

func withMeasure(all map[string]float64, code string, value float64) map[string]float64 {
	if all == nil {
		all = map[string]float64{}
	}
	all[code] = value
	return all
}
