package models

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// UsualReviewWeeks is a squad's cycle where none is set.
const UsualReviewWeeks = 6

// soonDays is how many days before its day a review is due soon.
const soonDays = 7

// Cycle is how many weeks lie between two reviews of a player of the squad.
func (s Squad) Cycle() int {
	if s.ReviewWeeks == 0 {
		return UsualReviewWeeks
	}
	return s.ReviewWeeks
}

// ReviewStatus says how a player stands in their squad's review cycle.
type ReviewStatus string

// The statuses, the most urgent first.
const (
	ReviewOverdue ReviewStatus = "overdue"
	ReviewDue     ReviewStatus = "due"      // today
	ReviewDueSoon ReviewStatus = "due_soon" // within seven days
	ReviewPaused  ReviewStatus = "paused"   // the clock stands still today
	ReviewNotDue  ReviewStatus = "not_due"
	ReviewLeaving ReviewStatus = "leaving" // the player leaves the squad before the day
)

// Codes lists the statuses, the most urgent first.
func (ReviewStatus) Codes() []ReviewStatus {
	return []ReviewStatus{ReviewOverdue, ReviewDue, ReviewDueSoon, ReviewPaused, ReviewNotDue, ReviewLeaving}
}

// PauseReason says why the clock of a cycle stands still. It holds no medical detail.
type PauseReason string

// The reasons.
const (
	PauseUnavailable PauseReason = "unavailable"
	PauseStandDown   PauseReason = "stand_down"
)

// Codes lists the reasons.
func (PauseReason) Codes() []PauseReason { return []PauseReason{PauseUnavailable, PauseStandDown} }

// InWords is the reason inside a sentence.
func (r PauseReason) InWords() string {
	if r == PauseStandDown {
		return "stood down"
	}
	return "not available"
}

// Reviewable is what the cycle of one squad is worked out from, for one player of it.
type Reviewable struct {
	Squad       Squad
	PlayerID    int64
	Memberships []Membership // of the player in the squad
	// the last days of the memberships' seasons, by season
	Ends       map[int64]Date
	Reviews    []Review    // of the player in the squad; drafts do not count
	Spells     []Spell     // of the player
	StandDowns []StandDown // of the player
}

// DueReview is a member of a squad in the squad's review cycle.
type DueReview struct {
	PlayerID int64 `json:"player_id"`
	SquadID  int64 `json:"squad_id"`
	SeasonID int64 `json:"season_id"`
	// the membership with which the player's time in the squad began
	MembershipID int64 `json:"membership_id"`

	Status ReviewStatus `json:"status"`
	// the day of the review to come; absent while the clock stands still without an end
	Due *Date `json:"due,omitempty"`
	// for how many days it has been overdue; days on which the clock stood still do not count
	OverdueDays int `json:"overdue_days,omitempty"`
	// why the clock stands still today, without medical detail
	PausedBy    PauseReason `json:"paused_by,omitempty"`
	PausedSince *Date       `json:"paused_since,omitempty"` // the first day of the pause
	PausedUntil *Date       `json:"paused_until,omitempty"` // the last day of the pause, if it is known
	// the latest shared review in this squad; absent if the player was never reviewed in it
	LastReviewID  *int64 `json:"last_review_id,omitempty"`
	LastReview    *Date  `json:"last_review,omitempty"` // its date
	NeverReviewed bool   `json:"never_reviewed"`        // true if there is no shared review in this squad
	// the day from which the clock counts: the last review; without one the day on which the player joined or, if that
	// was later in the season, the day on which the membership was entered here
	CountedFrom Date `json:"counted_from"`
	// the users who are to write it: see by_because
	By        []int64   `json:"by"`
	ByBecause ByBecause `json:"by_because"` // why these users
	Words     string    `json:"words"`      // how the player stands, as a sentence

	entered bool // counted from the day on which the membership was entered
}

// pause is a stretch of days on which the clock stands still.
type pause struct {
	from   Date
	until  *Date // its last day; nil: no end yet
	reason PauseReason
}

func (p pause) has(day Date) bool { return p.from <= day && (p.until == nil || day <= *p.until) }

// On works out how the player stands on a day; false if they are not a member of the squad that day.
//
// The clock starts with the latest shared review, or with the day on which the player joined if that is later: see
// startOf for a membership that was entered here after the player had joined. It counts every day after it on which
// the player is neither unavailable nor stood down. The review is due on the day on which it has counted the squad's
// cycle: six weeks from 1 September without a pause is 13 October. A player who trains with limits can be reviewed, so
// such a spell stops nothing.
func (r Reviewable) On(today Date) (DueReview, bool) {
	joined, until, member := stretchOn(r.Memberships, today)
	if !member {
		return DueReview{}, false
	}
	d := DueReview{PlayerID: r.PlayerID, SquadID: r.Squad.ID, CountedFrom: joined.From, SeasonID: joined.SeasonID,
		MembershipID:  joined.ID,
		NeverReviewed: true, By: []int64{}}
	if last := latestShared(r.Reviews, today); last != nil {
		id, day := last.ID, last.Date
		d.LastReviewID, d.LastReview, d.NeverReviewed = &id, &day, false
		d.CountedFrom = max(d.CountedFrom, day)
	}
	if d.CountedFrom == joined.From {
		d.CountedFrom = r.startOf(joined)
		d.entered = d.CountedFrom > joined.From
	}
	pauses := pausesOf(r.Spells, r.StandDowns)
	d.Due = dueAfter(d.CountedFrom, 7*r.Squad.Cycle(), pauses)
	d.stand(today, until, pauses)
	d.Words = d.words(until)
	return d, true
}

