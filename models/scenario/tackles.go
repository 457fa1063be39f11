package scenario

import "throughline/models"

// tackleAll is the actor's tackles, missed ones included.
func (a *actor) tackleAll() {
	completion := a.today[tackleCompletion]
	own := &a.traits[a.player-1]
	expected := logistic(base(a.place, tackleCompletion) + own.level[tackleCompletion] +
		own.slope[tackleCompletion]*elapsed(a.match.Date))
	attempts := a.drawn(tackles, a.today[tackles]/expected*a.share)
	for range attempts {
		result := "missed"
		if a.d.chance(completion) {
			result = "won"
			if !a.d.chance(a.today[tacklesWon]) {
				result = a.d.of(odds{{"even", 0.6}, {"lost", 0.4}})
			}
		}
		ph := a.find(models.KindTackle, func(ph *phase) float64 {
			switch {
			case ph.of.ours:
				return 0
			case ph.broken && result == "missed":
				return 4
			case ph.last && ph.of.ended == "kick":
				return 0.3
			}
			return 1
		})
		if ph == nil {
			return
		}
		a.tackle(ph, result)
	}
}

// tackle is one tackle.
func (a *actor) tackle(ph *phase, result string) *act {
	x := a.add(models.KindTackle, ph, 0.7)
	if x == nil {
		return nil
	}
	x.Details["result"] = result
	x.Details["height"] = "legal"
	// A high one is a penalty: see the penalties of a match.
	first := 0.68
	if ph.taken(models.KindTackle) > 1 {
		first = 0.25
	}
	x.Details["role"] = a.d.of(odds{{"first", first}, {"assist", 1 - first}})
	if result != "missed" && x.Details["height"] == "legal" && a.d.chance(0.85) {
		x.Measures["seconds_to_feet"] = min(round(a.d.positive(a.today[backToFeet], allTraits[backToFeet].dispersion), 1),
			20)
	}
	if result == "won" && ph.last && ph.of.ended == "turnover" && !ph.blamed && a.d.chance(0.5) {
		ph.blamed = true
		x.result(models.ResultTurnoverWon)
	}
	return x
}
