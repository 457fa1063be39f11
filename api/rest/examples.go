package rest

import (
	"time"

	"throughline/models"
)

// Examples are from an academy that we made up.

// exampleRecord is what an example has as a record.
func exampleRecord(id int64) models.Record {
	made := time.Date(2025, time.September, 7, 18, 30, 0, 0, time.UTC)
	return models.Record{ID: id, Version: 1, CreatedAt: made, ChangedAt: made}
}

// Where an example refers to another record, it is the one of these.
const (
	exampleSeason  = 1
	exampleSquad   = 2
	examplePlayer  = 12
	exampleMatch   = 31
	exampleSession = 45
	exampleLog     = 40
	exampleUser    = 3
	exampleGoal    = 5
	exampleBlock   = "Autumn block"
)

func some[T any](v T) *T { return &v }
