package pages

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
)

// myGradesPage is where players grade themselves, for one match or one training block.
type myGradesPage struct {
	Form    Form
	Matches []evidence.MatchLine // the last that the player was in, the last first
	Blocks  []string             // the training blocks that the player graded before
	For     string               // what the form is for, in words
	Match   *int64
	Block   string
	Date    models.Date
	Skills  []mySkill
	Before  []gradedBefore // the last first
}

// mySkill is a skill that suits the player, with the grade they gave, if they did.
type mySkill struct {
	Code, Label string
	Grades      []gradeWords
	Given       int // 0: not yet
	Comment     string
	Version     int64 // of the grade, as the page showed it; 0: not yet
}

// gradeWords is what a grade looks like.
type gradeWords struct {
	Number int
	Words  string
}

// gradedBefore is a match or a training block that the player graded themselves in.
type gradedBefore struct {
	Date    models.Date
	For     string
	Address string
	Grades  []string
}

// matchesToGrade is how many of the last matches a player is offered to grade themselves in.
const matchesToGrade = 5

// registerMine adds the pages that only a player has.
func (p *Pages) registerMine(router *gin.Engine) {
	router.GET("/my-grades", p.known(func(c *gin.Context, who models.Who) error { return p.myGradesWith(c, who, Form{}) }))
	router.POST("/my-grades", p.sent("grades", p.myGradesWith, p.gradeMyself))
	router.GET("/my-reviews", p.known(p.myReviews))
}

// onlyPlayers refuses everybody who is no player.
func onlyPlayers(who models.Who) error {
	if who.Role != models.RolePlayer {
		return models.Errorf(models.Forbidden, "this page is for players")
	}
	return nil
}

// myGradesWith is GET /my-grades: the form is for ?match= or ?block=; without either the player chooses.
func (p *Pages) myGradesWith(c *gin.Context, who models.Who, form Form) error {
	if err := onlyPlayers(who); err != nil {
		return err
	}
	page := myGradesPage{Form: form, Date: who.Day(p.now())}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		given, err := tx.SelfRatings(models.RatingFilter{PlayerID: who.PlayerID})
		if err != nil {
			return err
		}
		all, err := tx.Matches(models.MatchFilter{PlayerID: who.PlayerID, Bare: true})
		if err != nil {
			return err
		}
		match, block := c.Query("match"), c.Query("block")
		if form.Name != "" {
			match, block = form.Value("grades", "match"), form.Value("grades", "block")
		}
		if err := page.choose(all, match, block, given); err != nil {
			return err
		}
		page.readBefore(all, given)
		if page.For == "" {
			return nil
		}
		return page.readSkills(tx, who, given)
	})
	if err != nil {
		return fmt.Errorf("page of a player's own grades: %w", err)
	}
	return p.render(c, form.status(), "my-grades", "Grade yourself", page)
}

// choose says what the form is for, and what else there is to choose.
func (page *myGradesPage) choose(all []models.Match, match, block string, given []models.SelfRating) error {
	played := slices.DeleteFunc(slices.Clone(all), func(m models.Match) bool { return m.Date > page.Date })
	for _, m := range slices.Backward(played[max(0, len(played)-matchesToGrade):]) {
		page.Matches = append(page.Matches, evidence.LineOf(m))
	}
	for _, r := range slices.Backward(given) {
		if r.Block != "" && !slices.Contains(page.Blocks, r.Block) {
			page.Blocks = append(page.Blocks, r.Block)
		}
	}
	switch {
	case match != "":
		at := slices.IndexFunc(played, func(m models.Match) bool { return strconv.FormatInt(m.ID, 10) == match })
		if at < 0 {
			return models.Errorf(models.NotFound, "you were in no such match")
		}
		m := played[at]
		page.Match, page.Date, page.For = &m.ID, m.Date, "the match against "+m.Opponent
	case block != "":
		page.Block, page.For = block, block
		for _, r := range given {
			if r.Block == block {
				page.Date = r.Date
			}
		}
	}
	return nil
}

// of says whether a grade is for what the form is for.
func (page *myGradesPage) of(r models.SelfRating) bool {
	if page.Match != nil {
		return r.MatchID != nil && *r.MatchID == *page.Match
	}
	return r.MatchID == nil && r.Block == page.Block
}

