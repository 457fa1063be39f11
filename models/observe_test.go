package models

import (
	"slices"
	"testing"
)

// did is an involvement with details given as code, value, code, value, …
func did(kind Kind, at Clock, details ...string) Involvement {
	i := Involvement{Kind: kind, Clock: at}
	for n := 0; n < len(details); n += 2 {
		if i.Details == nil {
			i.Details = map[string]string{}
		}
		i.Details[details[n]] = details[n+1]
	}
	return i
}

func resulted(i Involvement, r ...Result) Involvement { i.Results = r; return i }

func measured(i Involvement, measures map[string]float64) Involvement {
	i.Measures = measures
	return i
}

// fullLog is a finished log of everything over the whole match.
func fullLog(id int64, involvements ...Involvement) LoggedPlay {
	return LoggedPlay{Log{Record: Record{ID: id}, Depth: Full, Kinds: allKinds(), Finished: true}, involvements}
}

// coreLog is the same at core depth.
func coreLog(id int64, involvements ...Involvement) LoggedPlay {
	l := fullLog(id, involvements...)
	l.Log.Depth = Core
	return l
}

func covering(l LoggedPlay, spans ...Span) LoggedPlay { l.Log.Covers = spans; return l }

// wholeMatch is a play of a player who was on from start to end.
func wholeMatch(logs ...LoggedPlay) Play {
	return Play{Match: match80(), Logs: logs, Appearance: Appearance{
		Record: Record{AcademyID: 1}, MatchID: 9, PlayerID: 7, Minutes: 80,
		Stints: []Stint{{On: clk(1, 0, 0), Off: clk(2, 80, 0)}}}}
}

func observed(p Play) map[string]Observation {
	list, _ := Observe(p, IndicatorCatalogue())
	out := map[string]Observation{}
	for _, o := range list {
		out[o.Indicator] = o
	}
	return out
}

// expect compares one observation; a denominator of 0 wants none.
func expect(t *testing.T, got map[string]Observation, indicator string, numerator, denominator float64,
	source Source) {
	t.Helper()
	o, ok := got[indicator]
	switch {
	case denominator == 0 && ok:
		t.Errorf("%s was observed as %v of %v", indicator, o.Numerator, o.Denominator)
	case denominator == 0:
	case !ok:
		t.Errorf("%s was not observed, want %v of %v", indicator, numerator, denominator)
	case !same(o.Numerator, numerator) || !same(o.Denominator, denominator) || o.Source != source:
		t.Errorf("%s is %v of %v from %s, want %v of %v from %s", indicator, o.Numerator, o.Denominator, o.Source, numerator,
			denominator, source)
	}
}

func first40() Span  { return Span{clk(1, 0, 0), clk(1, 40, 0)} }
func second40() Span { return Span{clk(2, 40, 0), clk(2, 80, 0)} }

