package pages

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
)

// roundPage is a rating round: who still owes grades, for a coach a form for all that they owe, and the grades that the
// caller may read, each with a form to change it.
type roundPage struct {
	Form    Form
	Round   models.RatingRound
	Squad   string
	Closed  bool
	Mine    bool // the caller is one of the coaches who were asked
	Owed    []owedRow
	Skills  []skillOwed // that the caller owes grades in
	Skill   skillOwed   // of those, the one whose form is shown: a page with all of them is megabytes long
	Given   []playerGiven
	Moments map[int64][]momentChoice // of each player, that can be evidence
	Line    string                   // how other readers' grades differ
	Setting *roundForm               // changes the round; nil for callers who may not

	Changing int64 // the grade whose form is shown: with a form for each, the page is a hundred times as long
}

// owedRow is what one coach has given and still owes, with the players for those who may read that.
type owedRow struct {
	models.Owed
	Lists []string // for each player: the skills that are owed
}

// skillOwed is a skill with the players whom the caller still has to grade in it.
type skillOwed struct {
	Skill   models.Skill
	Players []playerOwed
}

// playerOwed is one grade that is owed. Field is the end of the names of its fields. Label and Options are the skill in
// the words for the player.
type playerOwed struct {
	Name, Field, Label string
	Player             int64
	Options            []gradeOption
}

// gradeBlock is a skill in the same words for one or several players, with the entry of each.
type gradeBlock struct {
	ID, Label string
	Grades    []gradeOption
	Entries   []gradeEntry
}

// blocksOf are the entries of a skill, one block for each wording of it.
func blocksOf(s skillOwed, entry func(playerOwed) gradeEntry) (all []gradeBlock) {
	for _, o := range s.Players {
		i := slices.IndexFunc(all, func(b gradeBlock) bool {
			return b.Label == o.Label && slices.Equal(b.Grades, o.Options)
		})
		if i < 0 {
			i = len(all)
			id := "skill-" + s.Skill.Code
			if i > 0 {
				id += "-" + strconv.Itoa(i+1)
			}
			all = append(all, gradeBlock{ID: id, Label: o.Label, Grades: o.Options})
		}
		all[i].Entries = append(all[i].Entries, entry(o))
	}
	return all
}

// gradeOption is a grade that can be chosen, in the words of the skill for the player.
type gradeOption struct {
	N     int
	Words string
}

// gradeEntry is the part of a form that gives or changes one grade. The names of its fields end in End.
type gradeEntry struct {
	ID, End, Label string
	Options        []gradeOption
	Grade          int // 0 for none
	Comment        string
	Shared         bool
	Moments        []momentChoice
	Chosen         []int64
}

// Open is whether more than the grade was filled in.
func (e gradeEntry) Open() bool { return e.Comment != "" || e.Shared || len(e.Chosen) > 0 }

// Has is whether a moment is chosen as evidence.
func (e gradeEntry) Has(moment int64) bool { return slices.Contains(e.Chosen, moment) }

// playerGiven is a player with the grades that the caller may read.
type playerGiven struct {
	Name   string
	Grades []givenGrade
}

// givenGrade is a grade that was given in the round.
type givenGrade struct {
	models.Rating
	Skill, Coach, Was string
	Moments           []string // that were named as evidence
	Key               string   // names the form that changes it
	MayChange         bool
	options           []gradeOption
}

// momentChoice is a moment that can be evidence of a grade.
type momentChoice struct {
	ID    int64
	Label string
}

func roundAddress(id int64) string { return fmt.Sprintf("/rating-rounds/%d", id) }

