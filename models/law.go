package models

// What the Laws of the Game say and the program relies on (World Rugby, Laws of the Game: Law 3 for the numbers of
// players, Law 5 for the length of a match, and the under-19 variations).
const (
	LawHalves             = 2  // Law 5
	LawHalfMinutes        = 40 // Law 5: at most
	LawHalfMinutesUnder19 = 35 // under-19 variations to Law 5
	LawPlayersASide       = 15 // Law 3: at most, on the pitch
	LawMatchSquad         = 23 // Law 3: starters and replacements, at most, in international matches
)

// UnderAgeScrum is shown wherever scrums are. It is common practice; the union's variations come first.
const UnderAgeScrum = "Under 19: push no further than 1.5 metres, and do not push at all in an uncontested scrum. " +
	"This is common practice: check with your union."

// ScrumHint returns UnderAgeScrum for the skill or the indicator of scrums, by its code, and nothing for another.
func ScrumHint(code string) string {
	if code == "scrum" || code == "scrums_kept" {
		return UnderAgeScrum
	}
	return ""
}

// How far a clock is believed: competitions may play more halves than two (extra time), and a half may run on past its
// regular end. More than that is a slip of the pen, mostly the wrong half.
const (
	mostHalves       = 4
	mostClock        = 12_000
	mostAddedSeconds = 20 * 60
)

// The pitch in metres, as the log draws it: the longest and widest field of play, and the lines that a place is read
// from (World Rugby, Laws of the Game, Law 1; from memory).
const (
	LawPitchLength   = 100 // between the goal lines, at most
	LawPitchWidth    = 70  // between the touchlines, at most
	LawInGoal        = 10  // drawn; the Law allows 6 to 22
	LawFromGoalLine  = 22  // the 22-metre lines
	LawFromHalfway   = 10  // the 10-metre lines
	LawFromTouchline = 15  // the broken lines along the pitch; others are 5 metres in
	LawNearTouchline = 5
)

// CloseMetres is how far across the pitch from where the ball was last brought into play close ends: see the
// definition of the width in the catalogue of details.
const CloseMetres = 10
