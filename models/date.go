package models

import (
	"database/sql/driver"
	"fmt"
	"time"
)

// Date is a calendar day as ISO 8601 text, such as "2026-09-05". Dates compare as text.
type Date string

// The days between which a date is believed: no one in an academy was born, and no match is planned, outside them.
const (
	firstDate Date = "1900-01-01"
	lastDate  Date = "2199-12-31"
)

// DateOf returns the day of an instant, in the instant's own zone.
func DateOf(t time.Time) Date { return Date(t.Format(time.DateOnly)) }

// Time returns the midnight (UTC) that begins the day. The error says what a date looks like.
func (d Date) Time() (time.Time, error) {
	t, err := time.Parse(time.DateOnly, string(d))
	if err != nil {
		return time.Time{}, Errorf(Invalid, "%q is not a date; write year, month and day, such as 2026-09-05",
			clip(string(d)))
	}
	return t, nil
}

// inWords returns the day as people write it, "5 Sep 2026". Of text that is no date it returns the same text.
func (d Date) inWords() string {
	t, err := d.Time()
	if err != nil {
		return string(d)
	}
	return t.Format("2 Jan 2006")
}

// InWords is the day as people write it: 2 Jan 2006.
func (d Date) InWords() string { return d.inWords() }

// AddDays returns the day n days later, or earlier when n is negative. Of text that is no date it returns the same
// text.
func (d Date) AddDays(n int) Date {
	t, err := d.Time()
	if err != nil {
		return d
	}
	return DateOf(t.AddDate(0, 0, n))
}

// DaysUntil returns the number of days from d to a later day, negative when it is earlier, and 0 when either is no
// date.
func (d Date) DaysUntil(later Date) int {
	a, errA := d.Time()
	b, errB := later.Time()
	if errA != nil || errB != nil {
		return 0
	}
	return int(b.Sub(a).Hours() / 24)
}

// Validate refuses text that is not a calendar day between 1900 and 2199.
func (d Date) Validate() error {
	if _, err := d.Time(); err != nil {
		return err
	}
	if d < firstDate || d > lastDate {
		return Errorf(Invalid, "%s is not between %s and %s", d, firstDate, lastDate)
	}
	return nil
}

// Value hands the date to a database as text, and an empty date as NULL.
func (d Date) Value() (driver.Value, error) {
	if d == "" {
		return nil, nil
	}
	return string(d), nil
}

// Scan reads a date from a database: a time (PostgreSQL's date columns), text that begins with a date (SQLite), or
// NULL, which becomes the empty date.
func (d *Date) Scan(src any) error {
	switch v := src.(type) {
	case nil:
		*d = ""
	case time.Time:
		*d = DateOf(v)
	case string:
		return d.scanText(v)
	case []byte:
		return d.scanText(string(v))
	default:
		return fmt.Errorf("read a date from the database: %T is neither a time nor text", src)
	}
	return nil
}

func (d *Date) scanText(s string) error {
	day := s
	if len(day) > len(time.DateOnly) && (day[len(time.DateOnly)] == ' ' || day[len(time.DateOnly)] == 'T') {
		day = day[:len(time.DateOnly)]
	}
	if day != "" {
		if _, err := Date(day).Time(); err != nil {
			return fmt.Errorf("read a date from the database: %w", err)
		}
	}
	*d = Date(day)
	return nil
}