// registerRounds adds the pages on which coaches grade: those of rating rounds, and of a match.
func (p *Pages) registerRounds(router *gin.Engine) {
	router.GET("/matches/:match/grades", p.known(p.matchGrades))
	router.POST("/matches/:match/grades", p.sent("grades", p.matchGradesWith, p.giveMatchGrades))
	router.GET("/rating-rounds", p.known(p.rounds))
	router.GET("/rating-rounds/new", p.known(p.newRound))
	router.POST("/rating-rounds", p.sent("round", p.newRoundWith, p.openRound))
	router.GET("/rating-rounds/:id", p.known(func(c *gin.Context, who models.Who) error {
		return p.roundWith(c, who, Form{})
	}))
	router.POST("/rating-rounds/:id", p.sent("grades", p.roundWith, p.giveGrades))
	router.POST("/rating-rounds/:id/change", p.sent("round", p.roundWith, p.changeRound))
	router.POST("/rating-rounds/:id/delete", p.sent("delete", p.roundWith, p.deleteRound))
	router.POST("/rating-rounds/:id/grades/:grade", p.sent("grade", p.roundWith, p.changeGrade))
	router.POST("/rating-rounds/:id/grades/:grade/delete", p.sent("grade", p.roundWith, p.deleteGrade))
}

func (p *Pages) roundWith(c *gin.Context, who models.Who, form Form) error {
	round, err := id(c, "id")
	if err != nil {
		return err
	}
	page := roundPage{Form: form}
	page.Changing, _ = strconv.ParseInt(c.Query("change"), 10, 64) // without one, no grade is being changed
	if grade := c.Param("grade"); grade != "" {
		page.Form.Name = "grade-" + grade
	}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		var err error
		if page.Round, err = tx.RatingRound(round); err != nil {
			return err
		}
		page.Closed = page.Round.Closed(who.Day(p.now()))
		return page.read(tx, who, c.Query("skill"))
	})
	if err != nil {
		return fmt.Errorf("page of rating round %d: %w", round, err)
	}
	return p.render(c, form.status(), "round", page.Round.Name, page)
}

// Key names a form of the round.
func (page roundPage) Key(form string) string { return fmt.Sprintf("%s-%d", form, page.Round.ID) }

// Entry is the form of a grade that is owed.
func (page roundPage) Entry(o playerOwed) gradeEntry {
	e := gradeEntry{ID: "p" + o.Field, End: "-" + o.Field, Label: o.Name, Options: o.Options,
		Moments: page.Moments[o.Player]}
	e.fill(page.Form, page.Key("grades"))
	return e
}

// Blocks are the entries of the skill that is shown.
func (page roundPage) Blocks() []gradeBlock { return blocksOf(page.Skill, page.Entry) }

// Again is the form that changes a grade.
func (page roundPage) Again(g givenGrade) gradeEntry {
	e := gradeEntry{ID: g.Key, Label: g.Skill, Options: g.options, Grade: g.Grade, Comment: g.Comment,
		Shared: g.CommentShared, Moments: page.Moments[g.PlayerID], Chosen: g.Evidence}
	e.fill(page.Form, g.Key)
	return e
}

// fill takes over what was sent with a form that failed.
func (e *gradeEntry) fill(f Form, form string) {
	if f.Name != form || f.sent["g"+e.End] == nil {
		return
	}
	sent := fields{values: f.sent}
	e.Grade, _ = strconv.Atoi(sent.text("g" + e.End))
	e.Comment, e.Shared, e.Chosen = f.sent.Get("c"+e.End), sent.checked("s"+e.End), nil
	for _, text := range f.sent["m"+e.End] {
		if moment, err := strconv.ParseInt(text, 10, 64); err == nil {
			e.Chosen = append(e.Chosen, moment)
		}
	}
}

// optionsOf are the grades of a skill for a player.
func optionsOf(s models.Skill, p models.Player) []gradeOption {
	all := []gradeOption{}
	for n, words := range s.For(p.Group()).Grades {
		all = append(all, gradeOption{n + 1, words})
	}
	return all
}