// A match worked by hand: every indicator from the involvements listed.
func TestObserveAMatchWorkedByHand(t *testing.T) {
	carryID := int64(501)
	known := func(i Involvement) Involvement { i.ID = carryID; return i }
	offload := did(KindOffload, clk(1, 10, 4), "result", "recoverable", "choice", "fair", "numbers", "overlap",
		"overlap_finished", "yes")
	offload.LinkedTo = &carryID
	p := wholeMatch(fullLog(1,
		measured(did(KindCarry, clk(1, 2, 0), "contact", "won", "gain_line", "over", "contact_point", "soft_shoulder",
			"finish", "ground", "presentation", "long", "choice", "best", "width", "close", "speed", "quick", "zone", "own_22"),
			map[string]float64{"metres": 6, "metres_after_contact": 2, "tacklers_committed": 2, "seconds_to_play": 2.5}),
		known(measured(did(KindCarry, clk(1, 10, 0), "contact", "even", "gain_line", "level", "contact_point", "square",
			"finish", "on_feet", "choice", "best"),
			map[string]float64{"metres": 1, "tacklers_committed": 1})),
		offload,
		measured(resulted(did(KindCarry, clk(2, 70, 0), "contact", "none", "gain_line", "over", "contact_point", "clear",
			"choice", "better_on", "width", "close", "speed", "quick", "zone", "own_22"), ResultLineBreak),
			map[string]float64{"metres": 20}),
		measured(did(KindPass, clk(1, 15, 0), "result", "accurate", "released", "at_line", "numbers", "overlap",
			"overlap_finished", "no", "choice", "best"), map[string]float64{"defenders_held": 2}),
		measured(did(KindPass, clk(1, 16, 0), "result", "lost", "released", "deep", "numbers", "level", "choice", "fair"),
			map[string]float64{"defenders_held": 0}),
		did(KindKick, clk(2, 50, 0), "result", "touch", "purpose", "exit", "choice", "best"),
		did(KindKick, clk(2, 51, 0), "result", "returned", "purpose", "exit"),
		did(KindKick, clk(2, 52, 0), "result", "regained", "purpose", "contest"),
		did(KindCatch, clk(2, 53, 0), "result", "clean"),
		did(KindCatch, clk(2, 54, 0), "result", "juggled"),
		resulted(did(KindCatch, clk(2, 55, 0), "result", "spilled"), ResultError),
		measured(did(KindTackle, clk(1, 20, 0), "result", "won", "height", "legal"),
			map[string]float64{"seconds_to_feet": 3}),
		measured(did(KindTackle, clk(1, 21, 0), "result", "lost"), map[string]float64{"seconds_to_feet": 5}),
		resulted(did(KindTackle, clk(1, 22, 0), "result", "even", "height", "high"), ResultPenaltyConceded),
		did(KindTackle, clk(1, 23, 0), "result", "missed"),
		did(KindAttackRuck, clk(1, 30, 0), "effect", "cleared", "arrival", "first"),
		did(KindAttackRuck, clk(1, 31, 0), "effect", "ineffective", "arrival", "later"),
		did(KindDefenceRuck, clk(1, 32, 0), "effect", "turnover", "arrival", "first"),
		resulted(did(KindDefenceRuck, clk(1, 33, 0), "effect", "penalised", "arrival", "second"), ResultPenaltyConceded),
		did(KindScrum, clk(1, 34, 0), "effect", "held"), did(KindScrum, clk(1, 35, 0), "effect", "lost"),
		did(KindLineout, clk(1, 36, 0), "effect", "gained"),
		did(KindMaul, clk(1, 37, 0), "effect", "lost"),
		did(KindSupportLine, clk(1, 38, 0), "effect", "option"),
		measured(did(KindReposition, clk(1, 41, 0), "in_place", "yes"), map[string]float64{"seconds": 4}),
		did(KindReposition, clk(2, 79, 0), "in_place", "no"),
	))
	for _, l := range p.Logs {
		for n, i := range l.Involvements {
			if err := i.Validate(); err != nil {
				t.Fatalf("involvement %d: %v", n, err)
			}
		}
	}
	got := observed(p)
	var worked []string
	for _, c := range []struct {
		indicator   string
		numerator   float64
		denominator float64
	}{
		{"carries", 3, 80}, {"contact_won", 1, 2}, {"soft_contact", 2, 3}, {"over_gain_line", 2, 3},
		{"metres_per_carry", 27, 3},
		{"metres_after_contact", 2, 1}, {"tacklers_committed", 3, 2}, {"long_presentation", 1, 1},
		{"seconds_to_play", 2.5, 1},
		{"best_choice", 3, 6}, // carries best, better_on; the offload and its carry fair; passes best, fair; one kick best
		{"released_at_line", 1, 2}, {"defenders_held", 2, 2}, {"passes", 2, 80}, {"pass_accuracy", 1, 2},
		{"overlaps_finished", 1, 2}, {"offload_accuracy", 0, 1},
		{"ruck_arrivals", 4, 80}, {"effective_arrivals", 2, 4}, {"first_arrivals", 2, 4}, {"breakdown_turnovers", 1, 80},
		{"breakdown_penalties", 1, 80},
		{"tackles", 2, 80}, {"tackle_completion", 2, 4}, {"tackles_won", 1, 3}, {"back_to_feet", 8, 2},
		// 27 lines: the offload is one with its carry; a miss, a place not reached and two penalties are left out
		{"involvements", 22, 80},
		{"in_place", 1, 2}, {"reposition_seconds", 4, 1},
		{"last_quarter", 1, 20}, // after the 60th minute: the carry of the 70th
		{"clean_catch", 1, 3}, {"exits_completed", 1, 2}, {"scrums_kept", 1, 2}, {"lineouts_kept", 1, 1},
		{"mauls_kept", 0, 1},
		{"penalties_conceded", 2, 80}, {"errors", 1, 80},
	} {
		expect(t, got, c.indicator, c.numerator, c.denominator, FromLog)
		worked = append(worked, c.indicator)
	}
	for _, code := range designIndicators {
		if code != MetresOverExpected && !slices.Contains(worked, code) {
			t.Errorf("%s is not worked by hand", code)
		}
	}
	_, cells := Observe(p, nil)
	want := []CarryCell{
		{AcademyID: 1, PlayerID: 7, MatchID: 9, Carries: 1, Metres: 1},
		{AcademyID: 1, PlayerID: 7, MatchID: 9, Width: "close", Speed: "quick", Zone: "own_22", Carries: 2, Metres: 26},
	}
	if !slices.Equal(cells, want) {
		t.Errorf("cells %v, want %v", cells, want)
	}
}

