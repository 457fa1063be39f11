package models

// Narrow is what every list can be narrowed by alike, as far as its records allow. What is zero narrows nothing.
type Narrow struct {
	From, To *Date // the first and the last day
	// a squad is that of the match or of the record, or one that the player is a member of
	SeasonID, SquadID, PlayerID, MatchID int64
	GoalID                               int64
	Indicator, Skill                     string // by code
}