// read reads the round for a caller, with the form of a skill that they owe grades in, or of the first.
func (page *roundPage) read(tx *store.Tx, who models.Who, skill string) error {
	if page.Form.Name == page.Key("grades") {
		if err := page.Form.nameGrades(tx, page.Round.SeasonID); err != nil {
			return err
		}
	}
	owed, err := tx.Owed(page.Round.ID)
	if err != nil {
		return err
	}
	squad, err := tx.Squad(page.Round.SquadID)
	if err != nil {
		return err
	}
	page.Squad = squad.Name
	skills, err := tx.Skills()
	if err != nil {
		return err
	}
	members, err := tx.Players(models.PlayerFilter{SquadID: page.Round.SquadID, SeasonID: page.Round.SeasonID})
	if err != nil {
		return err
	}
	if page.Moments, err = momentsOf(tx, &page.Round, members); err != nil {
		return err
	}
	page.readOwed(owed, skills, members, who)
	if i := slices.IndexFunc(page.Skills, func(s skillOwed) bool { return s.Skill.Code == skill }); i >= 0 {
		page.Skill = page.Skills[i]
	} else if len(page.Skills) > 0 {
		page.Skill = page.Skills[0]
	}
	if err := page.readGiven(tx, skills, members, who); err != nil {
		return err
	}
	mayChange := who.Reach(models.Write, models.AreaRounds)
	if mayChange == models.ReachAcademy || mayChange == models.ReachSquads && !page.Closed {
		if page.Setting, err = readRoundForm(tx, page.Round, squad); err == nil {
			page.Setting.Form = page.Form
		}
	}
	return err
}

// readOwed reads what each coach owes and, skill by skill, what the caller does.
func (page *roundPage) readOwed(owed []models.Owed, skills []models.Skill, members []models.Player, who models.Who) {
	owes := map[models.OwedGrade]bool{}
	for _, o := range owed {
		row := owedRow{Owed: o}
		for _, m := range members {
			var labels []string
			for _, s := range skills {
				g := models.OwedGrade{PlayerID: m.ID, Skill: s.Code}
				if slices.Contains(o.Grades, g) {
					labels = append(labels, s.For(m.Group()).Label)
					owes[g] = owes[g] || o.CoachID == who.UserID
				}
			}
			if labels != nil {
				row.Lists = append(row.Lists, m.Name+": "+strings.Join(labels, ", "))
			}
		}
		page.Mine = page.Mine || o.CoachID == who.UserID
		page.Owed = append(page.Owed, row)
	}
	page.Skills = skillsOwed(skills, members, owes)
}

// skillsOwed are the skills that grades are owed in, with the players to grade.
func skillsOwed(skills []models.Skill, members []models.Player, owes map[models.OwedGrade]bool) (all []skillOwed) {
	for _, s := range skills {
		one := skillOwed{Skill: s}
		for _, m := range members {
			if g := (models.OwedGrade{PlayerID: m.ID, Skill: s.Code}); owes[g] {
				one.Players = append(one.Players, playerOwed{m.Name, gradeField(g), s.For(m.Group()).Label, m.ID,
					optionsOf(s, m)})
			}
		}
		if len(one.Players) > 0 {
			all = append(all, one)
		}
	}
	return all
}