// startOf is the day from which the clock counts for a player without a review since they joined. No one could write
// one here before the membership was entered: a list that is imported in December makes no review overdue that day. A
// membership that was entered after its season stands as it was on the season's last day.
func (r Reviewable) startOf(joined Membership) Date {
	entered := DateOf(joined.CreatedAt)
	if ends, known := r.Ends[joined.SeasonID]; joined.CreatedAt.IsZero() || !known || entered > ends {
		return joined.From
	}
	return max(joined.From, entered)
}

// stand sets the status on a day.
func (d *DueReview) stand(today Date, until *Date, pauses []pause) {
	if d.Due != nil && *d.Due < today {
		d.OverdueDays = counted(*d.Due, today, pauses)
	}
	now := slices.IndexFunc(pauses, func(p pause) bool { return p.has(today) })
	switch {
	case now >= 0:
		p := pauses[now]
		d.Status, d.PausedBy, d.PausedSince, d.PausedUntil = ReviewPaused, p.reason, &p.from, p.until
	case d.Due == nil:
		d.Status = ReviewNotDue
	case d.OverdueDays > 0:
		d.Status = ReviewOverdue
	case *d.Due <= today:
		d.Status = ReviewDue
	case until != nil && *until < *d.Due:
		d.Status = ReviewLeaving
	case today.DaysUntil(*d.Due) <= soonDays:
		d.Status = ReviewDueSoon
	default:
		d.Status = ReviewNotDue
	}
}

// words say how the player stands.
func (d *DueReview) words(until *Date) string {
	var said string
	switch d.Status {
	case ReviewOverdue:
		said = "Overdue by " + days(d.OverdueDays) + ": it was due on " + d.Due.inWords()
	case ReviewDue:
		said = "Due today"
	case ReviewDueSoon:
		said = "Due on " + d.Due.inWords()
	case ReviewPaused:
		said = "Paused: " + d.PausedBy.InWords() + " since " + d.PausedSince.inWords()
		if d.PausedUntil != nil {
			said += ", until " + d.PausedUntil.inWords()
		}
		switch {
		case d.OverdueDays > 0:
			said += ". It was overdue by " + days(d.OverdueDays) + " then"
		case d.Due != nil:
			said += ". Next due on " + d.Due.inWords()
		}
	case ReviewLeaving:
		said = "Leaves the squad on " + until.inWords() + ", before the next review"
	default:
		said = "Not due yet"
		if d.Due != nil {
			said = "Next due on " + d.Due.inWords()
		}
	}
	if d.NeverReviewed && d.entered {
		return said + ". Never reviewed in this squad; counted from " + d.CountedFrom.inWords() + ", when the player was " +
			"entered here."
	}
	if d.NeverReviewed {
		return said + ". Never reviewed in this squad; counted from " + d.CountedFrom.inWords() + "."
	}
	return said + ". Last review on " + d.LastReview.inWords() + "."
}

func days(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}

// stretchOn returns the membership with which the unbroken time in a squad that holds a day began, and the last day of
// that time, nil for the end of the season.
func stretchOn(members []Membership, day Date) (first Membership, until *Date, member bool) {
	all := slices.Clone(members)
	slices.SortFunc(all, func(a, b Membership) int { return strings.Compare(string(a.From), string(b.From)) })
	for _, m := range all {
		follows := member && m.SeasonID == first.SeasonID && (until == nil || m.From <= until.AddDays(1))
		switch {
		case follows && until != nil && (m.Until == nil || *m.Until > *until):
			until = m.Until
		case follows:
		case m.From <= day:
			first, until, member = m, m.Until, true
		}
	}
	return first, until, member && (until == nil || day <= *until)
}

// latestShared is the latest shared review up to a day, nil for none.
func latestShared(all []Review, day Date) *Review {
	var last *Review
	for i, r := range all {
		if r.Shared && r.Date <= day && (last == nil || r.Date > last.Date || r.Date == last.Date && r.ID > last.ID) {
			last = &all[i]
		}
	}
	return last
}

