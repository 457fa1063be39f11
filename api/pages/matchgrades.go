package pages

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
)

// matchGradesPage is where a coach grades all who played in a match: all players in one skill, or one player in all
// skills, with the words of each grade in view. The address says which.
type matchGradesPage struct {
	Form    Form
	Match   evidence.MatchLine
	Skills  []skillOwed // with the players whom the caller has not graded yet
	Players []toGrade   // the same, player by player
	Skill   string      // of the form, as a code; empty for that of a player
	Player  int64       // of the form; 0 for that of a skill
	Action  string      // where the form is sent
	Blocks  []gradeBlock
	Next    string // the skill or player after that of the form, by name; empty for none
	NextAt  string
	Given   int // how many grades the caller gave for the match
	moments map[int64][]momentChoice
}

// toGrade is a player with the number of skills that the caller has not graded yet.
type toGrade struct {
	ID     int64
	Name   string
	Skills int
}

// Entry is the form of one grade.
func (page matchGradesPage) Entry(o playerOwed) gradeEntry {
	e := gradeEntry{ID: "p" + o.Field, End: "-" + o.Field, Label: o.Name, Options: o.Options,
		Moments: page.moments[o.Player]}
	e.fill(page.Form, "grades")
	return e
}

// choose picks the skill or the player of the form: what the address names or, once there is nothing left in it, what
// comes after it.
func (page *matchGradesPage) choose(order []models.Skill, skill string, player int64) {
	for _, s := range page.Skills {
		for _, o := range s.Players {
			i := slices.IndexFunc(page.Players, func(t toGrade) bool { return t.ID == o.Player })
			if i < 0 {
				i, page.Players = len(page.Players), append(page.Players, toGrade{ID: o.Player, Name: o.Name})
			}
			page.Players[i].Skills++
		}
	}
	slices.SortFunc(page.Players, func(a, b toGrade) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.ID, b.ID))
	})
	if len(page.Skills) == 0 {
		return
	}
	at := matchGradesAddress(page.Match.ID)
	if player > 0 {
		i := max(0, slices.IndexFunc(page.Players, func(t toGrade) bool { return t.ID == player }))
		page.Player = page.Players[i].ID
		page.Action = fmt.Sprintf("%s?player=%d", at, page.Player)
		if next := page.Players[(i+1)%len(page.Players)]; next.ID != page.Player {
			page.Next, page.NextAt = next.Name, fmt.Sprintf("%s?player=%d", at, next.ID)
		}
		for _, s := range page.Skills {
			s.Players = slices.DeleteFunc(slices.Clone(s.Players), func(o playerOwed) bool { return o.Player != page.Player })
			page.Blocks = append(page.Blocks, blocksOf(s, page.Entry)...)
		}
		return
	}
	place := func(code string) int {
		return slices.IndexFunc(order, func(s models.Skill) bool { return s.Code == code })
	}
	i := max(0, slices.IndexFunc(page.Skills, func(s skillOwed) bool { return place(s.Skill.Code) >= place(skill) }))
	page.Skill = page.Skills[i].Skill.Code
	page.Action, page.Blocks = at+"?skill="+page.Skill, blocksOf(page.Skills[i], page.Entry)
	if next := page.Skills[(i+1)%len(page.Skills)].Skill; next.Code != page.Skill {
		page.Next, page.NextAt = next.Label, at+"?skill="+next.Code
	}
}

func matchGradesAddress(match int64) string { return fmt.Sprintf("/matches/%d/grades", match) }

// ofMatch is a round that asks for every grade of a match. It is not kept: a squad may have none for the match.
func ofMatch(m models.Match) (*models.RatingRound, error) {
	if m.SquadID == nil {
		return nil, models.Errorf(models.NotFound, "this match was for another team; grade the academy's own matches")
	}
	return &models.RatingRound{SeasonID: m.SeasonID, SquadID: *m.SquadID, MatchID: &m.ID, Date: m.Date}, nil
}

// givesGrades refuses callers whose role gives no grades.
func givesGrades(who models.Who) error {
	if who.Reach(models.Write, models.AreaRatings) == models.ReachNone {
		return models.Errorf(models.Forbidden, "a %s may not give grades", who.Role)
	}
	return nil
}

// matchGrades is GET /matches/:match/grades.
func (p *Pages) matchGrades(c *gin.Context, who models.Who) error {
	return p.matchGradesWith(c, who, Form{})
}

func (p *Pages) matchGradesWith(c *gin.Context, who models.Who, form Form) error {
	match, err := id(c, "match")
	if err != nil {
		return err
	}
	if err := givesGrades(who); err != nil {
		return err
	}
	page := matchGradesPage{Form: form}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		m, err := tx.Match(match)
		if err != nil {
			return err
		}
		page.Match = evidence.LineOf(m)
		player, _ := strconv.ParseInt(c.Query("player"), 10, 64) // 0: none is named
		return page.read(tx, who, m, c.Query("skill"), player)
	})
	if err != nil {
		return fmt.Errorf("grades of match %d: %w", match, err)
	}
	return p.render(c, form.status(), "match-grades", "Grades: "+page.Match.Opponent, page)
}

func (page *matchGradesPage) read(tx *store.Tx, who models.Who, m models.Match, skill string, player int64) error {
	if page.Form.Name != "" {
		if err := page.Form.nameGrades(tx, m.SeasonID); err != nil {
			return err
		}
	}
	round, err := ofMatch(m)
	if err != nil {
		return err
	}
	asked, err := tx.Asked(round)
	if err != nil {
		return err
	}
	given, err := tx.Ratings(models.RatingFilter{SeasonID: m.SeasonID, MatchID: m.ID, RaterID: who.UserID})
	if err != nil {
		return err
	}
	done := map[models.OwedGrade]bool{}
	for _, r := range given {
		done[models.OwedGrade{PlayerID: r.PlayerID, Skill: r.Skill}] = true
	}
	page.Given = len(done)
	owes := map[models.OwedGrade]bool{}
	for _, g := range asked {
		owes[g] = !done[g]
	}
	members, err := tx.Players(models.PlayerFilter{SeasonID: m.SeasonID})
	if err != nil {
		return err
	}
	skills, err := tx.Skills()
	if err != nil {
		return err
	}
	page.Skills = skillsOwed(skills, members, owes)
	if page.moments, err = momentsOf(tx, round, members); err != nil {
		return err
	}
	page.choose(skills, skill, player)
	return nil
}

// giveMatchGrades is POST /matches/:match/grades: all grades that a coach has chosen, or none of them.
func (p *Pages) giveMatchGrades(c *gin.Context, who models.Who, f *fields) (string, error) {
	match, err := id(c, "match")
	if err != nil {
		return "", err
	}
	if err := givesGrades(who); err != nil {
		return "", err
	}
	next := matchGradesAddress(match)
	if chosen := c.Request.URL.RawQuery; chosen != "" {
		next += "?" + chosen
	}
	return next, p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		m, err := tx.Match(match)
		if err != nil {
			return err
		}
		round, err := ofMatch(m)
		if err != nil {
			return err
		}
		return keepGrades(tx, f, round)
	})
}