func TestAnUnfinishedLogCountsForNothing(t *testing.T) {
	l := fullLog(1, did(KindCarry, clk(1, 2, 0)))
	l.Log.Finished = false
	if list, cells := Observe(wholeMatch(l), IndicatorCatalogue()); len(list)+len(cells) > 0 {
		t.Errorf("observed %v, %v", list, cells)
	}
}

func TestAMatchOfAnotherTeamCountsForMinutesOnly(t *testing.T) {
	p := wholeMatch(fullLog(1, did(KindCarry, clk(1, 2, 0))))
	p.Match.SquadID, p.Match.OtherTeam = nil, "Harrowgate School"
	if list, _ := Observe(p, IndicatorCatalogue()); len(list) > 0 {
		t.Errorf("observed %v", list)
	}
}

func TestNoInvolvementInCoveredMinutesMeansNone(t *testing.T) {
	got := observed(wholeMatch(fullLog(1)))
	expect(t, got, "carries", 0, 80, FromLog)
	expect(t, got, "errors", 0, 80, FromLog)
	expect(t, got, "contact_won", 0, 0, "")
	expect(t, got, "last_quarter", 0, 20, FromLog)
}

func TestALogCountsOnlyItsKinds(t *testing.T) {
	l := fullLog(1, did(KindTackle, clk(1, 2, 0), "result", "won"), did(KindCarry, clk(1, 3, 0), "contact", "won"))
	l.Log.Kinds = []Kind{KindTackle, KindAttackRuck}
	got := observed(wholeMatch(l))
	expect(t, got, "tackles", 1, 80, FromLog)
	expect(t, got, "carries", 0, 0, "")
	expect(t, got, "contact_won", 0, 0, "")   // logged, but the log does not claim all carries
	expect(t, got, "ruck_arrivals", 0, 0, "") // half of its kinds is not watched
	expect(t, got, "errors", 0, 0, "")        // may have happened in any kind
	expect(t, got, "involvements", 0, 0, "")
	// A share of penalties given in all kinds needs all kinds, although those at rucks are watched.
	rucks := fullLog(1, resulted(did(KindAttackRuck, clk(1, 2, 0)), ResultPenaltyConceded))
	own := []Indicator{{Code: "own", Family: Proportion, Numerator: "breakdown_penalties",
		Denominator: "penalties_conceded", Depth: Core}}
	if list, _ := Observe(wholeMatch(rucks), own); len(list) != 1 {
		t.Errorf("from a log of all kinds %v", list)
	}
	rucks.Log.Kinds = []Kind{KindAttackRuck, KindDefenceRuck}
	if list, _ := Observe(wholeMatch(rucks), own); len(list) != 0 {
		t.Errorf("from a log of rucks only %v", list)
	}
}

