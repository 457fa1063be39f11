package models

// KindInfo describes a kind of involvement.
type KindInfo struct {
	Code       Kind   `json:"code"`
	Label      string `json:"label"`
	Definition string `json:"definition"`
}

var kinds = [...]KindInfo{
	{KindCarry, "Carry", "The player takes the ball forward in hand, or tries to, for at least one stride."},
	{KindPass, "Pass", "The player throws or hands the ball to a team-mate while not held by an opponent."},
	{KindOffload, "Offload", "The player passes the ball while held by an opponent, or while falling in a tackle."},
	{KindKick, "Kick", "The player kicks the ball in play. Kicks at goal and restart kicks are not logged."},
	{KindCatch, "Catch", "The player goes for a ball in the air that did not come from a team-mate's pass or throw, " +
		"caught or not."},
	{KindTackle, "Tackle", "The player tries to stop a ball carrier who is within reach of an arm, whether it " +
		"succeeds or not."},
	{KindAttackRuck, "Attack ruck", "The player comes within a stride of a tackle or ruck that follows a team-mate's " +
		"carry, to keep the ball."},
	{KindDefenceRuck, "Defence ruck", "The player comes within a stride of a tackle or ruck that follows an opponent's " +
		"carry, to win or slow the ball."},
	{KindScrum, "Scrum", "The player is bound into a scrum when the ball is thrown in, or throws it in."},
	{KindLineout, "Lineout", "The player throws, jumps or lifts at a lineout, for either side's throw."},
	{KindMaul, "Maul", "The player is bound into a maul for at least one second."},
	{KindSupportLine, "Support line", "The player runs, without the ball, to be within a pass of the team-mate who has " +
		"it or is about to."},
	{KindReposition, "Reposition", "Once an involvement is over, the player gets to the next place in the team's " +
		"shape, in attack or in defence."},
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
	{ResultTryAssist, "Try assist", "The player's pass, offload or kick went straight to the scorer of a try."},
	{ResultLineBreak, "Line break", "The player, or the receiver of the player's pass, went through or round the first " +
		"line of defence with the ball in hand."},
	{ResultTurnoverWon, "Turnover won", "The player's side got the ball from the other side because of what the " +
		"player did."},
	{ResultTurnoverConceded, "Turnover conceded", "The other side got the ball because of what the player did."},
	{ResultPenaltyWon, "Penalty won", "The player's side was given a penalty or a free kick because of what the " +
		"player did."},
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
