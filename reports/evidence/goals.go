package evidence

import (
	"fmt"
	"slices"

	"throughline/models"
	"throughline/reports/paper"
)

// GoalLine is a goal and how close the player is to it now.
type GoalLine struct {
	models.Goal
	On    string `json:"label"` // the name of the indicator or skill
	Unit  string `json:"unit"`
	Owner string `json:"owner"`
	// the current level, or the mean of the coaches' grades
	Now    *float64           `json:"now,omitempty"`
	Now80  *[2]float64        `json:"now_80,omitempty"`
	Method models.LevelMethod `json:"method,omitempty"` // how the current value was worked out
	// how likely the player is to reach the goal
	Outlook  *models.GoalOutlook `json:"outlook,omitempty"`
	CheckIns []CheckInLine       `json:"check_ins"`
	Better   models.Better       `json:"better"`
	// how the figures of other readers differ from these, in one line; absent if they do not
	OtherReaders string `json:"other_readers,omitempty"`
}

// CheckInLine is a remark on how a goal is going.
type CheckInLine struct {
	Date   models.Date `json:"date"`
	Author string      `json:"author"`
	Shared bool        `json:"shared"`
	Text   string      `json:"text"`
}

// Words are the check-in with its day and author.
func (c CheckInLine) Words() string {
	return fmt.Sprintf("%s, %s: %s", paper.Day(string(c.Date)), c.Author, c.Text)
}

// GoalSource is what ReadGoals reads.
type GoalSource interface {
	Goals(models.GoalFilter) ([]models.Goal, error)
	CheckIns(goal int64) ([]models.CheckIn, error)
	Indicators() ([]models.Indicator, error)
	Skills() ([]models.Skill, error)
	UserNames() (map[int64]string, error)
}

// ReadGoals reads the goals that were open during the season. Read the figures and the skills first: they say where
// the player is on them.
func (p *Player) ReadGoals(src GoalSource) error {
	goals, err := src.Goals(models.GoalFilter{PlayerID: p.Person.ID})
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
	p.Goals = []GoalLine{}
	for _, g := range goals {
		if g.SetOn > p.Season.Ends || g.ClosedOn != nil && *g.ClosedOn < p.Season.Starts {
			continue
		}
		line := GoalLine{Goal: g, Owner: names[g.OwnerID], Better: models.Higher, CheckIns: []CheckInLine{}}
		if i := slices.IndexFunc(indicators, func(in models.Indicator) bool { return in.Code == g.Indicator }); i >= 0 {
			line.On, line.Unit, line.Better = indicators[i].Label, indicators[i].Unit, indicators[i].Better
			if l := p.Indicator(g.Indicator); l != nil && l.Level != nil {
				line.Now, line.Now80, line.Method = &l.Level.Mean, &[2]float64{l.Level.Range80.Lo, l.Level.Range80.Hi},
					l.Level.Method
			}
		}
		if i := slices.IndexFunc(skills, func(s models.Skill) bool { return s.Code == g.Skill }); i >= 0 {
			line.On, line.Unit = skills[i].For(p.group()).Label, "grade"
			if s := p.Skill(g.Skill); s != nil && s.Ratings > 0 {
				line.Now, line.Method = &s.Mean, models.PlainMean
				if s.Trend != nil {
					line.Now, line.Now80 = &s.Trend.Now.Mean, &[2]float64{s.Trend.Now.Range80.Lo, s.Trend.Now.Range80.Hi}
					line.Method = s.Trend.LevelMethod()
				}
			}
		}
		if t := p.Trends.figures[trendKey(g.Indicator, g.Skill)]; t != nil {
			if i := slices.IndexFunc(t.Goals, func(o models.GoalOutlook) bool { return o.GoalID == g.ID }); i >= 0 {
				outlook := t.Goals[i]
				if s := p.Skill(g.Skill); s != nil && s.Acts() {
					outlook.Met = false // no mean reassures while a grade calls for action
				}
				line.Outlook = &outlook
			}
		}
		if line.Now != nil || line.Outlook != nil {
			line.OtherReaders = p.Trends.others
			if s := p.Skill(g.Skill); s != nil {
				line.OtherReaders = s.OtherReaders
			}
		}
		checkIns, err := src.CheckIns(g.ID)
		if err != nil {
			return err
		}
		for _, c := range checkIns {
			if p.Edition == PlayerEdition && !c.Shared {
				continue // the source should not have given it; a second lock costs nothing
			}
			line.CheckIns = append(line.CheckIns, CheckInLine{c.Date, names[c.AuthorID], c.Shared, c.Text})
		}
		p.Goals = append(p.Goals, line)
	}
	return nil
}

// Indicator returns a line by the indicator's code, or nil.
func (p *Player) Indicator(code string) *IndicatorLine {
	for i := range p.Indicators {
		if p.Indicators[i].Code == code {
			return &p.Indicators[i]
		}
	}
	return nil
}

// Skill returns a line by the skill's code, or nil.
func (p *Player) Skill(code string) *SkillLine {
	for i := range p.Skills {
		if p.Skills[i].Code == code {
			return &p.Skills[i]
		}
	}
	return nil
}
