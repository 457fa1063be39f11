package scenario

import "throughline/models"

// ruckAll is the actor's arrivals at rucks: turnovers first.
func (a *actor) ruckAll() {
	n := a.number(rucks)
	for range a.number(turnovers) {
		ph := a.find(models.KindDefenceRuck, func(ph *phase) float64 {
			if ph.of.ours || !ph.last || ph.blamed {
				return 0
			}
			if ph.of.ended == "turnover" || ph.of.ended == "penalty" && ph.of.against {
				return 1
			}
			return 0
		})
		if ph == nil {
			break
		}
		x := a.add(models.KindDefenceRuck, ph, 0.95)
		if x == nil {
			continue
		}
		ph.blamed = true
		x.Details["effect"] = "turnover"
		x.Details["arrival"] = a.d.of(odds{{"first", 0.8}, {"second", 0.2}})
		if ph.of.ended == "penalty" {
			x.result(models.ResultPenaltyWon)
		} else {
			x.result(models.ResultTurnoverWon)
		}
		n--
	}
	mix := attackShare(a.place)
	p, first := a.today[effectiveArrivals], a.today[firstArrivals]
	const gap = 0.36 // between our ball and theirs, around the player's average
	for range n {
		attack := a.d.chance(mix)
		kind, effective := models.KindAttackRuck, min(p+gap*(1-mix), 0.97)
		if !attack {
			kind, effective = models.KindDefenceRuck, max(p-gap*mix, 0.03)
		}
		ph := a.find(kind, func(ph *phase) float64 {
			if ph.of.ours != attack || ph.last && (ph.of.ended == "kick" || ph.of.ended == "try") {
				return 0
			}
			if ph.last {
				return 0.4
			}
			return 1
		})
		if ph == nil {
			continue
		}
		x := a.add(kind, ph, 0.9)
		if x == nil {
			continue
		}
		switch good := a.d.chance(effective); {
		case attack && good:
			x.Details["effect"] = a.d.of(odds{{"cleared", 0.4}, {"secured", 0.6}})
		case attack:
			x.Details["effect"] = "ineffective"
		case good && !ph.last:
			x.Details["effect"] = "slowed"
		default:
			x.Details["effect"] = "no_effect"
		}
		x.Details["arrival"] = a.d.of(odds{{"first", first}, {"second", (1 - first) * 0.55}, {"later", (1 - first) * 0.45}})
	}
}

// attackShare is the part of a place's ruck arrivals that are at its own ball.
func attackShare(p place) float64 {
	switch p {
	case openside:
		return 0.68
	case blindside, numberEight:
		return 0.74
	case scrumHalf:
		return 0.60
	}
	return 0.80
}
