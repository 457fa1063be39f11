package scenario

import "throughline/models"

// kickAll is the actor's kicks in play: they end a possession.
func (a *actor) kickAll() {
	for range a.number(kicks) {
		good := a.d.chance(a.today[exitsCompleted])
		ph := a.find(models.KindKick, func(ph *phase) float64 {
			if !ph.of.ours || !ph.last || ph.of.ended != "kick" || ph.taken(models.KindKick) > 0 {
				return 0
			}
			next := a.flow.after(ph.of)
			if taken := next != nil && !next.ours && next.started == "kick_return"; !good && !taken {
				return 0
			}
			return 1
		})
		if ph == nil {
			continue
		}
		x := a.add(models.KindKick, ph, 0.8)
		if x == nil {
			continue
		}
		switch ph.zone {
		case "own_22":
			x.Details["purpose"] = a.d.of(odds{{"exit", 0.92}, {"contest", 0.08}})
		case "own_22_to_half":
			x.Details["purpose"] = a.d.of(odds{{"exit", 0.15}, {"contest", 0.35}, {"territory", 0.4}, {"space", 0.1}})
		default:
			x.Details["purpose"] = a.d.of(odds{{"contest", 0.3}, {"territory", 0.25}, {"space", 0.45}})
		}
		switch next := a.flow.after(ph.of); {
		case ph.of.fifty22, next != nil && !next.ours && next.started == "lineout":
			x.Details["result"] = "touch"
		case next != nil && next.ours:
			x.Details["result"] = "regained"
		case good:
			x.Details["result"] = "space"
		default:
			x.Details["result"] = a.d.of(odds{{"returned", 0.93}, {"charged_down", 0.07}})
		}
		a.choose(x)
	}
}

// after is the possession that follows another in the same half, nil at its end.
func (f *flow) after(p *possession) *possession {
	if p.number >= len(f.possessions) {
		return nil
	}
	next := f.possessions[p.number]
	if len(next.phases) == 0 || next.phases[0].half != p.phases[0].half {
		return nil
	}
	return next
}

// catches is the balls in the air that the actor goes for. It returns how many errors are still to be made.
func (a *actor) catches(left int) int {
	for range a.number(catches) {
		result := "clean"
		if !a.d.chance(a.today[cleanCatch]) {
			result = a.d.of(odds{{"juggled", 0.35}, {"spilled", 0.3}, {"beaten", 0.35}})
		}
		ours := result == "clean" || result == "juggled"
		ph := a.find(models.KindCatch, func(ph *phase) float64 {
			if ph.number != 1 {
				return 0
			}
			switch start := ph.of.started; {
			case ours && ph.of.ours && (start == "kick_return" || start == "restart"):
				return 1
			case !ours && !ph.of.ours && (start == "kick_return" || start == "scrum"):
				return 1
			}
			return 0
		})
		if ph == nil {
			continue
		}
		x := a.add(models.KindCatch, ph, 0)
		if x == nil {
			continue
		}
		x.Details["result"] = result
		x.Details["from"] = a.d.of(odds{{"high_ball", 0.65}, {"other", 0.35}})
		if ph.of.started == "restart" {
			x.Details["from"] = "kick_off"
		}
		x.Details["under_pressure"] = a.d.of(odds{{"yes", 0.55}, {"no", 0.45}})
		if result == "spilled" {
			if left > 0 {
				left--
				x.result(models.ResultError)
			}
			if ph.of.started == "scrum" {
				x.result(models.ResultTurnoverConceded)
			}
		}
	}
	return left
}