func TestACoreLogGivesNothingThatNeedsFullDepth(t *testing.T) {
	got := observed(wholeMatch(coreLog(1, measured(did(KindCarry, clk(1, 2, 0), "contact", "won", "choice", "best"),
		map[string]float64{"metres": 9}))))
	expect(t, got, "contact_won", 1, 1, FromLog)
	expect(t, got, "best_choice", 0, 0, "") // recorded for a moment only, which was picked
	expect(t, got, "metres_per_carry", 0, 0, "")
	if _, cells := Observe(wholeMatch(coreLog(1,
		measured(did(KindCarry, clk(1, 2, 0)), map[string]float64{"metres": 9}))), nil); len(cells) > 0 {
		t.Errorf("cells %v from a core log", cells)
	}
}

func TestExposureIsThePlayersMinutesInsideTheCoverage(t *testing.T) {
	p := wholeMatch(covering(fullLog(1, did(KindCarry, clk(1, 12, 0)), did(KindCarry, clk(1, 43, 0)),
		did(KindCarry, clk(2, 50, 0))), Span{clk(1, 10, 0), clk(2, 45, 0)}))
	p.Appearance.Stints = []Stint{{On: clk(1, 0, 0), Off: clk(1, 20, 0)}, {On: clk(1, 35, 0), Off: clk(2, 60, 0)}}
	// Covered: 10 to 20 and 35 to 45 on the pitch. The carry of the 43rd minute of half 1 is in added time, that of the
	// 50th not covered.
	expect(t, observed(p), "carries", 2, 20, FromLog)
	expect(t, observed(p), "last_quarter", 0, 0, "") // not all of their minutes
}

func TestWithoutStintsAPartGivesNoRate(t *testing.T) {
	p := wholeMatch(fullLog(1, did(KindCarry, clk(1, 12, 0), "contact", "won")))
	p.Appearance.Stints, p.Appearance.Minutes = nil, 33
	got := observed(p)
	expect(t, got, "carries", 1, 33, FromLog)
	expect(t, got, "contact_won", 1, 1, FromLog)
	expect(t, got, "last_quarter", 0, 0, "")
	p.Logs[0].Log.Covers = []Span{first40()}
	got = observed(p)
	expect(t, got, "carries", 0, 0, "")
	expect(t, got, "contact_won", 1, 1, FromLog)
	p.Logs[0].Log.Covers = []Span{first40(), second40()}
	expect(t, observed(p), "carries", 1, 33, FromLog)
}

func TestNotRecordedIsNeverNo(t *testing.T) {
	ruck := func(minute int, details ...string) Involvement {
		return did(KindDefenceRuck, clk(1, minute, 0), details...)
	}
	got := observed(wholeMatch(fullLog(1, ruck(1, "effect", "turnover"), ruck(2, "effect", "slowed"))))
	expect(t, got, "breakdown_turnovers", 1, 80, FromLog)
	got = observed(wholeMatch(fullLog(1, ruck(1, "effect", "turnover"), ruck(2))))
	expect(t, got, "breakdown_turnovers", 0, 0, "") // the second may have been one, too
	expect(t, got, "effective_arrivals", 1, 1, FromLog)
	expect(t, got, "ruck_arrivals", 2, 80, FromLog)
	// An attack ruck without an effect is not looked at for turnovers.
	got = observed(wholeMatch(fullLog(1, ruck(1, "effect", "turnover"), did(KindAttackRuck, clk(1, 3, 0)))))
	expect(t, got, "breakdown_turnovers", 1, 80, FromLog)
	got = observed(wholeMatch(fullLog(1)))
	expect(t, got, "breakdown_turnovers", 0, 80, FromLog)
	// An academy's own share of all carries needs every carry's contact.
	own := []Indicator{{Code: "own", Family: Proportion, Numerator: "contacts_won", Denominator: "carries", Depth: Core}}
	all := wholeMatch(fullLog(1, did(KindCarry, clk(1, 1, 0), "contact", "won"),
		did(KindCarry, clk(1, 2, 0), "contact", "none")))
	if list, _ := Observe(all, own); len(list) != 1 || list[0].Numerator != 1 || list[0].Denominator != 2 {
		t.Errorf("own share %v, want 1 of 2", list)
	}
	delete(all.Logs[0].Involvements[1].Details, "contact")
	if list, _ := Observe(all, own); len(list) != 0 {
		t.Errorf("own share %v although a contact was not recorded", list)
	}
}

