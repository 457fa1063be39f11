package pages

import (
	"fmt"
	"strconv"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
)

// roundPage is a rating round: who still owes grades and, for a coach, a form for all that they owe.
type roundPage struct {
	Form   Form
	Round  models.RatingRound
	Closed bool
	Owed   []models.Owed
	Skills []skillOwed // that the caller owes grades in
}

// skillOwed is a skill with the players whom the caller still has to grade in it.
type skillOwed struct {
	Skill   models.Skill
	Players []playerOwed
}

// playerOwed is one grade that is owed. Field is the end of the names of its fields.
type playerOwed struct{ Name, Field string }

// registerRounds adds the page of a rating round.
func (p *Pages) registerRounds(router *gin.Engine) {
	router.GET("/rating-rounds/:id", p.known(func(c *gin.Context, who models.Who) error {
		return p.roundWith(c, who, Form{})
	}))
	router.POST("/rating-rounds/:id", p.sent("grades", p.roundWith, p.giveGrades))
}

func (p *Pages) roundWith(c *gin.Context, who models.Who, form Form) error {
	round, err := id(c, "id")
	if err != nil {
		return err
	}
	page := roundPage{Form: form}
	if form.Name != "" { // there is one form, whatever the round
		page.Form.Name = "grades"
	}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		var err error
		if page.Round, err = tx.RatingRound(round); err != nil {
			return err
		}
		page.Closed = page.Round.Closed(models.DateOf(p.now()))
		if page.Owed, err = tx.Owed(round); err != nil {
			return err
		}
		return page.readSkills(tx, who)
	})
	if err != nil {
		return fmt.Errorf("page of rating round %d: %w", round, err)
	}
	return p.render(c, form.status(), "round", page.Round.Name, page)
}

// readSkills reads what the caller still owes, skill by skill.
func (page *roundPage) readSkills(tx *store.Tx, who models.Who) error {
	skills, err := tx.Skills()
	if err != nil {
		return err
	}
	members, err := tx.Players(models.PlayerFilter{SquadID: page.Round.SquadID, SeasonID: page.Round.SeasonID})
	if err != nil {
		return err
	}
	names := map[int64]string{}
	for _, m := range members {
		names[m.ID] = m.Name
	}
	for _, s := range skills {
		owed := skillOwed{Skill: s}
		for _, o := range page.Owed {
			if o.CoachID != who.UserID {
				continue
			}
			for _, g := range o.Grades {
				if g.Skill == s.Code {
					owed.Players = append(owed.Players, playerOwed{names[g.PlayerID], gradeField(g)})
				}
			}
		}
		if len(owed.Players) > 0 {
			page.Skills = append(page.Skills, owed)
		}
	}
	return nil
}

func gradeField(g models.OwedGrade) string { return strconv.FormatInt(g.PlayerID, 10) + "-" + g.Skill }

// giveGrades is POST /rating-rounds/:id: all grades that a coach has chosen, or none of them.
func (p *Pages) giveGrades(c *gin.Context, who models.Who, f *fields) (string, error) {
	round, err := id(c, "id")
	if err != nil {
		return "", err
	}
	at := fmt.Sprintf("/rating-rounds/%d", round)
	return at, p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		r, err := tx.RatingRound(round)
		if err != nil {
			return err
		}
		if who.Reach(models.Write, models.AreaRatings) == models.ReachNone {
			return models.Errorf(models.Forbidden, "a %s may not give grades", who.Role)
		}
		asked, err := tx.Asked(&r)
		if err != nil {
			return err
		}
		given := 0
		for _, g := range asked {
			field := gradeField(g)
			text := f.text("g-" + field)
			if text == "" {
				continue
			}
			grade, err := strconv.Atoi(text)
			if err != nil {
				f.refuse("g-"+field, "choose a grade from 1 to 5")
				continue
			}
			given++
			rating := models.Rating{PlayerID: g.PlayerID, Skill: g.Skill, Grade: grade, Date: r.Date, MatchID: r.MatchID,
				Block: r.Block, Comment: f.text("c-" + field), CommentShared: f.checked("s-" + field)}
			if err := tx.CreateRating(&rating); err != nil {
				return err
			}
		}
		if given == 0 && len(f.wrong) == 0 {
			f.refuse("grade", "choose at least one grade")
		}
		return f.err()
	})
}
