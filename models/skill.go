package models

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Skill is something that coaches rate from 1 to 5. The built-in skills are in the catalogue. An academy can add its
// own, and edits a built-in one by a record with the same code.
type Skill struct {
	Record
	// unique in the academy; lower-case letters, digits and underscores
	Code  string `json:"code" limit:"slug 1..60"`
	Label string `json:"label" limit:"name 1..60"`
	// what each grade from 1 to 5 looks like
	Grades [5]string `json:"grades" gorm:"serializer:json" limit:"each text 1..500"`
	// Grades up to this one call for action before anything else, such as coaching before contact; 0: none does. While
	// there is such a grade in the period, the mean is not put into words
	ActUpTo int `json:"act_up_to,omitempty" limit:"0..4"`
	// Giving a grade up to this one asks the squad's lead coach at once for action before the next contact session; 0:
	// none does
	ContactUpTo int `json:"contact_up_to,omitempty" limit:"0..4"`
	// how to choose a grade: what to watch, and what decides between two grades
	How string `json:"how,omitempty" limit:"text 0..500"`
	// the position groups it suits; empty: all
	Groups []Group `json:"groups,omitempty" gorm:"serializer:json"`
	// the position groups for which the skill has another label, or its grades other words
	ByGroup []GroupWords `json:"by_group,omitempty" gorm:"serializer:json"`
	// Where a built-in one is shown first; an academy's own is no headline
	Headline Places `json:"-" gorm:"-"`
}

// GroupWords are what a skill is called and what its grades look like for one position group, where that differs.
type GroupWords struct {
	Group Group `json:"group"`
	// what the skill is called for the group; absent: as for all
	Label string `json:"label,omitempty" limit:"name 0..60"`
	// what each grade from 1 to 5 looks like for the group, all five; absent: as for all
	Grades [5]string `json:"grades,omitzero" limit:"each text 0..500"`
}

// For returns the skill as it is worded for a position group.
func (s Skill) For(g Group) Skill {
	for _, w := range s.ByGroup {
		if w.Group != g {
			continue
		}
		s.Label = cmp.Or(w.Label, s.Label)
		if w.Worded() {
			s.Grades = w.Grades
		}
	}
	return s
}

// Worded says whether the group has words of its own for the grades.
func (w GroupWords) Worded() bool { return w.Grades != [5]string{} }

// Suits says whether the skill is graded in players of a position group.
func (s Skill) Suits(g Group) bool { return len(s.Groups) == 0 || slices.Contains(s.Groups, g) }

// NeedsAction says whether a grade needs action before the next contact session.
func (s Skill) NeedsAction(grade int) bool { return grade <= s.ContactUpTo }

// Validate checks the skill's own fields.
func (s Skill) Validate() error {
	var f findings
	f.limits("", &s)
	f.groups("groups", s.Groups)
	named := map[Group]bool{}
	for i := range s.ByGroup {
		at := fmt.Sprintf("by_group[%d]", i)
		w := &s.ByGroup[i]
		f.limits(at, w)
		if !oneOf(&f, at+".group", w.Group) {
			continue
		}
		if named[w.Group] {
			f.add(at+".group", "%s appears twice; give its words once", w.Group)
		}
		named[w.Group] = true
		w.complete(&f, at)
	}
	return f.err("skill")
}

// complete refuses words for some grades only, and a group for which nothing differs.
func (w *GroupWords) complete(f *findings, at string) {
	if !w.Worded() {
		if w.Label == "" {
			f.add(at, "%s has neither a label nor words of its own; give one of them, or leave the group out",
				w.Group.Label())
		}
		return
	}
	for i, words := range w.Grades {
		if strings.TrimSpace(words) == "" {
			f.add(fmt.Sprintf("%s.grades[%d]", at, i), "is empty; write what grade %d looks like for %s, or leave "+
				"all five empty",
				i+1, w.Group.Label())
		}
	}
}