func TestAHighOrIllegalTackleIsNeverCountedAsWon(t *testing.T) {
	for _, i := range []Involvement{
		did(KindTackle, clk(1, 1, 0), "result", "won", "height", "high"),
		resulted(did(KindTackle, clk(1, 1, 0), "result", "won"), ResultPenaltyConceded),
	} {
		expect(t, observed(wholeMatch(fullLog(1, i))), "tackles_won", 0, 1, FromLog)
	}
}

// marked is an involvement with a danger.
func marked(i Involvement, d Danger) Involvement {
	i.Dangers = []Danger{d}
	return i
}

// TestDangerousPlayIsNeverCompletedAndAlwaysAPenalty has two high tackles and a miss: the carrier was stopped twice,
// and nothing was completed.
func TestDangerousPlayIsNeverCompletedAndAlwaysAPenalty(t *testing.T) {
	all := []Involvement{
		did(KindTackle, clk(1, 1, 0), "result", "even", "height", "high"),
		marked(did(KindTackle, clk(1, 2, 0), "result", "even"), DangerHighTackle),
		did(KindTackle, clk(1, 3, 0), "result", "missed"),
		marked(did(KindAttackRuck, clk(1, 4, 0), "effect", "cleared"), DangerClearOut),
		resulted(marked(did(KindDefenceRuck, clk(1, 5, 0), "effect", "no_effect"), DangerFoulPlay), ResultPenaltyConceded),
	}
	for _, i := range all {
		if err := i.Validate(); err != nil {
			t.Fatal(err)
		}
	}
	got := observed(wholeMatch(fullLog(1, all[:3]...))) // the tackles alone
	expect(t, got, "tackles", 0, 80, FromLog)
	expect(t, got, "tackle_completion", 0, 3, FromLog)
	expect(t, got, "involvements", 0, 80, FromLog)
	expect(t, got, "penalties_conceded", 2, 80, FromLog)
	if words := all[1].InWords(); !slices.Contains(words, "high tackle") {
		t.Errorf("the coach reads %v of a high tackle", words)
	}
	got = observed(wholeMatch(fullLog(1, all...)))
	expect(t, got, "tackles", 0, 80, FromLog)
	expect(t, got, "tackle_completion", 0, 3, FromLog)
	expect(t, got, "tackles_won", 0, 2, FromLog)
	expect(t, got, "effective_arrivals", 0, 2, FromLog)
	expect(t, got, "breakdown_penalties", 2, 80, FromLog)
	expect(t, got, "penalties_conceded", 4, 80, FromLog)
	if words := all[3].InWords(); !slices.Contains(words, "dangerous clear-out") {
		t.Errorf("the coach reads %v", words)
	}
	for _, wrong := range []Involvement{
		marked(did(KindCarry, clk(1, 1, 0)), DangerHighTackle), marked(did(KindTackle, clk(1, 1, 0)), "rough"),
		marked(did(KindTackle, clk(1, 1, 0), "result", "won"), DangerHighTackle),
		marked(did(KindTackle, clk(1, 1, 0), "height", "legal"), DangerHighTackle),
	} {
		if wrong.Validate() == nil {
			t.Errorf("%+v is accepted", wrong)
		}
	}
}

