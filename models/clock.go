package models

import (
	"cmp"
	"fmt"
)

// Clock is a moment in a match: the half (1, 2, …) and the running match clock in seconds. The clock of the second
// half starts where the first half's regular time ends: 41:30 in half 1 is added time, 41:30 in half 2 is early in
// the second half.
type Clock struct {
	Half int `json:"half" limit:"1..4"`
	// seconds from the start of the match, 0 to 12,000
	Second int `json:"second" limit:"0..12000"`
}

// String returns the half and the clock, such as "half 1, 41:30".
func (c Clock) String() string { return fmt.Sprintf("half %d, %s", c.Half, c.Time()) }

// Time returns the clock alone, as minutes and seconds, such as "41:30".
func (c Clock) Time() string {
	if c.Second < 0 {
		return fmt.Sprintf("-%02d:%02d", -c.Second/60, -c.Second%60)
	}
	return fmt.Sprintf("%02d:%02d", c.Second/60, c.Second%60)
}

// Compare returns -1, 0 or 1 as c is before, at or after other.
func (c Clock) Compare(other Clock) int {
	return cmp.Or(cmp.Compare(c.Half, other.Half), cmp.Compare(c.Second, other.Second))
}
