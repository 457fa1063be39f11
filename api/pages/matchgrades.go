package pages

import (
	"fmt"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
)

// matchGradesPage is where a coach grades all who played in a match, skill by skill, with the words of each grade in
// view.
type matchGradesPage struct {
	Form    Form
	Match   evidence.MatchLine
	Skills  []skillOwed // with the players whom the caller has not graded yet
	Given   int         // how many grades the caller gave for the match
	moments map[int64][]momentChoice
}

// Entry is the form of one grade.
func (page matchGradesPage) Entry(o playerOwed) gradeEntry {
	e := gradeEntry{ID: "p" + o.Field, End: "-" + o.Field, Label: o.Name, Options: o.Options,
		Moments: page.moments[o.Player]}
	e.fill(page.Form, "grades")
	return e
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
		return page.read(tx, who, m)
	})
	if err != nil {
		return fmt.Errorf("grades of match %d: %w", match, err)
	}
	return p.render(c, form.status(), "match-grades", "Grades: "+page.Match.Opponent, page)
}

func (page *matchGradesPage) read(tx *store.Tx, who models.Who, m models.Match) error {
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
	page.moments, err = momentsOf(tx, round, members)
	return err
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
	return matchGradesAddress(match), p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
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