// readGiven reads the grades of the round that the caller may read, player by player.
func (page *roundPage) readGiven(tx *store.Tx, skills []models.Skill, members []models.Player, who models.Who) error {
	all, err := tx.Ratings(models.RatingFilter{RoundID: page.Round.ID})
	if err != nil {
		return err
	}
	all = slices.DeleteFunc(all, func(r models.Rating) bool { return r.Self })
	before, err := tx.EarlierGrades(all)
	if err != nil {
		return err
	}
	coaches, err := tx.UserNames()
	if err != nil {
		return err
	}
	skillOf := map[string]models.Skill{}
	for _, s := range skills {
		skillOf[s.Code] = s
	}
	mayAll := who.Reach(models.Write, models.AreaRatings) == models.ReachAcademy
	for _, m := range members {
		one := playerGiven{Name: m.Name}
		for _, r := range all {
			if r.PlayerID != m.ID {
				continue
			}
			s := skillOf[r.Skill]
			g := givenGrade{Rating: r, Skill: cmp.Or(r.Label, s.Label), options: optionsOf(s, m), Coach: coaches[r.RaterID],
				Was: evidence.EarlierInWords(before[r.ID]), Key: fmt.Sprintf("grade-%d", r.ID),
				MayChange: mayAll || r.RaterID == who.UserID && !page.Closed}
			for _, moment := range page.Moments[m.ID] {
				if slices.Contains(r.Evidence, moment.ID) {
					g.Moments = append(g.Moments, moment.Label)
				}
			}
			one.Grades = append(one.Grades, g)
		}
		if len(one.Grades) > 0 {
			page.Given = append(page.Given, one)
		}
	}
	if len(members) > 0 {
		seen, err := tx.GradesSeen(members[0].ID, page.Round.SeasonID)
		if page.Line = seen.Line(); page.Closed {
			page.Line = ""
		}
		return err
	}
	return nil
}

func gradeField(g models.OwedGrade) string { return strconv.FormatInt(g.PlayerID, 10) + "-" + g.Skill }

// giveGrades is POST /rating-rounds/:id: all grades that a coach has chosen, or none of them. The page then shows the
// next skill that grades are owed in.
func (p *Pages) giveGrades(c *gin.Context, who models.Who, f *fields) (string, error) {
	round, err := id(c, "id")
	if err != nil {
		return "", err
	}
	if err := givesGrades(who); err != nil {
		return "", err
	}
	return roundAddress(round), p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		r, err := tx.RatingRound(round)
		if err != nil {
			return err
		}
		return keepGrades(tx, f, &r)
	})
}

// keepGrades adds the grades that a form has, of those that a round asks for.
func keepGrades(tx *store.Tx, f *fields, r *models.RatingRound) error {
	asked, err := tx.Asked(r)
	if err != nil {
		return err
	}
	given := 0
	for _, g := range asked {
		field := gradeField(g)
		if f.text("g-"+field) == "" {
			if f.text("c-"+field) != "" || f.checked("s-"+field) || f.values["m-"+field] != nil {
				f.refuse("g-"+field, "choose a grade too, or clear the comment")
			}
			continue
		}
		given++
		rating := models.Rating{PlayerID: g.PlayerID, Skill: g.Skill, Date: r.Date, MatchID: r.MatchID, Block: r.Block}
		f.grade(&rating, "-"+field)
		if rating.Grade == 0 {
			continue
		}
		err := tx.CreateRating(&rating)
		if wrong, refused := asRefusal(err); refused {
			for _, words := range inWords(wrong) {
				f.refuse("g-"+field, words)
			}
		} else if err != nil {
			return err
		}
	}
	if given == 0 && len(f.wrong) == 0 {
		f.refuse("", "choose at least one grade")
	}
	return f.err()
}

// nameGrades names the player and the skill of each refused grade, in place of its field.
func (f *Form) nameGrades(tx *store.Tx, season int64) error {
	players, err := tx.Players(models.PlayerFilter{SeasonID: season})
	if err != nil {
		return err
	}
	skills, err := tx.Skills()
	if err != nil {
		return err
	}
	if len(f.Wrong) != len(f.fields) {
		return nil
	}
	f.Wrong = slices.Clone(f.Wrong)
	for i, wrong := range f.fields {
		for _, m := range players {
			of, is := strings.CutPrefix(wrong.Where, fmt.Sprintf("g-%d-", m.ID))
			at := slices.IndexFunc(skills, func(s models.Skill) bool { return s.Code == of })
			if is && at >= 0 {
				f.Wrong[i] = fmt.Sprintf("%s, %s: %s.", m.Name, skills[at].For(m.Group()).Label,
					strings.TrimSuffix(wrong.Message, "."))
			}
		}
	}
	return nil
}

