package models

// LeastGraders is how many coaches, at the least, stand behind an adjusted grade that a player is shown: one coach's
// would be that coach's own grades.
const LeastGraders = 2

// LeastSeverities is how many coaches, at the least, have graded a skill in a squad's season before one of them is
// shown their own severity: with fewer, it tells the others'.
const LeastSeverities = 4

// AdjustedGrade is a player's grade of a skill over the season, as the squad's coaches would give it on average: how
// strict each of them is has been estimated and taken out.
type AdjustedGrade struct {
	Grades  int `json:"grades"`  // how many grades coaches gave the player
	Coaches int `json:"coaches"` // how many coaches gave them
	Estimate
}

// ForPlayers is what players may be shown of an adjusted grade: nil unless LeastGraders coaches stand behind it. A nil
// grade stays nil.
func (a *AdjustedGrade) ForPlayers() *AdjustedGrade {
	if a == nil || a.Coaches < LeastGraders {
		return nil
	}
	return a
}

// published is what a publication shows of it, rounded as papers print it.
func (a *AdjustedGrade) published(grain float64) *AdjustedGrade {
	if a = a.ForPlayers(); a == nil {
		return nil
	}
	return &AdjustedGrade{a.Grades, a.Coaches, a.Estimate.round(grain)}
}

// Severities says how strict each coach is in a squad's season: by skill and by user, how many grades below the other
// coaches they grade the same play.
type Severities map[string]map[int64]float64
