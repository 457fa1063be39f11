package models

// Narrow has the filters that all lists share, as far as their records have the fields. A zero field does not filter.
type Narrow struct {
	From, To *Date // the first and the last day
	// a squad is that of the match or of the record, or one that the player is a member of
	SeasonID, SquadID, PlayerID, MatchID int64
	GoalID                               int64
	Indicator, Skill                     string // by code
}