func TestEachMinuteIsCountedFromOneLog(t *testing.T) {
	carry := func(contact string, minute int) Involvement {
		return did(KindCarry, clk(1, minute, 0), "contact", contact)
	}
	won, lost := carry("won", 5), carry("lost", 5)
	for _, c := range []struct {
		rule string
		logs []LoggedPlay
		num  float64
	}{
		{"the lower id first", []LoggedPlay{fullLog(2, lost), fullLog(1, won)}, 1},
		{"the lower id first, the other way round", []LoggedPlay{fullLog(1, lost), fullLog(2, won)}, 0},
		{"full before core", []LoggedPlay{coreLog(1, lost), fullLog(2, won)}, 1},
	} {
		got := observed(wholeMatch(c.logs...))
		if o := got["contact_won"]; o.Numerator != c.num || o.Denominator != 1 {
			t.Errorf("%s: %v of %v", c.rule, o.Numerator, o.Denominator)
		}
		expect(t, got, "carries", 1, 80, FromLog)
	}
	// A full log of 20 minutes within a core log of all: each minute once, and full depth from the full log only.
	core := coreLog(1, carry("lost", 5), carry("won", 15), carry("lost", 35))
	full := covering(fullLog(2, did(KindCarry, clk(1, 15, 0), "contact", "won", "choice", "best"),
		did(KindCarry, clk(1, 16, 0), "contact", "won", "choice", "fair")), Span{clk(1, 10, 0), clk(1, 30, 0)})
	got := observed(wholeMatch(core, full))
	expect(t, got, "carries", 4, 80, FromLog)
	expect(t, got, "contact_won", 2, 4, FromLog)
	expect(t, got, "best_choice", 1, 2, FromLog)
	// Kinds that different logs cover complete each other.
	a, b := fullLog(1, did(KindAttackRuck, clk(1, 1, 0), "effect", "cleared")),
		fullLog(2, did(KindDefenceRuck, clk(1, 2, 0), "effect", "slowed"))
	a.Log.Kinds, b.Log.Kinds = []Kind{KindAttackRuck}, []Kind{KindDefenceRuck}
	expect(t, observed(wholeMatch(a, b)), "ruck_arrivals", 2, 80, FromLog)
	b.Log.Covers = []Span{first40()}
	b.Involvements = nil
	a.Involvements = append(a.Involvements, did(KindAttackRuck, clk(2, 60, 0)))
	expect(t, observed(wholeMatch(a, b)), "ruck_arrivals", 1, 40, FromLog)
}

func TestLogsComeBeforeTotalsWhereTheyCoverAllOfThePlayersMinutes(t *testing.T) {
	carries := []Involvement{did(KindCarry, clk(1, 5, 0), "contact", "won"),
		did(KindCarry, clk(1, 6, 0), "contact", "lost"), did(KindCarry, clk(2, 70, 0))}
	p := wholeMatch(fullLog(1, carries...))
	p.Totals = &MatchTotals{Counts: Counts{"carries": 4, "contacts_won": 2, "passes": 0, "tackles_made": 7, "errors": 0}}
	got := observed(p)
	expect(t, got, "carries", 3, 80, FromLog)
	if d := got["carries"].Differs; d == nil || *d != 4 {
		t.Errorf("carries differ by %v, want the 4 of the totals", d)
	}
	expect(t, got, "contact_won", 1, 2, FromLog)
	if d := got["contact_won"].Differs; d == nil || *d != 2 {
		t.Errorf("contacts won differ by %v, want the 2 of the totals", d)
	}
	expect(t, got, "passes", 0, 80, FromLog)
	if d := got["passes"].Differs; d != nil {
		t.Errorf("passes agree, but differ by %v", *d)
	}

	// A log of a part gives way to totals, which differ from nothing; what they lack, the part gives.
	p.Logs[0].Log.Covers = []Span{first40()}
	got = observed(p)
	expect(t, got, "carries", 4, 80, FromTotals)
	if got["carries"].Differs != nil {
		t.Error("a part was held against the whole")
	}
	expect(t, got, "over_gain_line", 0, 0, "")
	expect(t, got, "ruck_arrivals", 0, 40, FromLog)

	// A log of all of the player's minutes, though not of the whole match, comes first.
	p.Appearance.Stints, p.Appearance.Minutes = []Stint{{On: clk(1, 0, 0), Off: clk(1, 40, 0)}}, 40
	expect(t, observed(p), "carries", 2, 40, FromLog)

	// Totals count if the log does not say it; if the log says that there was nothing, they do not.
	p = wholeMatch(fullLog(1, did(KindTackle, clk(1, 5, 0))))
	p.Totals = &MatchTotals{Counts: Counts{"tackles_made": 7, "tackles_missed": 1, "carries": 4, "contacts_won": 2}}
	got = observed(p)
	expect(t, got, "tackles", 7, 80, FromTotals)
	expect(t, got, "tackle_completion", 7, 8, FromTotals)
	expect(t, got, "carries", 0, 80, FromLog)
	expect(t, got, "contact_won", 0, 0, "")
}

