package models

import "slices"

// Detail is something recorded about involvements of some kinds, beyond the kind and the clock. It is either a
// choice, with Options, or a Measure. An involvement keeps its choices in Details and its measures in Measures, under
// Code.
type Detail struct {
	Code       string   `json:"code"` // unique among the details of a kind
	Label      string   `json:"label"`
	Definition string   `json:"definition"`
	Kinds      []Kind   `json:"kinds"`
	Depth      Depth    `json:"depth"`
	Options    []Option `json:"options,omitempty"` // for a choice, in order
	Measure    *Measure `json:"measure,omitempty"` // for a measure
}

// Option is one of the codes to choose from. The definition is published: it says what makes it this code and not
// another, with the threshold.
type Option struct {
	Code       string `json:"code"`
	Label      string `json:"label"`
	Definition string `json:"definition"`
	// the result that the involvement must have if this code is chosen
	Result Result `json:"result,omitempty"`
}

// Measure is the allowed range, including both ends, and the unit of a count or measurement.
type Measure struct {
	Unit  string  `json:"unit"`
	Min   float64 `json:"min"`
	Max   float64 `json:"max"`
	Whole bool    `json:"whole"` // whether only whole numbers are allowed
}

// DetailCatalogue returns every detail, those of all kinds first, then kind by kind. The slice is new; what its
// elements point to is shared and must not be changed.
func DetailCatalogue() []Detail { return slices.Clone(details) }

// DetailsOf returns the details of a kind in the catalogue's order, those of all kinds last. What the elements point
// to must not be changed.
func DetailsOf(kind Kind) []Detail {
	n := kind.number()
	if n < 0 {
		return nil
	}
	out := make([]Detail, 0, len(detailsOf[n]))
	for _, common := range []bool{false, true} {
		for _, i := range detailsOf[n] {
			if (len(details[i].Kinds) == len(kinds)) == common {
				out = append(out, details[i])
			}
		}
	}
	return out
}

// DetailOf returns the detail that a code means for a kind.
func DetailOf(kind Kind, code string) (Detail, bool) {
	if d := detailOf(kind, code); d != nil {
		return *d, true
	}
	return Detail{}, false
}

// Option returns the option with a code.
func (d Detail) Option(code string) (Option, bool) {
	if n := d.option(code); n >= 0 {
		return d.Options[n], true
	}
	return Option{}, false
}

func detailOf(kind Kind, code string) *Detail {
	n := kind.number()
	if n < 0 {
		return nil
	}
	for _, i := range detailsOf[n] {
		if details[i].Code == code {
			return &details[i]
		}
	}
	return nil
}

// detailsOf holds the places in details of each kind's, by the kind's number. Like details it is never changed.
var detailsOf = func() (of [len(kinds)][]int) {
	for i := range details {
		for _, k := range details[i].Kinds {
			of[k.number()] = append(of[k.number()], i)
		}
	}
	return of
}()

func allKinds() []Kind { return Kind("").Codes() }

func yesNo(yes, no string) []Option {
	return []Option{{Code: "yes", Label: "Yes", Definition: yes}, {Code: "no", Label: "No", Definition: no}}
}