// grade reads a grade with its comment and its moments. The names of its fields end in one text.
func (f *fields) grade(r *models.Rating, end string) {
	grade, err := strconv.Atoi(f.text("g" + end))
	if err != nil || grade < 1 || grade > 5 {
		f.refuse("g"+end, "choose a grade from 1 to 5")
		grade = 0
	}
	r.Grade, r.Comment, r.CommentShared = grade, f.text("c"+end), f.checked("s"+end)
	r.Evidence = nil
	for _, text := range f.values["m"+end] {
		moment, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			f.refuse("m"+end, "choose moments from the list")
			continue
		}
		r.Evidence = append(r.Evidence, moment)
	}
}

// changeGrade is POST /rating-rounds/:id/grades/:grade. The earlier value is kept.
func (p *Pages) changeGrade(c *gin.Context, who models.Who, f *fields) (string, error) {
	return p.onGrade(c, who, func(tx *store.Tx, r *models.Rating) error {
		f.grade(r, "")
		if err := f.err(); err != nil {
			return err
		}
		r.Version = f.version()
		return tx.UpdateRating(r)
	})
}

// deleteGrade is POST /rating-rounds/:id/grades/:grade/delete.
func (p *Pages) deleteGrade(c *gin.Context, who models.Who, f *fields) (string, error) {
	return p.onGrade(c, who, func(tx *store.Tx, r *models.Rating) error { return tx.DeleteRating(r.ID, f.version()) })
}

// onGrade writes a grade of a round.
func (p *Pages) onGrade(c *gin.Context, who models.Who, write func(*store.Tx, *models.Rating) error) (string, error) {
	round, err := id(c, "id")
	if err != nil {
		return "", err
	}
	grade, err := id(c, "grade")
	if err != nil {
		return "", err
	}
	return roundAddress(round) + "#given", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		of, err := tx.RatingRound(round)
		if err != nil {
			return err
		}
		r, err := tx.Rating(grade)
		if err == nil && !of.Is(&r) {
			err = models.Errorf(models.NotFound, "the grade %d is not of this round", grade)
		}
		if err != nil {
			return err
		}
		return write(tx, &r)
	})
}

// momentsOf are the moments of players that can be evidence in a round, in the order of play.
func momentsOf(tx *store.Tx, r *models.RatingRound, members []models.Player) (map[int64][]momentChoice, error) {
	var match int64
	if r.MatchID != nil {
		match = *r.MatchID
	}
	logs, err := tx.Logs(models.LogFilter{SeasonID: r.SeasonID, MatchID: match})
	if err != nil {
		return nil, err
	}
	games, err := tx.Matches(models.MatchFilter{SeasonID: r.SeasonID, Bare: true})
	if err != nil {
		return nil, err
	}
	ofLog, lineOf := map[int64]models.Log{}, map[int64]evidence.MatchLine{}
	for _, g := range games {
		lineOf[g.ID] = evidence.LineOf(g)
	}
	q := models.InvolvementFilter{SeasonID: r.SeasonID, MatchID: match, MomentsOnly: true}
	for _, l := range logs {
		game, known := lineOf[l.MatchID]
		member := slices.ContainsFunc(members, func(p models.Player) bool { return p.ID == l.PlayerID })
		if known && member && (match != 0 || r.HasMoment(game.Date)) {
			ofLog[l.ID], q.LogIDs = l, append(q.LogIDs, l.ID)
		}
	}
	all := map[int64][]momentChoice{}
	if len(q.LogIDs) == 0 {
		return all, nil
	}
	moments, err := tx.Involvements(q)
	if err != nil {
		return nil, err
	}
	for _, i := range moments {
		l := ofLog[i.LogID]
		game := lineOf[l.MatchID]
		all[l.PlayerID] = append(all[l.PlayerID], momentChoice{i.ID, evidence.MomentInWords(&game, &i)})
	}
	return all, nil
}
