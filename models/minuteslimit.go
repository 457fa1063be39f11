package models

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// MinutesLimit is a limit on how much a player may play, or train in contact, for all of their teams together. The
// academy enters its governing body's limits and its own; none are built in.
type MinutesLimit struct {
	Record
	Name string `json:"name" limit:"name 1..100"` // unique in the academy
	// what it counts: matches, the minutes played; or training_contact, the minutes of contact at training. matches by
	// default
	Counts Counted `json:"counts"`
	// the squad whose members it applies to; absent: all players
	SquadID *int64 `json:"squad_id,omitempty"`
	// the length of the rolling window, 1 to 365 days; 0: the season
	Days    int     `json:"days" limit:"0..365"`
	Minutes float64 `json:"minutes" limit:"1..50000"` // the most minutes in a window
	// the share of the limit at which to warn; 0.8 by default
	WarnAt float64 `json:"warn_at" limit:"0.5..1"`
}

// Counted is what a limit of minutes counts.
type Counted string

// What a limit may count.
const (
	CountsMatches Counted = "matches"          // minutes played in matches
	CountsContact Counted = "training_contact" // minutes of contact at training
)

// warnAt is the share of a limit from which it warns, if it has none of its own.
const warnAt = 0.8

// Complete fills in what may be left out.
func (l *MinutesLimit) Complete() {
	if l.WarnAt == 0 {
		l.WarnAt = warnAt
	}
	if l.Counts == "" {
		l.Counts = CountsMatches
	}
}

// Validate checks the limit's own fields.
func (l MinutesLimit) Validate() error {
	var f findings
	f.limits("", &l)
	if l.Counts != "" {
		oneOf(&f, "counts", l.Counts)
	}
	f.refIfAny("squad_id", l.SquadID)
	return f.err("limit of minutes")
}

// Played is one appearance of a player, for whichever team, or their contact at one training session.
type Played struct {
	MatchID int64
	Date    Date
	Minutes float64
	// AtMost is set where the minutes were not recorded, and Minutes is 0: the length of the match, or of the session.
	AtMost float64
}

// LoadWarning says how near a limit a person is.
type LoadWarning string

// The warnings.
const (
	LoadWithin LoadWarning = "within"
	LoadNear   LoadWarning = "near"
	LoadOver   LoadWarning = "over"
	// LoadUnknown is a limit that is near or passed if the matches without minutes were played to the end, or the
	// sessions without minutes of contact were all contact.
	LoadUnknown LoadWarning = "unknown"
)

// Load is how much of a limit a player has used.
type Load struct {
	LimitID int64   `json:"limit_id"` // the id of the limit
	Name    string  `json:"name"`     // the name of the limit
	Counts  Counted `json:"counts"`   // what the limit counts
	Days    int     `json:"days"`     // the length of the window in days; 0: the season
	Limit   float64 `json:"limit"`    // the limit, in minutes
	Now     float64 `json:"now"`      // the minutes in the window that ends on the day asked about
	Most    float64 `json:"most"`     // the minutes in the fullest window of the season so far
	// the first day of the fullest window; absent if nothing was played
	From *Date `json:"from,omitempty"`
	To   *Date `json:"to,omitempty"` // the last day of the fullest window
	// how many matches, or sessions, in the windows up to that day have no recorded minutes; they are not in any sum
	Unrecorded int `json:"unrecorded,omitempty"`
	// how many matches, or sessions, in the window that ends on that day have no recorded minutes
	UnrecordedNow int `json:"unrecorded_now,omitempty"`
	// How close the fullest window is to the limit: within; near, from the share at which the limit warns; over; or
	// unknown, if matches without minutes could take a window that far
	Warning LoadWarning `json:"warning"`
	Words   string      `json:"words"` // the fullest window, in words
	// the same for the window that ends on the day asked about; within, if the limit's period is over
	WarningNow LoadWarning `json:"warning_now"`
	// the window that ends on the day asked about, in words
	WordsNow string `json:"words_now"`
}

