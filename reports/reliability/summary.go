package reliability

import "slices"

// Relied is the reliability that a mean should reach for a decision about one player (common practice).
const Relied = 0.8

// Summary is what judges' grades say about how far they can be relied on. What cannot be told is nil, and the error
// beside it says why.
type Summary struct {
	Units  int // graded
	ByTwo  int // those of them that two judges or more graded
	Judges int

	// The six correlations, of the units that two judges or more graded, where each of these was graded by the same
	// judges, once each; nil otherwise.
	Six        *ICC
	SixJudges  int
	Components *Components // from all grades, whether or not there are gaps
	Apart      error       // why there are none
	One        float64     // the reliability of one judge's grade, from the components; 0 without them
	Needed     *int        // judges whose mean reaches Relied; nil where MostJudges are too few, and without components
	Alpha      *float64    // Krippendorff's, for ordered grades
	Alpha95    *[2]float64 // its bootstrap interval; nil with fewer than ten units
	NoAlpha    error       // why there is no alpha
}

// Summarise says all that grades say about judges. The same grades and seed give the same summary.
func Summarise(grades []Grade, seed uint64) Summary {
	var s Summary
	values := s.count(grades)
	s.six(grades)
	c, err := FromGrades(grades)
	if s.Apart = err; err == nil {
		s.Components, s.One = &c, c.One()
		if n, ok := JudgesFor(max(s.One, 0), Relied); ok {
			s.Needed = &n
		}
	}
	alpha, err := Alpha(values, Ordinal)
	if s.NoAlpha = err; err != nil {
		return s
	}
	s.Alpha = &alpha
	if lo, hi, err := AlphaInterval(values, Ordinal, seed); err == nil { // too few units: none
		s.Alpha95 = &[2]float64{lo, hi}
	}
	return s
}

// count counts, and returns the grades by unit.
func (s *Summary) count(grades []Grade) (values [][]float64) {
	place, judges := map[string]int{}, map[string]bool{}
	for _, g := range grades {
		k, ok := place[g.Unit]
		if !ok {
			k = len(values)
			place[g.Unit], values = k, append(values, nil)
		}
		values[k] = append(values[k], g.Grade)
		judges[g.Judge] = true
	}
	s.Units, s.Judges = len(values), len(judges)
	for _, of := range values {
		if len(of) > 1 {
			s.ByTwo++
		}
	}
	return values
}

// six gives the six correlations where the design allows: every unit of two grades or more has one of each of the same
// judges.
func (s *Summary) six(grades []Grade) {
	given := map[string]map[string]float64{} // unit, judge
	var units []string
	for _, g := range grades {
		if given[g.Unit] == nil {
			given[g.Unit] = map[string]float64{}
			units = append(units, g.Unit)
		}
		if _, twice := given[g.Unit][g.Judge]; twice {
			return
		}
		given[g.Unit][g.Judge] = g.Grade
	}
	var judges []string
	var table [][]float64
	for _, unit := range units {
		by := given[unit]
		if len(by) < 2 {
			continue
		}
		if judges == nil {
			for judge := range by {
				judges = append(judges, judge)
			}
			slices.Sort(judges)
		}
		row := make([]float64, 0, len(judges))
		for _, judge := range judges {
			if g, ok := by[judge]; ok {
				row = append(row, g)
			}
		}
		if len(row) != len(judges) || len(by) != len(judges) {
			return
		}
		table = append(table, row)
	}
	if six, err := ShroutFleiss(table); err == nil {
		s.Six, s.SixJudges = &six, len(judges)
	}
}
