package evidence

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"throughline/models"
	"throughline/reports/paper"
	"throughline/reports/trend"
)

// SkillLine is one skill over the season: the coaches' grades and the player's own.
type SkillLine struct {
	Code    string  `json:"code"`
	Label   string  `json:"label"`
	Ratings int     `json:"ratings"` // how many grades coaches gave
	Coaches int     `json:"coaches"`
	Mean    float64 `json:"mean"` // the plain mean of the coaches' grades, 1 to 5
	// absent if there is only one coach, because a strict coach then looks the same as a weaker skill
	Mean95 *trend.Interval `json:"mean_95,omitempty"`
	// what the grade nearest to the mean looks like; empty if a grade calls for action
	Looks string `json:"looks"`
	// what the next grade up looks like; empty at 5, and empty if a grade calls for action: a coach goes through that
	// with the player
	Next string `json:"next,omitempty"`
	// how a coach chooses a grade: what to watch and what decides; for staff
	How      string   `json:"how,omitempty"`
	SelfMean *float64 `json:"self_mean,omitempty"` // the mean of the player's own grades
	// The grade over the season with each coach's severity taken out; present only while the trends are up to date.
	// Players see one only where two coaches or more stand behind it.
	Adjusted *models.AdjustedGrade `json:"adjusted,omitempty"`
	// the trend, corrected for how strict each coach is; present only while it is up to date
	Trend *models.TrendFigures `json:"trend,omitempty"`
	// What to know about the trend: why it is missing and, for staff, what to check.
	Notes  []string    `json:"notes,omitempty"`
	Grades []GradeLine `json:"grades"` // the grades, by date
	// grades that call for action before anything else, newest first; for staff
	Calls []CallLine `json:"calls,omitempty"`
	acts  bool       // one of the grades does, in either edition
}

// GradeLine is one grade.
type GradeLine struct {
	Date    models.Date `json:"date"`
	Rater   string      `json:"rater"`
	RaterID int64       `json:"rater_id"`
	Self    bool        `json:"self"`
	Grade   int         `json:"grade"`
	On      string      `json:"on"` // the opponent, or the name of the training block
	// which squad the grade is of, if the player is in several: the match's; for a training block, the only one that the
	// player was a member of on its day, otherwise absent
	Squad   string `json:"squad,omitempty"`
	Comment string `json:"comment,omitempty"`
	match   int64  // that it was given for, 0 for a training block
}

// SkillSource is what ReadSkills reads.
type SkillSource interface {
	Ratings(models.RatingFilter) ([]models.Rating, error)
	Skills() ([]models.Skill, error)
	UserNames() (map[int64]string, error)
}

// ReadSkills reads what coaches, and the player, gave. Read the trends first.
func (p *Player) ReadSkills(src SkillSource) error {
	ratings, err := src.Ratings(models.RatingFilter{PlayerID: p.Person.ID, SeasonID: p.Season.ID})
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
	slices.SortStableFunc(ratings, func(a, b models.Rating) int { return cmp.Compare(a.Date, b.Date) })
	p.Skills = []SkillLine{}
	for _, s := range skills {
		line := SkillLine{Code: s.Code, Label: s.Label, Trend: p.Trends.figures[trendKey("", s.Code)]}
		if kept := p.Trends.kept[trendKey("", s.Code)]; kept != nil {
			line.Adjusted = kept.Adjusted
		}
		line.Notes = p.notes(trendKey("", s.Code), paper.Scale{Factor: 1})
		var given []trend.Grade
		var own []trend.Match
		var whole []int
		coaches := map[int64]bool{}
		for _, g := range ratings {
			if g.Skill != s.Code {
				continue
			}
			grade := GradeLine{
				Date: g.Date, Rater: names[g.RaterID], RaterID: g.RaterID, Self: g.Self, Grade: g.Grade, On: p.occasion(g),
				Comment: g.Comment,
			}
			if g.MatchID != nil {
				grade.match = *g.MatchID
			}
			grade.Squad = p.squadOfGrade(g)
			line.Grades = append(line.Grades, grade)
			if g.Self {
				own = append(own, trend.Match{Numerator: float64(g.Grade), Denominator: 1})
				continue
			}
			given = append(given, trend.Grade{Coach: strconv.FormatInt(g.RaterID, 10), Value: float64(g.Grade)})
			whole = append(whole, g.Grade)
			coaches[g.RaterID] = true
		}
		if len(line.Grades) == 0 {
			continue
		}
		if len(own) > 0 {
			mean, _, _ := trend.MeanInterval(own, 0.95)
			line.SelfMean = &mean
		}
		if line.Ratings, line.Coaches = len(given), len(coaches); line.Ratings > 0 {
			mean, iv, ok := trend.GradesInterval(given, 0.95)
			line.Mean = mean
			if ok {
				line.Mean95 = &iv
			}
			line.Looks, line.Next = s.InWords(whole...)
		}
		if p.Edition == StaffEdition {
			line.How = s.How
		}
		line.readCalls(s, p.Edition)
		p.Skills = append(p.Skills, line)
	}
	return nil
}

// occasion says what a rating was given for.
func (p *Player) occasion(g models.Rating) string {
	if g.MatchID == nil {
		return g.Block
	}
	if m := p.Match(*g.MatchID); m != nil {
		return m.Opponent
	}
	return "a match"
}

// squadOfGrade names the squad that a grade of a player of several is of; empty if that is not known.
func (p *Player) squadOfGrade(g models.Rating) string {
	if g.MatchID == nil {
		return p.squadOn(g.Date)
	}
	if m := p.Match(*g.MatchID); m != nil {
		return m.Squad
	}
	return ""
}

// GradesInWords says how many grades coaches gave and, of a player of several squads, how many for each.
func (l *SkillLine) GradesInWords() string {
	words := fmt.Sprintf("%s by %s", paper.Plural(l.Ratings, "grade", "grades"),
		paper.Plural(l.Coaches, "coach", "coaches"))
	var squads, each []string
	counts := map[string]int{}
	for _, g := range l.Grades {
		if g.Self {
			continue
		}
		if counts[g.Squad]++; counts[g.Squad] == 1 && g.Squad != "" {
			squads = append(squads, g.Squad)
		}
	}
	for _, s := range squads {
		each = append(each, fmt.Sprintf("%d %s", counts[s], For(s)))
	}
	if len(each) > 0 && counts[""] > 0 {
		each = append(each, fmt.Sprintf("%d not tied to one squad", counts[""]))
	}
	if len(each) == 0 {
		return words
	}
	return words + ": " + strings.Join(each, ", ")
}

// Grade is what coaches give over the season: the adjusted grade, or the plain mean without one.
func (l *SkillLine) Grade() float64 {
	if l.Adjusted != nil {
		return l.Adjusted.Mean
	}
	return l.Mean
}

// Match returns the player's match by id, or nil.
func (p *Player) Match(id int64) *MatchLine {
	for i := range p.Matches {
		if p.Matches[i].ID == id {
			return &p.Matches[i]
		}
	}
	return nil
}
