package models

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Kind is what the player did.
type Kind string

// The kinds of involvement.
const (
	KindCarry       Kind = "carry"
	KindPass        Kind = "pass"
	KindOffload     Kind = "offload"
	KindKick        Kind = "kick"
	KindCatch       Kind = "catch"
	KindTackle      Kind = "tackle"
	KindAttackRuck  Kind = "attack_ruck"
	KindDefenceRuck Kind = "defence_ruck"
	KindScrum       Kind = "scrum"
	KindLineout     Kind = "lineout"
	KindMaul        Kind = "maul"
	KindSupportLine Kind = "support_line"
	KindReposition  Kind = "reposition"
)

// Involvement is one action of one player in one match. It has a kind, a clock and two maps by code, which the
// catalogue describes: details, with the chosen code (contact: won), and measures, with a number (metres: 6.5). A code
// that is absent was not recorded. Results say what came of it; in the minutes that a log covers, a result that is
// absent did not happen.
type Involvement struct {
	Record
	LogID    int64              `json:"log_id"`
	Clock    Clock              `json:"clock" gorm:"embedded"`
	Kind     Kind               `json:"kind"`
	Details  map[string]string  `json:"details,omitempty" gorm:"serializer:json" texts:"-"`
	Measures map[string]float64 `json:"measures,omitempty" gorm:"serializer:json"`
	Results  []Result           `json:"results,omitempty" gorm:"serializer:json" limit:"items 0..8"`
	// dangerous play it is marked with; each counts as a penalty conceded, whether or not it was penalised
	Dangers []Danger `json:"dangers,omitempty" gorm:"serializer:json" limit:"items 0..3"`
	// the possession's number in the match, from 1
	Possession *int `json:"possession,omitempty" limit:"1..1000"`
	// the phase within the possession, from 1
	Phase *int `json:"phase,omitempty" limit:"1..200"`
	// for a pass or offload made out of a carry: the carry's id; the two count as one involvement
	LinkedTo *int64 `json:"linked_to,omitempty"`
	// what the player could have done instead
	Options string `json:"options,omitempty" limit:"text 0..200"`
	// Do not write about a safeguarding concern here: tell the academy's safeguarding lead at once, in person
	Note string `json:"note,omitempty" limit:"text 0..1000"`
	// a label; the video itself stays on the viewer's machine
	VideoFile string `json:"video_file,omitempty" limit:"name 0..200"`
	// seconds from the start of that file
	VideoFrom *float64 `json:"video_from,omitempty" limit:"0..86400"`
	VideoTo   *float64 `json:"video_to,omitempty" limit:"0..86400"`
	Moment    bool     `json:"moment"` // marked as worth showing
	// True marks a blow to the head, or a suspected one. The mark creates a head contact record, which stays even if the
	// mark is taken back. From that moment on nothing the player does counts for any figure.
	HeadContact bool `json:"head_contact"`
	// send true when marking a head contact to stand the player down as well; answers never have it
	StandDown bool `json:"stand_down,omitempty" gorm:"-"`
	// for a head contact: what to do now, until the medical lead has been told
	Ask string `json:"ask,omitempty" gorm:"-"`
	// for a head contact: the stand-down to set, until there is one
	Proposal *Proposal `json:"proposal,omitempty" gorm:"-"`
	// true if two details contradict each other and the logger checked again that both are right
	Confirmed bool `json:"confirmed"`
	// chosen by the program that sends it; unique in the log unless empty
	Key string `json:"key,omitempty" limit:"key 0..200"`
}

// Result is what came of an involvement.
type Result string

// The results.
const (
	ResultTry              Result = "try"
	ResultTryAssist        Result = "try_assist"
	ResultLineBreak        Result = "line_break"
	ResultTurnoverWon      Result = "turnover_won"
	ResultTurnoverConceded Result = "turnover_conceded"
	ResultPenaltyWon       Result = "penalty_won"
	ResultPenaltyConceded  Result = "penalty_conceded"
	ResultError            Result = "error"
)

// Validate checks the involvement's own fields: its kind, that each detail and measure belongs to the kind and has a
// value that the catalogue allows, and that they do not contradict each other (see Contradictions).
func (i Involvement) Validate() error {
	var f findings
	f.limits("", &i)
	f.clock("clock", i.Clock)
	if n := i.Kind.number(); n < 0 {
		oneOf(&f, "kind", i.Kind)
	} else {
		i.validateDetails(&f)
		i.validateMeasures(&f)
		i.validateTogether(&f)
	}
	for n, r := range i.Results {
		if r.Label() == "" {
			oneOf(&f, at("results", n), r)
		}
	}
	unique(&f, "results", i.Results)
	i.validateDangers(&f)
	f.refIfAny("linked_to", i.LinkedTo)
	if i.LinkedTo != nil && i.Kind != KindPass && i.Kind != KindOffload {
		f.add("linked_to", "only a pass or an offload can be linked to the carry it came out of; leave it out")
	}
	if i.StandDown && !i.HeadContact {
		f.add("stand_down", "is only for a head contact; write true for head_contact, or leave it out")
	}
	f.video(i.VideoFrom, i.VideoTo)
	return f.err("involvement")
}

