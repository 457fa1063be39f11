package models

import (
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The details of each kind as the design's table of involvements lists them: a bar ends what is recorded at core
// depth.
const designDetails = `
	carry contact(won,even,lost,none) gain_line(over,level,behind) |
		receiver(first,second,wider,pick_and_go,return) pace(at_pace,moving,standing)
		approach(straight,step,late_angle,spin,fend) contact_point(square,soft_shoulder,clear)
		defence(connected,disconnected) body_height(low,upright) leg_drive(yes,no) metres metres_after_contact
		tacklers_committed defenders_beaten finish(ground,held_up_then_ground,maul,on_feet)
		presentation(long,adequate,poor) seconds_to_play outcome(kept,lost,scored,penalty) choice(best,fair,better_on)
	pass result(accurate,recoverable,lost) | type(tip_on,inside,pullback,wide,hard_line,other)
		released(at_line,near,deep) defenders_held seconds_to_pass numbers(overlap,level,short)
		overlap_finished(yes,no) receiver_gain(over,level,behind) choice(best,fair,better_on)
	offload result(accurate,recoverable,lost) | type(tip_on,inside,pullback,wide,hard_line,other)
		released(at_line,near,deep) defenders_held numbers(overlap,level,short) overlap_finished(yes,no)
		receiver_gain(over,level,behind) choice(best,fair,better_on)
	kick result(charged_down,regained,touch,space,returned) | purpose(exit,contest,space,territory)
		form(fifty_22,box,other) choice(best,fair,better_on)
	catch result(clean,juggled,spilled,beaten) | from(kick_off,high_ball,other) under_pressure(yes,no)
		called(yes,no)
	tackle result(won,even,lost,missed) | height(legal,high) role(first,assist) seconds_to_feet
	attack_ruck effect(cleared,secured,ineffective,penalised) | arrival(first,second,later)
	defence_ruck effect(turnover,slowed,no_effect,penalised) | decision(contest,stay_out)
		arrival(first,second,later)
	scrum effect(gained,held,lost) |
	lineout effect(gained,held,lost) | role(thrower,jumper,lifter)
	maul effect(gained,held,lost) |
	support_line effect(created,option,none) | line(behind,trail,inside,hard,outside) received(yes,no)
		called(yes,no)
	reposition in_place(yes,no,no_time) | from(ground,ruck,maul,chase)
		to(backfield,guard,first_receiver,inside,outside) fold(stayed,folded,late) chase(up,in_line,behind) seconds
		offered(yes,no) ball_came(yes,no)`

// And those of every kind, all at full depth.
const designCommon = `possession_start(scrum,lineout,restart,kick_return,turnover,tap) ` +
	`possession_end(try,penalty,kick,turnover,half) zone(own_22,own_22_to_half,half_to_their_22,their_22) ` +
	`width(close,midfield,wide) side(left,right) source(ruck,scrum,lineout,restart,kick,turnover)
	speed(quick,slow)`

func TestDetailCatalogueIsThisTable(t *testing.T) {
	rows := map[string]string{}
	row := ""
	for line := range strings.Lines(designDetails) {
		kind, rest, ok := strings.Cut(strings.TrimSpace(line), " ")
		switch {
		case ok && Kind(kind).Label() != "":
			row, rows[kind] = kind, rest
		case row != "":
			rows[row] += " " + strings.TrimSpace(line)
		}
	}
	if len(rows) != len(Kinds()) {
		t.Errorf("%d kinds, want %d", len(Kinds()), len(rows))
	}
	for _, k := range Kinds() {
		core, full, _ := strings.Cut(rows[string(k.Code)], "|")
		want := append(strings.Fields(core), append([]string{"|"}, strings.Fields(full+" "+designCommon)...)...)
		var got []string
		deep := false
		for _, d := range DetailsOf(k.Code) {
			if d.Depth == Full && !deep {
				got, deep = append(got, "|"), true
			} else if d.Depth == Core && deep {
				t.Errorf("%s: %s is core, but listed after full ones", k.Code, d.Code)
			}
			text := d.Code
			if len(d.Options) > 0 {
				text += "(" + strings.Join(d.codes(), ",") + ")"
			}
			got = append(got, text)
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s has\n%v\nwant\n%v", k.Code, got, want)
		}
	}
}

var (
	codePattern = regexp.MustCompile(`^[a-z][a-z0-9_]*$`)
	// What is published speaks of players of any sex.
	gendered = regexp.MustCompile(`(?i)\b(he|she|his|her|him|himself|herself|man|men)\b`)
)

// published checks a code, a label and a sentence that are printed with the papers.
func published(t *testing.T, code, label, sentence string) {
	t.Helper()
	if !codePattern.MatchString(code) {
		t.Errorf("%q is not a code", code)
	}
	if label == "" || strings.TrimSpace(label) != label {
		t.Errorf("%s: label %q", code, label)
	}
	if len(sentence) < 5 || !strings.HasSuffix(sentence, ".") && !strings.HasSuffix(sentence, "?") {
		t.Errorf("%s: %q is not a sentence", code, sentence)
	}
	if word := gendered.FindString(sentence); word != "" {
		t.Errorf("%s: %q says %q", code, sentence, word)
	}
}

func TestDetailCatalogueIsPublishable(t *testing.T) {
	for _, k := range Kinds() {
		published(t, string(k.Code), k.Label, k.Definition)
		seen := map[string]bool{}
		for _, d := range DetailsOf(k.Code) {
			if seen[d.Code] {
				t.Errorf("%s has two details %s", k.Code, d.Code)
			}
			seen[d.Code] = true
		}
	}
	for _, r := range Results() {
		published(t, string(r.Code), r.Label, r.Definition)
	}
	for _, d := range DetailCatalogue() {
		published(t, d.Code, d.Label, d.Definition)
		if (len(d.Options) > 0) == (d.Measure != nil) {
			t.Errorf("%s is neither a choice nor a measure, or both", d.Code)
		}
		seen := map[string]bool{}
		for _, o := range d.Options {
			published(t, o.Code, o.Label, o.Definition)
			if seen[o.Code] {
				t.Errorf("%s has two options %s", d.Code, o.Code)
			}
			seen[o.Code] = true
			if o.Result != "" && o.Result.Label() == "" {
				t.Errorf("%s %s needs the unknown result %q", d.Code, o.Code, o.Result)
			}
		}
		if m := d.Measure; m != nil && (m.Unit == "" || m.Min < 0 || m.Max <= m.Min) {
			t.Errorf("%s: range %+v", d.Code, *m)
		}
	}
}

// The definitions name Law 14 and Law 16 (World Rugby, Laws of the Game, from memory), and say that a time back to
// feet is never taken after a contact with a head.
func TestDefinitionsSayWhatMustBeSaid(t *testing.T) {
	finish, _ := DetailOf(KindCarry, "finish")
	for _, want := range []string{"Law 14", "Law 16", "knee"} {
		if !strings.Contains(finish.Definition, want) {
			t.Errorf("the definition of finish does not mention %s", want)
		}
	}
	won, _ := func() (Option, bool) { d, _ := DetailOf(KindTackle, "result"); return d.Option("won") }()
	if !strings.Contains(won.Definition, "Legal") {
		t.Error("a tackle won is not said to be legal")
	}
	feet, _ := DetailOf(KindTackle, "seconds_to_feet")
	moving, _ := DetailOf(KindReposition, "seconds")
	ind, _ := IndicatorOf("back_to_feet")
	again, _ := IndicatorOf("reposition_seconds")
	for _, text := range []string{feet.Definition, moving.Definition, ind.Meaning, again.Meaning} {
		if !strings.Contains(text, "head") {
			t.Errorf("%q does not say that nothing is timed after a contact with a head", text)
		}
	}
}

func TestContradictionsNameWhatCanBeRecorded(t *testing.T) {
	for _, c := range Contradictions() {
		for _, k := range c.Kinds {
			for _, m := range []Mark{c.This, c.That} {
				switch {
				case m.Detail != "":
					d, ok := DetailOf(k, m.Detail)
					if !ok || d.Measure != nil {
						t.Errorf("%s has no choice %s", k, m.Detail)
					}
					for _, v := range m.Values {
						if _, ok := d.Option(v); !ok {
							t.Errorf("%s of a %s is never %s", m.Detail, k, v)
						}
					}
				case m.Measure != "":
					if d, ok := DetailOf(k, m.Measure); !ok || d.Measure == nil {
						t.Errorf("%s has no measure %s", k, m.Measure)
					}
				case m.Result.Label() == "":
					t.Errorf("a mark of nothing: %+v", m)
				}
			}
		}
	}
}

func TestCountCatalogueIsSound(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range CountCatalogue() {
		published(t, c.Code, c.Label, c.Definition)
		if seen[c.Code] {
			t.Errorf("two counts %s", c.Code)
		}
		seen[c.Code] = true
		if len(c.Kinds) == 0 {
			t.Errorf("%s counts no kind", c.Code)
		}
		for _, k := range c.Kinds {
			for _, w := range slices.Concat(c.Where, c.Except) {
				d, ok := DetailOf(k, w.Detail)
				if !ok && !slices.ContainsFunc(c.Kinds, func(k Kind) bool { return detailOf(k, w.Detail) != nil }) {
					t.Errorf("%s asks for %s, which a %s has not", c.Code, w.Detail, k)
				}
				for _, v := range w.Values {
					known := false
					for _, kind := range c.Kinds {
						other, _ := DetailOf(kind, w.Detail)
						_, ok := other.Option(v)
						known = known || ok
					}
					if !known {
						t.Errorf("%s asks for %s %s, which is none of its options", c.Code, d.Code, v)
					}
				}
			}
			if c.Sum != "" {
				d, ok := DetailOf(k, c.Sum)
				if !ok || d.Measure == nil || d.Measure.Unit != c.Unit {
					t.Errorf("%s sums %s of a %s, in %q", c.Code, c.Sum, k, c.Unit)
				}
			}
		}
		for _, r := range slices.Concat(c.Results, c.ExceptResults) {
			if r.Label() == "" {
				t.Errorf("%s asks for the unknown result %q", c.Code, r)
			}
		}
		if c.Of != "" {
			of, ok := CountOf(c.Of)
			if !ok {
				t.Errorf("%s is of the unknown %s", c.Code, c.Of)
			} else if setOf(c.Kinds)&^setOf(of.Kinds) != 0 {
				t.Errorf("%s counts kinds that %s does not", c.Code, c.Of)
			}
			if slices.Contains(c.wholes(), c.Code) || len(c.wholes()) > 8 {
				t.Errorf("%s is of itself", c.Code)
			}
		}
		if c.Recorded && c.Of == "" {
			t.Errorf("%s says how much was recorded, but not of what", c.Code)
		}
		if c.Sum != "" {
			if of, _ := CountOf(c.Of); !of.Recorded || len(of.Where) != 1 || of.Where[0].Detail != c.Sum ||
				of.Where[0].Values != nil {
				t.Errorf("%s is a sum over %s, which does not say how often %s was recorded", c.Code, c.Of, c.Sum)
			}
		}
		if of, ok := CountOf(c.Needs); c.Needs != "" && (!ok || !of.Recorded) {
			t.Errorf("%s needs %s, which does not say how much was recorded", c.Code, c.Needs)
		}
		for _, code := range c.InTotals {
			if _, ok := CountOf(code); !ok {
				t.Errorf("the unknown %s stands in for %s", code, c.Code)
			}
		}
	}
}

// These columns are in the totals that academies keep already.
func TestCountsOfFilesOfTotals(t *testing.T) {
	for _, code := range []string{"carries", "passes", "kicks", "catches", "tackles_made", "errors", "ruck_arrivals"} {
		if c, ok := CountOf(code); !ok || c.Sum != "" {
			t.Errorf("%s is no count of involvements", code)
		}
	}
}

// What counts a choice of full depth needs a full log; what counts kinds, core details and results does not.
func TestDepthOfCountsFollowsTheirDetails(t *testing.T) {
	for code, want := range map[string]Depth{
		"carries": Core, "contacts_won": Core, "tackles_won": Core, "errors": Core, "involvements": Core,
		"repositions_in_place": Core,
		"contact_points_soft":  Full, "metres": Full, "choices_best": Full, "exits_completed": Full, "arrivals_first": Full,
		"seconds_to_feet": Full,
	} {
		if c, _ := CountOf(code); c.Depth != want {
			t.Errorf("%s needs depth %q, want %q", code, c.Depth, want)
		}
	}
}

// designIndicators are the indicators that the design lists, in its order. A contributor may add others between them.
var designIndicators = strings.Fields(`
	carries contact_won soft_contact over_gain_line metres_per_carry metres_over_expected metres_after_contact
	tacklers_committed long_presentation seconds_to_play best_choice released_at_line defenders_held passes
	pass_accuracy overlaps_finished offload_accuracy ruck_arrivals effective_arrivals first_arrivals
	breakdown_turnovers breakdown_penalties tackles tackle_completion tackles_won back_to_feet involvements in_place
	reposition_seconds last_quarter clean_catch exits_completed scrums_kept lineouts_kept mauls_kept
	penalties_conceded errors`)

func TestIndicatorCatalogueHasTheDesigns(t *testing.T) {
	var got []string
	for _, ind := range IndicatorCatalogue() {
		got = append(got, ind.Code)
		published(t, ind.Code, ind.Label, ind.Meaning)
		if err := ind.Validate(); err != nil {
			t.Errorf("%s: %v (counts stand in countcatalogue.go)", ind.Code, err)
		}
		if strings.Count(ind.Meaning, ". ") > 1 {
			t.Errorf("%s: the meaning is more than two sentences: %q", ind.Code, ind.Meaning)
		}
		if ind.Depth != neededDepth(ind.Numerator, ind.Denominator) {
			t.Errorf("%s needs depth %s", ind.Code, ind.Depth)
		}
	}
	listed := slices.DeleteFunc(got, func(code string) bool { return !slices.Contains(designIndicators, code) })
	if !slices.Equal(listed, designIndicators) {
		t.Errorf("indicators\n%v\nwant among them, in this order\n%v", listed, designIndicators)
	}
}

// Meanings are printed to players.
func TestMeaningsAreReadOnce(t *testing.T) {
	for _, in := range IndicatorCatalogue() {
		for _, sentence := range strings.SplitAfter(in.Meaning, ". ") {
			if n := len(strings.Fields(sentence)); n > 25 || strings.Contains(sentence, ";") {
				t.Errorf("%s: %d words: %q; want 25 at the most, and no semicolon", in.Code, n, sentence)
			}
		}
	}
}

// Fewer penalties, errors and seconds are better; that is what the direction is for.
func TestDirectionOfIndicators(t *testing.T) {
	lower := []string{"seconds_to_play", "breakdown_penalties", "back_to_feet", "reposition_seconds",
		"penalties_conceded", "errors"}
	for _, code := range designIndicators {
		ind, _ := IndicatorOf(code)
		if want := slices.Contains(lower, code); (ind.Better == Lower) != want {
			t.Errorf("%s: %s is better", code, ind.Better)
		}
	}
}

func TestSkillCatalogueHasItsOwnWordsForEachGrade(t *testing.T) {
	codes := map[string]bool{}
	said := map[string]string{}
	for _, s := range SkillCatalogue() {
		if err := s.Validate(); err != nil {
			t.Errorf("%s: %v", s.Code, err)
		}
		if codes[s.Code] {
			t.Errorf("two skills %s", s.Code)
		}
		codes[s.Code] = true
		for i, g := range s.Grades {
			published(t, s.Code, s.Label, g)
			if other, ok := said[g]; ok {
				t.Errorf("%s grade %d says what %s says", s.Code, i+1, other)
			}
			said[g] = s.Code
		}
		forwards := s.Code == "scrum" || s.Code == "lineout" || s.Code == "maul"
		if forwards != (len(s.Groups) == 3) {
			t.Errorf("%s suits %v", s.Code, s.Groups)
		}
	}
	for _, code := range []string{"footwork_into_contact", "pass_or_carry", "breakdown", "presentation", "work_off_ball",
		"support_lines", "tackle", "catch_under_pressure", "scrum", "lineout", "maul"} {
		if !codes[code] {
			t.Errorf("no skill %s", code)
		}
	}
}

func TestHeadlinesOfEachGroup(t *testing.T) {
	for _, g := range append([]Group{GroupUnknown}, groupCodes()...) {
		inds, skls := Headlines(g)
		if len(inds) < 8 || len(skls) < 5 {
			t.Errorf("%q has %d indicators and %d skills", g, len(inds), len(skls))
		}
		for n, code := range inds {
			ind, ok := IndicatorOf(code)
			if !ok || slices.Contains(inds[:n], code) {
				t.Errorf("%q: %s is unknown or there twice", g, code)
			}
			if len(ind.Groups) > 0 && !slices.Contains(ind.Groups, g) {
				t.Errorf("%q: %s suits %v only", g, code, ind.Groups)
			}
		}
		for n, code := range skls {
			s, ok := SkillOf(code)
			if !ok || slices.Contains(skls[:n], code) {
				t.Errorf("%q: %s is unknown or there twice", g, code)
			}
			if len(s.Groups) > 0 && !slices.Contains(s.Groups, g) {
				t.Errorf("%q: %s suits %v only", g, code, s.Groups)
			}
		}
	}
	for _, c := range IndicatorCatalogue() {
		soundPlaces(t, c.Code, c.Headline)
	}
	for _, c := range SkillCatalogue() {
		soundPlaces(t, c.Code, c.Headline)
	}
	a, _ := Headlines("goalkeepers")
	b, _ := Headlines(GroupUnknown)
	if !slices.Equal(a, b) {
		t.Error("an unknown group has no headlines")
	}
}

// soundPlaces checks that an entry of a catalogue is a headline of groups that exist, at a place from 1.
func soundPlaces(t *testing.T, code string, places Places) {
	t.Helper()
	for g, place := range places {
		if g != GroupUnknown && !slices.Contains(groupCodes(), g) || place < 1 {
			t.Errorf("%s is headline %d of %q; write Headline: Places{<a group of position.go>: <1 or more>} on its entry",
				code, place, g)
		}
	}
}

// The place decides, then the order of the catalogue: so a headline is put in without moving the others.
func TestHeadlinesStandWhereTheirEntriesSay(t *testing.T) {
	catalogue := []Indicator{
		{Code: "third", Headline: Places{GroupCentre: 3}}, {Code: "elsewhere", Headline: Places{GroupBackRow: 1}},
		{Code: "second", Headline: Places{GroupCentre: 2}}, {Code: "put_in", Headline: Places{GroupCentre: 2}},
		{Code: "none"},
		{Code: "first", Headline: Places{GroupCentre: 1, GroupBackRow: 2}},
	}
	of := func(i *Indicator) (string, Places) { return i.Code, i.Headline }
	if got := headlines(catalogue, GroupCentre, of); !slices.Equal(got, []string{"first", "second", "put_in", "third"}) {
		t.Errorf("a centre's headlines are %v", got)
	}
	inds, skls := Headlines(GroupHalfBack)
	if inds[0] != "best_choice" || inds[1] != "pass_accuracy" || skls[0] != "pass_or_carry" ||
		skls[1] != "work_off_ball" {
		t.Errorf("a half back's headlines begin with %v and %v", inds[:2], skls[:2])
	}
}

func groupCodes() []Group {
	var out []Group
	for _, g := range Groups() {
		out = append(out, g.Code)
	}
	return out
}

// World Rugby, Laws of the Game, Law 3 (from memory): numbers 1 to 8 are forwards, that is props, hooker, locks,
// flankers and number eight; 9 and 10 half backs; 12 and 13 centres; 11, 14 and 15 wings and full back.
func TestPositionsBelongToTheirGroups(t *testing.T) {
	want := map[Position]Group{
		"prop": GroupFrontRow, "hooker": GroupFrontRow, "lock": GroupSecondRow, "flanker": GroupBackRow,
		"number_eight": GroupBackRow,
		"scrum_half":   GroupHalfBack, "fly_half": GroupHalfBack, "centre": GroupCentre, "wing": GroupBackThree,
		"full_back": GroupBackThree,
	}
	if len(Positions()) != len(want) {
		t.Errorf("%d positions, want %d", len(Positions()), len(want))
	}
	for p, g := range want {
		if got := GroupOf(p); got != g {
			t.Errorf("a %s is in %q, want %q", p, got, g)
		}
		if p.Label() == "" || g.Label() == "" {
			t.Errorf("%s or %s has no label", p, g)
		}
	}
	if GroupOf("") != GroupUnknown || GroupOf("libero") != GroupUnknown {
		t.Error("an unknown position has a group")
	}
	p := Player{Positions: []Position{Flanker, Hooker}}
	if p.Group() != GroupBackRow || (Player{}).Group() != GroupUnknown {
		t.Error("a player's group is not that of the main position")
	}
	for _, g := range Groups() {
		forward := g.Code == GroupFrontRow || g.Code == GroupSecondRow || g.Code == GroupBackRow
		if forward != (g.Scope == Forwards) || g.Scope != Forwards && g.Scope != Backs {
			t.Errorf("%s are %s", g.Label, g.Scope)
		}
	}
}

func TestCataloguesCannotBeChanged(t *testing.T) {
	Kinds()[0].Label = "x"
	Results()[0].Label = "x"
	Positions()[0].Group = "x"
	Groups()[0].Label = "x"
	DetailCatalogue()[0].Code = "x"
	CountCatalogue()[0].Code = "x"
	IndicatorCatalogue()[0].Code = "x"
	SkillCatalogue()[0].Code = "x"
	Contradictions()[0].Why = "x"
	inds, _ := Headlines(GroupCentre)
	inds[0] = "x"
	again, _ := Headlines(GroupCentre)
	for _, s := range []string{
		Kinds()[0].Label, Results()[0].Label, string(Positions()[0].Group), Groups()[0].Label, DetailCatalogue()[0].Code,
		CountCatalogue()[0].Code,
		IndicatorCatalogue()[0].Code, SkillCatalogue()[0].Code, Contradictions()[0].Why, again[0],
	} {
		if s == "x" {
			t.Fatal("a caller changed a catalogue")
		}
	}
}
