package season

import (
	"slices"

	"throughline/models"
)

// GoalLine is a goal with where the player stands on it now.
type GoalLine struct {
	models.Goal
	On       string              `json:"on"` // the indicator's or skill's label
	Unit     string              `json:"unit"`
	Owner    string              `json:"owner"`
	Now      *float64            `json:"now,omitempty"` // his level, or the mean of the coaches' grades
	Now80    *[2]float64         `json:"now_80,omitempty"`
	Outlook  *models.GoalOutlook `json:"outlook,omitempty"` // how likely it is to be reached
	CheckIns []CheckInLine       `json:"check_ins"`
	Better   models.Better       `json:"better"`
}

// CheckInLine is a word on how a goal is going.
type CheckInLine struct {
	Date   models.Date `json:"date"`
	Author string      `json:"author"`
	Text   string      `json:"text"`
}

// readGoals reads the goals that were open during the season.
func (r *Report) readGoals(src Source, q Request) error {
	goals, err := src.Goals(models.GoalFilter{PlayerID: q.PlayerID})
	if err != nil {
		return err
	}
	indicators, err := src.Indicators()
	if err != nil {
		return err
	}
	skills, err := src.Skills()
	if err != nil {
		return err
	}
	names, err := src.UserNames()
	if err != nil {
		return err
	}
	r.Goals = []GoalLine{}
	for _, g := range goals {
		if g.SetOn > r.Season.Ends || g.ClosedOn != nil && *g.ClosedOn < r.Season.Starts {
			continue
		}
		line := GoalLine{Goal: g, Owner: names[g.OwnerID], Better: models.Higher, CheckIns: []CheckInLine{}}
		if i := slices.IndexFunc(indicators, func(in models.Indicator) bool { return in.Code == g.Indicator }); i >= 0 {
			line.On, line.Unit, line.Better = indicators[i].Label, indicators[i].Unit, indicators[i].Better
			if l := r.indicator(g.Indicator); l != nil && l.Level != nil {
				line.Now, line.Now80 = &l.Level.Mean, &[2]float64{l.Level.Range80.Lo, l.Level.Range80.Hi}
			}
		}
		if i := slices.IndexFunc(skills, func(s models.Skill) bool { return s.Code == g.Skill }); i >= 0 {
			line.On, line.Unit = skills[i].Label, "grade"
			if s := r.skill(g.Skill); s != nil && s.Ratings > 0 {
				line.Now = &s.Mean
				if s.Trend != nil {
					line.Now, line.Now80 = &s.Trend.Now.Mean, &[2]float64{s.Trend.Now.Range80.Lo, s.Trend.Now.Range80.Hi}
				}
			}
		}
		if t := r.Trends.figures[trendKey(g.Indicator, g.Skill)]; t != nil {
			if i := slices.IndexFunc(t.Goals, func(o models.GoalOutlook) bool { return o.GoalID == g.ID }); i >= 0 {
				line.Outlook = &t.Goals[i]
			}
		}
		checkIns, err := src.CheckIns(g.ID)
		if err != nil {
			return err
		}
		for _, c := range checkIns {
			line.CheckIns = append(line.CheckIns, CheckInLine{c.Date, names[c.AuthorID], c.Text})
		}
		r.Goals = append(r.Goals, line)
	}
	return nil
}

// indicator returns a line of the report by code, or nil.
func (r *Report) indicator(code string) *IndicatorLine {
	for i := range r.Indicators {
		if r.Indicators[i].Code == code {
			return &r.Indicators[i]
		}
	}
	return nil
}

func (r *Report) skill(code string) *SkillLine {
	for i := range r.Skills {
		if r.Skills[i].Code == code {
			return &r.Skills[i]
		}
	}
	return nil
}
