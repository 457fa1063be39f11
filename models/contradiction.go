package models

import (
	"fmt"
	"slices"
)

// Contradiction is a pair of values that the definitions exclude in one involvement. It is data, so a form can ask
// about it as soon as it is entered. However the involvement is sent, Validate refuses it with both details and what
// would be right, until one of them is changed or the involvement is sent as confirmed. A pair that can never be
// right cannot be confirmed.
type Contradiction struct {
	Kinds []Kind `json:"kinds"`
	This  Mark   `json:"this"`
	That  Mark   `json:"that"` // where the error is reported
	Why   string `json:"why"`  // why the two do not fit, and what would be right
	Never bool   `json:"never"`
}

// Mark is something that may be recorded for an involvement: a detail with one of some values, a measure (above_zero:
// more than 0; at_least and below: from one number up to below another), or a result. Without values, any value
// counts.
type Mark struct {
	Detail    string   `json:"detail,omitempty"`
	Values    []string `json:"values,omitempty"`
	Measure   string   `json:"measure,omitempty"`
	AboveZero bool     `json:"above_zero,omitempty"`
	AtLeast   *float64 `json:"at_least,omitempty"`
	Below     *float64 `json:"below,omitempty"`
	Result    Result   `json:"result,omitempty"`
}

// Contradictions returns what Validate questions. The slice is new; what its elements point to is
// shared and must not be changed.
func Contradictions() []Contradiction { return slices.Clone(contradictions) }

