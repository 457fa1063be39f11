package models

import "strings"

// Part is a part of a match for which some indicators are also computed: a quarter of the player's own time on the
// pitch, or some phases of a possession. Its observations have the indicator's code, a dot and the part's code, as in
// in_place.q4. They are not indicators of their own: they have no trend and are not compared with anyone.
type Part struct {
	Code       string `json:"code"`
	Label      string `json:"label"`
	Definition string `json:"definition"`
	// 1 to 4: the quarter of the player's own time on the pitch; 0: any
	Quarter   int `json:"quarter,omitempty"`
	FromPhase int `json:"from_phase,omitempty"` // the first phase; 0: any
	ToPhase   int `json:"to_phase,omitempty"`   // the last phase; 0: any
	// the codes of the indicators that are also computed for this part
	Indicators []string `json:"indicators"`
}

// longPassage is the phase from which a passage of play is a long one. Our choice.
const longPassage = 4

// wholeOf stands for the whole match, in place of a part.
const wholeOf = -1

// Parts returns the parts in order. The slice is new; what its elements point to is shared and must not be changed.
func Parts() []Part { p := parts; return p[:] }

// PartOf splits the code of an observation of a part; false for one of a whole indicator.
func PartOf(code string) (indicator string, part Part, ok bool) {
	indicator, of, ok := strings.Cut(code, ".")
	for i := range parts {
		if ok && parts[i].Code == of {
			return indicator, parts[i], true
		}
	}
	return code, Part{}, false
}

var (
	overQuarters = []string{"involvements", "in_place", "tackle_completion", "back_to_feet"}
	overPassages = []string{"phase_work", "in_place", "tackle_completion", "effective_arrivals"}
)

// parts are never changed.
var parts = [...]Part{
	{Code: "q1", Label: "First quarter", Quarter: 1, Indicators: overQuarters,
		Definition: "In the first quarter of the player's own regular time on the pitch."},
	{Code: "q2", Label: "Second quarter", Quarter: 2, Indicators: overQuarters,
		Definition: "In the second quarter of the player's own regular time on the pitch."},
	{Code: "q3", Label: "Third quarter", Quarter: 3, Indicators: overQuarters,
		Definition: "In the third quarter of the player's own regular time on the pitch."},
	{Code: "q4", Label: "Last quarter", Quarter: 4, Indicators: overQuarters,
		Definition: "In the last quarter of the player's own regular time on the pitch, added time included."},
	{Code: "before_long", Label: "Phases 1 to 3", FromPhase: 1, ToPhase: longPassage - 1, Indicators: overPassages,
		Definition: "In the first three phases of a possession. Involvements without a recorded phase are left out."},
	{Code: "long", Label: "Phase 4 on", FromPhase: longPassage, Indicators: overPassages,
		Definition: "In the fourth phase of a possession or later. Involvements without a recorded phase are left out."},
}

// has says whether an involvement in a quarter of the player's own time lies in the part.
func (p *Part) has(i *Involvement, quarter int) bool {
	if p.Quarter > 0 {
		return p.Quarter == quarter
	}
	return i.Phase != nil && p.spans(*i.Phase)
}

// parts adds the observations of an indicator in its parts.
func (t *tally) parts(out []Observation, o Observation, of *Indicator, f formula) []Observation {
	for n := range parts {
		if !of.observedIn(&parts[n]) {
			continue
		}
		f.stints = parts[n].Quarter > 0
		f.quarter = f.stints
		fig := t.figure(&f, 0, n)
		if !fig.ok {
			continue
		}
		o.Indicator = of.Code + "." + parts[n].Code
		o.Source, o.Numerator, o.Denominator = FromLog, fig.numerator, fig.denominator
		out = append(out, o)
	}
	return out
}

// observedIn says whether a built-in indicator is observed in a part as well.
func (ind *Indicator) observedIn(p *Part) bool {
	for _, code := range p.Indicators {
		if code == ind.Code {
			return true
		}
	}
	return false
}
