package trend

import (
	"math"
	"testing"
)

// When the model cannot be fitted, players keep the empirical-Bayes level of their position group, and the reader is
// told.
func TestFallbackGivesLevelsOfTheGroupAndANote(t *testing.T) {
	for _, c := range squadSeasons {
		d := referenceData(t, c.family, c.file, c.value, c.trials)
		r := fallback(d, Options{}, "the search for the best fit did not settle")
		if r.Converged || len(r.Notes) == 0 || r.Method != "empirical Bayes" {
			t.Errorf("%s: converged %v by %s, notes %v", c.name, r.Converged, r.Method, r.Notes)
		}
		full := seasonFit(t, d, Options{})
		if r.Rows != full.Rows {
			t.Errorf("%s: %d rows, the season fit has %d", c.name, r.Rows, full.Rows)
		}
		for i, p := range r.Players {
			if p.Now == nil || p.Change != nil || p.Verdict != TooLittle || p.Note == "" {
				t.Errorf("%s %s: %+v", c.name, p.Name, p)
				continue
			}
			// A level of the season as a whole lies near the middle of the season fit's own start and end.
			q := full.Players[i]
			middle, room := (q.Start.Mean+q.Now.Mean)/2, width(q.Now.Interval95)
			if !(math.Abs(p.Now.Mean-middle) < room) {
				t.Errorf("%s %s: level %.3f, season fit about %.3f", c.name, p.Name, p.Now.Mean, middle)
			}
		}
		if _, _, err := r.Forecast(d, []int{0}, 1); err == nil {
			t.Errorf("%s: a forecast without a fit", c.name)
		}
	}
}
