// Package models says what a rugby academy records of its players and what is allowed: the types and their validation,
// the catalogues of kinds, details, counts, indicators and skills, the observations computed from a match's records,
// and the policy of who may reach what. It imports no database and no HTTP.
//
// Two rules hold throughout. Not recorded is never the same as no: an absent detail, count or minute is left out of a
// figure and never read as zero. And every type that can be wrong has a Validate method, the only place where its
// rules stand, for every way to fill it: a form, JSON, a file or the demo.
//
// # A new indicator
//
// By the example of how often a player jumps at the lineout. These are all the files:
//
//  1. models/indicatorcatalogue.go: its entry, where readers should find it in the list:
//
//     {Code: "lineout_jumps", Label: "Lineouts jumped for", Family: Rate, Unit: match, Numerator: "lineout_jumps",
//     Better: Neither, Headline: Places{GroupSecondRow: 4},
//     Meaning: "How many lineouts you jumped at, for every full match of time on the pitch."}
//
//     Headline is for groups that see it first: the place of each, from 1. It is put in without moving the others.
//
//  2. models/countcatalogue.go, if nothing counts that yet: what is counted, and how much of it was recorded. The
//     second count tells a lineout without a role from one with another role:
//
//     {Code: "lineout_roles_recorded", Label: "Lineouts with role recorded", Kinds: lineout, Where: recorded("role"),
//     Of: "lineouts", Recorded: true, InTotals: []string{"lineouts"},
//     Definition: "Lineouts for which the log says what the player did."}
//     {Code: "lineout_jumps", Label: "Lineouts jumped for", Kinds: lineout, Where: is("role", "jumper"),
//     Of: "lineout_roles_recorded", Definition: "Lineouts at which the player jumped."}
//
// ByPosition compares it within the position instead of the group. A count may ask what comes next of the player, see
// Next. An indicator may be observed by quarter or passage as well: name it in models/part.go.
//
// Import columns, observations, report lines, trends and the catalogue of the service for programs follow. A skill is
// one entry in models/skillcatalogue.go, its Headline too. Run go test ./models. An existing database observes the new
// indicator when it is brought up to date ([ObservingRules]).
package models

import "time"

// Record is what every row has. ID is unique in the database. Every reference between rows is by (AcademyID, id), so
// no row can point to another academy. Version counts the edits, from 1. DeletedAt, if set, hides a row that can
// still be brought back.
type Record struct {
	ID        int64      `json:"id" gorm:"primaryKey"`
	AcademyID int64      `json:"-"`
	Version   int64      `json:"version"`
	CreatedAt time.Time  `json:"created_at" gorm:"autoCreateTime:false"`
	ChangedAt time.Time  `json:"changed_at"`
	DeletedAt *time.Time `json:"-"`
}