// contradictions is never changed.
var contradictions = []Contradiction{
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "contact", Values: []string{"none"}},
		That: Mark{Detail: "contact_point", Values: []string{"square", "soft_shoulder"}},
		Why: "contact none means that no defender touched the carrier; write contact_point clear or leave it out, or say " +
			"how the contact went"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "contact", Values: []string{"none"}}, That: Mark{Detail: "leg_drive"},
		Why: "contact none means that no defender touched the carrier, so there was nothing to drive through; leave " +
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
		Why: "finish maul means that a maul had formed; going to ground ends the maul but is not a tackle (Law 16), so no " +
			"ball is presented. Leave presentation out. If no maul had formed, a held carrier with a knee on the ground was " +
			"tackled (Law 14): write finish ground or held_up_then_ground"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "finish", Values: []string{"maul"}},
		That: Mark{Measure: "seconds_to_play"},
		Why: "finish maul means that a maul had formed and the carrier was not tackled (Law 16); leave seconds_to_play " +
			"out, or write finish ground or held_up_then_ground if no maul had formed (Law 14)"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "finish", Values: []string{"on_feet"}},
		That: Mark{Detail: "presentation"},
		Why: "finish on_feet means that the carrier did not go to ground, so no ball is presented; leave presentation " +
			"out, or write finish ground"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "finish", Values: []string{"on_feet"}},
		That: Mark{Measure: "seconds_to_play"},
		Why: "finish on_feet means that the carrier did not go to ground, and the seconds are counted from there; leave " +
			"seconds_to_play out, or write finish ground"},
	{Kinds: []Kind{KindCarry}, This: Mark{Result: ResultTry},
		That: Mark{Detail: "outcome", Values: []string{"kept", "lost", "penalty"}},
		Why:  "the result try means that the carrier scored; write outcome scored or leave it out"},
	{Kinds: []Kind{KindPass, KindOffload}, This: Mark{Detail: "numbers", Values: []string{"level", "short"}},
		That: Mark{Detail: "overlap_finished"},
		Why:  "there was no overlap to finish; leave overlap_finished out, or write numbers overlap"},
	{Kinds: []Kind{KindTackle}, This: Mark{Detail: "height", Values: []string{"high"}},
		That: Mark{Detail: "result", Values: []string{"won"}},
		Why:  "a high or illegal tackle is never won; write result even, lost or missed", Never: true},

	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "contact", Values: []string{"even"}},
		That: Mark{Measure: "metres_after_contact", AtLeast: new(1.0)},
		Why: "contact even means less than 1 metre after the first touch; write contact won if the ball was kept or " +
			"passed, lost if it was lost, or correct the metres"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "contact", Values: []string{"even"}},
		That: Mark{Measure: "tacklers_committed", Below: new(1.0)},
		Why:  "contact even means that a defender stopped the carrier; write 1 tackler or more, or correct the contact"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "contact", Values: []string{"lost"}},
		That: Mark{Measure: "tacklers_committed", Below: new(1.0)},
		Why: "contact lost means that a defender touched the carrier; write 1 tackler or more, or correct the " +
			"contact: none if the ball was lost untouched"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "contact", Values: []string{"lost"}},
		That: Mark{Detail: "outcome", Values: []string{"scored"}},
		Why:  "contact lost means that the ball was lost or the carrier driven back; write contact won, or another outcome"},
	{Kinds: []Kind{KindCarry}, This: Mark{Detail: "contact", Values: []string{"lost"}}, That: Mark{Result: ResultTry},
		Why: "contact lost means that the ball was lost or the carrier driven back, and the carrier scored; write " +
			"contact won, or leave the try out"},
	{Kinds: []Kind{KindKick}, This: Mark{Detail: "form", Values: []string{"fifty_22"}},
		That: Mark{Detail: "result", Values: []string{"charged_down", "regained", "space", "returned"}},
		Why:  "a 50:22 goes into touch; write result touch, or another form"},
	{Kinds: []Kind{KindTackle}, This: Mark{Detail: "result", Values: []string{"missed"}},
		That: Mark{Result: ResultTurnoverWon},
		Why: "a missed tackle means that the carrier went on with the ball; write result won, or leave the turnover " +
			"won out"},
	{Kinds: []Kind{KindDefenceRuck}, This: Mark{Detail: "decision", Values: []string{"stay_out"}},
		That: Mark{Detail: "effect", Values: []string{"turnover", "slowed"}},
		Why: "stay out means that the player touched neither the ball nor an opponent; write decision contest, or " +
			"effect no effect"},
	{Kinds: []Kind{KindReposition}, This: Mark{Detail: "in_place", Values: []string{"yes"}},
		That: Mark{Detail: "fold", Values: []string{"late"}},
		Why: "fold late means that the player was not in place when the ball was played; write in_place no, or " +
			"fold folded"},
}

func (i *Involvement) validateTogether(f *findings) {
	for n := range contradictions {
		c := &contradictions[n]
		if i.Confirmed && !c.Never || !slices.Contains(c.Kinds, i.Kind) || !i.has(&c.This) || !i.has(&c.That) {
			continue
		}
		question := fmt.Sprintf("%s and %s: %s", i.says(&c.This), i.says(&c.That), c.Why)
		if !c.Never {
			question += ". If both are as you saw them, send confirmed as true"
		}
		f.add(c.That.where(), "%s", question)
	}
}

func (i *Involvement) has(m *Mark) bool {
	switch {
	case m.Detail != "":
		v, ok := i.Details[m.Detail]
		return ok && (len(m.Values) == 0 || slices.Contains(m.Values, v))
	case m.Measure != "":
		v, ok := i.Measures[m.Measure]
		return ok && (!m.AboveZero || v > 0) && (m.AtLeast == nil || v >= *m.AtLeast) && (m.Below == nil || v < *m.Below)
	}
	return slices.Contains(i.Results, m.Result)
}

// says names a mark with what the involvement has there, as it is sent.
func (i *Involvement) says(m *Mark) string {
	switch {
	case m.Detail != "":
		return "details." + m.Detail + " is " + i.Details[m.Detail]
	case m.Measure != "":
		return "measures." + m.Measure + " is " + number(i.Measures[m.Measure])
	}
	return "results has " + string(m.Result)
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
