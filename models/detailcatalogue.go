package models

import "slices"

// Detail is something recorded of involvements of some kinds beyond the kind and the clock. It is either a choice,
// with Options, or a measure. An involvement keeps a choice in Details and a measure in Measures, each under Code.
type Detail struct {
	Code       string   `json:"code"` // unique among the details of a kind
	Label      string   `json:"label"`
	Definition string   `json:"definition"`
	Kinds      []Kind   `json:"kinds"`
	Depth      Depth    `json:"depth"`
	Options    []Option `json:"options,omitempty"` // of a choice, in order
	Measure    *Measure `json:"measure,omitempty"` // of a measure
}

// Option is one of the codes that a choice is made from. Definition is published: it says what makes it this one and
// not another, with the threshold.
type Option struct {
	Code       string `json:"code"`
	Label      string `json:"label"`
	Definition string `json:"definition"`
	Result     Result `json:"result,omitempty"` // what must be among the involvement's results when this is chosen
}

// Measure is the range, from Min to Max and both allowed, and the unit of what is counted or measured.
type Measure struct {
	Unit  string  `json:"unit"`
	Min   float64 `json:"min"`
	Max   float64 `json:"max"`
	Whole bool    `json:"whole"` // whole numbers only
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

func allKinds() []Kind {
	out := make([]Kind, len(kinds))
	for i := range kinds {
		out[i] = kinds[i].Code
	}
	return out
}

func yesNo(yes, no string) []Option {
	return []Option{{Code: "yes", Label: "Yes", Definition: yes}, {Code: "no", Label: "No", Definition: no}}
}

var details = []Detail{
	// Of every kind: where on the pitch, and what ball it was.
	{Code: "possession_start", Label: "Possession began from", Kinds: allKinds(), Depth: Full,
		Definition: "How the possession in which this happened began.",
		Options: []Option{
			{Code: "scrum", Label: "Scrum", Definition: "The ball came out of a scrum."},
			{Code: "lineout", Label: "Lineout", Definition: "The ball was thrown in at a lineout, quick throws included."},
			{Code: "restart", Label: "Restart", Definition: "A kick-off or a drop-out was taken, by either side."},
			{Code: "kick_return", Label: "Kick return", Definition: "A side took the other side's kick in play."},
			{Code: "turnover", Label: "Turnover", Definition: "A side won the ball from the other side in play, other than " +
				"from a kick."},
			{Code: "tap", Label: "Tap", Definition: "A penalty or a free kick was tapped."},
		}},
	{Code: "possession_end", Label: "Possession ended in", Kinds: allKinds(), Depth: Full,
		Definition: "How the possession in which this happened ended.",
		Options: []Option{
			{Code: "try", Label: "Try", Definition: "The side with the ball scored a try."},
			{Code: "penalty", Label: "Penalty", Definition: "A penalty or a free kick was given, to either side."},
			{Code: "kick", Label: "Kick", Definition: "The side with the ball kicked it away or at goal."},
			{Code: "turnover", Label: "Turnover", Definition: "The other side got the ball in any other way, a scrum after " +
				"an error included."},
			{Code: "half", Label: "End of half", Definition: "The half ended."},
		}},
	{Code: "zone", Label: "Zone", Kinds: allKinds(), Depth: Full,
		Definition: "Where between the goal lines it began, seen from the player's side.",
		Options: []Option{
			{Code: "own_22", Label: "Own 22", Definition: "Behind the own 22-metre line."},
			{Code: "own_22_to_half", Label: "Own 22 to halfway", Definition: "From the own 22-metre line to the halfway line."},
			{Code: "half_to_their_22", Label: "Halfway to their 22",
				Definition: "From the halfway line to the opponents' 22-metre line."},
			{Code: "their_22", Label: "Their 22", Definition: "Beyond the opponents' 22-metre line."},
		}},
	{Code: "width", Label: "Width", Kinds: allKinds(), Depth: Full,
		Definition: "How far across the pitch it was from where the ball was last brought into play: a ruck, a maul, a " +
			"set piece or a catch.",
		Options: []Option{
			{Code: "close", Label: "Close", Definition: "Less than 10 metres across from there."},
			{Code: "midfield", Label: "Midfield", Definition: "At least 10 metres across from there, and more than 15 metres " +
				"from the nearest touchline."},
			{Code: "wide", Label: "Wide", Definition: "At least 10 metres across from there, and within 15 metres of " +
				"a touchline."},
		}},
	{Code: "side", Label: "Side", Kinds: allKinds(), Depth: Full,
		Definition: "Which half of the pitch it was in, looking at the opponents' goal line.",
		Options: []Option{
			{Code: "left", Label: "Left", Definition: "Left of the middle of the goal lines."},
			{Code: "right", Label: "Right", Definition: "Right of the middle of the goal lines, or on it."},
		}},
	{Code: "source", Label: "Source of the ball", Kinds: allKinds(), Depth: Full,
		Definition: "What the ball last came from.",
		Options: []Option{
			{Code: "ruck", Label: "Ruck", Definition: "A ruck, a maul or a tackle."},
			{Code: "scrum", Label: "Scrum", Definition: "A scrum."},
			{Code: "lineout", Label: "Lineout", Definition: "A lineout, a quick throw included."},
			{Code: "restart", Label: "Restart", Definition: "A kick-off, a drop-out or a tapped penalty or free kick."},
			{Code: "kick", Label: "Kick", Definition: "A kick in play by either side."},
			{Code: "turnover", Label: "Turnover", Definition: "A ball won from the other side, other than from a kick."},
		}},
	{Code: "speed", Label: "Speed of the ball", Kinds: allKinds(), Depth: Full,
		Definition: "How soon the ball was played, from the moment the last carrier was on the ground, or it could have " +
			"been played.",
		Options: []Option{
			{Code: "quick", Label: "Quick", Definition: "Within 3 seconds."},
			{Code: "slow", Label: "Slow", Definition: "After 3 seconds or more."},
		}},

	// Carry.
	{Code: "contact", Label: "Contact", Kinds: []Kind{KindCarry}, Depth: Core,
		Definition: "Who came out ahead, from the first touch by a defender to the moment the carrier is down, held " +
			"still or free.",
		Options: []Option{
			{Code: "won", Label: "Won", Definition: "The carrier made at least 1 metre towards the opponents' goal line " +
				"after the first touch, or broke free."},
			{Code: "even", Label: "Even", Definition: "It ended less than 1 metre either way from the first touch, and the " +
				"ball was kept."},
			{Code: "lost", Label: "Lost", Definition: "The carrier was driven back at least 1 metre from the first touch, or " +
				"lost the ball in the contact."},
			{Code: "none", Label: "None", Definition: "No defender touched the carrier before the carry was over."},
		}},
	{Code: "gain_line", Label: "Gain line", Kinds: []Kind{KindCarry}, Depth: Core,
		Definition: "Where the carry ended against the gain line: the line across the pitch through the last ruck, maul " +
			"or set piece, or where the ball was caught.",
		Options: []Option{
			{Code: "over", Label: "Over", Definition: "At least 1 metre beyond it."},
			{Code: "level", Label: "Level", Definition: "Less than 1 metre from it, either way."},
			{Code: "behind", Label: "Behind", Definition: "At least 1 metre short of it."},
		}},
	{Code: "receiver", Label: "Receiver", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "How the ball reached the carrier.",
		Options: []Option{
			{Code: "first", Label: "First receiver", Definition: "By the first pass from the ruck, maul or set piece."},
			{Code: "second", Label: "Second receiver", Definition: "By the second pass."},
			{Code: "wider", Label: "Wider", Definition: "By the third pass or a later one."},
			{Code: "pick_and_go", Label: "Pick and go", Definition: "Picked up at the base of a ruck or scrum."},
			{Code: "return", Label: "Return", Definition: "Caught or picked up from a kick or a loose ball."},
		}},
	{Code: "pace", Label: "Pace onto the ball", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "How fast the carrier was moving forward when the ball arrived.",
		Options: []Option{
			{Code: "at_pace", Label: "At pace", Definition: "Running hard: at about three quarters of full speed or more."},
			{Code: "moving", Label: "Moving", Definition: "Walking or running forward more slowly than that."},
			{Code: "standing", Label: "Standing", Definition: "Standing still, or moving sideways or back."},
		}},
	{Code: "approach", Label: "Approach", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "What the carrier did in the last 5 metres before the first defender.",
		Options: []Option{
			{Code: "straight", Label: "Straight", Definition: "Ran on without changing direction."},
			{Code: "step", Label: "Step", Definition: "Pushed off one foot to change direction by at least a body's width."},
			{Code: "late_angle", Label: "Late angle", Definition: "Changed the running line without a step, within the " +
				"last 5 metres."},
			{Code: "spin", Label: "Spin", Definition: "Turned the back to the defender and out of the contact."},
			{Code: "fend", Label: "Fend", Definition: "Kept the defender away with an open hand."},
		}},
	{Code: "contact_point", Label: "Contact point", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "Which part of the first defender the carrier ran into.",
		Options: []Option{
			{Code: "square", Label: "Square", Definition: "The defender's chest: both of the defender's shoulders " +
				"could be used."},
			{Code: "soft_shoulder", Label: "Soft shoulder",
				Definition: "One side: half or more of the carrier's body was past the defender's nearer shoulder."},
			{Code: "clear", Label: "Clear", Definition: "A hand or an arm at most: the carrier's body was past the defender."},
		}},
	{Code: "defence", Label: "Defence", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "What the defence in front of the carrier looked like when the ball arrived.",
		Options: []Option{
			{Code: "connected", Label: "Connected", Definition: "The nearest defender had a team-mate within about 3 metres " +
				"on each side, moving up in one line."},
			{Code: "disconnected", Label: "Disconnected",
				Definition: "There was a gap of more than about 3 metres beside the nearest defender, or one defender was ahead " +
					"of or behind the line."},
		}},
	{Code: "body_height", Label: "Body height", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "The carrier's body at the first touch.",
		Options: []Option{
			{Code: "low", Label: "Low", Definition: "Knees and hips bent, shoulders no higher than the defender's."},
			{Code: "upright", Label: "Upright", Definition: "Shoulders higher than the defender's, or legs straight."},
		}},
	{Code: "leg_drive", Label: "Leg drive", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "Whether the carrier's legs kept driving after the first touch.",
		Options:    yesNo("At least 3 steps that pushed forward after the first touch.", "Fewer than 3.")},
	{Code: "metres", Label: "Metres", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "Metres towards the opponents' goal line from where the player got the ball to where the carry ended, " +
			"metres after contact included; 0 when the carry ended further back.",
		Measure: &Measure{Unit: "m", Max: 110}},
	{Code: "metres_after_contact", Label: "Metres after contact", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "Metres towards the opponents' goal line from the first touch by a defender to where the carry ended; " +
			"0 when it ended further back.",
		Measure: &Measure{Unit: "m", Max: 100}},
	{Code: "tacklers_committed", Label: "Tacklers committed", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "How many defenders touched the carrier to stop the carry.",
		Measure:    &Measure{Unit: "tacklers", Max: 8, Whole: true}},
	{Code: "defenders_beaten", Label: "Defenders beaten", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "How many defenders were within reach of the carrier and did not stop or slow the carry.",
		Measure:    &Measure{Unit: "defenders", Max: 15, Whole: true}},
	{Code: "finish", Label: "Finish", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "How the carry ended. A held carrier with a knee on the ground is tackled (Law 14), unless a maul had " +
			"formed; once one had, going to ground ends the maul and is no tackle (Law 16).",
		Options: []Option{
			{Code: "ground", Label: "Ground", Definition: "On the ground, a knee included, less than 1 second after being " +
				"held, or without being held. If held, it is a tackle (Law 14)."},
			{Code: "held_up_then_ground", Label: "Held up, then ground",
				Definition: "Held on the feet for 1 second or more without a team-mate bound on, so that no maul formed, then " +
					"on the ground, a knee included: a tackle (Law 14)."},
			{Code: "maul", Label: "Maul", Definition: "Held on the feet with at least one team-mate bound on: a maul had " +
				"formed (Law 16). If it went to ground later, the maul ended there; it is still this one."},
			{Code: "on_feet", Label: "On feet", Definition: "On the feet when the ball was passed, kicked, lost or taken " +
				"over a line, and no maul had formed."},
		}},
	{Code: "presentation", Label: "Presentation", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "How the carrier placed the ball after going to ground.",
		Options: []Option{
			{Code: "long", Label: "Long", Definition: "At arm's length towards the own side, the body between ball and " +
				"opponents, within 1 second of going to ground."},
			{Code: "adequate", Label: "Adequate", Definition: "Where a team-mate could play it, but closer to the body than " +
				"that, or between 1 and 2 seconds after going to ground."},
			{Code: "poor", Label: "Poor", Definition: "Later than 2 seconds, within an opponent's reach, or loose."},
		}},
	{Code: "seconds_to_play", Label: "Seconds until the ball is played", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "Seconds from the carrier going to ground until a team-mate plays the ball away from the ruck.",
		Measure:    &Measure{Unit: "s", Max: 60}},
	{Code: "outcome", Label: "What became of the ball", Kinds: []Kind{KindCarry}, Depth: Full,
		Definition: "Who had the ball when the next phase began.",
		Options: []Option{
			{Code: "kept", Label: "Kept", Definition: "The carrier's side."},
			{Code: "lost", Label: "Lost", Definition: "The other side."},
			{Code: "scored", Label: "Scored", Definition: "Nobody: the carrier scored a try.", Result: ResultTry},
			{Code: "penalty", Label: "Penalty", Definition: "Nobody: a penalty or a free kick was given, to either side; the " +
				"results say to whom."},
		}},

	// Pass and offload.
	{Code: "result", Label: "Result", Kinds: []Kind{KindPass, KindOffload}, Depth: Core,
		Definition: "Where the ball went, seen from the receiver.",
		Options: []Option{
			{Code: "accurate", Label: "Accurate", Definition: "In front of the receiver between hip and head, caught or " +
				"catchable without slowing, turning or reaching back."},
			{Code: "recoverable", Label: "Recoverable",
				Definition: "The receiver had to slow, turn, stoop or reach back, and the own side kept the ball."},
			{Code: "lost", Label: "Lost",
				Definition: "Forward, intercepted, into touch, or not kept because of where it went."},
		}},
	{Code: "type", Label: "Type", Kinds: []Kind{KindPass, KindOffload}, Depth: Full,
		Definition: "What the pass was for.",
		Options: []Option{
			{Code: "tip_on", Label: "Tip-on", Definition: "Moved on at once, within one step of receiving it, to a " +
				"close runner."},
			{Code: "hard_line", Label: "Hard line", Definition: "To a runner going straight at the defence."},
			{Code: "pullback", Label: "Pull-back",
				Definition: "Behind a runner who went at the defence, to a team-mate deeper."},
			{Code: "wide", Label: "Wide", Definition: "Past at least one team-mate, or over about 10 metres or more."},
			{Code: "inside", Label: "Inside", Definition: "Back towards where the ball came from."},
		}},
	{Code: "released", Label: "Released", Kinds: []Kind{KindPass, KindOffload}, Depth: Full,
		Definition: "How far the nearest defender in front was when the ball left the hands.",
		Options: []Option{
			{Code: "at_line", Label: "At the line", Definition: "2 metres or less."},
			{Code: "near", Label: "Near", Definition: "More than 2 and up to 5 metres."},
			{Code: "deep", Label: "Deep", Definition: "More than 5 metres."},
		}},
	{Code: "defenders_held", Label: "Defenders held", Kinds: []Kind{KindPass, KindOffload}, Depth: Full,
		Definition: "How many defenders stopped, turned in or tackled the passer, so that they could not get to the " +
			"receiver before the next contact.",
		Measure: &Measure{Unit: "defenders", Max: 8, Whole: true}},
	{Code: "numbers", Label: "Numbers", Kinds: []Kind{KindPass, KindOffload}, Depth: Full,
		Definition: "Attackers who could still get the ball outside the passer, against defenders who could still get to " +
			"them, when the ball left the hands.",
		Options: []Option{
			{Code: "overlap", Label: "Overlap", Definition: "At least one attacker more."},
			{Code: "level", Label: "Level", Definition: "As many."},
			{Code: "short", Label: "Short", Definition: "At least one attacker fewer."},
		}},
	{Code: "overlap_finished", Label: "Overlap finished", Kinds: []Kind{KindPass, KindOffload}, Depth: Full,
		Definition: "Whether an overlap was used. Recorded only where the numbers are an overlap.",
		Options:    yesNo("The ball reached an attacker with no defender in front within 5 metres.", "It did not.")},
	{Code: "receiver_gain", Label: "Receiver's gain", Kinds: []Kind{KindPass, KindOffload}, Depth: Full,
		Definition: "Where the receiver's carry ended against the gain line.",
		Options: []Option{
			{Code: "over", Label: "Over", Definition: "At least 1 metre beyond it."},
			{Code: "level", Label: "Level", Definition: "Less than 1 metre from it, either way."},
			{Code: "behind", Label: "Behind", Definition: "At least 1 metre short of it."},
		}},

	// Kick.
	{Code: "result", Label: "Result", Kinds: []Kind{KindKick}, Depth: Core,
		Definition: "What became of the kick.",
		Options: []Option{
			{Code: "touch", Label: "Touch", Definition: "It went into touch, and the lineout was taken where it did."},
			{Code: "space", Label: "Space", Definition: "It landed with no opponent within 5 metres, and the opponents did " +
				"not bring it back 10 metres or more by hand or foot."},
			{Code: "regained", Label: "Regained", Definition: "The kicker's side had it next."},
			{Code: "returned", Label: "Returned", Definition: "An opponent took it and could run or kick it back; anything " +
				"else that is none of the others."},
			{Code: "charged_down", Label: "Charged down", Definition: "An opponent blocked it within 5 metres of the foot."},
		}},
	{Code: "purpose", Label: "Purpose", Kinds: []Kind{KindKick}, Depth: Full,
		Definition: "What the kick was for, as it looks from where the team stood.",
		Options: []Option{
			{Code: "exit", Label: "Exit", Definition: "To get out of the own 22, or out of the 10 metres in front of it " +
				"under pressure."},
			{Code: "contest", Label: "Contest", Definition: "To be competed for in the air or on the ground by a chaser."},
			{Code: "territory", Label: "Territory", Definition: "To gain ground, from outside the own 22."},
			{Code: "space", Label: "Space", Definition: "To where no defender stood, for a team-mate to reach it first."},
		}},

	{Code: "choice", Label: "Choice", Kinds: []Kind{KindCarry, KindPass, KindOffload, KindKick}, Depth: Full,
		Definition: "Was it the best of the options that were on? Judged by what could be seen in the second before, " +
			"never by how it ended.",
		Options: []Option{
			{Code: "best", Label: "Best", Definition: "No other option promised more."},
			{Code: "fair", Label: "Fair", Definition: "Another option promised about as much, or a little more."},
			{Code: "better_on", Label: "Better was on",
				Definition: "Another option promised clearly more: a free team-mate within a pass, or at least 5 metres of open " +
					"ground to run or kick into."},
		}},

	// Catch.
	{Code: "result", Label: "Result", Kinds: []Kind{KindCatch}, Depth: Core,
		Definition: "What became of the ball that the player went for.",
		Options: []Option{
			{Code: "clean", Label: "Clean", Definition: "Caught at the first touch."},
			{Code: "juggled", Label: "Juggled", Definition: "Caught after more than one touch, and kept."},
			{Code: "spilled", Label: "Spilled", Definition: "Touched and not kept."},
			{Code: "beaten", Label: "Beaten", Definition: "Not touched: an opponent had it first, or it landed within 2 " +
				"metres of the player."},
		}},
	{Code: "from", Label: "From", Kinds: []Kind{KindCatch}, Depth: Full,
		Definition: "What ball it was.",
		Options: []Option{
			{Code: "kick_off", Label: "Kick-off", Definition: "A kick-off or a drop-out."},
			{Code: "high_ball", Label: "High ball", Definition: "A kick in play that was in the air for at least 2 seconds."},
			{Code: "other", Label: "Other", Definition: "Any other ball in the air."},
		}},
	{Code: "under_pressure", Label: "Under pressure", Kinds: []Kind{KindCatch}, Depth: Full,
		Definition: "Whether an opponent could get at the catcher.",
		Options:    yesNo("An opponent was within 2 metres when the ball arrived.", "No opponent was.")},

	// Tackle.
	{Code: "result", Label: "Result", Kinds: []Kind{KindTackle}, Depth: Core,
		Definition: "Who came out ahead. A tackle that is high or otherwise illegal is never won, whatever it gained.",
		Options: []Option{
			{Code: "won", Label: "Won", Definition: "Legal, and the carrier was driven back at least 1 metre from the first " +
				"touch, or lost the ball in the contact."},
			{Code: "even", Label: "Even", Definition: "The carrier was brought down or held less than 1 metre either way " +
				"from the first touch, or the tackle gained more and was not legal."},
			{Code: "lost", Label: "Lost", Definition: "The carrier was brought down or held, but made at least 1 metre after " +
				"the first touch, or got a pass away to a team-mate."},
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
			{Code: "first", Label: "First", Definition: "First to make contact with the carrier, or at the same time " +
				"as another."},
			{Code: "assist", Label: "Assist", Definition: "Joined a tackle that a team-mate had begun."},
		}},
	{Code: "seconds_to_feet", Label: "Seconds back to feet", Kinds: []Kind{KindTackle}, Depth: Full,
		Definition: "Seconds from going to ground in the tackle until both feet are down and the player could play on. " +
			"Never measured after a contact with anybody's head: there the player stays down and is looked at.",
		Measure: &Measure{Unit: "s", Max: 60}},

	// Rucks.
	{Code: "effect", Label: "Effect", Kinds: []Kind{KindAttackRuck}, Depth: Core,
		Definition: "What the player's arrival did for the own ball.",
		Options: []Option{
			{Code: "cleared", Label: "Cleared", Definition: "At least one opponent was moved off the ball or back past it."},
			{Code: "secured", Label: "Secured", Definition: "No opponent was moved, but none could get to the ball past " +
				"the player."},
			{Code: "ineffective", Label: "Ineffective",
				Definition: "Neither: an opponent got past, or the player was not needed or late."},
			{Code: "penalised", Label: "Penalised", Definition: "A penalty or a free kick was given against the player.",
				Result: ResultPenaltyConceded},
		}},
	{Code: "effect", Label: "Effect", Kinds: []Kind{KindDefenceRuck}, Depth: Core,
		Definition: "What the player's arrival did to the opponents' ball.",
		Options: []Option{
			{Code: "turnover", Label: "Turnover", Definition: "The own side got the ball, or a penalty or free kick, because " +
				"of the player."},
			{Code: "slowed", Label: "Slowed", Definition: "The opponents kept the ball, but played it 3 seconds or more " +
				"after the tackle because of the player."},
			{Code: "no_effect", Label: "No effect", Definition: "Neither."},
			{Code: "penalised", Label: "Penalised", Definition: "A penalty or a free kick was given against the player.",
				Result: ResultPenaltyConceded},
		}},
	{Code: "arrival", Label: "Arrival", Kinds: []Kind{KindAttackRuck, KindDefenceRuck}, Depth: Full,
		Definition: "When the player reached the ruck, among the own side, carrier and tackler left out.",
		Options: []Option{
			{Code: "first", Label: "First", Definition: "Before the others, or with the first."},
			{Code: "second", Label: "Second", Definition: "Next."},
			{Code: "later", Label: "Later", Definition: "Third or later."},
		}},

	// Set pieces and mauls.
	{Code: "effect", Label: "Effect", Kinds: []Kind{KindScrum}, Depth: Core,
		Definition: "What the own side got from the scrum, while the player was bound in.",
		Options: []Option{
			{Code: "gained", Label: "Gained", Definition: "A penalty or free kick, the ball against the put-in, or at least " +
				"1 metre forward."},
			{Code: "held", Label: "Held", Definition: "Less than 1 metre either way, and the side that put the ball in " +
				"had it next."},
			{Code: "lost", Label: "Lost", Definition: "A penalty or free kick against, the ball on the own put-in, or at " +
				"least 1 metre back."},
		}},
	{Code: "effect", Label: "Effect", Kinds: []Kind{KindLineout}, Depth: Core,
		Definition: "What the own side got from the lineout, judged by the part the player had in it.",
		Options: []Option{
			{Code: "gained", Label: "Gained", Definition: "Own throw: caught or tapped cleanly where it was meant to go. " +
				"Their throw: won, or a penalty or free kick."},
			{Code: "held", Label: "Held", Definition: "Own throw: kept, but not cleanly or not where it was meant to go. " +
				"Their throw: they kept it, but not cleanly because the throw was contested."},
			{Code: "lost", Label: "Lost", Definition: "Own throw: not straight, lost, or a penalty or free kick against. " +
				"Their throw: won cleanly, or a penalty or free kick against."},
		}},
	{Code: "effect", Label: "Effect", Kinds: []Kind{KindMaul}, Depth: Core,
		Definition: "What the own side got from the maul, while the player was bound in.",
		Options: []Option{
			{Code: "gained", Label: "Gained", Definition: "A penalty or free kick, the ball against the other side's " +
				"possession, or at least 1 metre forward."},
			{Code: "held", Label: "Held", Definition: "Less than 1 metre either way, and the side that had the ball kept it."},
			{Code: "lost", Label: "Lost", Definition: "A penalty or free kick against, the ball on the own possession, or at " +
				"least 1 metre back."},
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
		Definition: "What the run was worth, whether or not the ball came.",
		Options: []Option{
			{Code: "created", Label: "Created", Definition: "A defender stopped, turned or moved at least 2 metres for it, " +
				"and somebody else got the room; or the player got the ball in open space."},
			{Code: "option", Label: "Option", Definition: "The ball could have been passed: onside, within a pass, seen by " +
				"the carrier, and running."},
			{Code: "none", Label: "None", Definition: "Neither."},
		}},
	{Code: "line", Label: "Line", Kinds: []Kind{KindSupportLine}, Depth: Full,
		Definition: "Where the run went, seen from the team-mate with the ball.",
		Options: []Option{
			{Code: "hard", Label: "Hard", Definition: "Straight at the defence, close to the passer."},
			{Code: "behind", Label: "Behind", Definition: "Behind a team-mate who runs at the defence."},
			{Code: "inside", Label: "Inside", Definition: "On the side where the ball came from."},
			{Code: "trail", Label: "Trail", Definition: "Following the carrier, for an offload."},
		}},
	{Code: "received", Label: "Ball received", Kinds: []Kind{KindSupportLine}, Depth: Full,
		Definition: "Whether the ball came to the player on this run.",
		Options:    yesNo("It came.", "It did not.")},
	{Code: "in_place", Label: "In place", Kinds: []Kind{KindReposition}, Depth: Core,
		Definition: "Whether the player was where the team's shape needed somebody, in time.",
		Options: yesNo("There, facing play and ready, when the ball was next played.",
			"Not there, or not ready, when the ball was next played.")},
	{Code: "from", Label: "From", Kinds: []Kind{KindReposition}, Depth: Full,
		Definition: "Where the player was when the involvement before it ended.",
		Options: []Option{
			{Code: "ground", Label: "Ground", Definition: "On the ground, after a carry or a tackle."},
			{Code: "ruck", Label: "Ruck", Definition: "On the feet at a ruck."},
			{Code: "maul", Label: "Maul", Definition: "In a maul or a set piece."},
			{Code: "chase", Label: "Chase", Definition: "Running after a kick, a break or the ball."},
		}},
	{Code: "to", Label: "To", Kinds: []Kind{KindReposition}, Depth: Full,
		Definition: "The place that the player made for.",
		Options: []Option{
			{Code: "first_receiver", Label: "First receiver", Definition: "Where the first pass from the next ruck goes."},
			{Code: "inside", Label: "Inside", Definition: "In attack, between the ball and the first receiver or " +
				"behind the ball."},
			{Code: "outside", Label: "Outside", Definition: "In attack or defence, further out than the first receiver or " +
				"the defender opposite."},
			{Code: "guard", Label: "Guard", Definition: "In defence, one of the first two places beside the ruck."},
			{Code: "backfield", Label: "Backfield", Definition: "Behind the line of defence, for a kick or a break."},
		}},
	{Code: "seconds", Label: "Seconds", Kinds: []Kind{KindReposition}, Depth: Full,
		Definition: "Seconds from the end of the involvement before it until the player was in place. Never measured " +
			"after a contact with anybody's head.",
		Measure: &Measure{Unit: "s", Max: 60}},
	{Code: "offered", Label: "Offered", Kinds: []Kind{KindReposition}, Depth: Full,
		Definition: "Whether the player asked for the ball or said where the danger was.",
		Options:    yesNo("Called, or put a hand up.", "Neither, as far as the video tells.")},
	{Code: "ball_came", Label: "Ball came", Kinds: []Kind{KindReposition}, Depth: Full,
		Definition: "Whether play came to the place that the player had made for.",
		Options:    yesNo("The ball, or its carrier, came within 5 metres of it in the next phase.", "It did not.")},
}
