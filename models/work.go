package models

// WorkKind is a kind of thing that an academy's managers see to.
type WorkKind string

// The kinds of work, the most urgent first: managers read their list in this order.
const (
	WorkHeadContacts WorkKind = "head-contacts" // head contacts not yet reported to the medical lead
	WorkConsents     WorkKind = "consents"      // players with missing consents
	WorkBirthdays    WorkKind = "birthdays"     // players about to turn 18
	WorkLimits       WorkKind = "limits"        // players near or over a limit on minutes
	WorkReviews      WorkKind = "reviews"       // overdue reviews
	WorkMinutes      WorkKind = "minutes"       // matches without minutes
	WorkLogs         WorkKind = "logs"          // matches without a log
	WorkGrades       WorkKind = "grades"        // matches without grades
	WorkAccounts     WorkKind = "accounts"      // users who have not joined yet
)

// WorkInfo describes a kind of work.
type WorkInfo struct {
	Code WorkKind
	// what a count of 1 and of several is called, after the number
	One, Many string
	Title     string // of its list
	About     string // what the list has, and what is to be done
	None      string // said if nothing waits
}

var works = [...]WorkInfo{
	{WorkHeadContacts, "head contact not yet reported", "head contacts not yet reported",
		"Head contacts not yet reported to the medical lead",
		"Tell the medical lead now, then record who you told.",
		"Every head contact is reported to the medical lead."},
	{WorkConsents, "player with missing consents", "players with missing consents", "Missing consents",
		"Players of this season without a consent that the academy requires: a guardian’s for a minor, their own for an " +
			"adult.",
		"Every player this season has the consents the academy requires."},
	{WorkBirthdays, "player turning 18", "players turning 18", "Players turning 18",
		"From the eighteenth birthday players consent for themselves, and a guardian’s print is refused. Have the player " +
			"sign the form, and enter their own consents from the birthday on: then the player leaves this list.",
		"No player who turns 18 within a month has to be asked for consents."},
	{WorkLimits, "player near or over a limit", "players near or over a limit",
		"Minutes or contact near or over a limit",
		"Minutes for all of a player’s teams, against the limits that the academy entered.",
		"No player is near a limit the academy entered."},
	{WorkReviews, "overdue review", "overdue reviews", "Overdue reviews",
		"Players whose review should have been written by now.",
		"No review is overdue."},
	{WorkMinutes, "match without minutes", "matches without minutes", "Matches without minutes",
		"Matches of this season, before today, with no team sheet or with players whose minutes are not recorded.",
		"Every match so far this season has its minutes."},
	{WorkLogs, "match without a log", "matches without a log", "Matches without a log",
		"Matches of this season with a team sheet and no finished log of any player.",
		"Every match with a team sheet has a log."},
	{WorkGrades, "match without grades", "matches without grades", "Matches without grades",
		"Matches of this season with a team sheet and no grade by any coach. Where coaches grade only training blocks, " +
			"there are none.",
		"Every match with a team sheet has grades."},
	{WorkAccounts, "user who has not joined", "users who have not joined", "Users who have not joined",
		"Users without a password yet. A link that has ended is replaced by a new one.",
		"Every user has joined."},
}

// Works describes the kinds of work, in their order.
func Works() []WorkInfo { return append([]WorkInfo(nil), works[:]...) }

// Codes lists the kinds of work in the order in which people read them.
func (WorkKind) Codes() []WorkKind {
	var all []WorkKind
	for _, w := range works {
		all = append(all, w.Code)
	}
	return all
}

// Work is one thing on an academy's list of work. It follows from records when it is asked for, and goes when they say
// that it is done.
type Work struct {
	PlayerID int64  // 0: it is about no player
	Name     string // the player, match or user
	Said     string // what is the matter, as a clause
	Do       string // what is done on the page at Link, as a button would say it
	Link     string
}

// WorkCount is how many things of a kind are on the list.
type WorkCount struct {
	WorkInfo
	N int
}
