package models

import "slices"

// Count is a named count of a player's involvements in a match, or the sum of one of their measures. It is data: its
// fields say how it is counted from a log. The columns of match totals and team totals use the same codes. An
// involvement is counted if its kind is in Kinds, it meets every condition in Where and none in Except and, if they
// are given, it has a result in Results and none in ExceptResults. A condition on a detail that only some of the
// kinds have applies only to those kinds.
type Count struct {
	Code       string `json:"code"`
	Label      string `json:"label"`
	Definition string `json:"definition"`
	Unit       string `json:"unit,omitempty"` // the unit of a sum; empty for a count of involvements

	Kinds         []Kind      `json:"kinds"`
	Where         []Condition `json:"where,omitempty"`
	Except        []Condition `json:"except,omitempty"`
	Results       []Result    `json:"results,omitempty"`
	ExceptResults []Result    `json:"except_results,omitempty"`
	// leaves out what is linked to a carry, because the carry is counted
	Unlinked bool `json:"unlinked,omitempty"`
	// leaves out a carry with a linked pass or offload, because the pass or offload is counted
	Unpassed bool `json:"unpassed,omitempty"`
	// counted only in the last quarter of the player's own time on the pitch; needs stints; a rate is over that
	// quarter's minutes
	LastQuarter bool `json:"last_quarter,omitempty"`
	// counted only if this is the player's next involvement; needs a log of all kinds
	Next Next `json:"next,omitempty"`
	// adds up the seconds until what comes next, instead of counting
	Seconds bool   `json:"seconds,omitempty"`
	Sum     string `json:"sum,omitempty"` // the measure to add up; empty: involvements are counted
	// counts the phases of possessions before the last one in which the player did something; needs a log of all kinds
	Passages bool `json:"passages,omitempty"`

	// The larger count that includes this one. A count of involvements is never more than it.
	Of string `json:"of,omitempty"`
	// The recorded count that must be complete for this one, besides those it is part of.
	Needs string `json:"needs,omitempty"`
	// True if this counts the involvements in Of with a detail recorded. If it is less than Of, the rest is not known,
	// and what is counted within it is not complete.
	Recorded bool `json:"recorded,omitempty"`
	// The counts whose sum is used as the denominator when totals do not have this one.
	InTotals []string `json:"in_totals,omitempty"`
	// The depth of log that records what is counted, at least: that of the details in Where and Sum.
	Depth Depth `json:"depth"`
}

// sums says whether the count is a sum, and not one of involvements.
func (c *Count) sums() bool { return c.Sum != "" || c.Seconds || c.Passages && c.Of != "" }

// watched are the kinds that a log must cover for the count: what comes next may be of any kind.
func (c *Count) watched() []Kind {
	if c.Next != "" {
		return allKinds()
	}
	return c.Kinds
}

// Condition requires that a detail or measure was recorded and, if values are given, that it has one of them.
type Condition struct {
	Detail string   `json:"detail"`
	Values []string `json:"values,omitempty"`
}

// CountCatalogue returns every count. The slice is new; what its elements point to is shared and must not be changed.
func CountCatalogue() []Count { return slices.Clone(counts) }

// CountOf returns the count with a code.
func CountOf(code string) (Count, bool) {
	if i, ok := countNumber[code]; ok {
		return counts[i], true
	}
	return Count{}, false
}

// counts and countNumber, the places of codes in it, are never changed.
var (
	counts      = countCatalogue()
	countNumber = func() map[string]int {
		m := make(map[string]int, len(counts))
		for i := range counts {
			m[counts[i].Code] = i
		}
		return m
	}()
)

// is and recorded are conditions.
func is(detail string, values ...string) []Condition { return []Condition{{detail, values}} }
func recorded(detail string) []Condition             { return []Condition{{Detail: detail}} }

// missed is what was tried or owed and not done: it is no involvement.
func missed() []Condition {
	return slices.Concat(is("result", "missed", "beaten"), is("in_place", "no", "no_time"))
}

