package models

import "slices"

// Contradiction is a pair of things that cannot both be true of one involvement. It is data, so that a form can ask
// about it where it is made, and Validate refuses it whoever sends it.
type Contradiction struct {
	Kinds []Kind `json:"kinds"`
	This  Mark   `json:"this"`
	That  Mark   `json:"that"` // where the finding is reported
	Why   string `json:"why"`  // why not, and what would be right
}

// Mark is something that may be recorded of an involvement: a detail with one of some values, a measure (AboveZero: of
// more than 0), or a result. Without values any value is meant.
type Mark struct {
	Detail    string   `json:"detail,omitempty"`
	Values    []string `json:"values,omitempty"`
	Measure   string   `json:"measure,omitempty"`
	AboveZero bool     `json:"above_zero,omitempty"`
	Result    Result   `json:"result,omitempty"`
}

// Contradictions returns what Validate refuses to have together. The slice is new; what its elements point to is
// shared and must not be changed.
func Contradictions() []Contradiction { return slices.Clone(contradictions) }

// contradictions is never changed.
var contradictions = []Contradiction{
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "contact", Values: []string{"none"}},
		That: Mark{Detail: "contact_point", Values: []string{"square", "soft_shoulder"}},
		Why: "contact none means that no defender touched the carrier; write contact_point clear or leave it out, or say " +
			"how the contact went"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "contact", Values: []string{"none"}}, That: Mark{Detail: "leg_drive"},
		Why: "contact none means that no defender touched the carrier, so that there was nothing to drive through; leave " +
			"leg_drive out"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "contact", Values: []string{"none"}},
		That: Mark{Measure: "metres_after_contact"},
		Why:  "contact none means that no defender touched the carrier; leave metres_after_contact out"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "contact", Values: []string{"none"}},
		That: Mark{Measure: "tacklers_committed", AboveZero: true},
		Why:  "contact none means that no defender touched the carrier; write 0 tacklers, or say how the contact went"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "contact", Values: []string{"none"}},
		That: Mark{Detail: "finish", Values: []string{"held_up_then_ground", "maul"}},
		Why:  "contact none means that no defender held them; write finish ground or on_feet, or say how the contact went"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "finish", Values: []string{"maul"}}, That: Mark{Detail: "presentation"},
		Why: "finish maul means that a maul had formed; going to ground ends it and is no tackle (Law 16), so that no " +
			"ball is presented. Leave presentation out; if no maul had formed, a held carrier with a knee on the ground was " +
			"tackled (Law 14): write finish ground or held_up_then_ground"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "finish", Values: []string{"maul"}},
		That: Mark{Measure: "seconds_to_play"},
		Why: "finish maul means that a maul had formed and the carrier was not tackled (Law 16); leave seconds_to_play " +
			"out, or write finish ground or held_up_then_ground if no maul had formed (Law 14)"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "finish", Values: []string{"on_feet"}},
		That: Mark{Detail: "presentation"},
		Why: "finish on_feet means that the carrier did not go to ground, so that no ball is presented; leave " +
			"presentation out, or write finish ground"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "finish", Values: []string{"on_feet"}},
		That: Mark{Measure: "seconds_to_play"},
		Why: "finish on_feet means that the carrier did not go to ground, from where the seconds are counted; leave " +
			"seconds_to_play out, or write finish ground"},
	{Kinds: []Kind{KindCarry}, This: Mark{Result: ResultTry},
		That: Mark{Detail: "outcome", Values: []string{"kept", "lost", "penalty"}},
		Why:  "the result try means that the carrier scored; write outcome scored or leave it out"},
	{Kinds: []Kind{KindPass, KindOffload}, This: Mark{Detail: "numbers", Values: []string{"level", "short"}},
		That: Mark{Detail: "overlap_finished"},
		Why:  "there was no overlap to finish; leave overlap_finished out, or write numbers overlap"},
	{Kinds: []Kind{KindTackle}, This: Mark{Detail: "height", Values: []string{"high"}},
		That: Mark{Detail: "result", Values: []string{"won"}},
		Why:  "a high or illegal tackle is never won; write result even, lost or missed"},
}

func (i *Involvement) validateTogether(f *findings) {
	for n := range contradictions {
		c := &contradictions[n]
		if slices.Contains(c.Kinds, i.Kind) && i.has(&c.This) && i.has(&c.That) {
			f.add(c.That.where(), "%s", c.Why)
		}
	}
}

func (i *Involvement) has(m *Mark) bool {
	switch {
	case m.Detail != "":
		v, ok := i.Details[m.Detail]
		return ok && (len(m.Values) == 0 || slices.Contains(m.Values, v))
	case m.Measure != "":
		v, ok := i.Measures[m.Measure]
		return ok && (!m.AboveZero || v > 0)
	}
	return slices.Contains(i.Results, m.Result)
}

func (m *Mark) where() string {
	switch {
	case m.Detail != "":
		return "details." + m.Detail
	case m.Measure != "":
		return "measures." + m.Measure
	}
	return "results"
}
