package scenario

import (
	"slices"

	"throughline/models"
)

// passes makes the actor's passes. It returns how many of their errors are still to be made.
func (a *actor) passes() int {
	left := a.number(errorsMade)
	n := a.number(passes)
	if a.place != scrumHalf {
		a.kept = (n + 3) / 6 // for passes out of carries
	}
	for range n - a.kept {
		left = a.pass(left)
	}
	return left
}

// pass is one pass that is not out of a carry. It returns how many errors are still to be made.
func (a *actor) pass(left int) int {
	result := "accurate"
	if !a.d.chance(a.today[passAccuracy]) {
		result = a.d.of(odds{{"recoverable", 0.86}, {"lost", 0.14}})
	}
	weight := ourBall
	if result == "lost" {
		weight = lostHere
	}
	ph := a.find(models.KindPass, weight)
	if ph == nil && result == "lost" {
		result = "recoverable"
		ph = a.find(models.KindPass, ourBall)
	}
	if ph == nil {
		return left
	}
	part := 0.3
	if a.place == scrumHalf {
		part = 0.1
	}
	x := a.add(models.KindPass, ph, part)
	if x == nil {
		return left
	}
	a.passed(x, result)
	x.Details["type"] = a.passType()
	a.release(x)
	if result == "lost" && left > 0 && a.d.chance(0.6) {
		left--
		x.result(models.ResultError)
	}
	return left
}

// release says how near the defence the ball was given.
func (a *actor) release(x *act) {
	if a.d.chance(a.today[atLine]) {
		x.Details["released"] = "at_line"
		return
	}
	x.Details["released"] = a.d.of(odds{{"near", 0.55}, {"deep", 0.45}})
}

// ourBall is the weight of a phase for what is done with the ball in hand.
func ourBall(ph *phase) float64 {
	switch {
	case !ph.of.ours:
		return 0
	case ph.last && (ph.of.ended == "kick" || ph.of.ended == "try"):
		return 0.25
	case ph.last && ph.of.ended == "turnover":
		return 0.7
	}
	return 1
}

func (a *actor) passType() string {
	switch {
	case a.place == scrumHalf:
		return a.d.of(odds{{"hard_line", 0.5}, {"wide", 0.28}, {"tip_on", 0.02}, {"pullback", 0.08}, {"inside", 0.12}})
	case a.place == flyHalf || a.place == insideCentre:
		return a.d.of(odds{{"hard_line", 0.34}, {"wide", 0.26}, {"tip_on", 0.08}, {"pullback", 0.22}, {"inside", 0.1}})
	case a.place.forward():
		return a.d.of(odds{{"tip_on", 0.5}, {"pullback", 0.24}, {"hard_line", 0.1}, {"inside", 0.12}, {"wide", 0.04}})
	}
	return a.d.of(odds{{"wide", 0.36}, {"tip_on", 0.2}, {"inside", 0.22}, {"hard_line", 0.12}, {"pullback", 0.1}})
}

// passed fills in what a pass and an offload have in common.
func (a *actor) passed(x *act, result string) {
	x.Details["result"] = result
	x.Measures["defenders_held"] = float64(min(a.d.count(a.today[defendersHeld], 20), 4))
	if result == "lost" {
		x.phase.blamed = true
		x.result(models.ResultTurnoverConceded)
	}
	a.choose(x)
	if !a.d.chance(0.55) {
		return // no logger counts numbers at every pass
	}
	x.Details["numbers"] = a.d.of(odds{{"overlap", 0.22}, {"level", 0.53}, {"short", 0.25}})
	if x.Details["numbers"] == "overlap" {
		x.Details["overlap_finished"] = "no"
		if result != "lost" && a.d.chance(a.today[overlapsFinished]) {
			x.Details["overlap_finished"] = "yes"
		}
	}
	if result != "lost" {
		x.Details["receiver_gain"] = a.d.of(odds{{"over", 0.52}, {"level", 0.28}, {"behind", 0.2}})
		if x.Details["overlap_finished"] == "yes" {
			x.Details["receiver_gain"] = "over"
			if x.phase.broken {
				x.result(models.ResultLineBreak)
			}
		}
	}
}

// choose says whether the actor took the best option with the ball.
func (a *actor) choose(x *act) {
	if a.d.chance(a.today[bestChoice]) {
		x.Details["choice"] = "best"
		return
	}
	x.Details["choice"] = a.d.of(odds{{"fair", 0.6}, {"better_on", 0.4}})
}

// offloads makes the actor's offloads in contact, and passes out of carries without one.
func (a *actor) offloads() {
	var free []*act
	for _, x := range a.acts {
		if x.Kind == models.KindCarry && !x.has(models.ResultTry) && !x.has(models.ResultError) &&
			!x.has(models.ResultPenaltyConceded) && !x.phase.last {
			free = append(free, x)
		}
	}
	a.d.Shuffle(len(free), func(i, j int) { free[i], free[j] = free[j], free[i] })
	for range a.number(offloads) {
		i := slices.IndexFunc(free, func(x *act) bool { return x.Details["contact"] != "none" })
		if i < 0 {
			break
		}
		carry := free[i]
		free = slices.Delete(free, i, i+1)
		result := "accurate"
		if !a.d.chance(a.today[offloadAccuracy]) {
			result = "recoverable" // these possessions went on; one that was lost is an error of its own
		}
		a.linked(models.KindOffload, carry, result)
	}
	for _, carry := range free {
		if a.kept > 0 && carry.Details["contact"] == "none" {
			a.kept--
			a.linked(models.KindPass, carry,
				a.d.of(odds{{"accurate", a.today[passAccuracy]}, {"recoverable", 1 - a.today[passAccuracy]}}))
		}
	}
	for range a.kept {
		a.pass(0)
	}
}

// linked is a pass or an offload out of a carry.
func (a *actor) linked(kind models.Kind, carry *act, result string) {
	x := a.add(kind, carry.phase, 0.75)
	if x == nil {
		return
	}
	if x.Clock.Second < carry.Clock.Second && !a.shift(x, carry.Clock.Second+1, carry.phase.to+2) {
		a.acts = a.acts[:len(a.acts)-1]
		return
	}
	x.from = carry
	a.passed(x, result)
	x.Details["type"] = a.d.of(odds{{"tip_on", 0.35}, {"inside", 0.35}, {"wide", 0.15}, {"hard_line", 0.15}})
	a.release(x)
	if kind == models.KindOffload {
		x.Details["released"] = "at_line"
	}
	carry.Details["finish"] = "on_feet"
	if kind == models.KindOffload && a.d.chance(0.5) {
		carry.Details["finish"] = "ground"
	}
	delete(carry.Details, "presentation")
	delete(carry.Measures, "seconds_to_play")
	if carry.phase.broken && result == "accurate" {
		x.result(models.ResultLineBreak)
	}
}
