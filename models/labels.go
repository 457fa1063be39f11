package models

// Labels are what an academy calls its indicators and skills.
type Labels struct {
	indicators map[string]string
	skills     map[string]Skill
}

// NewLabels returns the labels of an academy's indicators and skills.
func NewLabels(indicators []Indicator, skills []Skill) Labels {
	l := Labels{indicators: map[string]string{}, skills: map[string]Skill{}}
	for _, i := range indicators {
		l.indicators[i.Code] = i.Label
	}
	for _, s := range skills {
		l.skills[s.Code] = s
	}
	return l
}

// Of returns the label of an indicator or, without its code, of a skill as a position group reads it. It is empty where
// there is no such thing.
func (l Labels) Of(indicator, skill string, g Group) string {
	if indicator != "" {
		return l.indicators[indicator]
	}
	return l.skills[skill].For(g).Label
}
