package evidence

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"throughline/models"
	"throughline/reports/paper"
	"throughline/reports/trend"
)

// SkillLine is one skill over the season: the coaches' grades and the player's own. A coach's grade counts once it
// is hidden from no reader any more, for every reader alike. A player's edition has no coach's grade: what it
// says of coaches is made of Shown.
type SkillLine struct {
	Code  string `json:"code"`
	Label string `json:"label"`
	// how many grades of coaches count; in a player's edition, those behind the grades that are shown
	Ratings int `json:"ratings"`
	// how many coaches gave them; in a player's edition, the most of one occasion
	Coaches int `json:"coaches"`
	// the plain mean of the coaches' grades, 1 to 5; in a player's edition, that of the grades shown
	Mean float64 `json:"mean"`
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
	// the course of the level in the two seasons before, the latest first; for staff
	Earlier []Course `json:"earlier,omitempty"`
	// What to know about the trend: why it is missing and, for staff, what to check.
	Notes []string `json:"notes,omitempty"`
	// how the figures of other readers differ from these, in one line; absent if they do not
	OtherReaders string `json:"other_readers,omitempty"`
	// how many grades that the reader sees do not count yet, and until when; for staff
	Waiting string      `json:"waiting,omitempty"`
	Grades  []GradeLine `json:"grades"` // the grades, by date; in a player's edition only their own
	// what a player is shown of the coaches' grades, by date; in a player's edition
	Shown []ShownLine `json:"shown,omitempty"`
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
	// what the grade looked like in the words of the skill when it was given; for a player only where the grade calls for
	// no action
	Words string `json:"words,omitempty"`
	// what the skill was called then
	Label string `json:"label,omitempty"`
	// whether the player reads the comment once the grade counts
	CommentShared bool `json:"comment_shared,omitempty"`
	// the moments that the coach named as evidence, by id
	Evidence []int64 `json:"evidence,omitempty"`
	// what the grade was before it was changed, the first value first
	Earlier []models.EarlierGrade `json:"earlier,omitempty"`
	// whether the grade counts in figures: it is hidden from no reader of grades any more
	Counts bool `json:"counts"`
	// the last day on which it is hidden; absent for a player's own grade
	ShownAfter models.Date `json:"shown_after,omitempty"`
	match      int64       // that it was given for, 0 for a training block
}

// ShownLine is what a player is shown of coaches' grades in one match or training block.
type ShownLine struct {
	models.ShownGrade
	On    string `json:"on"`              // the opponent, or the name of the training block
	Squad string `json:"squad,omitempty"` // which squad it is of, as in GradeLine
}

// SkillSource is what ReadSkills reads.
type SkillSource interface {
	Ratings(models.RatingFilter) ([]models.Rating, error)
	ShownGrades(models.RatingFilter) ([]models.ShownGrade, error)
	Skills() ([]models.Skill, error)
	UserNames() (map[int64]string, error)
	EarlierGrades([]models.Rating) (map[int64][]models.EarlierGrade, error)
	GradesSeen(player, season int64) (models.GradesSeen, error)
}

// ReadSkills reads what coaches, and the player, gave. Read the trends first.
func (p *Player) ReadSkills(src SkillSource) error {
	filter := models.RatingFilter{PlayerID: p.Person.ID, SeasonID: p.Season.ID}
	ratings, err := src.Ratings(filter)
	if err != nil {
		return err
	}
	var shown []models.ShownGrade
	if p.Edition == PlayerEdition {
		if shown, err = src.ShownGrades(filter); err != nil {
			return err
		}
	}
	skills, err := src.Skills()
	if err != nil {
		return err
	}
	names, err := src.UserNames()
	if err != nil {
		return err
	}
	others := models.OwnGrades
	if p.Edition == StaffEdition {
		seen, err := src.GradesSeen(p.Person.ID, p.Season.ID)
		if err != nil {
			return err
		}
		others = seen.Line()
	}
	var before map[int64][]models.EarlierGrade
	if p.Edition == StaffEdition { // a player reads no grade of a coach, so none that was changed
		if before, err = src.EarlierGrades(ratings); err != nil {
			return err
		}
	}
	slices.SortStableFunc(ratings, func(a, b models.Rating) int { return cmp.Compare(a.Date, b.Date) })
	p.Skills = []SkillLine{}
	for _, s := range skills {
		s = s.For(p.group())
		line := SkillLine{Code: s.Code, Label: s.Label, Trend: p.Trends.figures[trendKey("", s.Code)], Grades: []GradeLine{}}
		if kept := p.Trends.kept[trendKey("", s.Code)]; kept != nil {
			line.Adjusted = kept.Adjusted
		}
		line.Notes = p.notes(trendKey("", s.Code), paper.Scale{Factor: 1})
		for _, g := range ratings {
			// a player's edition that staff make has no grade of a coach either
			if g.Skill == s.Code && (g.Self || p.Edition == StaffEdition) {
				grade := p.gradeLine(g, names)
				grade.Earlier = before[g.ID]
				if p.Edition != StaffEdition && s.Calls(g.Grade) {
					grade.Words = "" // a coach goes through it with the player
				}
				line.Grades = append(line.Grades, grade)
			}
		}
		for _, g := range shown {
			if g.Skill == s.Code {
				line.Shown = append(line.Shown, p.shownLine(g))
			}
		}
		if len(line.Grades)+len(line.Shown) == 0 {
			continue
		}
		line.readOwn()
		if p.Edition == StaffEdition {
			line.How = s.How
			line.readGiven(s)
		} else {
			line.readShown(s)
			if len(line.Grades)+len(line.Shown) == 0 && line.Trend == nil {
				continue
			}
		}
		line.readCalls(s, p.Edition)
		if line.OtherReaders = others; line.Trend != nil || line.Adjusted != nil {
			line.OtherReaders = strings.TrimSpace(others + " " + p.Trends.others)
		}
		p.Skills = append(p.Skills, line)
	}
	return nil
}