// Load returns how much of the limit a player had used by a day. It takes all of the player's appearances, and leaves
// out those after the day. It adds up the minutes in each window of the limit's days that ends within the season (a
// window may begin before it), and reports the fullest one, the latest if several are equal.
func (l MinutesLimit) Load(played []Played, season Season, day Date) Load {
	out := Load{LimitID: l.ID, Name: l.Name, Counts: cmp.Or(l.Counts, CountsMatches), Days: l.Days, Limit: l.Minutes,
		Warning: LoadWithin}
	sorted := slices.Clone(played)
	slices.SortStableFunc(sorted, func(a, b Played) int { return cmp.Compare(a.Date, b.Date) })
	begins := func(end Date) Date {
		if l.Days == 0 {
			return season.Starts
		}
		return end.AddDays(1 - l.Days)
	}
	until := min(day, season.Ends)
	sum, atMost, most, first := 0.0, 0.0, 0.0, 0 // atMost is the sum with the whole of matches without minutes
	for i, p := range sorted {
		if p.Date > until {
			break
		}
		sum, atMost = sum+p.Minutes, atMost+p.Minutes+p.AtMost
		for first <= i && sorted[first].Date < begins(p.Date) {
			sum, atMost = sum-sorted[first].Minutes, atMost-sorted[first].Minutes-sorted[first].AtMost
			first++
		}
		if p.AtMost > 0 && p.Date >= begins(season.Starts) {
			out.Unrecorded++
		}
		if p.Date < season.Starts {
			continue
		}
		most = max(most, atMost)
		if p.AtMost == 0 && sum >= out.Most {
			from, to := begins(p.Date), p.Date
			out.Most, out.From, out.To = sum, &from, &to
		}
	}
	mostNow := 0.0
	for _, p := range sorted {
		if p.Date > until || p.Date < begins(day) {
			continue
		}
		out.Now, mostNow = out.Now+p.Minutes, mostNow+p.Minutes+p.AtMost
		if p.AtMost > 0 {
			out.UnrecordedNow++
		}
	}
	if out.To == nil { // no minutes are recorded
		out.Warning, out.Words = l.said(0, until, most, out.Unrecorded)
	} else {
		out.Warning, out.Words = l.said(out.Most, *out.To, most, out.Unrecorded)
	}
	out.WarningNow, out.WordsNow = l.said(out.Now, day, mostNow, out.UnrecordedNow)
	if l.Days == 0 && day > season.Ends {
		out.WarningNow, out.WordsNow = LoadWithin, fmt.Sprintf("within the limit “%s”: the season is over", l.Name)
	}
	return out
}

// JustNow leaves out what is said of the fullest window.
func (l Load) JustNow() Load {
	l.Most, l.From, l.To, l.Unrecorded, l.Warning, l.Words = 0, nil, nil, 0, "", ""
	return l
}

// window is the limit's window in words.
func (l MinutesLimit) window() string {
	switch l.Days {
	case 0:
		return "the season"
	case 1:
		return "1 day"
	}
	return fmt.Sprintf("%d days", l.Days)
}

// said is how near minutes in a window up to a day come to the limit, and the same in words. The minutes may be as
// many as atMost, because those of some matches were not recorded.
func (l MinutesLimit) said(minutes float64, to Date, atMost float64, unrecorded int) (LoadWarning, string) {
	const rounding = 1e-9
	missing, minutesOf := l.missing(unrecorded), l.minutesOf()
	words := func(how string, shown float64) string {
		return fmt.Sprintf("%s the limit “%s”: %s of %s %s in %s up to %s%s", how, l.Name, grouped(shown),
			grouped(l.Minutes), minutesOf, l.window(), to.inWords(), missing)
	}
	shown, near := math.Round(minutes), l.WarnAt*l.Minutes-rounding
	switch {
	case minutes > l.Minutes+rounding:
		if shown <= l.Minutes { // over a limit never reads as equal to it
			shown = math.Ceil(minutes)
		}
		return LoadOver, words("over", shown)
	case minutes >= near:
		return LoadNear, words("near", shown)
	case atMost >= near && unrecorded > 0:
		return LoadUnknown, words("perhaps near", shown)
	case minutes == 0 && unrecorded == 0:
		return LoadWithin, fmt.Sprintf("within the limit “%s”: 0 of %s %s in %s", l.Name, grouped(l.Minutes), minutesOf,
			l.window())
	}
	return LoadWithin, fmt.Sprintf("within the limit “%s”: at most %s of %s %s in %s%s", l.Name, grouped(shown),
		grouped(l.Minutes), minutesOf, l.window(), missing)
}

// minutesOf is what the limit counts, in words.
func (l MinutesLimit) minutesOf() string {
	if l.Counts == CountsContact {
		return "minutes of contact at training"
	}
	return "minutes"
}

// missing says in words how many matches or sessions have no recorded minutes, after a semicolon; empty for none.
func (l MinutesLimit) missing(unrecorded int) string {
	what, one, several := "minutes", "match", "matches"
	if l.Counts == CountsContact {
		what, one, several = "minutes of contact", "session", "sessions"
	}
	switch unrecorded {
	case 0:
		return ""
	case 1:
		return fmt.Sprintf("; the %s of 1 %s were not recorded", what, one)
	}
	return fmt.Sprintf("; the %s of %d %s were not recorded", what, unrecorded, several)
}

// grouped writes a number with commas between its thousands.
func grouped(v float64) string {
	whole, part, _ := strings.Cut(number(v), ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if part != "" {
		whole += "." + part
	}
	return whole
}

// Safety is what must be known about a player before anything else. What the caller may not read is left out.
type Safety struct {
	Actions      []ContactAction // needed before contact, for staff
	HeadContacts []HeadContact   // not yet reported to the medical lead
	StandDowns   []StandDown     // that hold
	Missing      []Purpose       // consents that the academy requires of this player and does not have
	Loads        []Load          // near or over a limit now, or not known to be within
	History      SafetyHistory
}

// SafetyHistory is what is over: it needs no action.
type SafetyHistory struct {
	HeadContacts []HeadContact // reported to the medical lead
	StandDowns   []StandDown   // that have ended
	Loads        []Load        // near or over a limit earlier in the season
}
