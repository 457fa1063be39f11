package models

import (
	"strings"
	"testing"
)

func made(minute, second int) Involvement {
	half := 1
	if minute >= 40 {
		half = 2
	}
	return did(KindTackle, clk(half, minute, second), "result", "won")
}

func TestMissesPlacesNotReachedAndPenaltiesAreNoInvolvements(t *testing.T) {
	done := []Involvement{made(5, 0), did(KindReposition, clk(1, 6, 0), "in_place", "yes"),
		did(KindCatch, clk(1, 7, 0), "result", "spilled")}
	expect(t, observed(wholeMatch(fullLog(1, done...))), "involvements", 3, 80, FromLog)
	for _, more := range []Involvement{
		did(KindTackle, clk(1, 8, 0), "result", "missed"),
		did(KindCatch, clk(1, 8, 0), "result", "beaten"),
		did(KindReposition, clk(1, 8, 0), "in_place", "no"),
		did(KindReposition, clk(1, 8, 0), "in_place", "no_time"),
		resulted(did(KindAttackRuck, clk(1, 8, 0), "effect", "penalised"), ResultPenaltyConceded),
		marked(did(KindTackle, clk(1, 8, 0), "result", "even"), DangerHighTackle),
	} {
		got := observed(wholeMatch(fullLog(1, append(done[:3:3], more)...)))
		expect(t, got, "involvements", 3, 80, FromLog)
	}
	// A tackle without a recorded result may have been a miss.
	got := observed(wholeMatch(fullLog(1, append(done[:3:3], did(KindTackle, clk(1, 8, 0)))...)))
	expect(t, got, "involvements", 0, 0, "")
	expect(t, got, "tackles", 0, 0, "")
}

func TestCoastingForThreeQuartersDoesNotRaiseLateWork(t *testing.T) {
	var busy, late []Involvement
	for minute := 1; minute < 60; minute += 2 {
		busy = append(busy, made(minute, 0))
	}
	for minute := 61; minute < 80; minute += 2 {
		late = append(late, made(minute, 0))
	}
	coasted := observed(wholeMatch(fullLog(1, late...)))
	worked := observed(wholeMatch(fullLog(1, append(busy, late...)...)))
	for _, got := range []map[string]Observation{coasted, worked} {
		expect(t, got, "last_quarter", 10, 20, FromLog) // per minute of the last quarter
	}
	// The player's own first three quarters stand beside it, per minute too.
	expect(t, worked, "involvements.q1", 10, 20, FromLog)
	expect(t, worked, "involvements.q4", 10, 20, FromLog)
	expect(t, coasted, "involvements.q1", 0, 20, FromLog)
}

func TestACarryAndThePassOutOfItAreOneDecision(t *testing.T) {
	id := int64(5)
	decisions := func(carry, pass string) map[string]Observation {
		c, p := did(KindCarry, clk(1, 1, 0)), did(KindPass, clk(1, 1, 2))
		c.ID, p.ID, p.LinkedTo = id, 6, &id
		for i, choice := range map[*Involvement]string{&c: carry, &p: pass} {
			if choice != "" {
				i.Details = map[string]string{"choice": choice}
			}
		}
		return observed(wholeMatch(fullLog(1, c, p, did(KindCarry, clk(1, 5, 0), "choice", "fair"))))
	}
	expect(t, decisions("best", "best"), "best_choice", 1, 2, FromLog)
	expect(t, decisions("best", "fair"), "best_choice", 0, 2, FromLog) // the pass says it
	expect(t, decisions("", "best"), "best_choice", 1, 2, FromLog)
	expect(t, decisions("best", ""), "best_choice", 1, 2, FromLog) // what the carry says is not lost
}

func TestAFastBallAndBeingClearedOutDeepOweNoPlace(t *testing.T) {
	moved := func(in string, minute int) Involvement {
		return did(KindReposition, clk(1, minute, 0), "in_place", in)
	}
	got := observed(wholeMatch(fullLog(1, moved("yes", 1), moved("no", 2), moved("no_time", 3), moved("no_time", 4))))
	expect(t, got, "in_place", 1, 2, FromLog)
	option, _ := func() (Option, bool) { d, _ := DetailOf(KindReposition, "in_place"); return d.Option("no_time") }()
	for _, want := range []string{"3 seconds", "cleared out 5 metres"} {
		if !strings.Contains(option.Definition, want) {
			t.Errorf("%q does not say %q", option.Definition, want)
		}
	}
}

