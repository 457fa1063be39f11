package models

import "testing"

// Work in long passages is a rate per phase, beside the rate in the phases before. Of each possession, the last phase
// in which the log has the player is left out: it is known only because they did something in it.
func TestWorkFromTheFourthPhaseOnIsSetBesideWorkBefore(t *testing.T) {
	at := func(minute, possession, phase int, i Involvement) Involvement {
		i.Clock, i.Possession, i.Phase = clk(1, minute, phase), &possession, &phase
		return i
	}
	ruck := did(KindAttackRuck, clk(1, 0, 0), "effect", "cleared")
	missed := did(KindTackle, clk(1, 0, 0), "result", "missed")
	got := observed(wholeMatch(fullLog(1,
		// phases 1 to 6 are known: 3 before, 3 from the fourth on; the seventh is the last
		at(5, 1, 1, ruck), at(5, 1, 2, ruck), at(5, 1, 5, ruck), at(5, 1, 7, ruck),
		// phases 1 to 4: a miss is no work, but shows that the passage went on
		at(9, 2, 3, ruck), at(9, 2, 5, missed),
		at(12, 3, 1, ruck),                       // one phase: nothing before it
		did(KindCarry, clk(1, 20, 0)),            // no phase recorded
		at(30, 1, 2, ruck), at(30, 1, 3, ruck)))) // a number that was used before: another possession
	for code, want := range map[string][2]float64{
		"phase_work": {3 + 1 + 1, 6 + 4 + 2}, "phase_work.before_long": {2 + 1 + 1, 3 + 3 + 2},
		"phase_work.long": {1, 3 + 1}, "phase_work.q1": {0, 0},
	} {
		source := FromLog
		if want[1] == 0 {
			source = ""
		}
		expect(t, got, code, want[0], want[1], source)
	}
	core := fullLog(1, at(5, 1, 1, ruck), at(5, 1, 7, ruck))
	core.Log.Depth = Core
	expect(t, observed(wholeMatch(core)), "phase_work", 0, 0, "")
}
