package models

import "time"

// ReportPackFor is how long a pack of reports is kept after it was asked for.
const ReportPackFor = 24 * time.Hour

// PackState is how far a pack of reports is.
type PackState string

// The states of a pack of reports.
const (
	PackMaking PackState = "making" // or waiting for its turn
	PackReady  PackState = "ready"
	PackFailed PackState = "failed"
)

// Codes lists the states.
func (PackState) Codes() []PackState { return []PackState{PackMaking, PackReady, PackFailed} }

// ReportPack is the season reports of all players of a squad's season in one ZIP file. It is for the member of staff
// who asked for it alone.
type ReportPack struct {
	ID        int64      `json:"id" gorm:"primaryKey"`
	AcademyID int64      `json:"-"`
	SeasonID  int64      `json:"season_id"`
	SquadID   int64      `json:"squad_id"`
	UserID    int64      `json:"user_id"`           // the member of staff who asked for it
	JobID     int64      `json:"-"`                 // the background job that makes it
	Edition   string     `json:"edition" texts:"-"` // the edition of the reports, such as staff
	PDF       bool       `json:"pdf"`               // whether each report is there as PDF too
	State     PackState  `json:"state" gorm:"-"`    // how far it is
	Players   int        `json:"players" gorm:"-"`  // how many reports it is to have
	Made      int        `json:"made" gorm:"-"`     // how many of them are made
	AskedAt   time.Time  `json:"asked_at"`          // when it was asked for; the reports have this date
	DoneAt    *time.Time `json:"done_at,omitempty"` // when its last report was made
	Until     time.Time  `json:"until"`             // when it is deleted
}

// PackedReport is a player's report in a pack. Until it is made, it has no file.
type PackedReport struct {
	AcademyID int64      `json:"-" gorm:"primaryKey"`
	PackID    int64      `json:"pack_id" gorm:"primaryKey"`
	PlayerID  int64      `json:"-" gorm:"primaryKey"`
	Name      string     `json:"-" texts:"-"` // of its file, without an ending
	Title     string     `json:"-" texts:"-"`
	HTML      []byte     `json:"-"`
	PDF       []byte     `json:"-"`
	MadeAt    *time.Time `json:"made_at,omitempty"`
}

// PackTask asks for the reports of a pack to be made.
type PackTask struct {
	PackID int64 `json:"pack"`
}

// Kind names the kind of job.
func (PackTask) Kind() string { return "make_report_pack" }