func TestACleanScrumOrLineoutIsHeldAndMoreIsGained(t *testing.T) {
	for _, kind := range []Kind{KindScrum, KindLineout} {
		d, _ := DetailOf(kind, "effect")
		held, _ := d.Option("held")
		gained, _ := d.Option("gained")
		if !strings.Contains(held.Definition, "A clean ball is held") || strings.Contains(gained.Definition, "or a clean") {
			t.Errorf("%s: held %q, gained %q", kind, held.Definition, gained.Definition)
		}
		all := []Involvement{did(kind, clk(1, 1, 0), "effect", "held"), did(kind, clk(1, 2, 0), "effect", "gained"),
			did(kind, clk(1, 3, 0), "effect", "lost")}
		expect(t, observed(wholeMatch(fullLog(1, all...))), string(kind)+"s_kept", 2, 3, FromLog)
	}
}

func TestSecondsToPlayAreWordedAsWhatTheyMeasure(t *testing.T) {
	ind, _ := IndicatorOf("seconds_to_play")
	d, _ := DetailOf(KindCarry, "seconds_to_play")
	for text, want := range map[string]string{ind.Meaning: "your side", d.Definition: "support"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q credits the carrier alone", text)
		}
	}
}

func TestTackleUpNextJobIsWhatFollowsInTime(t *testing.T) {
	for _, c := range []struct {
		name       string
		then       []Involvement
		done, owed float64
		seconds    float64
	}{
		{"in place", []Involvement{did(KindReposition, clk(1, 10, 6), "in_place", "yes")}, 1, 1, 6},
		{"not in place", []Involvement{did(KindReposition, clk(1, 10, 6), "in_place", "no")}, 0, 1, 0},
		{"no time, then a ruck", []Involvement{did(KindReposition, clk(1, 10, 2), "in_place", "no_time"),
			did(KindDefenceRuck, clk(1, 10, 9), "effect", "slowed")}, 1, 1, 9},
		{"a missed tackle", []Involvement{did(KindTackle, clk(1, 10, 8), "result", "missed")}, 0, 1, 0},
		{"later than 20 seconds", []Involvement{did(KindDefenceRuck, clk(1, 10, 21), "effect", "slowed")}, 0, 0, 0},
		{"nothing", nil, 0, 0, 0},
	} {
		got := observed(wholeMatch(fullLog(1, append([]Involvement{made(10, 0)}, c.then...)...)))
		t.Log(c.name)
		expect(t, got, "next_job", c.done, c.owed, FromLog)
		expect(t, got, "next_job_seconds", c.seconds, c.done, FromLog)
	}
	// What comes next may be of any kind: a log of tackles alone cannot tell.
	l := fullLog(1, made(10, 0), made(10, 9))
	l.Log.Kinds = []Kind{KindTackle}
	expect(t, observed(wholeMatch(l)), "next_job", 0, 0, "")
}

func TestGapsLieBetweenInvolvementsOfOneHalfAndOneStint(t *testing.T) {
	all := []Involvement{made(5, 0), did(KindTackle, clk(1, 5, 30), "result", "missed"), made(6, 0), made(38, 0),
		made(41, 0),
		made(43, 0)}
	p := wholeMatch(fullLog(1, all...))
	expect(t, observed(p), "time_between", 60+32*60+2*60, 3, FromLog) // not over the miss, not over half-time
	p.Appearance.Stints = []Stint{{On: clk(1, 0, 0), Off: clk(1, 20, 0)}, {On: clk(1, 30, 0), Off: clk(2, 80, 0)}}
	expect(t, observed(p), "time_between", 60+2*60, 2, FromLog) // not over a rest on the bench
	p.Appearance.Stints = nil
	expect(t, observed(p), "time_between", 0, 0, "")
}

func TestSupportLinesAreCountedAsRunOfferedReceivedAndCreated(t *testing.T) {
	line := func(minute int, details ...string) Involvement {
		return did(KindSupportLine, clk(1, minute, 0), details...)
	}
	got := observed(wholeMatch(fullLog(1, line(1, "effect", "created", "received", "yes", "called", "yes"),
		line(2, "effect", "option", "received", "no", "called", "no"), line(3, "effect", "none", "received", "no"),
		line(4, "effect", "created"), did(KindCatch, clk(1, 5, 0), "result", "clean", "called", "yes"))))
	expect(t, got, "support_lines", 4, 80, FromLog)
	expect(t, got, "support_offered", 3, 4, FromLog)
	expect(t, got, "support_received", 1, 3, FromLog)
	expect(t, got, "support_created", 2, 4, FromLog)
	expect(t, got, "calls", 2, 3, FromLog)
}

