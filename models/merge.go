package models

import (
	"strings"
	"time"
)

// MergeUndoDays is for how many days a merge of two players can be undone.
const MergeUndoDays = 30

// PlayerMerge says that two records of one person were made one: what belonged to the other record was moved to the
// record that stays, and the other left all lists.
type PlayerMerge struct {
	Record
	PlayerID int64 `json:"player_id"` // the record that stays
	OtherID  int64 `json:"other_id"`  // the record that went into it
	// the name on the record that stays
	Name string `json:"name,omitempty" gorm:"-"`
	// the name on the other record
	OtherName string `json:"other_name,omitempty" gorm:"-"`
	MergedBy  *int64 `json:"merged_by,omitempty"` // the user who did it; absent for the console
	// how many records moved, by the table that they are kept in
	Moved map[string]int `json:"moved" gorm:"serializer:json"`
	// the last day on which the merge can be undone
	UndoUntil Date       `json:"undo_until,omitempty" gorm:"-"`
	UndoneAt  *time.Time `json:"undone_at,omitempty"` // when the merge was undone
	UndoneBy  *int64     `json:"undone_by,omitempty"` // the user who undid it; absent for the console
	Kept      MergeKept  `json:"-" gorm:"serializer:json" texts:"-"`
}

// MergeKept is what the undo of a merge needs: it names rows, and says nothing about a person.
type MergeKept struct {
	Rows []MergedRow `json:"rows,omitempty"`
	// the fields that the record that stays took over from the other
	Filled   []string        `json:"filled,omitempty"`
	Consents []MergedConsent `json:"consents,omitempty"`
}

// MergedRow is a row that a merge moved or set aside.
type MergedRow struct {
	Table  string `json:"table"`
	Column string `json:"column,omitempty"` // the column that named the other record; empty: the row was set aside
	ID     int64  `json:"id,omitempty"`
	// for tables whose rows have no id: the values of their key
	Key []string `json:"key,omitempty"`
}

// MergedConsent is a consent that ends earlier since the merge: how it ended before, and how since.
type MergedConsent struct {
	ID           int64 `json:"id"`
	Until        *Date `json:"until,omitempty"`
	Withdrawn    *Date `json:"withdrawn,omitempty"`
	NowUntil     *Date `json:"now_until,omitempty"`
	NowWithdrawn *Date `json:"now_withdrawn,omitempty"`
}

// UndoableOn says whether the merge can still be undone on a day, as far as its age goes.
func (m PlayerMerge) UndoableOn(day Date) bool {
	return m.UndoneAt == nil && day <= m.LastUndo()
}

// LastUndo is the last day on which the merge can be undone.
func (m PlayerMerge) LastUndo() Date { return DateOf(m.CreatedAt).AddDays(MergeUndoDays) }

// MergePlan is what a merge would do.
type MergePlan struct {
	Player Player `json:"player"` // the record that would stay
	Other  Player `json:"other"`  // the record that would go into it
	// what each record has, side by side
	Has []MergeCount `json:"has"`
	// what must be mended first; the merge is refused until then
	Refused []MergeClash `json:"refused"`
	// where the two meet, and what the merge would do there
	Settled []MergeClash `json:"settled"`
	// a mark of the plan: send it with the merge, and it is refused if anything in the plan has changed meanwhile
	Seen string `json:"seen"`
}

// MergeCount is how many records of a kind each of two players has.
type MergeCount struct {
	Table  string `json:"table"`  // the table that they are kept in; minutes for the minutes played
	Title  string `json:"title"`  // what they are called
	Player int    `json:"player"` // of the record that would stay
	Other  int    `json:"other"`  // of the other record
}

// MergeClash is a place where the records of two players meet.
type MergeClash struct {
	Table string `json:"table"` // the table of the records
	Words string `json:"words"` // what is there, and what is done or must be done about it
}

// Refusal is a Conflict that says all that must be mended before the merge, or nil if nothing must be.
func (p MergePlan) Refusal() error {
	if len(p.Refused) == 0 {
		return nil
	}
	words := make([]string, len(p.Refused))
	for i, c := range p.Refused {
		words[i] = c.Words
	}
	return Errorf(Conflict, "the two records cannot be merged yet. %s", strings.Join(words, " "))
}

// Stricter returns how each of two players' consents must end once they are one person, where that is earlier than
// now. A withdrawal ends every consent to the same purpose that was given by its day; an end date ends every one that
// was in force on it.
func Stricter(a, b []Consent) []MergedConsent {
	var all []MergedConsent
	for _, side := range [2][2][]Consent{{a, b}, {b, a}} {
		for _, c := range side[0] {
			now := c
			for _, o := range side[1] {
				if o.Purpose != c.Purpose {
					continue
				}
				now.Until = sooner(now.Until, o.Until, c.On)
				now.WithdrawnOn = sooner(now.WithdrawnOn, o.WithdrawnOn, c.On)
			}
			if now.Until != c.Until || now.WithdrawnOn != c.WithdrawnOn {
				all = append(all, MergedConsent{ID: c.ID, Until: c.Until, Withdrawn: c.WithdrawnOn,
					NowUntil: now.Until, NowWithdrawn: now.WithdrawnOn})
			}
		}
	}
	return all
}

// sooner is the earlier of two days on which a consent ends, if the consent had begun by then.
func sooner(now, other *Date, began Date) *Date {
	if other == nil || *other < began || now != nil && *now <= *other {
		return now
	}
	return other
}