var details = []Detail{
	// Of every kind: where on the pitch, and what ball it was.
	{Code: "possession_start", Label: "Possession began from", Kinds: allKinds(), Depth: Full,
		Definition: "How the possession in which this happened began. A possession lasts until the other side has the " +
			"ball, the whistle blows or the ball is dead.",
		Options: []Option{
			{Code: "scrum", Label: "Scrum", Definition: "The ball came out of a scrum."},
			{Code: "lineout", Label: "Lineout", Definition: "The ball was thrown in at a lineout. A quick throw counts."},
			{Code: "restart", Label: "Restart", Definition: "Either side took a kick-off or a drop-out."},
			{Code: "kick_return", Label: "Kick return", Definition: "A side took the other side's kick in play."},
			{Code: "turnover", Label: "Turnover", Definition: "A side won the ball from the other side in play, but not " +
				"from a kick."},
			{Code: "tap", Label: "Tap", Definition: "A penalty or a free kick was tapped."},
		}},
	{Code: "possession_end", Label: "Possession ended in", Kinds: allKinds(), Depth: Full,
		Definition: "How the possession in which this happened ended. If two fit, choose the one listed first.",
		Options: []Option{
			{Code: "try", Label: "Try", Definition: "The side with the ball scored a try."},
			{Code: "penalty", Label: "Penalty", Definition: "A penalty or a free kick was given to either side."},
			{Code: "kick", Label: "Kick", Definition: "The side with the ball kicked it away or at goal."},
			{Code: "turnover", Label: "Turnover", Definition: "The other side got the ball in any other way. A scrum after " +
				"an error counts."},
			{Code: "half", Label: "End of half", Definition: "The half ended."},
		}},
	{Code: "zone", Label: "Zone", Kinds: allKinds(), Depth: Full,
		Definition: "Where it began, between the goal lines, seen from the player's side. A spot on a line counts " +
			"as beyond it.",
		Options: []Option{
			{Code: "own_22", Label: "Own 22", Definition: "Behind the player's own 22-metre line."},
			{Code: "own_22_to_half", Label: "Own 22 to halfway",
				Definition: "From the player's own 22-metre line up to the halfway line."},
			{Code: "half_to_their_22", Label: "Halfway to their 22",
				Definition: "From the halfway line up to the opponents' 22-metre line."},
			{Code: "their_22", Label: "Their 22", Definition: "From the opponents' 22-metre line on."},
		}},
	{Code: "width", Label: "Width", Kinds: allKinds(), Depth: Full,
		Definition: "How far across the pitch it began from where the ball was last brought into play: a ruck, a maul, a " +
			"set piece or a catch.",
		Options: []Option{
			{Code: "close", Label: "Close", Definition: "Less than 10 metres across from there."},
			{Code: "midfield", Label: "Midfield", Definition: "10 metres or more across from there, and more than 15 metres " +
				"from both touchlines."},
			{Code: "wide", Label: "Wide", Definition: "10 metres or more across from there, and 15 metres or less from " +
				"a touchline."},
		}},
	{Code: "side", Label: "Side", Kinds: allKinds(), Depth: Full,
		Definition: "Which half of the pitch it was in, looking at the opponents' goal line.",
		Options: []Option{
			{Code: "left", Label: "Left", Definition: "Left of the middle of the posts."},
			{Code: "right", Label: "Right", Definition: "Right of the middle of the posts, or level with it."},
		}},
	{Code: "source", Label: "Source of the ball", Kinds: allKinds(), Depth: Full,
		Definition: "What the ball last came from. The first phase after the ball changed hands in play is always a " +
			"turnover or a kick.",
		Options: []Option{
			{Code: "ruck", Label: "Ruck", Definition: "A ruck, a maul or a tackle after which the same side kept the ball."},
			{Code: "scrum", Label: "Scrum", Definition: "A scrum."},
			{Code: "lineout", Label: "Lineout", Definition: "A lineout. A quick throw counts."},
			{Code: "restart", Label: "Restart", Definition: "A kick-off, a drop-out, or a tapped penalty or free kick."},
			{Code: "kick", Label: "Kick", Definition: "A kick in play by either side."},
			{Code: "turnover", Label: "Turnover", Definition: "A ball won from the other side in any way but a kick."},
		}},
	{Code: "speed", Label: "Speed of the ball", Kinds: allKinds(), Depth: Full,
		Definition: "Seconds from the last carrier going to ground until a player lifts, passes or kicks the ball away " +
			"from the ruck. Leave it out when the ball did not come from a ruck.",
		Options: []Option{
			{Code: "quick", Label: "Quick", Definition: "Less than 3 seconds."},
			{Code: "slow", Label: "Slow", Definition: "3 seconds or more."},
		}},

	// Carry.
	{Code: "contact", Label: "Contact", Kinds: []Kind{KindCarry}, Depth: Core,
		Definition: "How the contact went, from a defender's first touch until the carrier is down, held still or free, " +
			"or the ball leaves the hands. The ball decides first, then breaking free, then the metres towards the " +
			"opponents' goal line.",
		Options: []Option{
			{Code: "won", Label: "Won", Definition: "The carrier kept the ball, or passed it, and made 1 metre or more after " +
				"the first touch, broke free or scored."},
			{Code: "even", Label: "Even", Definition: "The carrier kept the ball, or passed it, and ended less than 1 metre " +
				"forward or back from the first touch."},
			{Code: "lost", Label: "Lost", Definition: "The carrier lost the ball in the contact, whatever ground was made; " +
				"or was driven back 1 metre or more."},
			{Code: "none", Label: "None", Definition: "No defender touched the carrier before the carry was over."},
		}},
	{Code: "gain_line", Label: "Gain line", Kinds: []Kind{KindCarry}, Depth: Core,
		Definition: "Where the ball was when the carrier was down or held still, or when it left the hands, against the " +
			"gain line. The gain line runs across the pitch through the last ruck, maul or set piece, or through the place " +
			"where the ball was caught or picked up.",
		Options: []Option{
			{Code: "over", Label: "Over", Definition: "1 metre or more beyond the gain line."},
			{Code: "level", Label: "Level", Definition: "Less than 1 metre from the gain line, beyond or short of it."},
			{Code: "behind", Label: "Behind", Definition: "1 metre or more short of the gain line."},
		}},
	{Code: "receiver", Label: "Receiver", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "How the ball reached the carrier.",
		Options: []Option{
			{Code: "first", Label: "First receiver", Definition: "By the first pass from the ruck, maul or set piece."},
			{Code: "second", Label: "Second receiver", Definition: "By the second pass."},
			{Code: "wider", Label: "Wider", Definition: "By the third pass or a later one. An offload counts as a pass."},
			{Code: "pick_and_go", Label: "Pick and go", Definition: "The carrier picked it up at the base of a ruck or scrum."},
			{Code: "return", Label: "Return", Definition: "The carrier caught or picked up a kick or a loose ball."},
		}},
	{Code: "pace", Label: "Pace onto the ball", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "How the carrier was moving when the ball arrived.",
		Options: []Option{
			{Code: "at_pace", Label: "At pace", Definition: "Had run forward for 3 strides or more and did not slow " +
				"for the ball."},
			{Code: "moving", Label: "Moving", Definition: "Was moving forward, but with fewer than 3 running strides, or " +
				"slowed for the ball."},
			{Code: "standing", Label: "Standing", Definition: "Stood still, or moved sideways or back."},
		}},
	{Code: "approach", Label: "Approach", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "What the carrier did in the last 5 metres before the first defender. If the carrier did two things, " +
			"choose the last one.",
		Options: []Option{
			{Code: "straight", Label: "Straight", Definition: "Ran on without any of the others."},
			{Code: "step", Label: "Step", Definition: "Pushed off one foot and moved sideways by a body's width or more."},
			{Code: "late_angle", Label: "Late angle", Definition: "Changed the running line without a step."},
			{Code: "spin", Label: "Spin", Definition: "Turned with the back to the defender and out of the contact."},
			{Code: "fend", Label: "Fend", Definition: "Kept the defender away with an open hand."},
		}},
	{Code: "contact_point", Label: "Contact point", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "Which part of the first defender the carrier ran into.",
		Options: []Option{
			{Code: "square", Label: "Square", Definition: "The chest: less than half of the carrier's body was past the " +
				"defender's nearer shoulder."},
			{Code: "soft_shoulder", Label: "Soft shoulder",
				Definition: "One side: half or more of the carrier's body was past the defender's nearer shoulder, but not all."},
			{Code: "clear", Label: "Clear", Definition: "A hand or an arm at most: all of the carrier's body was past " +
				"the defender."},
		}},
	{Code: "defence", Label: "Defence", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "What the defence in front of the carrier looked like when the ball arrived.",
		Options: []Option{
			{Code: "connected", Label: "Connected", Definition: "The nearest defender had a team-mate within 3 metres on " +
				"each side, level to within 1 metre."},
			{Code: "disconnected", Label: "Disconnected", Definition: "On at least one side there was no such team-mate."},
		}},
	{Code: "body_height", Label: "Body height", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "The height of the carrier's shoulders at the first touch.",
		Options: []Option{
			{Code: "low", Label: "Low", Definition: "No higher than the defender's shoulders."},
			{Code: "upright", Label: "Upright", Definition: "Higher than the defender's shoulders."},
		}},
	{Code: "leg_drive", Label: "Leg drive", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "Whether the carrier's legs kept driving after the first touch.",
		Options:    yesNo("The carrier took 3 or more steps after the first touch.", "The carrier took fewer than 3.")},
	{Code: "metres", Label: "Metres", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "Metres towards the opponents' goal line from where the player got the ball to where the carry ended. " +
			"Metres after contact are included. 0 when the carry ended further back.",
		Measure: &Measure{Unit: "m", Max: 110}},
	{Code: "metres_after_contact", Label: "Metres after contact", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "Metres towards the opponents' goal line from a defender's first touch to where the carry ended. 0 " +
			"when it ended further back.",
		Measure: &Measure{Unit: "m", Max: 100}},
	{Code: "tacklers_committed", Label: "Tacklers committed", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "How many defenders touched the carrier to stop the carry. Those who were beaten are not counted.",
		Measure:    &Measure{Unit: "tacklers", Max: 8, Whole: true}},
	{Code: "defenders_beaten", Label: "Defenders beaten", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "How many defenders were within reach of an arm and did not stop or slow the carry.",
		Measure:    &Measure{Unit: "defenders", Max: 15, Whole: true}},
	{Code: "finish", Label: "Finish", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "How the carry ended. A held carrier with a knee on the ground is tackled (Law 14), unless a maul had " +
			"formed. Once one had, going to ground ends the maul and is no tackle (Law 16).",
		Options: []Option{
			{Code: "ground", Label: "Ground", Definition: "On the ground, a knee included: less than 1 second after being " +
				"held, or without being held. If held, it is a tackle (Law 14)."},
			{Code: "held_up_then_ground", Label: "Held up, then ground",
				Definition: "Held on the feet for 1 second or more with no team-mate bound on, then on the ground, a knee " +
					"included. No maul had formed, and it is a tackle (Law 14)."},
			{Code: "maul", Label: "Maul", Definition: "Held on the feet with at least one team-mate bound on: a maul had " +
				"formed (Law 16). Choose this even if it went to ground later."},
			{Code: "on_feet", Label: "On feet", Definition: "On the feet when the ball was passed, kicked, lost or taken " +
				"over a line, and no maul had formed."},
		}},
	{Code: "presentation", Label: "Presentation", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "How the carrier placed the ball after going to ground. Check poor first, then long; the rest " +
			"is adequate.",
		Options: []Option{
			{Code: "long", Label: "Long", Definition: "At arm's length towards the carrier's own side within 1 second of " +
				"going to ground, with the body between the ball and the opponents."},
			{Code: "adequate", Label: "Adequate", Definition: "Placed within 2 seconds and out of the opponents' reach, but " +
				"later than 1 second or closer than arm's length."},
			{Code: "poor", Label: "Poor", Definition: "Placed later than 2 seconds, within an opponent's reach, or loose."},
		}},
	{Code: "seconds_to_play", Label: "Seconds to play", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "Seconds from the carrier going to ground until a team-mate lifts, passes or kicks the ball away from " +
			"the ruck. It depends on the support players as well as the carrier.",
		Measure: &Measure{Unit: "s", Max: 60}},
	{Code: "outcome", Label: "What happened to the ball", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "Who had the ball when the next phase began.",
		Options: []Option{
			{Code: "kept", Label: "Kept", Definition: "The carrier's side."},
			{Code: "lost", Label: "Lost", Definition: "The other side. A scrum to the other side counts."},
			{Code: "scored", Label: "Scored", Definition: "The carrier scored a try.", Result: ResultTry},
			{Code: "penalty", Label: "Penalty", Definition: "The carry ended in a penalty or a free kick to either side; the " +
				"results say to whom."},
		}},

	// Pass and offload.
	{Code: "result", Label: "Result", Kinds: []Kind{KindPass, KindOffload}, Depth: Core,
		Definition: "Where the ball went. Judge its flight, not the receiver's hands: a good ball that is dropped " +
			"is accurate.",
		Options: []Option{
			{Code: "accurate", Label: "Accurate", Definition: "It reached the receiver between hip and head, and the " +
				"receiver did not have to slow, turn, stoop or reach back."},
			{Code: "recoverable", Label: "Recoverable",
				Definition: "The receiver had to slow, turn, stoop, jump or reach back, and the passer's side kept the ball."},
			{Code: "lost", Label: "Lost", Definition: "It was forward, intercepted or went into touch; or it was not " +
				"accurate and the passer's side did not keep it."},
		}},
	{Code: "type", Label: "Type", Kinds: []Kind{KindPass, KindOffload}, Depth: Full,
		Definition: "What kind of pass it was. If two fit, choose the one listed first.",
		Options: []Option{
			{Code: "tip_on", Label: "Tip-on", Definition: "Moved on within one step of receiving it."},
			{Code: "inside", Label: "Inside", Definition: "Back towards the side that the ball came from."},
			{Code: "pullback", Label: "Pull-back", Definition: "Behind a team-mate who ran at the defence, to one who " +
				"was deeper."},
			{Code: "wide", Label: "Wide", Definition: "10 metres or more across the pitch, or past a team-mate."},
			{Code: "hard_line", Label: "Hard line", Definition: "To a runner going straight at the defence."},
			{Code: "other", Label: "Other", Definition: "None of these."},
		}},
	{Code: "released", Label: "Released", Kinds: []Kind{KindPass, KindOffload}, Depth: Full,
		Definition: "How far the nearest defender in front of the passer was when the ball left the hands.",
		Options: []Option{
			{Code: "at_line", Label: "At the line", Definition: "2 metres or less."},
			{Code: "near", Label: "Near", Definition: "More than 2 metres, up to 5."},
			{Code: "deep", Label: "Deep", Definition: "More than 5 metres."},
		}},
	{Code: "defenders_held", Label: "Defenders held", Kinds: []Kind{KindPass, KindOffload}, Depth: Full,
		Definition: "How many defenders stopped, turned in or tackled the passer and did not get to the receiver before " +
			"the next contact.",
		Measure: &Measure{Unit: "defenders", Max: 8, Whole: true}},
	{Code: "seconds_to_pass", Label: "Seconds to pass", Kinds: []Kind{KindPass}, Depth: Full,
		Definition: "For a pass from the base of a ruck, maul or scrum: seconds from the passer's hands on the ball until " +
			"it leaves them.",
		Measure: &Measure{Unit: "s", Max: 10}},
	{Code: "numbers", Label: "Numbers", Kinds: []Kind{KindPass, KindOffload}, Depth: Full,
		Definition: "Attackers against front-line defenders between the passer and the touchline that the ball went " +
			"towards, when it left the hands. The passer, the defender on the passer and the backfield are not counted.",
		Options: []Option{
			{Code: "overlap", Label: "Overlap", Definition: "At least one more attacker than defenders."},
			{Code: "level", Label: "Level", Definition: "As many attackers as defenders."},
			{Code: "short", Label: "Short", Definition: "At least one attacker fewer than defenders."},
		}},
	{Code: "overlap_finished", Label: "Overlap finished", Kinds: []Kind{KindPass, KindOffload}, Depth: Full,
		Definition: "Whether an overlap was used before the next ruck. Record it only where the numbers are an overlap.",
		Options:    yesNo("The ball reached an attacker with no defender within 5 metres in front.", "It did not.")},
	{Code: "receiver_gain", Label: "Receiver's gain", Kinds: []Kind{KindPass, KindOffload}, Depth: Full,
		Definition: "Where the receiver's carry ended against the gain line.",
		Options: []Option{
			{Code: "over", Label: "Over", Definition: "1 metre or more beyond the gain line."},
			{Code: "level", Label: "Level", Definition: "Less than 1 metre from the gain line, beyond or short of it."},
			{Code: "behind", Label: "Behind", Definition: "1 metre or more short of the gain line."},
		}},

	// Kick.
	{Code: "result", Label: "Result", Kinds: []Kind{KindKick}, Depth: Core,
		Definition: "What happened to the kick. If two fit, choose the one listed first.",
		Options: []Option{
			{Code: "charged_down", Label: "Charged down", Definition: "An opponent blocked it within 5 metres of the foot."},
			{Code: "regained", Label: "Regained", Definition: "The kicker's side got hold of the ball before it went out of " +
				"play. A throw-in after touch does not count."},
			{Code: "touch", Label: "Touch", Definition: "It went into touch, and the lineout was taken where it " +
				"crossed the line."},
			{Code: "space", Label: "Space", Definition: "No opponent was within 5 metres of where it came down, and the " +
				"opponents carried or kicked it back less than 10 metres."},
			{Code: "returned", Label: "Returned", Definition: "Anything else: taken by an opponent, dead, or out on the full " +
				"from outside the kicker's 22."},
		}},
	{Code: "purpose", Label: "Purpose", Kinds: []Kind{KindKick}, Depth: Full,
		Definition: "What the kick was for, judged by where it was kicked and what followed. If two fit, choose the one " +
			"listed first.",
		Options: []Option{
			{Code: "exit", Label: "Exit", Definition: "Kicked from less than 32 metres in front of the kicker's own goal " +
				"line: the 22 and the 10 metres beyond it."},
			{Code: "contest", Label: "Contest", Definition: "A chaser was within 5 metres of where the ball came down when " +
				"it came down."},
			{Code: "space", Label: "Space", Definition: "Put where no defender stood within 5 metres, with a team-mate " +
				"running onto it."},
			{Code: "territory", Label: "Territory", Definition: "None of these: to gain ground."},
		}},
	{Code: "form", Label: "Form", Kinds: []Kind{KindKick}, Depth: Full,
		Definition: "Whether it was a box kick or a 50:22. If both fit, choose 50:22.",
		Options: []Option{
			{Code: "fifty_22", Label: "50:22", Definition: "Kicked from the kicker's own half, bounced, and went into touch " +
				"in the opponents' 22; the kicker's side throws in."},
			{Code: "box", Label: "Box kick", Definition: "Kicked within 2 metres of the base of a ruck, maul or scrum by the " +
				"player who took the ball from it."},
			{Code: "other", Label: "Other", Definition: "Neither."},
		}},

	{Code: "choice", Label: "Choice", Kinds: []Kind{KindCarry, KindPass, KindOffload, KindKick}, Depth: Full,
		Definition: "Whether it was the best option that was on when the player began it, never judged by how it ended. " +
			"Compare the room of each option: the metres of open ground, up to the nearest opponent in front, of the player " +
			"who would have the ball next; for a kick, from where it would land to the nearest opponent. Count a pass only " +
			"to an onside team-mate within 15 metres. A carry and the pass or offload out of it are one decision: record it " +
			"with the pass.",
		Options: []Option{
			{Code: "best", Label: "Best", Definition: "No other option had more room. Equal room is best."},
			{Code: "fair", Label: "Fair", Definition: "Another option had more room, but less than 5 metres more."},
			{Code: "better_on", Label: "Better was on", Definition: "Another option had 5 metres or more of room more."},
		}},

	// Catch.
	{Code: "result", Label: "Result", Kinds: []Kind{KindCatch}, Depth: Core,
		Definition: "What happened to the ball that the player went for.",
		Options: []Option{
			{Code: "clean", Label: "Clean", Definition: "Caught at the first touch, or tapped on purpose to a team-mate " +
				"who held it."},
			{Code: "juggled", Label: "Juggled", Definition: "Caught by the player after more than one touch, before it hit " +
				"the ground."},
			{Code: "spilled", Label: "Spilled", Definition: "Touched but not caught, whichever side had it next."},
			{Code: "beaten", Label: "Beaten", Definition: "Not touched: another player had it first, or it landed within 2 " +
				"metres of the player."},
		}},
	{Code: "from", Label: "From", Kinds: []Kind{KindCatch}, Depth: Full,
		Definition: "What ball it was.",
		Options: []Option{
			{Code: "kick_off", Label: "Kick-off", Definition: "A kick-off or a drop-out."},
			{Code: "high_ball", Label: "High ball", Definition: "A kick in play that was in the air for 2 seconds or more."},
			{Code: "other", Label: "Other", Definition: "Any other ball in the air."},
		}},
	{Code: "under_pressure", Label: "Under pressure", Kinds: []Kind{KindCatch}, Depth: Full,
		Definition: "Whether an opponent could get at the catcher.",
		Options:    yesNo("An opponent was within 2 metres when the ball arrived.", "No opponent was.")},

	// Tackle.
	{Code: "result", Label: "Result", Kinds: []Kind{KindTackle}, Depth: Core,
		Definition: "How the whole tackle went, for an assist too. First decide whether it was missed, then who got the " +
			"ball, then the metres. A tackle that is high or otherwise illegal is never won.",
		Options: []Option{
			{Code: "won", Label: "Won", Definition: "Legal, and the carrier lost the ball in the tackle, whatever ground was " +
				"made; or was driven back 1 metre or more from the first touch and got no pass away."},
			{Code: "even", Label: "Even", Definition: "The carrier was brought down or held less than 1 metre from the first " +
				"touch, forward or back, and got no pass away; or the tackle would be won, but was not legal."},
			{Code: "lost", Label: "Lost", Definition: "The carrier got a pass away to a team-mate who held it, even when " +
				"driven back; or kept the ball and made 1 metre or more after the first touch before being brought down or held."},
			{Code: "missed", Label: "Missed", Definition: "The carrier was within reach of an arm and went on without being " +
				"brought down or held."},
		}},
	{Code: "height", Label: "Height", Kinds: []Kind{KindTackle}, Depth: Full,
		Definition: "Where the tackler's first contact was, against the height that the competition's law allows.",
		Options: []Option{
			{Code: "legal", Label: "Legal", Definition: "At or below the height that the law allows, with an arm used to " +
				"hold, and not late."},
			{Code: "high", Label: "High or illegal", Definition: "Above the height that the law allows, or illegal in " +
				"another way: no arm used, late, or off the ball, penalised or not."},
		}},
	{Code: "role", Label: "First or assist", Kinds: []Kind{KindTackle}, Depth: Full,
		Definition: "Whether the player began the tackle.",
		Options: []Option{
			{Code: "first", Label: "First", Definition: "First to touch the carrier, or less than half a second " +
				"after the first."},
			{Code: "assist", Label: "Assist",
				Definition: "Joined half a second or more after a team-mate had begun the tackle."},
		}},
	{Code: "seconds_to_feet", Label: "Seconds back to feet", Kinds: []Kind{KindTackle}, Depth: Full,
		Definition: "Seconds from going to ground in the tackle until both feet are down and the player could play on. " +
			"Never measured after contact with a head: the player then stays down and is checked.",
		Measure: &Measure{Unit: "s", Max: 60}},

	// Rucks.
	{Code: "effect", Label: "Effect", Kinds: []Kind{KindAttackRuck}, Depth: Core,
		Definition: "What the player's arrival did for their own side's ball. Check penalised first, then cleared, then " +
			"secured; anything else is ineffective.",
		Options: []Option{
			{Code: "cleared", Label: "Cleared", Definition: "The player moved an opponent off the ball, or 1 metre or more " +
				"back from it."},
			{Code: "secured", Label: "Secured", Definition: "The player moved no opponent, was on the feet over or beside " +
				"the ball among the first three to arrive, and no opponent got a hand or foot to the ball."},
			{Code: "ineffective", Label: "Ineffective",
				Definition: "An opponent got a hand or foot to the ball, or the player went off the feet or came fourth or " +
					"later, and moved no opponent."},
			{Code: "penalised", Label: "Penalised", Definition: "A penalty or a free kick was given against the player.",
				Result: ResultPenaltyConceded},
		}},
	{Code: "effect", Label: "Effect", Kinds: []Kind{KindDefenceRuck}, Depth: Core,
		Definition: "What the player's arrival did to the opponents' ball. Check penalised first, then turnover, then " +
			"slowed; anything else is no effect.",
		Options: []Option{
			{Code: "turnover", Label: "Turnover", Definition: "The player's hands, feet or push won the ball, a penalty or a " +
				"free kick for the player's side."},
			{Code: "slowed", Label: "Slowed", Definition: "The player had hands on the ball or was pushing an opponent, and " +
				"the opponents played it 3 seconds or more after their carrier went to ground."},
			{Code: "no_effect", Label: "No effect", Definition: "The opponents played it in less than 3 seconds, or the " +
				"player touched neither the ball nor an opponent."},
			{Code: "penalised", Label: "Penalised", Definition: "A penalty or a free kick was given against the player.",
				Result: ResultPenaltyConceded},
		}},
	{Code: "decision", Label: "Contest or stay out", Kinds: []Kind{KindDefenceRuck}, Depth: Full,
		Definition: "Whether the player, once there, contested the ball or left it and went back to the line.",
		Options: []Option{
			{Code: "contest", Label: "Contest", Definition: "The player touched the ball or pushed an opponent."},
			{Code: "stay_out", Label: "Stay out", Definition: "The player touched neither and stepped back into the line."},
		}},
	{Code: "arrival", Label: "Arrival", Kinds: []Kind{KindAttackRuck, KindDefenceRuck}, Depth: Full,
		Definition: "When the player reached the ruck among the player's side, without the carrier and the tackler. Less " +
			"than half a second behind another counts as level.",
		Options: []Option{
			{Code: "first", Label: "First", Definition: "No team-mate arrived before."},
			{Code: "second", Label: "Second", Definition: "One team-mate arrived before."},
			{Code: "later", Label: "Later", Definition: "Two or more arrived before."},
		}},

	// Set pieces and mauls.
	{Code: "effect", Label: "Effect", Kinds: []Kind{KindScrum}, Depth: Core,
		Definition: "What the player's side got from the scrum while the player was bound in. A penalty or free kick " +
			"decides first, then who had the ball, then the metres. " + UnderAgeScrum,
		Options: []Option{
			{Code: "gained", Label: "Gained", Definition: "A penalty or free kick to the player's side; or the ball on the " +
				"opponents' put-in; or the expected side had the ball and the player's side went 1 metre or more forward."},
			{Code: "held", Label: "Held", Definition: "The side that put the ball in had it next, and the scrum moved less " +
				"than 1 metre. A clean ball is held, whichever side put it in."},
			{Code: "lost", Label: "Lost", Definition: "A penalty or free kick against the player's side; or the ball lost on " +
				"its own put-in; or the expected side had the ball and the player's side went 1 metre or more back."},
		}},
	{Code: "effect", Label: "Effect", Kinds: []Kind{KindLineout}, Depth: Core,
		Definition: "How the player's own part went: the throw, the jump or the lift. A team-mate's mistake does not " +
			"count against the player. Check lost first, then gained; anything else is held.",
		Options: []Option{
			{Code: "gained", Label: "Gained", Definition: "More than a clean ball: on the opponents' throw, the player, or " +
				"the jumper whom the player lifted, won or touched the ball; on their own throw, they won it with an opponent " +
				"in the air for it; or a penalty or free kick to the player's side for what was done to the player."},
			{Code: "held", Label: "Held", Definition: "The part was done: a straight throw to the jumper's reach, a jump or " +
				"lift on time. A clean ball is held, whichever side threw it in; so is a lineout lost by a team-mate's part."},
			{Code: "lost", Label: "Lost", Definition: "The part failed: a throw that was not straight or out of the jumper's " +
				"reach; a jump that was late or did not hold a ball in reach; a lift that was late or dropped the jumper; or a " +
				"penalty or free kick against the player."},
		}},
	{Code: "effect", Label: "Effect", Kinds: []Kind{KindMaul}, Depth: Core,
		Definition: "What the player's side got from the maul while the player was bound in. A penalty or free kick " +
			"decides first, then who had the ball, then the metres.",
		Options: []Option{
			{Code: "gained", Label: "Gained", Definition: "A penalty or free kick to the player's side, the ball from the " +
				"opponents' maul, or a try; or the ball did not change sides and the player's side went 1 metre or more forward."},
			{Code: "held", Label: "Held", Definition: "The ball did not change sides, and the maul moved less than 1 metre."},
			{Code: "lost", Label: "Lost", Definition: "A penalty or free kick against the player's side, or the ball lost " +
				"from its own maul; or the ball did not change sides and the player's side went 1 metre or more back."},
		}},
	{Code: "role", Label: "Role", Kinds: []Kind{KindLineout}, Depth: Full,
		Definition: "What the player did at the lineout.",
		Options: []Option{
			{Code: "thrower", Label: "Thrower", Definition: "Threw the ball in."},
			{Code: "jumper", Label: "Jumper", Definition: "Was lifted or jumped for the ball, for the throw or against it."},
			{Code: "lifter", Label: "Lifter", Definition: "Lifted a jumper."},
		}},

	// Off the ball.
	{Code: "effect", Label: "Effect", Kinds: []Kind{KindSupportLine}, Depth: Core,
		Definition: "What the run was worth when it ended, whether or not the ball came. Check created first, then " +
			"option; anything else is none.",
		Options: []Option{
			{Code: "created", Label: "Created", Definition: "A defender turned, stopped or moved 2 metres or more towards " +
				"the player and away from the ball; or the player got the ball with no defender within 5 metres in front."},
			{Code: "option", Label: "Option", Definition: "When the run ended the player was onside, still running, and " +
				"within 10 metres of the carrier with no one in the way of a pass."},
			{Code: "none", Label: "None", Definition: "Neither: ahead of the ball, standing, more than 10 metres away, or " +
				"with a player in the way of a pass."},
		}},
	{Code: "line", Label: "Line", Kinds: []Kind{KindSupportLine}, Depth: Full,
		Definition: "Where the player was when the run ended, seen from the team-mate with the ball. If two fit, choose " +
			"the one listed first.",
		Options: []Option{
			{Code: "behind", Label: "Behind", Definition: "Behind another team-mate who ran at the defence without the ball."},
			{Code: "trail", Label: "Trail", Definition: "Behind the carrier, less than 2 metres to either side."},
			{Code: "inside", Label: "Inside", Definition: "On the side that the ball came from."},
			{Code: "hard", Label: "Hard",
				Definition: "On the other side, up to 5 metres away, running straight at the defence."},
			{Code: "outside", Label: "Outside", Definition: "On the other side: more than 5 metres away, or not running " +
				"straight at the defence."},
		}},
	{Code: "received", Label: "Ball received", Kinds: []Kind{KindSupportLine}, Depth: Full,
		Definition: "Whether the ball came to the player on this run.",
		Options:    yesNo("It came.", "It did not.")},
	{Code: "called", Label: "Called", Kinds: []Kind{KindCatch, KindSupportLine}, Depth: Full,
		Definition: "Whether the player called for the ball before it arrived, or before the carrier passed, kicked " +
			"or was held.",
		Options: yesNo("A call is heard, or a raised hand or an open mouth is seen.",
			"None of these, as far as the video tells.")},
	{Code: "in_place", Label: "In place", Kinds: []Kind{KindReposition}, Depth: Core,
		Definition: "Whether the player was in place in time. In place means on the feet, onside and facing the ball: in " +
			"attack within 15 metres of the ruck or of a team-mate in the line, in defence in the line or the backfield. " +
			"Check no time first.",
		Options: []Option{
			{Code: "yes", Label: "Yes", Definition: "In place before the ball was next played and within 6 seconds of the " +
				"end of the involvement before. A slower ball gives no extra time."},
			{Code: "no", Label: "No", Definition: "Not in place by then."},
			{Code: "no_time", Label: "No time", Definition: "Less than 3 seconds from the end of the involvement before " +
				"until the ball was next played; or the player was pinned under others, or was cleared out 5 metres or more " +
				"from the ball. It then counts neither for nor against the player, in place or not."},
		}},
	{Code: "from", Label: "From", Kinds: []Kind{KindReposition}, Depth: Full,
		Definition: "Where the player was when the involvement before it ended.",
		Options: []Option{
			{Code: "ground", Label: "Ground", Definition: "On the ground."},
			{Code: "ruck", Label: "Ruck", Definition: "On the feet at a ruck or a tackle."},
			{Code: "maul", Label: "Maul", Definition: "In a maul or a set piece."},
			{Code: "chase", Label: "Chase", Definition: "On the feet anywhere else: after a chase, a pass or a kick."},
		}},
	{Code: "to", Label: "To", Kinds: []Kind{KindReposition}, Depth: Full,
		Definition: "The place that the player made for. If two fit, choose the one listed first.",
		Options: []Option{
			{Code: "backfield", Label: "Backfield", Definition: "In defence, 10 metres or more behind the front line."},
			{Code: "guard", Label: "Guard", Definition: "In defence, one of the first two places beside the ruck."},
			{Code: "first_receiver", Label: "First receiver",
				Definition: "In attack, where the first pass from the ruck goes."},
			{Code: "inside", Label: "Inside", Definition: "In attack, nearer to the ruck than the first receiver."},
			{Code: "outside", Label: "Outside", Definition: "Anywhere further out, in attack or defence."},
		}},
	{Code: "fold", Label: "Folding", Kinds: []Kind{KindReposition}, Depth: Full,
		Definition: "Whether the player crossed behind the ruck to the other side of it, in defence or attack.",
		Options: []Option{
			{Code: "stayed", Label: "Stayed", Definition: "Did not start to cross."},
			{Code: "folded", Label: "Folded", Definition: "Crossed, and was in place on the other side when the ball was " +
				"next played."},
			{Code: "late", Label: "Late", Definition: "Started to cross, and was not in place, or not onside, when the " +
				"ball was next played."},
		}},
	{Code: "chase", Label: "Chase after a kick", Kinds: []Kind{KindReposition}, Depth: Full,
		Definition: "After a kick by the player's side: where the player was when an opponent caught or gathered the ball.",
		Options: []Option{
			{Code: "up", Label: "Up", Definition: "Within 5 metres of the ball."},
			{Code: "in_line", Label: "In line", Definition: "Further away, and within 3 metres, forward or back, of the " +
				"nearest team-mate in the chase."},
			{Code: "behind", Label: "Behind", Definition: "Neither."},
		}},
	{Code: "seconds", Label: "Seconds", Kinds: []Kind{KindReposition}, Depth: Full,
		Definition: "Seconds from the end of the involvement before it until the player was in place. Never measured " +
			"after contact with a head.",
		Measure: &Measure{Unit: "s", Max: 60}},
	{Code: "offered", Label: "Offered", Kinds: []Kind{KindReposition}, Depth: Full,
		Definition: "Whether the player asked for the ball or told others where the danger was.",
		Options:    yesNo("A call is heard, or a raised or pointing hand is seen.", "Neither, as far as the video tells.")},
	{Code: "ball_came", Label: "Ball came", Kinds: []Kind{KindReposition}, Depth: Full,
		Definition: "Whether play came to the place that the player had made for.",
		Options:    yesNo("The ball, or its carrier, came within 5 metres of it in the next phase.", "It did not.")},
}
