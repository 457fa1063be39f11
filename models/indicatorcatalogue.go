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
			Asks:    AskVolume,
			Meaning: "How often you carried the ball forward, per full match on the pitch."},
		{Code: "contact_won", Label: "Contact won", Family: Proportion, Unit: percent, Numerator: "contacts_won",
			Denominator: "contacts", Better: Higher,
			Headline: Places{GroupUnknown: 2, GroupFrontRow: 3, GroupSecondRow: 6, GroupBackRow: 1, GroupCentre: 2},
			Meaning:  "When a defender got hold of you, how often you still made at least a metre or broke free."},
		{Code: "soft_contact", Label: "Soft-shoulder or clear contact", Family: Proportion, Unit: percent,
			Numerator: "contact_points_soft", Denominator: "contact_points_recorded", Better: Higher,
			Headline: Places{GroupBackRow: 2, GroupCentre: 3, GroupBackThree: 3},
			Meaning: "How often your footwork took you to the defender's weak side, or past the defender, instead of " +
				"into the chest."},
		{Code: "over_gain_line", Label: "Over the gain line", Family: Proportion, Unit: percent, Numerator: "gain_line_over",
			Denominator: "gain_line_recorded", Better: Higher,
			Headline: Places{GroupUnknown: 3, GroupFrontRow: 4, GroupBackRow: 3},
			Meaning:  "How often your carries ended at least a metre beyond where the last phase began."},
		{Code: "metres_per_carry", Label: "Metres per carry", Family: Mean, Unit: "m", Numerator: "metres",
			Denominator: "metres_recorded", Better: Higher,
			Headline: Places{GroupBackThree: 4},
			Meaning:  "How many metres forward you made in an average carry."},
		{Code: MetresOverExpected, Label: "Metres over expected per carry", Family: Mean, Unit: "m", Numerator: "metres",
			Denominator: "metres_recorded", Better: Higher,
			Headline: Places{GroupCentre: 4, GroupBackThree: 2},
			Meaning: "How many more metres you made per carry than your squad does from the same place with equally fast " +
				"ball. Below zero means fewer."},
		{Code: "metres_after_contact", Label: "Metres after contact per carry", Family: Mean, Unit: "m",
			Numerator: "metres_after_contact", Denominator: "metres_after_contact_recorded", Better: Higher,
			Meaning: "How many metres you still made after a defender first touched you, in an average carry."},
		{Code: "tacklers_committed", Label: "Tacklers committed per carry", Family: Mean, Unit: "tacklers",
			Numerator: "tacklers_committed", Denominator: "tacklers_recorded", Better: Higher,
			Meaning: "How many defenders it took to stop you, in an average carry. Each of them is missing from another place."},
		{Code: "long_presentation", Label: "Long presentation", Family: Proportion, Unit: percent,
			Numerator: "presentations_long", Denominator: "presentations_recorded", Better: Higher,
			Headline: Places{GroupFrontRow: 8},
			Meaning:  "When you went to ground with the ball, how often you placed it at arm's length within a second."},
		{Code: "seconds_to_play", Label: "Seconds to play after own carry", Family: Mean, Unit: "s",
			Numerator: "seconds_to_play", Denominator: "seconds_to_play_recorded", Better: Lower,
			Meaning: "How long your side took to play the ball after you went to ground with it. It depends on how you " +
				"placed the ball and how soon support came."},

		{Code: "best_choice", Label: "Best choice", Family: Proportion, Unit: percent, Numerator: "choices_best",
			Denominator: "choices_recorded", Better: Higher,
			Headline: Places{GroupUnknown: 4, GroupBackRow: 9, GroupHalfBack: 1, GroupCentre: 1, GroupBackThree: 5},
			Meaning: "When you carried, passed, offloaded or kicked, how often no other option had more room. A carry and " +
				"the pass out of it are one decision."},
		{Code: "released_at_line", Label: "Released at the line", Family: Proportion, Unit: percent,
			Numerator: "releases_at_line", Denominator: "releases_recorded", Better: Higher, ByPosition: true,
			Headline: Places{GroupHalfBack: 3, GroupCentre: 5},
			Meaning: "How often you passed within two metres of the nearest defender, so no defender could drift off you. " +
				"You are compared only with players in your own position."},
		{Code: "defenders_held", Label: "Defenders held per pass", Family: Mean, Unit: "defenders",
			Numerator: "defenders_held", Denominator: "defenders_held_recorded", Better: Higher,
			Headline: Places{GroupHalfBack: 4, GroupCentre: 6},
			Meaning: "How many defenders stayed with you when you passed, on average, instead of getting to the player " +
				"you passed to."},
		{Code: "passes", Label: "Passes", Family: Rate, Unit: match, Numerator: "passes", Better: Neither,
			Meaning: "How often you passed, not counting offloads, per full match on the pitch."},
		{Code: "pass_accuracy", Label: "Pass accuracy", Family: Proportion, Unit: percent, Numerator: "passes_accurate",
			Denominator: "pass_results_recorded", Better: Higher,
			Headline: Places{GroupHalfBack: 2, GroupCentre: 8},
			Meaning:  "How often the receiver could take your pass without slowing down or reaching back."},
		{Code: "pass_seconds", Label: "Pass from the base", Family: Mean, Unit: "s", Numerator: "pass_seconds",
			Denominator: "passes_timed", Better: Lower, ByPosition: true, Groups: []Group{GroupHalfBack},
			Headline: Places{GroupHalfBack: 10},
			Meaning:  "How long you held the ball before you passed it from the base of a ruck, maul or scrum."},
		{Code: "overlaps_finished", Label: "Overlaps finished", Family: Proportion, Unit: percent,
			Numerator: "overlaps_finished", Denominator: "overlap_finishes_recorded", Better: Higher, Groups: finishers,
			Headline: Places{GroupHalfBack: 6, GroupCentre: 7, GroupBackThree: 7},
			Meaning: "When you passed with more attackers than defenders outside you, how often the ball reached a " +
				"free player."},
		{Code: "offload_accuracy", Label: "Offload accuracy", Family: Proportion, Unit: percent,
			Numerator: "offloads_accurate", Denominator: "offload_results_recorded", Better: Higher,
			Meaning: "How often a team-mate could take your offload without slowing down or reaching back."},

		{Code: "ruck_arrivals", Label: "Ruck arrivals", Family: Rate, Unit: match, Numerator: "ruck_arrivals",
			Better:  Neither,
			Asks:    AskVolume,
			Meaning: "How many rucks you came to, your side's and theirs, per full match on the pitch."},
		{Code: "effective_arrivals", Label: "Effective arrivals", Family: Proportion, Unit: percent,
			Numerator: "ruck_arrivals_effective", Denominator: "ruck_effects_recorded", Better: Higher,
			Headline: Places{GroupUnknown: 5, GroupFrontRow: 5, GroupSecondRow: 4, GroupBackRow: 5, GroupCentre: 11},
			Meaning:  "When you came to a ruck, how often you cleared or secured your side's ball, or won or slowed theirs."},
		{Code: "first_arrivals", Label: "First arrivals", Family: Proportion, Unit: percent, Numerator: "arrivals_first",
			Denominator: "arrivals_recorded", Better: Higher,
			Headline: Places{GroupSecondRow: 5, GroupBackRow: 6},
			Meaning:  "When you came to a ruck, how often you were the first of your side to get there."},
		{Code: "breakdown_turnovers", Label: "Breakdown turnovers won", Family: Rate, Unit: match,
			Numerator: "breakdown_turnovers_won", Better: Higher, Groups: jacklers,
			Headline: Places{GroupBackRow: 4},
			Meaning:  "How often you won the ball or a penalty at the opponents' rucks, per full match on the pitch."},
		{Code: "contests_worth_it", Label: "Contests that paid", Family: Proportion, Unit: percent,
			Numerator: "contests_worth_it", Denominator: "contest_effects_recorded", Better: Higher, Groups: jacklers,
			Headline: Places{GroupBackRow: 13},
			Meaning:  "When you went for the ball at the opponents' rucks, how often you won or slowed it without a penalty."},
		{Code: "breakdown_penalties", Label: "Breakdown penalties", Family: Rate, Unit: match,
			Numerator: "breakdown_penalties", Better: Lower,
			Meaning: "How many penalties and free kicks you gave away at rucks, per full match on the pitch."},
		{Code: "tackles", Label: "Tackles made", Family: Rate, Unit: match, Numerator: "tackles_made", Better: Neither,
			Asks:    AskVolume,
			Meaning: "How many tackles you made, not counting missed ones, per full match on the pitch."},
		{Code: "tackle_completion", Label: "Tackle completion", Family: Proportion, Unit: percent, Numerator: "tackles_made",
			Denominator: "tackle_results_recorded", Better: Higher,
			Headline: Places{GroupUnknown: 6, GroupFrontRow: 6, GroupSecondRow: 7, GroupBackRow: 8,
				GroupHalfBack: 7, GroupCentre: 9, GroupBackThree: 8},
			Meaning: "When you tried a tackle, how often the carrier was brought down or held. A high, dangerous or " +
				"penalised tackle never counts."},
		{Code: "tackles_won", Label: "Tackles won", Family: Proportion, Unit: percent, Numerator: "tackles_won",
			Denominator: "tackles_finished", Better: Higher,
			Headline: Places{GroupUnknown: 7, GroupFrontRow: 7, GroupSecondRow: 8, GroupBackRow: 7, GroupCentre: 10},
			Meaning: "When your tackle stopped the carrier, how often it drove them back a metre or freed the ball. A high " +
				"or illegal tackle never counts as won."},
		{Code: "back_to_feet", Label: "Back to feet after a tackle", Family: Mean, Unit: "s", Numerator: "seconds_to_feet",
			Denominator: "seconds_to_feet_recorded", Better: Lower,
			Asks: AskGettingUp,
			Meaning: "How long you took to get back on your feet after a tackle. After a knock to a head you stay down and " +
				"nothing is measured."},

		{Code: "next_job", Label: "Tackle, up, next job", Family: Proportion, Unit: percent, Numerator: "next_jobs",
			Denominator: "next_jobs_owed", Better: Higher,
			Headline: Places{GroupFrontRow: 12, GroupSecondRow: 12, GroupBackRow: 14},
			Meaning:  "When play went on after your tackle, how often you did the next job or were in place in time."},
		{Code: "next_job_seconds", Label: "From tackle to next job", Family: Mean, Unit: "s", Numerator: "next_job_seconds",
			Denominator: "next_jobs", Better: Lower,
			Meaning: "How long it took after your tackle until you did the next thing or were in place for it."},

		{Code: "involvements", Label: "Involvements", Family: Rate, Unit: match, Numerator: "involvements", Better: Higher,
			Headline: Places{GroupUnknown: 1, GroupSecondRow: 9, GroupBackRow: 10, GroupHalfBack: 9,
				GroupBackThree: 9},
			Asks: AskVolume,
			Meaning: "How many things you did, with and without the ball, per full match on the pitch. Misses, places not " +
				"reached and penalties do not count."},
		{Code: "time_between", Label: "Time between involvements", Family: Mean, Unit: "s", Numerator: "gap_seconds",
			Denominator: "gaps", Better: Neither,
			Meaning: "How long the clock ran, on average, between one thing you did and the next."},
		{Code: "phase_work", Label: "Involvements per phase", Family: Mean, Unit: "per phase", Numerator: passageWork,
			Denominator: passagePhases, Better: Higher,
			Meaning: "How many things you did in a phase of play, on average. Misses, places not reached and penalties " +
				"do not count."},
		{Code: "in_place", Label: "Repositions in place", Family: Proportion, Unit: percent,
			Numerator: "repositions_in_place", Denominator: "places_owed", Better: Higher,
			Headline: Places{GroupUnknown: 8, GroupFrontRow: 9, GroupSecondRow: 10, GroupBackRow: 11,
				GroupHalfBack: 8, GroupBackThree: 10},
			Meaning: "When you had to get to your next place after doing something, how often you were there and ready in " +
				"time. It does not count when the ball was too fast for anyone, or you were pinned or cleared out deep."},
		{Code: "folds", Label: "Folds in time", Family: Proportion, Unit: percent, Numerator: "folds",
			Denominator: "folds_tried", Better: Higher,
			Meaning: "When you set off around a ruck, how often you were in place before the ball was played."},
		{Code: "chases", Label: "Kick chases up or in line", Family: Proportion, Unit: percent, Numerator: "chases",
			Denominator: "chases_recorded", Better: Higher,
			Meaning: "When you chased a kick, how often you were up with the ball or in line when an opponent took it."},
		{Code: "reposition_seconds", Label: "Reposition time", Family: Mean, Unit: "s", Numerator: "reposition_seconds",
			Denominator: "reposition_seconds_recorded", Better: Lower,
			Meaning: "How long you took to get to your next place after doing something. After any knock to a head it is " +
				"not measured."},
		{Code: "last_quarter", Label: "Involvements late", Family: Rate, Unit: match,
			Numerator: "involvements_last_quarter", Better: Higher,
			Headline: Places{GroupFrontRow: 10},
			Asks:     AskVolume,
			Meaning:  "How many things you did in the last quarter of your time on the pitch, scaled up to a full match."},
		{Code: "support_lines", Label: "Support lines run", Family: Rate, Unit: match, Numerator: "support_lines",
			Better:  Neither,
			Meaning: "How often you ran to be within a pass of the player with the ball, per full match on the pitch."},
		{Code: "support_offered", Label: "Support lines offered", Family: Proportion, Unit: percent,
			Numerator: "support_lines_useful", Denominator: "support_effects_recorded", Better: Higher,
			Headline: Places{GroupCentre: 13, GroupBackThree: 12},
			Meaning:  "When you ran a support line, how often you were on for a pass or made a defender move."},
		{Code: "support_received", Label: "Support lines with the ball", Family: Proportion, Unit: percent,
			Numerator: "support_lines_received", Denominator: "support_receipts_recorded", Better: Neither,
			Meaning: "When you ran a support line, how often the ball came to you. That is also up to the player who has it."},
		{Code: "support_created", Label: "Support lines that created room", Family: Proportion, Unit: percent,
			Numerator: "support_lines_created", Denominator: "support_effects_recorded", Better: Higher,
			Headline: Places{GroupBackThree: 13},
			Meaning: "When you ran a support line, how often a defender turned or moved because of you, or you got the ball " +
				"with no defender near."},
		{Code: "calls", Label: "Calls for the ball", Family: Proportion, Unit: percent, Numerator: "calls",
			Denominator: "calls_recorded", Better: Higher,
			Meaning: "When you ran a support line or went for a ball in the air, how often you called."},
		{Code: "clean_catch", Label: "Clean catches", Family: Proportion, Unit: percent, Numerator: "catches_clean",
			Denominator: "catch_results_recorded", Better: Higher, Groups: catchers,
			Headline: Places{GroupBackThree: 1},
			Meaning:  "When you went for a ball in the air, how often you caught it at the first touch."},
		{Code: "exits_completed", Label: "Exits completed", Family: Proportion, Unit: percent, Numerator: "exits_completed",
			Denominator: "exit_results_recorded", Better: Higher, Groups: kickers,
			Headline: Places{GroupHalfBack: 5, GroupBackThree: 6},
			Meaning: "When you kicked to get your side out of its 22, how often the kick found touch or space, or your side " +
				"got it back."},
		{Code: "box_kicks_good", Label: "Box kicks that worked", Family: Proportion, Unit: percent,
			Numerator: "box_kicks_good", Denominator: "box_kick_results_recorded", Better: Higher, ByPosition: true,
			Groups:  []Group{GroupHalfBack},
			Meaning: "How often your side got your box kick back, or it found touch or space."},
		{Code: "fifty_22s", Label: "50:22 kicks", Family: Rate, Unit: match, Numerator: "fifty_22s", Better: Neither,
			Groups:  kickers,
			Meaning: "How many of your kicks from your own half bounced into touch in their 22, per full match on the pitch."},
		{Code: "scrums_kept", Label: "Scrums held or gained", Family: Proportion, Unit: percent, Numerator: "scrums_kept",
			Denominator: "scrum_effects_recorded", Better: Higher, Groups: forwards,
			Headline: Places{GroupFrontRow: 1, GroupSecondRow: 2},
			Meaning:  "When you were in a scrum, how often your side was not driven back and lost neither ball nor penalty."},
		{Code: "lineouts_kept", Label: "Lineouts held or gained", Family: Proportion, Unit: percent,
			Numerator: "lineouts_kept", Denominator: "lineout_effects_recorded", Better: Higher, Groups: forwards,
			Headline: Places{GroupFrontRow: 2, GroupSecondRow: 1},
			Meaning:  "When you threw, jumped or lifted at a lineout, how often you did your own part, whatever others did."},
		{Code: "mauls_kept", Label: "Mauls held or gained", Family: Proportion, Unit: percent, Numerator: "mauls_kept",
			Denominator: "maul_effects_recorded", Better: Higher, Groups: forwards,
			Headline: Places{GroupSecondRow: 3},
			Meaning:  "When you were in a maul, how often your side was not driven back and lost neither ball nor penalty."},
		{Code: "penalties_conceded", Label: "Penalties conceded", Family: Rate, Unit: match, Numerator: "penalties_conceded",
			Better:   Lower,
			Headline: Places{GroupUnknown: 9, GroupFrontRow: 11, GroupSecondRow: 11, GroupBackRow: 12},
			Meaning:  "How many penalties and free kicks you gave away, per full match on the pitch."},
		{Code: "errors", Label: "Errors", Family: Rate, Unit: match, Numerator: "errors", Better: Lower,
			Headline: Places{GroupUnknown: 10, GroupHalfBack: 10, GroupCentre: 12, GroupBackThree: 11},
			Meaning:  "How often you dropped the ball, threw it forward or put it out by mistake, per full match on the pitch."},
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
