package models

// Readers of one player may read different figures: some grades are hidden from a reader for a time, some players from
// selectors, and a player's levels are published round by round. Each line here says so beside the figures. It follows
// from who reads and from the day, so that it tells nothing of what is hidden.

// OtherLevels is the line beside a player's levels, comparisons and whatever stands on them, for the player or for
// staff; hidden says whether players are hidden from the reader.
func OtherLevels(own, hidden bool) string {
	switch {
	case own:
		return "These levels stand on the last complete round. Staff may read newer ones."
	case hidden:
		return "Coaches may read other figures: yours leave out players who are hidden from you."
	}
	return "Players read the levels of their last complete round. Selectors read them without players hidden from them."
}

// SelectorsEvidence is the line beside a meeting's evidence where selectors read another copy of it.
const SelectorsEvidence = "Selectors may read other figures: theirs leave out players who are hidden from them."

// OwnGrades is the line beside what a player is shown of coaches' grades.
const OwnGrades = "You are shown grades that two coaches or more stand behind. Staff read each grade."

// GradesSeen says which of a season's coaches' grades a member of staff reads.
type GradesSeen string

// What staff read of grades. It is empty where every grade of the season counts: then all staff read the same.
const (
	EveryGrade     GradesSeen = "every"     // a manager
	GradesAfterOwn GradesSeen = "after_own" // a coach: of those that do not count yet, where they have given their own
	CountingGrades GradesSeen = "counting"  // a selector
)

// Line is the line beside coaches' grades and what stands on them; empty where all staff read the same ones.
func (g GradesSeen) Line() string {
	return map[GradesSeen]string{
		EveryGrade: "Coaches read another coach’s grade that does not count yet only after giving their own. Selectors " +
			"do not read it.",
		GradesAfterOwn: "You read another coach’s grade that does not count yet only after giving your own. Managers " +
			"read all of them.",
		CountingGrades: "You read grades once they count. Coaches and managers may read some of them earlier.",
	}[g]
}
