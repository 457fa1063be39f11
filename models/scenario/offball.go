package scenario

import (
	"slices"

	"throughline/models"
)

// support is the actor's support lines.
func (a *actor) support() {
	for range a.number(supportLines) {
		ph := a.find(models.KindSupportLine, func(ph *phase) float64 {
			if !ph.of.ours {
				return 0
			}
			return 1
		})
		if ph == nil {
			return
		}
		x := a.add(models.KindSupportLine, ph, 0.5)
		if x == nil {
			continue
		}
		x.Details["effect"] = "none"
		if a.d.chance(a.today[usefulSupport]) {
			x.Details["effect"] = a.d.of(odds{{"created", 0.3}, {"option", 0.7}})
		}
		x.Details["line"] = a.d.of(odds{{"hard", 0.3}, {"behind", 0.26}, {"inside", 0.22}, {"trail", 0.22}})
		x.Details["received"] = "no"
		if slices.Contains(a.kinds[ph], models.KindCarry) || x.Details["effect"] == "created" && a.d.chance(0.2) {
			x.Details["received"] = "yes"
		}
	}
}

// reposition is what the actor does between the moments that everybody sees.
func (a *actor) reposition() {
	for range a.number(repositions) {
		ph := a.find(models.KindReposition, func(ph *phase) float64 {
			if ph.last {
				return 0.3
			}
			return 1
		})
		if ph == nil {
			return
		}
		x := a.add(models.KindReposition, ph, 0.8)
		if x == nil {
			continue
		}
		x.Details["in_place"] = a.d.of(odds{{"yes", a.today[inPlace]}, {"no", 1 - a.today[inPlace]}})
		seconds := a.d.positive(a.today[repositionSeconds], allTraits[repositionSeconds].dispersion)
		if x.Details["in_place"] == "yes" {
			seconds *= 0.92
		} else {
			seconds *= 1.2
		}
		x.Measures["seconds"] = min(max(round(seconds, 1), 0.5), 30)
		if a.place.forward() {
			x.Details["from"] = a.d.of(odds{{"ground", 0.3}, {"ruck", 0.45}, {"maul", 0.1}, {"chase", 0.15}})
		} else {
			x.Details["from"] = a.d.of(odds{{"ground", 0.2}, {"ruck", 0.25}, {"chase", 0.55}})
		}
		switch {
		case ph.of.ours && a.place.forward():
			x.Details["to"] = a.d.of(odds{{"first_receiver", 0.4}, {"inside", 0.3}, {"outside", 0.3}})
		case ph.of.ours:
			x.Details["to"] = a.d.of(odds{{"first_receiver", 0.2}, {"inside", 0.2}, {"outside", 0.6}})
		case a.place == fullback || a.place == wing:
			x.Details["to"] = a.d.of(odds{{"backfield", 0.6}, {"outside", 0.4}})
		default:
			x.Details["to"] = a.d.of(odds{{"guard", 0.4}, {"inside", 0.15}, {"outside", 0.45}})
		}
		x.Details["offered"] = a.d.of(odds{{"yes", 0.55}, {"no", 0.45}})
		x.Details["ball_came"] = a.d.of(odds{{"yes", 0.3}, {"no", 0.7}})
	}
}