// pausesOf are the stretches on which the clock stands still, in their order and without an overlap. Where a spell and
// a stand-down meet they are one pause, with the reason of the one that began first.
func pausesOf(spells []Spell, downs []StandDown) []pause {
	var all []pause
	for _, s := range spells {
		if s.Status == Unavailable {
			all = append(all, pause{s.From, s.Until, PauseUnavailable})
		}
	}
	for _, s := range downs {
		p := pause{from: s.From, reason: PauseStandDown}
		if s.LiftedOn != nil {
			last := s.LiftedOn.AddDays(-1) // on the day itself the player plays again
			p.until = &last
		}
		if p.until == nil || p.from <= *p.until {
			all = append(all, p)
		}
	}
	slices.SortStableFunc(all, func(a, b pause) int { return strings.Compare(string(a.from), string(b.from)) })
	var merged []pause
	for _, p := range all {
		if n := len(merged) - 1; n >= 0 && (merged[n].until == nil || p.from <= merged[n].until.AddDays(1)) {
			if last := merged[n].until; last != nil && (p.until == nil || *p.until > *last) {
				merged[n].until = p.until
			}
			continue
		}
		merged = append(merged, p)
	}
	return merged
}

// dueAfter is the day on which a clock that starts after a day has counted some days outside the pauses; nil if one
// without an end comes first.
func dueAfter(start Date, days int, pauses []pause) *Date {
	due := start.AddDays(days)
	for _, p := range pauses {
		begin := max(p.from, start.AddDays(1))
		if p.until != nil && *p.until < begin {
			continue
		}
		if begin > due {
			break
		}
		if p.until == nil {
			return nil
		}
		due = due.AddDays(begin.DaysUntil(*p.until) + 1)
	}
	return &due
}

// counted is how many days after one day, up to another, lie outside the pauses.
func counted(after, to Date, pauses []pause) int {
	n := after.DaysUntil(to)
	for _, p := range pauses {
		begin, end := max(p.from, after.AddDays(1)), to
		if p.until != nil {
			end = min(end, *p.until)
		}
		if begin <= end {
			n -= begin.DaysUntil(end) + 1
		}
	}
	return n
}

// ByBecause says why a user is to write a review.
type ByBecause string

// The reasons, in the order in which they count.
const (
	ByLastAuthor ByBecause = "last_author"  // wrote the last review
	ByGoalOwner  ByBecause = "goal_owner"   // owns the player's latest open goal
	ByLeadCoach  ByBecause = "lead_coach"   // leads the squad
	ByCoaches    ByBecause = "squad_coach"  // coaches the squad: one of them writes it, and it is off the lists of all
	ByManager    ByBecause = "no_coach_yet" // manages the academy: the squad has no coach
)

// Codes lists the reasons.
func (ByBecause) Codes() []ByBecause {
	return []ByBecause{ByLastAuthor, ByGoalOwner, ByLeadCoach, ByCoaches, ByManager}
}

// Reviewers are those among whom the writer of a review is chosen.
type Reviewers struct {
	LastAuthor int64 // of the last review; 0: none
	GoalOwner  int64 // of the player's latest open goal; 0: none
	Lead       int64 // the squad's lead coach; 0: none
	Coaches    []int64
	Managers   []int64
}

// Choose returns who is to write a review, and why. Who agreed the last step follows it up; before a first review it
// is the owner of the player's goal; both only while they still coach the squad or manage the academy, because others
// no longer see the player. Then it is the lead coach. A squad without one asks each of its coaches.
func (r Reviewers) Choose() ([]int64, ByBecause) {
	works := func(user int64) bool {
		return user != 0 && (slices.Contains(r.Coaches, user) || slices.Contains(r.Managers, user))
	}
	switch {
	case works(r.LastAuthor):
		return []int64{r.LastAuthor}, ByLastAuthor
	case works(r.GoalOwner):
		return []int64{r.GoalOwner}, ByGoalOwner
	case works(r.Lead):
		return []int64{r.Lead}, ByLeadCoach
	case len(r.Coaches) > 0:
		return slices.Clone(r.Coaches), ByCoaches
	}
	return slices.Clone(r.Managers), ByManager
}

// Waits says whether the review is due or overdue, and the clock does not stand still.
func (d DueReview) Waits() bool { return d.Status == ReviewOverdue || d.Status == ReviewDue }

// IsBy says whether a user is to write the review.
func (d DueReview) IsBy(user int64) bool { return slices.Contains(d.By, user) }

// Address is the page on which the review is written.
func (d DueReview) Address() string {
	return fmt.Sprintf("/players/%d/reviews/new?squad=%d", d.PlayerID, d.SquadID)
}

// Compare orders members of one squad: the most urgent status first, then the longest overdue, then the day.
func (d DueReview) Compare(o DueReview) int {
	order := ReviewStatus("").Codes()
	due := func(d DueReview) Date {
		if d.Due == nil {
			return lastDate
		}
		return *d.Due
	}
	return cmp.Or(slices.Index(order, d.Status)-slices.Index(order, o.Status), o.OverdueDays-d.OverdueDays,
		strings.Compare(string(due(d)), string(due(o))))
}
