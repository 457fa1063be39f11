package models

// Play is everything recorded of one player in one match.
type Play struct {
	Match      Match
	Appearance Appearance // with its stints
	Logs       []LoggedPlay
	Totals     *MatchTotals // absent where there are none
}

// LoggedPlay is a log with its involvements.
type LoggedPlay struct {
	Log          Log
	Involvements []Involvement
}