// readSkills reads the skills that suit the player, with what was given for the same match or block.
func (page *myGradesPage) readSkills(tx *store.Tx, who models.Who, given []models.SelfRating) error {
	me, err := tx.Player(who.PlayerID)
	if err != nil {
		return err
	}
	skills, err := tx.Skills()
	for _, s := range skills {
		if !s.Suits(me.Group()) {
			continue
		}
		s = s.For(me.Group())
		mine := mySkill{Code: s.Code, Label: s.Label}
		for i, words := range s.Grades {
			mine.Grades = append(mine.Grades, gradeWords{i + 1, words})
		}
		for _, r := range given {
			if r.Skill == s.Code && page.of(r) {
				mine.Given, mine.Comment, mine.Version = r.Grade, r.Comment, r.Version
			}
		}
		if page.Form.Name != "" { // what was sent, right or wrong
			mine.Given, _ = strconv.Atoi(page.Form.Value("grades", "g-"+s.Code))
			mine.Comment = page.Form.Value("grades", "c-"+s.Code)
			mine.Version, _ = strconv.ParseInt(page.Form.Value("grades", "v-"+s.Code), 10, 64)
		}
		page.Skills = append(page.Skills, mine)
	}
	return err
}

// readBefore lists what the player graded, occasion by occasion, the last first.
func (page *myGradesPage) readBefore(all []models.Match, given []models.SelfRating) {
	opponents := map[int64]string{}
	for _, m := range all {
		opponents[m.ID] = m.Opponent
	}
	for _, r := range slices.Backward(given) {
		one := gradedBefore{Date: r.Date, For: r.Block, Address: "/my-grades?" + url.Values{"block": {r.Block}}.Encode()}
		if r.MatchID != nil {
			one.For, one.Address = opponents[*r.MatchID], fmt.Sprintf("/my-grades?match=%d", *r.MatchID)
		}
		if n := len(page.Before); n == 0 || page.Before[n-1].Address != one.Address {
			page.Before = append(page.Before, one)
		}
		last := &page.Before[len(page.Before)-1]
		last.Grades = append(last.Grades, fmt.Sprintf("%s: %d", r.Label, r.Grade))
	}
}

// gradeMyself is POST /my-grades: all the grades that a player chose for one match or block, or none of them.
func (p *Pages) gradeMyself(c *gin.Context, who models.Who, f *fields) (string, error) {
	if err := onlyPlayers(who); err != nil {
		return "", err
	}
	to := models.SelfRating{Rating: models.Rating{MatchID: f.idIfAny("match"), Block: f.text("block"),
		Date: f.day("date")}}
	return "/my-grades", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		skills, err := tx.Skills()
		if err != nil {
			return err
		}
		given, err := tx.SelfRatings(models.RatingFilter{PlayerID: who.PlayerID})
		if err != nil {
			return err
		}
		page := myGradesPage{Match: to.MatchID, Block: to.Block}
		chosen := 0
		for _, s := range skills {
			text := f.text("g-" + s.Code)
			if text == "" {
				if f.text("c-"+s.Code) != "" {
					f.refuse("g-"+s.Code, "choose a grade too, or clear the words")
				}
				continue
			}
			chosen++
			r := to
			if at := slices.IndexFunc(given, func(r models.SelfRating) bool {
				return r.Skill == s.Code && page.of(r)
			}); at >= 0 {
				r = given[at]
			}
			grade, err := strconv.Atoi(text)
			if err != nil || grade < 1 || grade > 5 {
				f.refuse("g-"+s.Code, "choose a grade from 1 to 5")
				continue
			}
			if err := keepOwnGrade(tx, f, r, s, grade); err != nil {
				return err
			}
		}
		if chosen == 0 && len(f.wrong) == 0 {
			f.refuse("", "choose at least one grade")
		}
		return f.err()
	})
}

// keepOwnGrade adds a grade, or changes the one that was given before.
func keepOwnGrade(tx *store.Tx, f *fields, r models.SelfRating, s models.Skill, grade int) error {
	comment := f.text("c-" + s.Code)
	if r.ID != 0 && r.Grade == grade && r.Comment == comment {
		return nil
	}
	before := r.Grade
	r.Skill, r.Grade, r.Comment = s.Code, grade, comment
	if r.ID == 0 {
		return tx.CreateSelfRating(&r)
	}
	r.Version, _ = strconv.ParseInt(f.text("v-"+s.Code), 10, 64)
	return inBothWords(tx.UpdateSelfRating(&r), fmt.Sprintf("%s %d", s.Label, grade),
		fmt.Sprintf("%s %d", s.Label, before))
}

// myReviewsPage lists the reviews that a player reads, the last first, with what waits for them.
type myReviewsPage struct{ Reviews []models.Review }

// myReviews is GET /my-reviews.
func (p *Pages) myReviews(c *gin.Context, who models.Who) error {
	if err := onlyPlayers(who); err != nil {
		return err
	}
	var page myReviewsPage
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		page.Reviews, err = tx.Reviews(models.ReviewFilter{PlayerID: who.PlayerID})
		slices.Reverse(page.Reviews)
		return err
	})
	if err != nil {
		return fmt.Errorf("page of a player's reviews: %w", err)
	}
	return p.render(c, http.StatusOK, "my-reviews", "Your reviews", page)
}
