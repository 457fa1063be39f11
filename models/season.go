package models

// Season is a named range of dates whose matches count together.
type Season struct {
	Record
	Name   string `json:"name" limit:"name 1..100"` // unique in the academy, such as "2025-26"
	Starts Date   `json:"starts"`
	Ends   Date   `json:"ends"` // on or after Starts, at most 400 days later
}

// longestSeason is in days.
const longestSeason = 400

// Validate checks the season's own fields.
func (s Season) Validate() error {
	var f findings
	f.limits("", &s)
	starts, ends := f.date("starts", s.Starts), f.date("ends", s.Ends)
	if starts && ends {
		switch days := s.Starts.DaysUntil(s.Ends); {
		case days < 0:
			f.add("ends", "%s is before the season starts, on %s", s.Ends, s.Starts)
		case days > longestSeason:
			f.add("ends", "%s is %d days after the season starts; a season lasts at most %d days", s.Ends, days, longestSeason)
		}
	}
	return f.err("season")
}

// Has says whether a day is in the season, its first and last day included.
func (s Season) Has(d Date) bool { return s.Starts <= d && d <= s.Ends }

// dayIn refuses a day outside a season.
func (f *findings) dayIn(where string, d Date, s Season) {
	if !s.Has(d) {
		f.add(where, "%s is not in the season %s, which runs from %s to %s", d, s.Name, s.Starts, s.Ends)
	}
}
