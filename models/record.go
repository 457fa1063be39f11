// Package models says what a rugby academy records of its players and what is allowed: the types and their validation,
// the catalogues of kinds, details, counts, indicators and skills, the observations computed from a match's records,
// and the policy of who may reach what. It imports no database and no HTTP.
//
// Two rules hold throughout. Not recorded is never the same as no: an absent detail, count or minute is left out of a
// figure and never read as zero. And every type that can be wrong has a Validate method, the only place where its
// rules stand, whoever fills it: a form, JSON, a file or the demo.
package models

import "time"

// Record is what every row has. ID is unique in the database; every reference between rows is by (AcademyID, ID), so
// that no row can point into another academy. Version counts the edits, from 1. DeletedAt, when set, hides a row that
// can still be brought back.
type Record struct {
	ID        int64      `json:"id" gorm:"primaryKey"`
	AcademyID int64      `json:"-"`
	Version   int64      `json:"version"`
	CreatedAt time.Time  `json:"created_at" gorm:"autoCreateTime:false"`
	ChangedAt time.Time  `json:"changed_at"`
	DeletedAt *time.Time `json:"-"`
}
