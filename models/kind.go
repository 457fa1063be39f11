package models

// KindInfo describes a kind of involvement.
type KindInfo struct {
	Code       Kind   `json:"code"`
	Label      string `json:"label"`
	Definition string `json:"definition"`
}

var kinds = [...]KindInfo{
	{KindCarry, "Carry", "The player has the ball in hand and takes it forward for 3 strides or more, or into contact."},
	{KindPass, "Pass", "The player throws or hands the ball to a team-mate while no opponent is holding the player. A " +
		"touch is not holding."},
	{KindOffload, "Offload", "The player passes the ball while an opponent holds the player, or while falling " +
		"in a tackle."},
	{KindKick, "Kick", "The player kicks the ball in play. Kicks at goal and restart kicks are not logged."},
	{KindCatch, "Catch", "The player goes for a ball in the air that did not come from a team-mate's pass or throw, " +
		"whether or not they catch it."},
	{KindTackle, "Tackle", "The player tries to stop a ball carrier who is within arm's reach, whether or not they " +
		"succeed. One carrier in one phase is one tackle, judged at its end."},
	{KindAttackRuck, "Attack ruck", "The player comes within 1 metre of a tackle or ruck that follows a team-mate's " +
		"carry, to keep the ball."},
	{KindDefenceRuck, "Defence ruck", "The player comes within 1 metre of a tackle or ruck that follows an opponent's " +
		"carry, to win or slow the ball. The tackler counts only after letting go and getting up."},
	{KindScrum, "Scrum", "The player is bound into a scrum when the ball is thrown in, or throws it in. A reset scrum " +
		"counts once. " + UnderAgeScrum},
	{KindLineout, "Lineout", "The player throws, jumps or lifts at a lineout, for either side's throw."},
	{KindMaul, "Maul", "The player is bound into a maul for 1 second or more."},
	{KindSupportLine, "Support line", "The player runs 5 metres or more without the ball, while a team-mate has it in " +
		"open play or a pass to that team-mate is in the air. It begins with the first running stride. It ends when the " +
		"team-mate passes, kicks, is held or is down."},
	{KindReposition, "Reposition", "Between two phases. A place is owed each time the player did something in a phase " +
		"and another phase of open play follows, whether or not the player gets there. It is logged once for that phase, " +
		"and not at all if the whistle blows or the ball is dead before then."},
}

// Kinds returns the kinds of involvement in the order in which they are listed, as a new slice.
func Kinds() []KindInfo { k := kinds; return k[:] }

// Label returns the kind as printed, empty for an unknown one.
func (k Kind) Label() string {
	if n := k.number(); n >= 0 {
		return kinds[n].Label
	}
	return ""
}

// number returns the kind's place in kinds, -1 for an unknown one.
func (k Kind) number() int {
	for i := range kinds {
		if kinds[i].Code == k {
			return i
		}
	}
	return -1
}

// ResultInfo describes a result of an involvement.
type ResultInfo struct {
	Code       Result `json:"code"`
	Label      string `json:"label"`
	Definition string `json:"definition"`
}

var results = [...]ResultInfo{
	{ResultTry, "Try", "The player scored a try."},
	{ResultTryAssist, "Try assist", "The player's pass, offload or kick went straight to the try scorer."},
	{ResultLineBreak, "Line break", "The player, or the receiver of the player's pass, got past every defender of the " +
		"front line with the ball in hand."},
	{ResultTurnoverWon, "Turnover won", "The player took the ball from the other side, or made the carrier lose it, " +
		"and the player's side had it next."},
	{ResultTurnoverConceded, "Turnover conceded",
		"The player lost, passed or dropped the ball, and the other side had it next. A kick is not a turnover."},
	{ResultPenaltyWon, "Penalty won", "A penalty or a free kick was given to the player's side for an offence against " +
		"the player or against what the player did."},
	{ResultPenaltyConceded, "Penalty conceded", "A penalty or a free kick was given against the player."},
	{ResultError, "Error", "The player lost the ball forward, threw it forward, dropped it, carried it into touch or " +
		"kicked it out on the full."},
}

// Results returns the results in the order in which they are listed, as a new slice.
func Results() []ResultInfo { r := results; return r[:] }

// Label returns the result as printed, empty for an unknown one.
func (r Result) Label() string {
	for i := range results {
		if results[i].Code == r {
			return results[i].Label
		}
	}
	return ""
}
