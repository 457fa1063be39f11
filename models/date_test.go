package models

import (
	"database/sql/driver"
	"testing"
	"time"
)

func TestDateRefusesWhatIsNoCalendarDay(t *testing.T) {
	for _, d := range []Date{"", "2026-02-30", "2025-02-29", "2026-9-5", "05/09/2026", "2026-09-05T00:00:00Z",
		"1899-12-31", "2200-01-01", "０２６-09-05", "2026-09-05\x00"} {
		if err := d.Validate(); CodeOf(err) != Invalid {
			t.Errorf("Validate of %q = %v, want an Invalid error", d, err)
		}
	}
	// 2024 and 2000 are leap years, 1900 is not (ISO 8601, the Gregorian calendar).
	for _, d := range []Date{"2026-09-05", "2024-02-29", "2000-02-29", "1900-01-01", "2199-12-31"} {
		if err := d.Validate(); err != nil {
			t.Errorf("Validate of %q: %v", d, err)
		}
	}
	if Date("1900-02-29").Validate() == nil {
		t.Error("29 February 1900 was not refused")
	}
}

func TestDateArithmeticCrossesMonthsAndSummerTime(t *testing.T) {
	for _, c := range []struct {
		from Date
		days int
		to   Date
	}{
		{"2026-02-28", 1, "2026-03-01"},
		{"2024-02-28", 1, "2024-02-29"},
		{"2025-12-31", 1, "2026-01-01"},
		{"2026-03-28", 2, "2026-03-30"}, // over the day on which European clocks go forward
		{"2026-01-01", -1, "2025-12-31"},
		{"2025-08-01", 365, "2026-08-01"},
	} {
		if got := c.from.AddDays(c.days); got != c.to {
			t.Errorf("%s plus %d days = %s, want %s", c.from, c.days, got, c.to)
		}
		if got := c.from.DaysUntil(c.to); got != c.days {
			t.Errorf("from %s to %s = %d days, want %d", c.from, c.to, got, c.days)
		}
	}
	if got := Date("soon").AddDays(3); got != "soon" {
		t.Errorf("text that is no date became %q", got)
	}
}

func TestDateReadsWhatBothDatabasesGive(t *testing.T) {
	for _, c := range []struct {
		src  any
		want Date
	}{
		{time.Date(2026, 9, 5, 0, 0, 0, 0, time.UTC), "2026-09-05"},
		{"2026-09-05", "2026-09-05"},
		{[]byte("2026-09-05"), "2026-09-05"},
		{"2026-09-05T00:00:00Z", "2026-09-05"},
		{"2026-09-05 00:00:00+00:00", "2026-09-05"},
		{nil, ""},
		{"", ""},
	} {
		d := Date("2000-01-01")
		if err := d.Scan(c.src); err != nil || d != c.want {
			t.Errorf("Scan of %v = %q, %v, want %q", c.src, d, err, c.want)
		}
	}
	for _, src := range []any{42, "yesterday", "2026-13-05", "2026-09-055", true} {
		var d Date
		if err := d.Scan(src); err == nil {
			t.Errorf("Scan of %v was not refused but gave %q", src, d)
		}
	}
	for d, want := range map[Date]driver.Value{"": nil, "2026-09-05": "2026-09-05"} {
		if got, err := d.Value(); err != nil || got != want {
			t.Errorf("Value of %q = %v, %v, want %v", d, got, err, want)
		}
	}
}
