package models

import "slices"

// MetresOverExpected is the code of the one indicator that Observe does not compute: see Expected.
const MetresOverExpected = "metres_over_expected"

// IndicatorCatalogue returns the built-in indicators in the order in which they are listed. The slice is new; what its
// elements point to is shared and must not be changed.
func IndicatorCatalogue() []Indicator { return slices.Clone(indicators) }

// IndicatorOf returns the built-in indicator with a code.
func IndicatorOf(code string) (Indicator, bool) {
	for i := range indicators {
		if indicators[i].Code == code {
			return indicators[i], true
		}
	}
	return Indicator{}, false
}

// indicators is never changed.
var indicators = indicatorCatalogue()

func indicatorCatalogue() []Indicator {
	const match, percent = "per match", "%"
	var (
		forwards  = []Group{GroupFrontRow, GroupSecondRow, GroupBackRow}
		kickers   = []Group{GroupHalfBack, GroupCentre, GroupBackThree}
		catchers  = []Group{GroupSecondRow, GroupBackRow, GroupHalfBack, GroupCentre, GroupBackThree}
		jacklers  = []Group{GroupFrontRow, GroupSecondRow, GroupBackRow, GroupCentre}
		finishers = []Group{GroupBackRow, GroupHalfBack, GroupCentre, GroupBackThree}
	)
	list := []Indicator{
		{Code: "carries", Label: "Carries", Family: Rate, Unit: match, Numerator: "carries", Better: Neither,
			Meaning: "How often you took the ball forward, for every full match of time on the pitch."},
		{Code: "contact_won", Label: "Contact won", Family: Proportion, Unit: percent, Numerator: "contacts_won",
			Denominator: "contacts", Better: Higher,
			Headline: Places{GroupUnknown: 2, GroupFrontRow: 3, GroupSecondRow: 6, GroupBackRow: 1, GroupCentre: 2},
			Meaning: "Of the carries in which a defender got hold of you, the share in which you made at least a metre more " +
				"or broke free."},
		{Code: "soft_contact", Label: "Soft-shoulder or clear contact", Family: Proportion, Unit: percent,
			Numerator: "contact_points_soft", Denominator: "contact_points_recorded", Better: Higher,
			Headline: Places{GroupBackRow: 2, GroupCentre: 3, GroupBackThree: 3},
			Meaning: "Of your carries, the share in which your feet took you to the defender's weak side, or past the " +
				"defender, instead of into the chest."},
		{Code: "over_gain_line", Label: "Over the gain line", Family: Proportion, Unit: percent, Numerator: "gain_line_over",
			Denominator: "gain_line_recorded", Better: Higher,
			Headline: Places{GroupUnknown: 3, GroupFrontRow: 4, GroupBackRow: 3},
			Meaning:  "Of your carries, the share that ended at least a metre beyond where the last phase began."},
		{Code: "metres_per_carry", Label: "Metres per carry", Family: Mean, Unit: "m", Numerator: "metres",
			Denominator: "metres_recorded", Better: Higher,
			Headline: Places{GroupBackThree: 4},
			Meaning:  "How many metres forward an average carry of yours made."},
		{Code: MetresOverExpected, Label: "Metres over expected per carry", Family: Mean, Unit: "m", Numerator: "metres",
			Denominator: "metres_recorded", Better: Higher,
			Headline: Places{GroupCentre: 4, GroupBackThree: 2},
			Meaning: "How many more metres a carry of yours made than your squad's carries from the same place, with the " +
				"ball as fast. Below zero means fewer."},
		{Code: "metres_after_contact", Label: "Metres after contact per carry", Family: Mean, Unit: "m",
			Numerator: "metres_after_contact", Denominator: "metres_after_contact_recorded", Better: Higher,
			Meaning: "How many metres you still made, in an average carry, after a defender first touched you."},
		{Code: "tacklers_committed", Label: "Tacklers committed per carry", Family: Mean, Unit: "tacklers",
			Numerator: "tacklers_committed", Denominator: "tacklers_recorded", Better: Higher,
			Meaning: "How many defenders it took to stop an average carry of yours. Each one is missing somewhere " +
				"else."},
		{Code: "long_presentation", Label: "Long presentation", Family: Proportion, Unit: percent,
			Numerator: "presentations_long", Denominator: "presentations_recorded", Better: Higher,
			Headline: Places{GroupFrontRow: 8},
			Meaning: "Of your carries that went to ground, the share after which you placed the ball at arm's length " +
				"within a second."},
		{Code: "seconds_to_play", Label: "Seconds to play after own carry", Family: Mean, Unit: "s",
			Numerator: "seconds_to_play", Denominator: "seconds_to_play_recorded", Better: Lower,
			Meaning: "How long your side took to play the ball after you went to ground with it. It depends on how you " +
				"placed it and on how soon support came."},

		{Code: "best_choice", Label: "Best choice", Family: Proportion, Unit: percent, Numerator: "choices_best",
			Denominator: "choices_recorded", Better: Higher,
			Headline: Places{GroupUnknown: 4, GroupBackRow: 9, GroupHalfBack: 1, GroupCentre: 1, GroupBackThree: 5},
			Meaning: "Of the times you carried, passed, offloaded or kicked, the share in which no other option had " +
				"more room. A carry and the pass out of it are one decision."},
		{Code: "released_at_line", Label: "Released at the line", Family: Proportion, Unit: percent,
			Numerator: "releases_at_line", Denominator: "releases_recorded", Better: Higher, ByPosition: true,
			Headline: Places{GroupHalfBack: 3, GroupCentre: 5},
			Meaning: "Of your passes, the share that you gave within two metres of the nearest defender, so no " +
				"defender could drift off you. You are compared only with players of your own position."},
		{Code: "defenders_held", Label: "Defenders held per pass", Family: Mean, Unit: "defenders",
			Numerator: "defenders_held", Denominator: "defenders_held_recorded", Better: Higher,
			Headline: Places{GroupHalfBack: 4, GroupCentre: 6},
			Meaning:  "How many defenders stayed with you, in an average pass, instead of getting to the one you passed to."},
		{Code: "passes", Label: "Passes", Family: Rate, Unit: match, Numerator: "passes", Better: Neither,
			Meaning: "How often you passed, offloads left out, for every full match of time on the pitch."},
		{Code: "pass_accuracy", Label: "Pass accuracy", Family: Proportion, Unit: percent, Numerator: "passes_accurate",
			Denominator: "pass_results_recorded", Better: Higher,
			Headline: Places{GroupHalfBack: 2, GroupCentre: 8},
			Meaning:  "Of your passes, the share that the receiver could take without slowing down or reaching back."},
		{Code: "pass_seconds", Label: "Pass from the base", Family: Mean, Unit: "s", Numerator: "pass_seconds",
			Denominator: "passes_timed", Better: Lower, ByPosition: true, Groups: []Group{GroupHalfBack},
			Headline: Places{GroupHalfBack: 10},
			Meaning:  "How long you had the ball in your hands before you passed it from the base of a ruck, maul or scrum."},
		{Code: "overlaps_finished", Label: "Overlaps finished", Family: Proportion, Unit: percent,
			Numerator: "overlaps_finished", Denominator: "overlap_finishes_recorded", Better: Higher, Groups: finishers,
			Headline: Places{GroupHalfBack: 6, GroupCentre: 7, GroupBackThree: 7},
			Meaning: "Of the times you passed with more attackers than defenders outside you, the share in which the ball " +
				"reached a free player."},
		{Code: "offload_accuracy", Label: "Offload accuracy", Family: Proportion, Unit: percent,
			Numerator: "offloads_accurate", Denominator: "offload_results_recorded", Better: Higher,
			Meaning: "Of your offloads, the share that a team-mate could take without slowing down or reaching back."},

		{Code: "ruck_arrivals", Label: "Ruck arrivals", Family: Rate, Unit: match, Numerator: "ruck_arrivals",
			Better:  Neither,
			Meaning: "How many rucks you came to, your side's and theirs, for every full match of time on the pitch."},
		{Code: "effective_arrivals", Label: "Effective arrivals", Family: Proportion, Unit: percent,
			Numerator: "ruck_arrivals_effective", Denominator: "ruck_effects_recorded", Better: Higher,
			Headline: Places{GroupUnknown: 5, GroupFrontRow: 5, GroupSecondRow: 4, GroupBackRow: 5, GroupCentre: 11},
			Meaning: "Of the rucks you came to, the share in which you cleared or secured your side's ball, or won or " +
				"slowed theirs."},
		{Code: "first_arrivals", Label: "First arrivals", Family: Proportion, Unit: percent, Numerator: "arrivals_first",
			Denominator: "arrivals_recorded", Better: Higher,
			Headline: Places{GroupSecondRow: 5, GroupBackRow: 6},
			Meaning:  "Of the rucks you came to, the share in which you were the first of your side."},
		{Code: "breakdown_turnovers", Label: "Breakdown turnovers won", Family: Rate, Unit: match,
			Numerator: "breakdown_turnovers_won", Better: Higher, Groups: jacklers,
			Headline: Places{GroupBackRow: 4},
			Meaning: "How often you won the ball or a penalty at the opponents' rucks, for every full match of time " +
				"on the pitch."},
		{Code: "contests_worth_it", Label: "Contests that paid", Family: Proportion, Unit: percent,
			Numerator: "contests_worth_it", Denominator: "contest_effects_recorded", Better: Higher, Groups: jacklers,
			Headline: Places{GroupBackRow: 13},
			Meaning: "Of the opponents' rucks in which you went for the ball, the share in which you won or slowed it " +
				"without a penalty."},
		{Code: "breakdown_penalties", Label: "Breakdown penalties", Family: Rate, Unit: match,
			Numerator: "breakdown_penalties", Better: Lower,
			Meaning: "How many penalties and free kicks were given against you at rucks, for every full match of time " +
				"on the pitch."},
		{Code: "tackles", Label: "Tackles made", Family: Rate, Unit: match, Numerator: "tackles_made", Better: Neither,
			Meaning: "How many tackles you made, missed ones left out, for every full match of time on the pitch."},
		{Code: "tackle_completion", Label: "Tackle completion", Family: Proportion, Unit: percent, Numerator: "tackles_made",
			Denominator: "tackle_results_recorded", Better: Higher,
			Headline: Places{GroupUnknown: 6, GroupFrontRow: 6, GroupSecondRow: 7, GroupBackRow: 8,
				GroupHalfBack: 7, GroupCentre: 9, GroupBackThree: 8},
			Meaning: "Of the tackles you tried, the share in which the carrier was brought down or held. One that was high, " +
				"dangerous or penalised is never among them."},
		{Code: "tackles_won", Label: "Tackles won", Family: Proportion, Unit: percent, Numerator: "tackles_won",
			Denominator: "tackles_finished", Better: Higher,
			Headline: Places{GroupUnknown: 7, GroupFrontRow: 7, GroupSecondRow: 8, GroupBackRow: 7, GroupCentre: 10},
			Meaning: "Of the tackles in which you stopped the carrier, the share that drove the carrier back a metre or " +
				"freed the ball. A high or illegal tackle is never counted as won."},
		{Code: "back_to_feet", Label: "Back to feet after a tackle", Family: Mean, Unit: "s", Numerator: "seconds_to_feet",
			Denominator: "seconds_to_feet_recorded", Better: Lower,
			Meaning: "How long you took to be back on your feet after a tackle. After a knock to a head you stay down " +
				"and nothing is measured."},

		{Code: "next_job", Label: "Tackle, up, next job", Family: Proportion, Unit: percent, Numerator: "next_jobs",
			Denominator: "next_jobs_owed", Better: Higher,
			Headline: Places{GroupFrontRow: 12, GroupSecondRow: 12, GroupBackRow: 14},
			Meaning: "Of your tackles after which play went on, the share after which you did the next job or were in " +
				"place in time."},
		{Code: "next_job_seconds", Label: "From tackle to next job", Family: Mean, Unit: "s", Numerator: "next_job_seconds",
			Denominator: "next_jobs", Better: Lower,
			Meaning: "How long it took, after a tackle of yours, until you did the next thing or were in place for it."},

		{Code: "involvements", Label: "Involvements", Family: Rate, Unit: match, Numerator: "involvements", Better: Higher,
			Headline: Places{GroupUnknown: 1, GroupSecondRow: 9, GroupBackRow: 10, GroupHalfBack: 9,
				GroupBackThree: 9},
			Meaning: "How many things you did, with and without the ball, for every full match of time on the " +
				"pitch. Misses, places not reached and penalties are left out."},
		{Code: "time_between", Label: "Time between involvements", Family: Mean, Unit: "s", Numerator: "gap_seconds",
			Denominator: "gaps", Better: Neither,
			Meaning: "How long the clock ran, on average, between one thing you did and the next."},
		{Code: "phase_work", Label: "Involvements per phase", Family: Mean, Unit: "per phase", Numerator: passageWork,
			Denominator: passagePhases, Better: Higher,
			Meaning: "How many things you did in a phase of play, on average. Misses, places not reached and penalties " +
				"are left out."},
		{Code: "in_place", Label: "Repositions in place", Family: Proportion, Unit: percent,
			Numerator: "repositions_in_place", Denominator: "places_owed", Better: Higher,
			Headline: Places{GroupUnknown: 8, GroupFrontRow: 9, GroupSecondRow: 10, GroupBackRow: 11,
				GroupHalfBack: 8, GroupBackThree: 10},
			Meaning: "Of the times you had to get to your next place after doing something, the share in which you " +
				"were there and ready in time. A ball too fast for anyone and being pinned or cleared out deep do " +
				"not count."},
		{Code: "folds", Label: "Folds in time", Family: Proportion, Unit: percent, Numerator: "folds",
			Denominator: "folds_tried", Better: Higher,
			Meaning: "Of the times you set off around a ruck, the share in which you were in place before the ball was " +
				"played."},
		{Code: "chases", Label: "Kick chases up or in line", Family: Proportion, Unit: percent, Numerator: "chases",
			Denominator: "chases_recorded", Better: Higher,
			Meaning: "Of the kicks that you chased, the share in which you were up with the ball or in line when an " +
				"opponent took it."},
		{Code: "reposition_seconds", Label: "Reposition time", Family: Mean, Unit: "s", Numerator: "reposition_seconds",
			Denominator: "reposition_seconds_recorded", Better: Lower,
			Meaning: "How long you took to be in your next place after doing something. After any knock to a head " +
				"it is not measured."},
		{Code: "last_quarter", Label: "Involvements late", Family: Rate, Unit: match,
			Numerator: "involvements_last_quarter", Better: Higher,
			Headline: Places{GroupFrontRow: 10},
			Meaning: "How many things you did in the last quarter of your time on the pitch, as if you kept that up for a " +
				"full match."},
		{Code: "support_lines", Label: "Support lines run", Family: Rate, Unit: match, Numerator: "support_lines",
			Better:  Neither,
			Meaning: "How often you ran to be within a pass of the player with the ball, for every full match on the pitch."},
		{Code: "support_offered", Label: "Support lines offered", Family: Proportion, Unit: percent,
			Numerator: "support_lines_useful", Denominator: "support_effects_recorded", Better: Higher,
			Headline: Places{GroupCentre: 13, GroupBackThree: 12},
			Meaning:  "Of your support lines, the share in which you could be passed to, or made a defender move."},
		{Code: "support_received", Label: "Support lines with the ball", Family: Proportion, Unit: percent,
			Numerator: "support_lines_received", Denominator: "support_receipts_recorded", Better: Neither,
			Meaning: "Of your support lines, the share on which the ball came to you. Whether it comes is also up " +
				"to the player who has it."},
		{Code: "support_created", Label: "Support lines that created room", Family: Proportion, Unit: percent,
			Numerator: "support_lines_created", Denominator: "support_effects_recorded", Better: Higher,
			Headline: Places{GroupBackThree: 13},
			Meaning: "Of your support lines, the share in which a defender turned or moved because of you, or you got the " +
				"ball with no defender near."},
		{Code: "calls", Label: "Calls for the ball", Family: Proportion, Unit: percent, Numerator: "calls",
			Denominator: "calls_recorded", Better: Higher,
			Meaning: "Of your support lines and the balls in the air that you went for, the share in which you called."},
		{Code: "clean_catch", Label: "Clean catches", Family: Proportion, Unit: percent, Numerator: "catches_clean",
			Denominator: "catch_results_recorded", Better: Higher, Groups: catchers,
			Headline: Places{GroupBackThree: 1},
			Meaning:  "Of the balls in the air that you went for, the share that you caught at the first touch."},
		{Code: "exits_completed", Label: "Exits completed", Family: Proportion, Unit: percent, Numerator: "exits_completed",
			Denominator: "exit_results_recorded", Better: Higher, Groups: kickers,
			Headline: Places{GroupHalfBack: 5, GroupBackThree: 6},
			Meaning: "Of your kicks to get your side out of its 22, the share that found touch or space, or that your " +
				"side got back."},
		{Code: "box_kicks_good", Label: "Box kicks that worked", Family: Proportion, Unit: percent,
			Numerator: "box_kicks_good", Denominator: "box_kick_results_recorded", Better: Higher, ByPosition: true,
			Groups:  []Group{GroupHalfBack},
			Meaning: "Of your box kicks, the share that your side got back, or that found touch or space."},
		{Code: "fifty_22s", Label: "50:22 kicks", Family: Rate, Unit: match, Numerator: "fifty_22s", Better: Neither,
			Groups:  kickers,
			Meaning: "How many kicks of yours from your own half bounced out in their 22, for every full match on the pitch."},
		{Code: "scrums_kept", Label: "Scrums held or gained", Family: Proportion, Unit: percent, Numerator: "scrums_kept",
			Denominator: "scrum_effects_recorded", Better: Higher, Groups: forwards,
			Headline: Places{GroupFrontRow: 1, GroupSecondRow: 2},
			Meaning: "Of the scrums you were in, the share in which your side was not driven back and lost neither ball " +
				"nor penalty."},
		{Code: "lineouts_kept", Label: "Lineouts held or gained", Family: Proportion, Unit: percent,
			Numerator: "lineouts_kept", Denominator: "lineout_effects_recorded", Better: Higher, Groups: forwards,
			Headline: Places{GroupFrontRow: 2, GroupSecondRow: 1},
			Meaning: "Of the lineouts in which you threw, jumped or lifted, the share in which you did your own part, " +
				"whatever others did."},
		{Code: "mauls_kept", Label: "Mauls held or gained", Family: Proportion, Unit: percent, Numerator: "mauls_kept",
			Denominator: "maul_effects_recorded", Better: Higher, Groups: forwards,
			Headline: Places{GroupSecondRow: 3},
			Meaning: "Of the mauls you were in, the share in which your side was not driven back and lost neither ball " +
				"nor penalty."},
		{Code: "penalties_conceded", Label: "Penalties conceded", Family: Rate, Unit: match, Numerator: "penalties_conceded",
			Better:   Lower,
			Headline: Places{GroupUnknown: 9, GroupFrontRow: 11, GroupSecondRow: 11, GroupBackRow: 12},
			Meaning:  "How many penalties and free kicks were given against you, for every full match of time on the pitch."},
		{Code: "errors", Label: "Errors", Family: Rate, Unit: match, Numerator: "errors", Better: Lower,
			Headline: Places{GroupUnknown: 10, GroupHalfBack: 10, GroupCentre: 12, GroupBackThree: 11},
			Meaning: "How often you dropped the ball, threw it forward or put it out by mistake, for every full match on " +
				"the pitch."},
	}
	for i := range list {
		list[i].Depth = neededDepth(list[i].Numerator, list[i].Denominator)
	}
	return list
}

// neededDepth returns the deepest depth of some counts; unknown and empty codes need none.
func neededDepth(codes ...string) Depth {
	for _, code := range codes {
		if i, ok := countNumber[code]; ok && counts[i].Depth == Full {
			return Full
		}
	}
	return Core
}