func (i *Involvement) validateDetails(f *findings) {
	before := len(*f)
	for code, value := range i.Details {
		d := detailOf(i.Kind, code)
		switch {
		case d == nil:
			f.add("details."+clip(code), "%s has no such detail; allowed are %s", i.Kind, list(i.Kind.codes(false)))
		case d.Measure != nil:
			f.add("details."+code, "is a measure, in %s; put the number in measures.%s", d.Measure.Unit, code)
		default:
			n := d.option(value)
			if n < 0 {
				f.add("details."+code, "%q is unknown; allowed are %s", clip(value), list(d.codes()))
			} else if r := d.Options[n].Result; r != "" && !slices.Contains(i.Results, r) {
				f.add("results", "%s %s means there was a %s; add the result %s", code, value, strings.ToLower(r.Label()), r)
			}
		}
	}
	f.sortFrom(before)
}

func (i *Involvement) validateMeasures(f *findings) {
	before := len(*f)
	for code, v := range i.Measures {
		d := detailOf(i.Kind, code)
		switch {
		case d == nil && len(i.Kind.codes(true)) == 0:
			f.add("measures."+clip(code), "a %s has no measures; leave it out", i.Kind)
		case d == nil:
			f.add("measures."+clip(code), "%s has no such measure; allowed are %s", i.Kind, list(i.Kind.codes(true)))
		case d.Measure == nil:
			f.add("measures."+code, "is a choice, not a number; put one of %s in details.%s", list(d.codes()), code)
		case math.IsNaN(v) || math.IsInf(v, 0):
			f.finite("measures."+code, v)
		case v < d.Measure.Min || v > d.Measure.Max:
			f.add("measures."+code, "%s is not allowed; write %s to %s %s", number(v), number(d.Measure.Min),
				number(d.Measure.Max), d.Measure.Unit)
		case d.Measure.Whole && v != math.Trunc(v):
			f.add("measures."+code, "%s is not a whole number of %s", number(v), d.Measure.Unit)
		}
	}
	f.sortFrom(before)
}

func (f *findings) video(from, to *float64) {
	switch {
	case to == nil:
	case from == nil:
		f.add("video_from", "is missing; give the start of the moment as well as the end")
	case *to < *from:
		f.add("video_to", "%s is before the moment begins, at %s; write seconds from the start of the file",
			number(*to), number(*from))
	}
}

// ValidateIn checks the involvement against what it belongs to: it happened in the match, while the player was on the
// pitch, and the log covers its kind and its minute.
func (i Involvement) ValidateIn(m Match, a Appearance, l Log) error {
	var f findings
	if !slices.Contains(l.Kinds, i.Kind) {
		f.add("kind", "%s is not a kind that the log covers; it covers %s", clip(string(i.Kind)), list(l.Kinds))
	}
	if f.clockIn("clock", i.Clock, &m) {
		if len(a.Stints) > 0 && !a.onPitch(i.Clock, &m) {
			f.add("clock", "the player was not on the pitch at %s; they were on from %s", i.Clock, stintsText(a.Stints))
		}
		if !l.covers(i.Clock, &m) {
			f.add("clock", "the log does not cover %s; it covers %s", i.Clock, spansText(l.Covers))
		}
	}
	return f.err("involvement")
}

func stintsText(stints []Stint) string {
	parts := make([]string, len(stints))
	for i, s := range stints {
		parts[i] = fmt.Sprintf("%s to %s", s.On, s.Off)
	}
	return strings.Join(parts, "; ")
}

func spansText(spans []Span) string {
	parts := make([]string, len(spans))
	for i, s := range spans {
		parts[i] = fmt.Sprintf("%s up to %s", s.From, s.To)
	}
	return strings.Join(parts, "; ")
}

// codes returns the codes of a kind's measures, or of its choices.
func (k Kind) codes(measures bool) []string {
	var out []string
	for _, i := range detailsOf[k.number()] {
		if (details[i].Measure != nil) == measures {
			out = append(out, details[i].Code)
		}
	}
	return out
}

// option returns the place of a choice's option, -1 for an unknown one.
func (d *Detail) option(code string) int {
	for n := range d.Options {
		if d.Options[n].Code == code {
			return n
		}
	}
	return -1
}

// codes returns the codes of a choice's options.
func (d *Detail) codes() []string {
	out := make([]string, len(d.Options))
	for i, o := range d.Options {
		out[i] = o.Code
	}
	return out
}