func TestTotalsGiveWhatTheyHaveTheCountsFor(t *testing.T) {
	p := wholeMatch()
	p.Appearance.Stints, p.Appearance.Minutes = nil, 64
	p.Totals = &MatchTotals{Counts: Counts{
		"carries": 9, "contacts_won": 4, "metres": 41.5, "presentations_long": 3,
		"tackles_made": 8, "tackles_missed": 2, "passes_accurate": 5, "ruck_arrivals_effective": 6, "attack_rucks": 5,
		"defence_rucks": 4,
		"involvements":  40, "involvements_last_quarter": 8, "errors": 0,
		"breakdown_turnovers_won": 1, "defence_effects_recorded": 3,
	}}
	got := observed(p)
	for _, c := range []struct {
		indicator   string
		numerator   float64
		denominator float64
	}{
		// carries stand in for contacts and measured carries
		{"carries", 9, 64}, {"contact_won", 4, 9}, {"metres_per_carry", 41.5, 9},
		{"long_presentation", 0, 0}, // but not for carries that went to ground
		{"tackles", 8, 64}, {"tackle_completion", 8, 10},
		{"pass_accuracy", 0, 0},      // of how many is not said
		{"effective_arrivals", 6, 9}, // of attack and defence rucks
		{"ruck_arrivals", 0, 0},      // not given as such
		{"last_quarter", 8, 16}, {"errors", 0, 64},
		{"breakdown_turnovers", 0, 0}, // the effect is known of 3 of 4 defence rucks only
		{"penalties_conceded", 0, 0},  // not recorded
	} {
		expect(t, got, c.indicator, c.numerator, c.denominator, FromTotals)
	}
	// The minutes are those of the stints where there are any.
	p.Appearance.Stints = []Stint{{On: clk(1, 10, 0), Off: clk(1, 40, 0)}}
	expect(t, observed(p), "carries", 9, 30, FromTotals)
}

func TestLastQuarterIsOfThePlayersOwnTime(t *testing.T) {
	// 40 minutes in two stints: the last ten are those from the 65th minute on.
	tackle := func(half, minute, second int) Involvement {
		return did(KindTackle, clk(half, minute, second), "result", "won")
	}
	involvements := []Involvement{tackle(1, 1, 0), tackle(2, 50, 0), tackle(2, 64, 59), tackle(2, 65, 0),
		tackle(2, 74, 0),
		tackle(2, 75, 0)}
	p := wholeMatch(fullLog(1, involvements...))
	p.Appearance.Stints = []Stint{{On: clk(1, 0, 0), Off: clk(1, 15, 0)}, {On: clk(2, 50, 0), Off: clk(2, 75, 0)}}
	expect(t, observed(p), "last_quarter", 3, 10, FromLog)
	// Added time lies where its half ends: early in the time of a player who was on throughout, late for one who went off
	// there.
	p = wholeMatch(fullLog(1, tackle(1, 42, 0), tackle(2, 81, 0)))
	expect(t, observed(p), "last_quarter", 1, 20, FromLog)
	p.Appearance.Stints = []Stint{{On: clk(1, 0, 0), Off: clk(1, 40, 0)}}
	p.Logs[0].Involvements = p.Logs[0].Involvements[:1]
	expect(t, observed(p), "last_quarter", 1, 10, FromLog)
}

func TestObservationsBearTheIdsOfTheAppearanceAndTheOrderAskedFor(t *testing.T) {
	inds := IndicatorCatalogue()
	slices.Reverse(inds)
	list, _ := Observe(wholeMatch(fullLog(1)), inds)
	var want []string
	for _, ind := range inds {
		want = append(want, ind.Code)
	}
	n := 0
	for _, o := range list {
		if o.AcademyID != 1 || o.MatchID != 9 || o.PlayerID != 7 {
			t.Fatalf("ids %d, %d, %d", o.AcademyID, o.MatchID, o.PlayerID)
		}
		whole, _, _ := PartOf(o.Indicator)
		for n < len(want) && want[n] != whole {
			n++
		}
		if n == len(want) {
			t.Fatalf("%s is out of order", o.Indicator)
		}
	}
	if list, _ := Observe(wholeMatch(fullLog(1)),
		[]Indicator{{Code: "x", Family: Rate, Numerator: "unheard_of"}}); len(list) != 0 {
		t.Errorf("an unknown count gave %v", list)
	}
}