func countCatalogue() []Count {
	var (
		carry      = []Kind{KindCarry}
		pass       = []Kind{KindPass}
		offload    = []Kind{KindOffload}
		passing    = []Kind{KindPass, KindOffload}
		kick       = []Kind{KindKick}
		withBall   = []Kind{KindCarry, KindPass, KindOffload, KindKick}
		catch      = []Kind{KindCatch}
		tackle     = []Kind{KindTackle}
		attack     = []Kind{KindAttackRuck}
		defence    = []Kind{KindDefenceRuck}
		rucks      = []Kind{KindAttackRuck, KindDefenceRuck}
		scrum      = []Kind{KindScrum}
		lineout    = []Kind{KindLineout}
		maul       = []Kind{KindMaul}
		support    = []Kind{KindSupportLine}
		reposition = []Kind{KindReposition}
		calling    = []Kind{KindCatch, KindSupportLine}
		tried      = []Kind{KindCatch, KindTackle, KindReposition}
		all        = allKinds()
	)
	const told = "outcomes_recorded"
	list := []Count{
		// Carries.
		{Code: "carries", Label: "Carries", Kinds: carry,
			Definition: "Every carry, including those that ended in a pass or an offload."},
		{Code: "contacts_recorded", Label: "Carries with contact recorded", Kinds: carry, Where: recorded("contact"),
			Of: "carries", Recorded: true, InTotals: []string{"carries"},
			Definition: "Carries where the log says how the contact went, or that there was none."},
		{Code: "contacts", Label: "Contacts", Kinds: carry, Where: is("contact", "won", "even", "lost"),
			Of: "contacts_recorded", InTotals: []string{"contacts_recorded"},
			Definition: "Carries in which a defender touched the carrier: contact won, even or lost."},
		{Code: "contacts_won", Label: "Contacts won", Kinds: carry, Where: is("contact", "won"), Of: "contacts",
			Definition: "Carries with contact won."},
		{Code: "contacts_even", Label: "Contacts even", Kinds: carry, Where: is("contact", "even"), Of: "contacts",
			Definition: "Carries with contact even."},
		{Code: "contacts_lost", Label: "Contacts lost", Kinds: carry, Where: is("contact", "lost"), Of: "contacts",
			Definition: "Carries with contact lost."},
		{Code: "gain_line_recorded", Label: "Carries with gain line recorded", Kinds: carry, Where: recorded("gain_line"),
			Of: "carries", Recorded: true, InTotals: []string{"carries"},
			Definition: "Carries where the log says where they ended against the gain line."},
		{Code: "gain_line_over", Label: "Carries over the gain line", Kinds: carry, Where: is("gain_line", "over"),
			Of:         "gain_line_recorded",
			Definition: "Carries that ended over the gain line."},
		{Code: "contact_points_recorded", Label: "Carries with contact point recorded", Kinds: carry,
			Where: recorded("contact_point"), Of: "carries", Recorded: true, InTotals: []string{"carries"},
			Definition: "Carries where the log says which part of the defender the carrier ran into."},
		{Code: "contact_points_soft", Label: "Contacts on a soft shoulder or clear", Kinds: carry,
			Where: is("contact_point", "soft_shoulder", "clear"), Of: "contact_points_recorded",
			Definition: "Carries with the contact point on a soft shoulder or clear."},
		{Code: "metres_recorded", Label: "Carries with metres recorded", Kinds: carry, Where: recorded("metres"),
			Of: "carries", Recorded: true, InTotals: []string{"carries"},
			Definition: "Carries whose metres were measured."},
		{Code: "metres", Label: "Metres carried", Unit: "m", Kinds: carry, Sum: "metres", Of: "metres_recorded",
			Definition: "The metres, added up over all carries that were measured."},
		{Code: "metres_after_contact_recorded", Label: "Carries with metres after contact recorded", Kinds: carry,
			Where: recorded("metres_after_contact"), Of: "carries", Recorded: true, InTotals: []string{"carries"},
			Definition: "Carries whose metres after contact were measured."},
		{Code: "metres_after_contact", Label: "Metres after contact", Unit: "m", Kinds: carry, Sum: "metres_after_contact",
			Of:         "metres_after_contact_recorded",
			Definition: "The metres after contact, added up over all carries where they were measured."},
		{Code: "tacklers_recorded", Label: "Carries with tacklers recorded", Kinds: carry,
			Where: recorded("tacklers_committed"), Of: "carries", Recorded: true, InTotals: []string{"carries"},
			Definition: "Carries where the tacklers were counted."},
		{Code: "tacklers_committed", Label: "Tacklers committed", Unit: "tacklers", Kinds: carry, Sum: "tacklers_committed",
			Of:         "tacklers_recorded",
			Definition: "The tacklers, added up over all carries where they were counted."},
		{Code: "defenders_beaten_recorded", Label: "Carries with defenders beaten recorded", Kinds: carry,
			Where: recorded("defenders_beaten"), Of: "carries", Recorded: true, InTotals: []string{"carries"},
			Definition: "Carries where the defenders beaten were counted."},
		{Code: "defenders_beaten", Label: "Defenders beaten", Unit: "defenders", Kinds: carry, Sum: "defenders_beaten",
			Of:         "defenders_beaten_recorded",
			Definition: "The defenders beaten, added up over all carries where they were counted."},
		{Code: "presentations_recorded", Label: "Carries with presentation recorded", Kinds: carry,
			Where: recorded("presentation"), Of: "carries", Recorded: true,
			Definition: "Carries that went to ground, where the log says how the ball was placed."},
		{Code: "presentations_long", Label: "Long presentations", Kinds: carry, Where: is("presentation", "long"),
			Of:         "presentations_recorded",
			Definition: "Carries after which the ball was placed long."},
		{Code: "seconds_to_play_recorded", Label: "Carries with seconds until ball is played recorded", Kinds: carry,
			Where: recorded("seconds_to_play"), Of: "carries", Recorded: true,
			Definition: "Carries that went to ground, where the time until the ball was played was measured."},
		{Code: "seconds_to_play", Label: "Seconds until the ball is played", Unit: "s", Kinds: carry, Sum: "seconds_to_play",
			Of: "seconds_to_play_recorded",
			Definition: "The seconds from going to ground until the ball was played, added up over all carries where they " +
				"were measured."},

		// With the ball in hand.
		{Code: "decisions", Label: "Decisions with the ball", Kinds: withBall, Unpassed: true,
			Definition: "Carries, passes, offloads and kicks together. A carry and the pass or offload out of it are one " +
				"decision."},
		{Code: "choices_recorded", Label: "Decisions with choice recorded", Kinds: withBall, Unpassed: true,
			Where: recorded("choice"), Of: "decisions", Recorded: true, InTotals: []string{"decisions"},
			Definition: "Decisions where the log says whether it was the best choice. For a carry and the pass or offload " +
				"out of it, the choice recorded with the pass or offload counts; without one, the choice recorded " +
				"with the carry."},
		{Code: "choices_best", Label: "Best choices", Kinds: withBall, Unpassed: true, Where: is("choice", "best"),
			Of:         "choices_recorded",
			Definition: "Decisions that were the best of the options that were on."},
		{Code: "passes", Label: "Passes", Kinds: pass,
			Definition: "Every pass by a player who was not held, including those out of a carry. Offloads are counted " +
				"separately."},
		{Code: "pass_results_recorded", Label: "Passes with result recorded", Kinds: pass, Where: recorded("result"),
			Of: "passes", Recorded: true, InTotals: []string{"passes"},
			Definition: "Passes where the log says where the ball went."},
		{Code: "passes_accurate", Label: "Accurate passes", Kinds: pass, Where: is("result", "accurate"),
			Of:         "pass_results_recorded",
			Definition: "Passes with result accurate."},
		{Code: "passes_timed", Label: "Passes from the base with seconds recorded", Kinds: pass,
			Where: recorded("seconds_to_pass"), Of: "passes", Recorded: true,
			Definition: "Passes from the base of a ruck, maul or scrum where the time with the ball in the hands was measured."},
		{Code: "pass_seconds", Label: "Seconds to pass from the base", Unit: "s", Kinds: pass, Sum: "seconds_to_pass",
			Of:         "passes_timed",
			Definition: "The seconds from hands on the ball to the pass, added up over all timed passes from the base."},
		{Code: "releases_recorded", Label: "Passes with release recorded", Kinds: pass, Where: recorded("released"),
			Of: "passes", Recorded: true, InTotals: []string{"passes"},
			Definition: "Passes where the log says how near the defence the ball was released."},
		{Code: "releases_at_line", Label: "Passes released at the line", Kinds: pass, Where: is("released", "at_line"),
			Of:         "releases_recorded",
			Definition: "Passes released at the line. Offloads are left out: they are always released at the line."},
		{Code: "defenders_held_recorded", Label: "Passes with defenders held recorded", Kinds: pass,
			Where: recorded("defenders_held"), Of: "passes", Recorded: true, InTotals: []string{"passes"},
			Definition: "Passes where the defenders held were counted."},
		{Code: "defenders_held", Label: "Defenders held", Unit: "defenders", Kinds: pass, Sum: "defenders_held",
			Of:         "defenders_held_recorded",
			Definition: "The defenders held, added up over all passes where they were counted."},
		{Code: "passes_and_offloads", Label: "Passes and offloads", Kinds: passing, InTotals: []string{"passes", "offloads"},
			Definition: "Passes and offloads together."},
		{Code: "numbers_recorded", Label: "Passes with numbers recorded", Kinds: passing, Where: recorded("numbers"),
			Of: "passes_and_offloads", Recorded: true, InTotals: []string{"passes_and_offloads"},
			Definition: "Passes and offloads where attackers and defenders outside the passer were counted."},
		{Code: "overlaps", Label: "Overlaps", Kinds: passing, Where: is("numbers", "overlap"), Of: "numbers_recorded",
			Definition: "Passes and offloads made with an overlap outside the passer."},
		{Code: "overlap_finishes_recorded", Label: "Overlaps with finish recorded", Kinds: passing,
			Where: slices.Concat(is("numbers", "overlap"), recorded("overlap_finished")), Of: "overlaps", Recorded: true,
			InTotals:   []string{"overlaps"},
			Definition: "Overlaps where the log says whether they were finished."},
		{Code: "overlaps_finished", Label: "Overlaps finished", Kinds: passing,
			Where: slices.Concat(is("numbers", "overlap"), is("overlap_finished", "yes")), Of: "overlap_finishes_recorded",
			Definition: "Overlaps in which the ball reached an attacker with no defender in front within 5 metres."},
		{Code: "offloads", Label: "Offloads", Kinds: offload,
			Definition: "Every offload; most are made out of a carry."},
		{Code: "offload_results_recorded", Label: "Offloads with result recorded", Kinds: offload, Where: recorded("result"),
			Of: "offloads", Recorded: true, InTotals: []string{"offloads"},
			Definition: "Offloads where the log says where the ball went."},
		{Code: "offloads_accurate", Label: "Accurate offloads", Kinds: offload, Where: is("result", "accurate"),
			Of:         "offload_results_recorded",
			Definition: "Offloads with result accurate."},
		{Code: "kicks", Label: "Kicks", Kinds: kick,
			Definition: "Every kick in play; kicks at goal and restarts are not counted."},
		{Code: "kick_purposes_recorded", Label: "Kicks with purpose recorded", Kinds: kick, Where: recorded("purpose"),
			Of: "kicks", Recorded: true,
			Definition: "Kicks where the log says what they were for."},
		{Code: "exits", Label: "Exit kicks", Kinds: kick, Where: is("purpose", "exit"), Of: "kick_purposes_recorded",
			Definition: "Kicks to get out of the player's own 22."},
		{Code: "exit_results_recorded", Label: "Exit kicks with result recorded", Kinds: kick,
			Where: slices.Concat(is("purpose", "exit"), recorded("result")), Of: "exits", Recorded: true,
			InTotals:   []string{"exits"},
			Definition: "Exit kicks where the log says what happened to them."},
		{Code: "exits_completed", Label: "Exits completed", Kinds: kick, Where: slices.Concat(is("purpose", "exit"),
			is("result", "touch", "space", "regained")), Of: "exit_results_recorded",
			Definition: "Exit kicks that went to touch or into space, or were regained: neither returned nor charged down."},
		{Code: "kick_forms_recorded", Label: "Kicks with form recorded", Kinds: kick, Where: recorded("form"),
			Of: "kicks", Recorded: true,
			Definition: "Kicks where the log says whether they were a box kick or a 50:22."},
		{Code: "fifty_22s", Label: "50:22 kicks", Kinds: kick, Where: is("form", "fifty_22"), Of: "kick_forms_recorded",
			Definition: "Kicks with form 50:22."},
		{Code: "box_kicks", Label: "Box kicks", Kinds: kick, Where: is("form", "box"), Of: "kick_forms_recorded",
			Definition: "Kicks with form box kick."},
		{Code: "box_kick_results_recorded", Label: "Box kicks with result recorded", Kinds: kick,
			Where: slices.Concat(is("form", "box"), recorded("result")), Of: "box_kicks", Recorded: true,
			InTotals:   []string{"box_kicks"},
			Definition: "Box kicks where the log says what happened to them."},
		{Code: "box_kicks_good", Label: "Box kicks regained, to touch or space", Kinds: kick,
			Where: slices.Concat(is("form", "box"), is("result", "touch", "space", "regained")),
			Of:    "box_kick_results_recorded",
			Definition: "Box kicks that the kicker's side got back, or that went to touch or into space: neither returned nor " +
				"charged down."},
		{Code: "catches_attempted", Label: "High balls contested", Kinds: catch,
			Definition: "Every ball in the air that the player went for, caught or not."},
		{Code: "catch_results_recorded", Label: "High balls contested with result recorded", Kinds: catch,
			Where: recorded("result"), Of: "catches_attempted", Recorded: true, InTotals: []string{"catches_attempted"},
			Definition: "High balls contested, where the log says what happened to them."},
		{Code: "catches", Label: "Catches", Kinds: catch, Where: is("result", "clean", "juggled"),
			Of:         "catch_results_recorded",
			Definition: "High balls contested and caught, cleanly or after juggling."},
		{Code: "catches_clean", Label: "Clean catches", Kinds: catch, Where: is("result", "clean"), Of: "catches",
			Definition: "Balls caught at the first touch."},

		// Tackles.
		{Code: "tackles_attempted", Label: "Tackles attempted", Kinds: tackle,
			InTotals:   []string{"tackles_made", "tackles_missed"},
			Definition: "Every tackle, made or missed."},
		{Code: "tackle_results_recorded", Label: "Tackles with result recorded", Kinds: tackle, Where: recorded("result"),
			Of: "tackles_attempted", Recorded: true, InTotals: []string{"tackles_attempted"},
			Definition: "Tackles, made or missed, where the log says how they went."},
		{Code: "tackles_finished", Label: "Tackles that stopped the carrier", Kinds: tackle,
			Where: is("result", "won", "even", "lost"), Of: "tackle_results_recorded", InTotals: []string{"tackles_made"},
			Definition: "Tackles in which the carrier was brought down or held, whether won, even or lost. Assists are " +
				"included, and so are tackles that were high, dangerous or penalised."},
		{Code: "tackles_made", Label: "Tackles made", Kinds: tackle, Where: is("result", "won", "even", "lost"),
			ExceptResults: []Result{ResultPenaltyConceded}, Of: "tackles_finished",
			Definition: "Tackles in which the carrier was brought down or held, whether won, even or lost. Assists are " +
				"included. Missed tackles are left out, and so are those that were high, dangerous or penalised: they are " +
				"never completed."},
		{Code: "tackles_won", Label: "Tackles won", Kinds: tackle, Where: is("result", "won"),
			ExceptResults: []Result{ResultPenaltyConceded}, Of: "tackles_made",
			Definition: "Tackles with result won. A tackle that was high or otherwise illegal, or that gave away a penalty " +
				"or free kick, never counts as won."},
		{Code: "tackles_missed", Label: "Tackles missed", Kinds: tackle, Where: is("result", "missed"),
			Of:         "tackle_results_recorded",
			Definition: "Tackles with result missed."},
		{Code: "seconds_to_feet_recorded", Label: "Tackles with seconds back to feet recorded", Kinds: tackle,
			Where: recorded("seconds_to_feet"), Of: "tackles_attempted", Recorded: true,
			Definition: "Tackles that took the player to ground, where the time back to feet was measured. After contact " +
				"with anyone's head it is not measured."},
		{Code: "seconds_to_feet", Label: "Seconds back to feet", Unit: "s", Kinds: tackle, Sum: "seconds_to_feet",
			Of:         "seconds_to_feet_recorded",
			Definition: "The seconds back to feet, added up over all tackles where they were measured."},

		// Rucks.
		{Code: "attack_rucks", Label: "Attack rucks", Kinds: attack,
			Definition: "Arrivals at rucks and tackles of their side's ball."},
		{Code: "defence_rucks", Label: "Defence rucks", Kinds: defence,
			Definition: "Arrivals at rucks and tackles of the opponents' ball."},
		{Code: "ruck_arrivals", Label: "Ruck arrivals", Kinds: rucks, InTotals: []string{"attack_rucks", "defence_rucks"},
			Definition: "Arrivals at rucks and tackles, of their side's ball and the opponents'. Being there as the " +
				"tackled player or the tackler does not count."},
		{Code: "ruck_effects_recorded", Label: "Ruck arrivals with effect recorded", Kinds: rucks, Where: recorded("effect"),
			Of: "ruck_arrivals", Recorded: true, InTotals: []string{"ruck_arrivals"},
			Definition: "Ruck arrivals where the log says what they achieved."},
		{Code: "ruck_arrivals_effective", Label: "Effective ruck arrivals", Kinds: rucks,
			Where:         is("effect", "cleared", "secured", "turnover", "slowed"),
			ExceptResults: []Result{ResultPenaltyConceded}, Of: "ruck_effects_recorded",
			Definition: "Arrivals that cleared or secured their side's ball, or turned over or slowed the opponents', " +
				"without dangerous play or a penalty."},
		{Code: "arrivals_recorded", Label: "Ruck arrivals with order recorded", Kinds: rucks, Where: recorded("arrival"),
			Of: "ruck_arrivals", Recorded: true, InTotals: []string{"ruck_arrivals"},
			Definition: "Ruck arrivals where the log says whether the player was first."},
		{Code: "arrivals_first", Label: "First arrivals", Kinds: rucks, Where: is("arrival", "first"),
			Of:         "arrivals_recorded",
			Definition: "Ruck arrivals where the player was the first of their side."},
		{Code: "defence_effects_recorded", Label: "Defence rucks with effect recorded", Kinds: defence,
			Where: recorded("effect"), Of: "defence_rucks", Recorded: true, InTotals: []string{"defence_rucks"},
			Definition: "Defence rucks where the log says what the player achieved."},
		{Code: "breakdown_turnovers_won", Label: "Breakdown turnovers won", Kinds: defence, Where: is("effect", "turnover"),
			ExceptResults: []Result{ResultPenaltyConceded}, Of: "defence_effects_recorded",
			Definition: "Defence rucks with effect turnover: the ball, a penalty or a free kick won because of the player."},
		{Code: "contests", Label: "Defence rucks contested", Kinds: defence, Where: is("decision", "contest"),
			Of:         "ruck_decisions_recorded",
			Definition: "Defence rucks with decision contest."},
		{Code: "ruck_decisions_recorded", Label: "Defence rucks with decision recorded", Kinds: defence,
			Where: recorded("decision"), Of: "defence_rucks", Recorded: true,
			Definition: "Defence rucks where the log says whether the player contested the ball or stayed out."},
		{Code: "contest_effects_recorded", Label: "Contests with effect recorded", Kinds: defence,
			Where: slices.Concat(is("decision", "contest"), recorded("effect")), Of: "contests", Recorded: true,
			InTotals:   []string{"contests"},
			Definition: "Defence rucks that the player contested, where the log says what that achieved."},
		{Code: "contests_worth_it", Label: "Contests that won or slowed the ball", Kinds: defence,
			Where:         slices.Concat(is("decision", "contest"), is("effect", "turnover", "slowed")),
			ExceptResults: []Result{ResultPenaltyConceded}, Of: "contest_effects_recorded",
			Definition: "Defence rucks where the player contested and won or slowed the ball without a penalty."},
		{Code: "breakdown_penalties", Label: "Breakdown penalties", Kinds: rucks, Results: []Result{ResultPenaltyConceded},
			Of: "penalties_conceded",
			Definition: "Penalties and free kicks given against the player at attack and defence rucks, and any dangerous " +
				"play there, whether or not it was penalised."},

		// Set pieces and mauls.
		{Code: "scrums", Label: "Scrums", Kinds: scrum,
			Definition: "Scrums that the player was bound into or put the ball into."},
		{Code: "scrum_effects_recorded", Label: "Scrums with effect recorded", Kinds: scrum, Where: recorded("effect"),
			Of: "scrums", Recorded: true, InTotals: []string{"scrums"},
			Definition: "Scrums where the log says what the player's side got."},
		{Code: "scrums_kept", Label: "Scrums held or gained", Kinds: scrum, Where: is("effect", "gained", "held"),
			Of:         "scrum_effects_recorded",
			Definition: "Scrums with effect held or gained."},
		{Code: "lineouts", Label: "Lineouts", Kinds: lineout,
			Definition: "Lineouts at which the player threw, jumped or lifted."},
		{Code: "lineout_effects_recorded", Label: "Lineouts with effect recorded", Kinds: lineout, Where: recorded("effect"),
			Of: "lineouts", Recorded: true, InTotals: []string{"lineouts"},
			Definition: "Lineouts where the log says what the player's side got."},
		{Code: "lineouts_kept", Label: "Lineouts held or gained", Kinds: lineout, Where: is("effect", "gained", "held"),
			Of:         "lineout_effects_recorded",
			Definition: "Lineouts with effect held or gained."},
		{Code: "mauls", Label: "Mauls", Kinds: maul,
			Definition: "Mauls that the player was bound into for at least 1 second."},
		{Code: "maul_effects_recorded", Label: "Mauls with effect recorded", Kinds: maul, Where: recorded("effect"),
			Of: "mauls", Recorded: true, InTotals: []string{"mauls"},
			Definition: "Mauls where the log says what the player's side got."},
		{Code: "mauls_kept", Label: "Mauls held or gained", Kinds: maul, Where: is("effect", "gained", "held"),
			Of:         "maul_effects_recorded",
			Definition: "Mauls with effect held or gained."},

		// Off the ball.
		{Code: "support_lines", Label: "Support lines", Kinds: support,
			Definition: "Runs without the ball to be within a pass of the team-mate who has it."},
		{Code: "support_effects_recorded", Label: "Support lines with effect recorded", Kinds: support,
			Where: recorded("effect"), Of: "support_lines", Recorded: true, InTotals: []string{"support_lines"},
			Definition: "Support lines where the log says what they were worth."},
		{Code: "support_lines_useful", Label: "Useful support lines", Kinds: support,
			Where: is("effect", "created", "option"), Of: "support_effects_recorded",
			Definition: "Support lines that were an option or created room."},
		{Code: "support_lines_created", Label: "Support lines that created room", Kinds: support,
			Where: is("effect", "created"), Of: "support_lines_useful",
			Definition: "Support lines with effect created."},
		{Code: "support_receipts_recorded", Label: "Support lines with ball received recorded", Kinds: support,
			Where: recorded("received"), Of: "support_lines", Recorded: true,
			Definition: "Support lines where the log says whether the ball came."},
		{Code: "support_lines_received", Label: "Support lines with the ball received", Kinds: support,
			Where: is("received", "yes"), Of: "support_receipts_recorded",
			Definition: "Support lines where the ball came to the player."},
		{Code: "calls_recorded", Label: "Support lines and high balls with call recorded", Kinds: calling,
			Where: recorded("called"), Of: "callable", Recorded: true,
			Definition: "Support lines and high balls contested, where the log says whether the player called."},
		{Code: "callable", Label: "Support lines and high balls contested", Kinds: calling,
			InTotals:   []string{"support_lines", "catches_attempted"},
			Definition: "Support lines and balls in the air that the player went for, together."},
		{Code: "calls", Label: "Calls for the ball", Kinds: calling, Where: is("called", "yes"), Of: "calls_recorded",
			Definition: "Support lines and high balls contested, where the player called."},
		{Code: "repositions", Label: "Repositions", Kinds: reposition,
			Definition: "Phases in which the player owed a place after an involvement, whether or not they got there."},
		{Code: "in_place_recorded", Label: "Repositions with place recorded", Kinds: reposition, Where: recorded("in_place"),
			Of: "repositions", Recorded: true, InTotals: []string{"repositions"},
			Definition: "Repositions where the log says whether the player was in place in time."},
		{Code: "places_owed", Label: "Places owed", Kinds: reposition, Where: is("in_place", "yes", "no"),
			Of: "in_place_recorded", InTotals: []string{"in_place_recorded"},
			Definition: "Repositions for which there was time: in place, or not in place. Those with no time are left out."},
		{Code: "repositions_in_place", Label: "Repositions in place", Kinds: reposition, Where: is("in_place", "yes"),
			Of:         "places_owed",
			Definition: "Repositions with in place yes."},
		{Code: "reposition_seconds_recorded", Label: "Repositions with seconds recorded", Kinds: reposition,
			Where: recorded("seconds"), Of: "repositions", Recorded: true,
			Definition: "Repositions that were timed."},
		{Code: "reposition_seconds", Label: "Reposition seconds", Unit: "s", Kinds: reposition, Sum: "seconds",
			Of:         "reposition_seconds_recorded",
			Definition: "The seconds, added up over all repositions that were timed."},
		{Code: "folds_recorded", Label: "Repositions with folding recorded", Kinds: reposition, Where: recorded("fold"),
			Of: "repositions", Recorded: true,
			Definition: "Repositions where the log says whether the player crossed behind the ruck."},
		{Code: "folds_tried", Label: "Folds started", Kinds: reposition, Where: is("fold", "folded", "late"),
			Of:         "folds_recorded",
			Definition: "Repositions in which the player started to cross behind the ruck."},
		{Code: "folds", Label: "Folds in time", Kinds: reposition, Where: is("fold", "folded"), Of: "folds_tried",
			Definition: "Repositions in which the player crossed and was in place when the ball was next played."},
		{Code: "chases_recorded", Label: "Kick chases recorded", Kinds: reposition, Where: recorded("chase"),
			Of: "repositions", Recorded: true,
			Definition: "Repositions after a kick by the player's side, where the log says where the player was."},
		{Code: "chases", Label: "Kick chases up or in line", Kinds: reposition, Where: is("chase", "up", "in_line"),
			Of:         "chases_recorded",
			Definition: "Kick chases in which the player was up with the ball or in line with the chase."},

		// What comes next.
		{Code: "next_jobs_owed", Label: "Tackles with a next job", Kinds: tackle, Where: is("result", "won", "even", "lost"),
			ExceptResults: []Result{ResultPenaltyConceded}, Needs: told, Next: NextOwed, Of: "tackles_made",
			Definition: "Tackles made where the player's next involvement in the log follows within 20 seconds in the same " +
				"half, or where the player had to get to a place. A reposition with no time is not a next job; the involvement " +
				"after it counts."},
		{Code: "next_jobs", Label: "Next jobs done after a tackle", Kinds: tackle,
			Where:         is("result", "won", "even", "lost"),
			ExceptResults: []Result{ResultPenaltyConceded}, Needs: told, Next: NextDone, Of: "next_jobs_owed",
			Definition: "Tackles made where the player was in place for the next phase or did something else within 20 " +
				"seconds. A missed tackle, a ball missed in the air, a place not reached and a penalty against the player do " +
				"not count as done."},
		{Code: "next_job_seconds", Label: "Seconds from a tackle to the next job", Unit: "s", Kinds: tackle,
			Where: is("result", "won", "even", "lost"), ExceptResults: []Result{ResultPenaltyConceded}, Needs: told,
			Next: NextDone, Seconds: true, Of: "next_jobs",
			Definition: "The seconds on the match clock from a tackle made to the next job done, added up."},
		{Code: "gaps", Label: "Gaps between involvements", Kinds: all, Unlinked: true, Except: missed(),
			ExceptResults: []Result{ResultPenaltyConceded}, Needs: told, Next: NextGap, Of: "involvements",
			Definition: "Involvements after which another one follows in the same half and the same time on the pitch."},
		{Code: "gap_seconds", Label: "Seconds between involvements", Unit: "s", Kinds: all, Unlinked: true, Except: missed(),
			ExceptResults: []Result{ResultPenaltyConceded}, Needs: told, Next: NextGap, Seconds: true, Of: "gaps",
			Definition: "The seconds on the match clock between involvements, added up, whether or not the ball was in play."},

		{Code: passagePhases, Label: "Phases of passages", Unit: "phases", Kinds: all, Passages: true,
			Definition: "The phases of each possession before the last one in which the log has the player. That last phase " +
				"and later ones are left out."},
		{Code: passageWork, Label: "Involvements in passages", Unit: "involvements", Kinds: all, Passages: true,
			Unlinked: true, Except: missed(), ExceptResults: []Result{ResultPenaltyConceded}, Needs: told, Of: passagePhases,
			Definition: "Involvements in the phases of passages. Involvements without a recorded possession or phase " +
				"are left out."},

		// Of all kinds.
		{Code: "outcomes_owed", Label: "Tackles, high balls contested and repositions", Kinds: tried,
			Definition: "Everything that can be missed: tackles, balls in the air that the player went for, and repositions."},
		{Code: told, Label: "Tackles, high balls contested and repositions with result recorded", Kinds: tried,
			Where: slices.Concat(recorded("result"), recorded("in_place")), Of: "outcomes_owed", Recorded: true,
			Definition: "Tackles, high balls contested and repositions where the log says whether they were missed."},
		{Code: "involvements", Label: "Involvements", Kinds: all, Unlinked: true, Except: missed(),
			ExceptResults: []Result{ResultPenaltyConceded}, Needs: told,
			Definition: "Everything the player did, of every kind. A carry and the pass or offload out of it count as one. " +
				"Missed tackles, balls in the air that were not touched, places not reached, and penalties or free kicks " +
				"against the player are left out."},
		{Code: "involvements_last_quarter", Label: "Involvements in the last quarter", Kinds: all, Unlinked: true,
			Except: missed(), ExceptResults: []Result{ResultPenaltyConceded}, Needs: told, LastQuarter: true,
			Of:         "involvements",
			Definition: "Involvements in the last quarter of the player's own time on the pitch, added time included."},
		{Code: "tries", Label: "Tries", Kinds: all, Results: []Result{ResultTry}, Definition: "Tries scored."},
		{Code: "try_assists", Label: "Try assists", Kinds: all, Results: []Result{ResultTryAssist},
			Definition: "Passes, offloads and kicks that went straight to the scorer of a try."},
		{Code: "line_breaks", Label: "Line breaks", Kinds: all, Results: []Result{ResultLineBreak},
			Definition: "Involvements with result line break."},
		{Code: "turnovers_won", Label: "Turnovers won", Kinds: all, Results: []Result{ResultTurnoverWon},
			Definition: "Involvements of any kind that won the ball from the other side."},
		{Code: "turnovers_conceded", Label: "Turnovers conceded", Kinds: all, Results: []Result{ResultTurnoverConceded},
			Definition: "Involvements of any kind that gave the ball to the other side."},
		{Code: "penalties_won", Label: "Penalties won", Kinds: all, Results: []Result{ResultPenaltyWon},
			Definition: "Penalties and free kicks given to the player's side because of the player."},
		{Code: "penalties_conceded", Label: "Penalties conceded", Kinds: all, Results: []Result{ResultPenaltyConceded},
			Definition: "Penalties and free kicks given against the player, and any marked dangerous play, whether or not it " +
				"was penalised."},
		{Code: "errors", Label: "Errors", Kinds: all, Results: []Result{ResultError},
			Definition: "Balls lost or thrown forward, dropped, carried into touch or kicked out on the full."},
	}
	for i := range list {
		list[i].Depth = depthOf(&list[i])
	}
	return list
}

// depthOf returns the depth of the deepest detail that a count must have recorded. Phases are recorded at full depth.
func depthOf(c *Count) Depth {
	if c.Passages {
		return Full
	}
	codes := []string{c.Sum}
	for _, w := range c.Where {
		codes = append(codes, w.Detail)
	}
	for _, kind := range c.Kinds {
		for _, code := range codes {
			if d := detailOf(kind, code); d != nil && d.Depth == Full {
				return Full
			}
		}
	}
	return Core
}