func TestEachOfTheSixFullDetailsHasAnIndicator(t *testing.T) {
	got := observed(wholeMatch(fullLog(1,
		did(KindReposition, clk(1, 1, 0), "in_place", "yes", "fold", "folded"),
		did(KindReposition, clk(1, 2, 0), "in_place", "no", "fold", "late"),
		did(KindReposition, clk(1, 3, 0), "in_place", "yes", "fold", "stayed"),
		did(KindReposition, clk(1, 4, 0), "in_place", "yes", "chase", "in_line"),
		did(KindReposition, clk(1, 5, 0), "in_place", "no", "chase", "behind"),
		did(KindDefenceRuck, clk(1, 6, 0), "effect", "slowed", "decision", "contest"),
		did(KindDefenceRuck, clk(1, 7, 0), "effect", "no_effect", "decision", "contest"),
		did(KindDefenceRuck, clk(1, 8, 0), "effect", "no_effect", "decision", "stay_out"),
		did(KindKick, clk(1, 9, 0), "result", "regained", "form", "box"),
		did(KindKick, clk(1, 10, 0), "result", "returned", "form", "box"),
		did(KindKick, clk(1, 11, 0), "result", "touch", "form", "fifty_22"),
		measured(did(KindPass, clk(1, 12, 0), "result", "accurate"), map[string]float64{"seconds_to_pass": 1.2}),
		did(KindPass, clk(1, 13, 0), "result", "accurate"),
	)))
	expect(t, got, "folds", 1, 2, FromLog)
	expect(t, got, "chases", 1, 2, FromLog)
	expect(t, got, "contests_worth_it", 1, 2, FromLog) // staying out counts against no player
	expect(t, got, "box_kicks_good", 1, 2, FromLog)
	expect(t, got, "fifty_22s", 1, 80, FromLog)
	expect(t, got, "pass_seconds", 1.2, 1, FromLog)
}

func TestPartsAreObservedByQuarterAndByPassage(t *testing.T) {
	phase := func(i Involvement, n int) Involvement { i.Phase = &n; return i }
	moved := func(half, minute int, in string) Involvement {
		return did(KindReposition, clk(half, minute, 0), "in_place", in)
	}
	feet := measured(made(61, 0), map[string]float64{"seconds_to_feet": 4})
	p := wholeMatch(fullLog(1, phase(moved(1, 5, "yes"), 2), phase(moved(1, 6, "no"), 3), moved(1, 7, "no"),
		phase(moved(2, 70, "yes"), 4), phase(moved(2, 71, "no"), 9), phase(moved(2, 72, "no_time"), 9), feet,
		did(KindTackle, clk(1, 25, 0), "result", "missed")))
	got := observed(p)
	for _, c := range []struct {
		code     string
		num, den float64
	}{
		{"in_place", 2, 5}, {"in_place.q1", 1, 3}, {"in_place.q2", 0, 0}, {"in_place.q4", 1, 2},
		{"tackle_completion.q2", 0, 1}, {"tackle_completion.q4", 1, 1}, {"back_to_feet.q4", 4, 1},
		{"involvements.q1", 1, 20}, {"involvements.q2", 0, 20}, {"involvements.q4", 2, 20},
		{"in_place.before_long", 1, 2}, {"in_place.long", 1, 2}, // one without a phase is in neither
	} {
		expect(t, got, c.code, c.num, c.den, FromLog)
	}
	p.Appearance.Stints = nil // without stints no quarter is known, but the phases are
	got = observed(p)
	expect(t, got, "in_place.q1", 0, 0, "")
	expect(t, got, "in_place.long", 1, 2, FromLog)
	for _, part := range Parts() {
		published(t, part.Code, part.Label, part.Definition)
		for _, code := range part.Indicators {
			if ind, ok := IndicatorOf(code); !ok || part.Quarter == 0 && ind.Family == Rate {
				t.Errorf("%s is no indicator that can be observed in %s", code, part.Label)
			}
		}
	}
}