// group is the player's position group.
func (p *Player) group() models.Group { return models.Player{Positions: p.Person.Positions}.Group() }

func (p *Player) gradeLine(g models.Rating, names map[int64]string) GradeLine {
	line := GradeLine{
		Date: g.Date, Rater: names[g.RaterID], RaterID: g.RaterID, Self: g.Self, Grade: g.Grade, On: p.occasion(g),
		Comment: g.Comment, Words: g.Words, Label: g.Label, CommentShared: g.CommentShared, Evidence: g.Evidence,
		Counts:     g.Counts,
		ShownAfter: g.ShownAfter,
		Squad:      p.squadOfGrade(g),
	}
	if g.MatchID != nil {
		line.match = *g.MatchID
	}
	return line
}

func (p *Player) shownLine(g models.ShownGrade) ShownLine {
	as := models.Rating{Date: g.Date, MatchID: g.MatchID, Block: g.Block}
	return ShownLine{ShownGrade: g, On: p.occasion(as), Squad: p.squadOfGrade(as)}
}

// readOwn reads the player's own grades.
func (l *SkillLine) readOwn() {
	var own []trend.Match
	for _, g := range l.Grades {
		if g.Self {
			own = append(own, trend.Match{Numerator: float64(g.Grade), Denominator: 1})
		}
	}
	if len(own) > 0 {
		mean, _, _ := trend.MeanInterval(own, 0.95)
		l.SelfMean = &mean
	}
}

// readGiven reads the coaches' grades that count.
func (l *SkillLine) readGiven(s models.Skill) {
	var given []trend.Grade
	var whole []int
	var open models.Date // when the last of those that do not count yet will
	waiting := 0
	coaches := map[int64]bool{}
	for _, g := range l.Grades {
		switch {
		case g.Self:
		case !g.Counts:
			waiting, open = waiting+1, max(open, g.ShownAfter)
		default:
			given = append(given, trend.Grade{Coach: strconv.FormatInt(g.RaterID, 10), Value: float64(g.Grade)})
			whole = append(whole, g.Grade)
			coaches[g.RaterID] = true
		}
	}
	if waiting > 0 {
		l.Waiting = fmt.Sprintf("%s not counted until %s",
			paper.Plural(waiting, "grade", "grades"), paper.Day(string(open.AddDays(1))))
	}
	if l.Ratings, l.Coaches = len(given), len(coaches); l.Ratings == 0 {
		return
	}
	mean, iv, ok := trend.GradesInterval(given, 0.95)
	l.Mean = mean
	if ok {
		l.Mean95 = &iv
	}
	l.Looks, l.Next = s.InWords(whole...)
}

// readShown reads what a player is shown of the coaches' grades: their mean counts each coach.
func (l *SkillLine) readShown(s models.Skill) {
	sum := 0.0
	for _, g := range l.Shown {
		l.acts = l.acts || s.Calls(g.Lowest)
		if g.Grade == nil {
			continue
		}
		sum += *g.Grade * float64(g.Coaches)
		l.Ratings, l.Coaches = l.Ratings+g.Coaches, max(l.Coaches, g.Coaches)
	}
	l.Shown = slices.DeleteFunc(l.Shown, func(g ShownLine) bool { return !g.Any() })
	if l.Ratings > 0 {
		l.Mean = sum / float64(l.Ratings)
		l.Looks, l.Next = s.InWords(int(math.Round(l.Mean)))
	}
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
	if len(l.Shown) > 0 && l.Ratings > 0 {
		return paper.Plural(l.Ratings, "grade", "grades") + " by your coaches"
	}
	words := fmt.Sprintf("%s by %s", paper.Plural(l.Ratings, "grade", "grades"),
		paper.Plural(l.Coaches, "coach", "coaches"))
	var squads, each []string
	counts := map[string]int{}
	for _, g := range l.Grades {
		if g.Self || !g.Counts {
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
