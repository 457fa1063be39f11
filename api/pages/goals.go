package pages

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/evidence"
	"throughline/reports/paper"
)

// goalView is a goal as a person reads it.
type goalView struct {
	models.Goal
	Label, Player, Owner  string
	Address               string
	Says                  string // target, day and status
	scale                 paper.Scale
	Start, Chance, Answer string // where the player started, how likely it is, what the coach insisted on
	OtherReaders          string // how others' figures differ from the chance
}

// goalsPage lists a player's goals, with a form to set one.
type goalsPage struct {
	Form     Form
	Own      bool
	Player   models.Player
	Open     []goalView
	Closed   []goalView
	Subjects []subjectGroup
	Owners   []goalChoice
	MaySet   bool
}

// subjectGroup are the indicators or the skills that a goal can be on.
type subjectGroup struct {
	Label string
	All   []field
}

// goalPage is one goal: where it stands, its check-ins, its history, and the forms to change and to close it.
type goalPage struct {
	Form     Form
	Today    models.Date
	Own      bool
	Goal     goalView
	CheckIns []checkInView
	History  []pastGoal
	Owners   []goalChoice
	Results  []field
	MaySet   bool
}

// checkInView is a check-in, and whether only staff read it.
type checkInView struct {
	Words     string
	StaffOnly bool
}

// pastGoal says what a change of a goal changed.
type pastGoal struct {
	When    string
	Changes []string
}

// goalAddress is the page of a goal.
func goalAddress(id int64) string { return fmt.Sprintf("/goals/%d", id) }

// goals is GET /players/:player/goals.
func (p *Pages) goals(c *gin.Context, who models.Who) error { return p.goalsWith(c, who, Form{}) }

func (p *Pages) goalsWith(c *gin.Context, who models.Who, form Form) error {
	player, err := id(c, "player")
	if err != nil {
		return err
	}
	page := goalsPage{Form: form, Own: who.Role == models.RolePlayer,
		MaySet: who.Reach(models.Write, models.AreaGoals) != models.ReachNone}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		if page.Player, err = tx.Player(player); err != nil {
			return err
		}
		all, err := tx.Goals(models.GoalFilter{PlayerID: player})
		if err != nil {
			return err
		}
		views, err := viewGoals(tx, all)
		if err != nil {
			return err
		}
		for _, v := range slices.Backward(views) {
			if v.ClosedOn == nil {
				page.Open = append(page.Open, v)
			} else {
				page.Closed = append(page.Closed, v)
			}
		}
		if !page.MaySet {
			return nil
		}
		if page.Owners, err = goalOwners(tx); err != nil {
			return err
		}
		page.Subjects, err = goalSubjects(tx)
		return err
	})
	if err != nil {
		return fmt.Errorf("goals of player %d: %w", player, err)
	}
	return p.render(c, form.status(), "goals", "Goals of "+page.Player.Name, page)
}

// goal is GET /goals/:id.
func (p *Pages) goal(c *gin.Context, who models.Who) error { return p.goalWith(c, who, Form{}) }

func (p *Pages) goalWith(c *gin.Context, who models.Who, form Form) error {
	n, err := id(c, "id")
	if err != nil {
		return err
	}
	page := goalPage{Form: form, Today: who.Day(p.now()), Own: who.Role == models.RolePlayer,
		MaySet: who.Reach(models.Write, models.AreaGoals) != models.ReachNone,
		Results: []field{{string(models.GoalMet), "met"}, {string(models.GoalNotMet), "not met"},
			{string(models.GoalDropped), "dropped"}}}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error { return page.read(tx, n) })
	if err != nil {
		return fmt.Errorf("page of goal %d: %w", n, err)
	}
	return p.render(c, form.status(), "goal", page.Goal.Label+": "+page.Goal.Player, page)
}

func (page *goalPage) read(tx *store.Tx, id int64) error {
	g, err := tx.Goal(id)
	if err != nil {
		return err
	}
	views, err := viewGoals(tx, []models.Goal{g})
	if err != nil {
		return err
	}
	page.Goal = views[0]
	names, err := tx.UserNames()
	if err != nil {
		return err
	}
	checkIns, err := tx.CheckIns(id)
	if err != nil {
		return err
	}
	for _, c := range slices.Backward(checkIns) {
		line := evidence.CheckInLine{Date: c.Date, Author: names[c.AuthorID], Text: c.Text}
		page.CheckIns = append(page.CheckIns, checkInView{line.Words(), !c.Shared})
	}
	if page.Owners, err = goalOwners(tx); err != nil {
		return err
	}
	kept, err := tx.Earlier("goal", id)
	if err != nil {
		return err
	}
	in, err := wordsOfGoal(tx, g)
	if err != nil {
		return err
	}
	page.History, err = goalHistory(kept, g, in)
	return err
}

// goalHistory says what each change of a goal changed, the last one first.
func goalHistory(kept []models.EarlierVersion, now models.Goal, in goalWords) ([]pastGoal, error) {
	var all []pastGoal
	next := now
	for _, v := range slices.Backward(kept) {
		var was models.Goal
		if err := json.Unmarshal(v.Record(), &was); err != nil {
			return nil, fmt.Errorf("read an earlier goal: %w", err)
		}
		past := pastGoal{When: dayOf(in.reader.Local(v.At))}
		if name := in.names[v.UserID]; name != "" {
			past.When += ", " + name
		}
		before, after := in.fields(was), in.fields(next)
		for k, f := range after {
			if f.Value != before[k].Value {
				past.Changes = append(past.Changes, fmt.Sprintf("%s: %s, before that %s", f.Name, f.Value, before[k].Value))
			}
		}
		all, next = append(all, past), was
	}
	return all, nil
}

// goalWords is what the history of a goal needs to say its values in words.
type goalWords struct {
	reader     models.Who
	names      map[int64]string // of users
	labels     models.Labels
	group      models.Group // of the player
	indicators []models.Indicator
}

// wordsOfGoal reads what the values of a goal are said with.
func wordsOfGoal(tx *store.Tx, g models.Goal) (in goalWords, err error) {
	in.reader = tx.Who()
	if in.names, err = tx.UserNames(); err != nil {
		return in, err
	}
	if in.indicators, err = tx.Indicators(); err != nil {
		return in, err
	}
	if in.labels, err = tx.Labels(); err != nil {
		return in, err
	}
	player, err := tx.Player(g.PlayerID)
	in.group = player.Group()
	return in, err
}

// resultWords say how a goal ended.
var resultWords = map[models.GoalResult]string{models.GoalMet: "met", models.GoalNotMet: "not met",
	models.GoalDropped: "dropped"}

// questionWords name the questions that a coach has answered.
var questionWords = map[models.GoalQuestion]string{
	models.AskAlreadyMet: "the player is there already", models.AskFar: "the target is far away",
	models.AskFewMatches: "few matches", models.AskVolume: "the volume of contact",
	models.AskGettingUp: "getting up fast", models.AskTooMany: "many open goals",
}

// saidAs are the names by which fields says members of a goal.
var saidAs = map[string]string{"indicator": "On", "skill": "On", "owner_id": "Owner", "set_on": "Set on",
	"target": "Target", "by": "To reach by", "baseline": "Start", "baseline_80": "Start taken from",
	"baseline_on": "Start taken from", "baseline_revision": "Start taken from",
	"baseline_reason": "Why the start was typed", "why": "Why", "actions": "Agreed", "insist": "Questions answered",
	"insist_reason": "Why all the same", "closed_on": "Closed on", "result": "Result", "outcome": "How it went"}

// staleGoal says what has changed in a goal since the caller opened its form, in the words of its history. Other errors
// stay as they are.
func staleGoal(tx *store.Tx, id int64, err error) error {
	e, ok := errors.AsType[*models.Error](err)
	if !ok || e.Changed == nil {
		return err
	}
	now, failed := tx.Goal(id)
	if failed != nil {
		return failed
	}
	in, failed := wordsOfGoal(tx, now)
	if failed != nil {
		return failed
	}
	localTimes(tx.Who(), e.Changed)
	with := func(value func(models.ChangedField) json.RawMessage) (map[string]string, error) {
		g, err := changedGoal(now, e.Changed.Fields, value)
		said := map[string]string{}
		for _, f := range in.fields(g) {
			said[f.Name] = f.Value
		}
		return said, err
	}
	yours, failed := with(func(f models.ChangedField) json.RawMessage { return f.Yours })
	if failed != nil {
		return failed
	}
	sent, failed := with(func(f models.ChangedField) json.RawMessage { return f.Sent })
	if failed != nil {
		return failed
	}
	stands, failed := with(func(f models.ChangedField) json.RawMessage { return f.Now })
	if failed != nil {
		return failed
	}
	return &changedSaid{err, changedInWords(e.Changed, func(f models.ChangedField) changeSaid {
		name, known := saidAs[f.Field]
		if !known {
			return plainly(f)
		}
		return changeSaid{name, yours[name], sent[name], stands[name]}
	})}
}

// changedGoal is a goal with other values of the members that have changed.
func changedGoal(g models.Goal, fields []models.ChangedField,
	value func(models.ChangedField) json.RawMessage) (models.Goal, error) {
	members, err := models.Members(g)
	if err != nil {
		return g, err
	}
	for _, f := range fields {
		if delete(members, f.Field); value(f) != nil {
			members[f.Field] = value(f)
		}
	}
	text, err := json.Marshal(members)
	if err != nil {
		return g, err
	}
	var other models.Goal
	return other, json.Unmarshal(text, &other)
}

// fields are what people agree in a goal, with its units, in the order of the form.
func (in goalWords) fields(g models.Goal) []field {
	scale, or := scaleOf(in.indicators, g), func(text string) string {
		if text == "" {
			return "nothing"
		}
		return text
	}
	day := func(d *models.Date) string {
		if d == nil {
			return "nothing"
		}
		return paper.Day(string(*d))
	}
	start, from := "nothing", "nothing"
	if g.Baseline != nil {
		start = scale.Value(*g.Baseline)
		if g.BaselineOn == nil {
			start = agreedValue(scale, *g.Baseline)
		}
	}
	if g.Baseline80 != nil && g.BaselineOn != nil {
		from = fmt.Sprintf("the trend up to %s, likely %s", day(g.BaselineOn), scale.Range(g.Baseline80.Lo, g.Baseline80.Hi))
	}
	var asked []string
	for _, q := range g.Insist {
		asked = append(asked, questionWords[q])
	}
	return []field{
		{"On", or(in.labels.Of(g.Indicator, g.Skill, in.group))}, {"Owner", or(in.names[g.OwnerID])},
		{"Set on", day(&g.SetOn)},
		{"Target", agreedValue(scale, g.Target)}, {"To reach by", day(&g.By)}, {"Start", start}, {"Start taken from", from},
		{"Why the start was typed", or(g.BaselineReason)}, {"Why", or(g.Why)}, {"Agreed", or(g.Actions)},
		{"Questions answered", or(paper.And(asked))}, {"Why all the same", or(g.InsistReason)},
		{"Closed on", day(g.ClosedOn)}, {"Result", or(resultWords[g.Result])}, {"How it went", or(g.Outcome)},
	}
}

// agreedValue prints a value that people typed: as figures are printed, or in full where that would round it.
func agreedValue(scale paper.Scale, x float64) string {
	full := math.Round(x*scale.Factor*1e6) / 1e6
	text := strconv.FormatFloat(full, 'f', -1, 64)
	if _, digits, _ := strings.Cut(text, "."); len(digits) > scale.Decimals {
		return text + scale.Suffix
	}
	return scale.Value(x)
}

// viewGoals are goals as a person reads them.
func viewGoals(tx *store.Tx, goals []models.Goal) ([]goalView, error) {
	if err := tx.GoalsToday(goals); err != nil {
		return nil, err
	}
	indicators, err := tx.Indicators()
	if err != nil {
		return nil, err
	}
	labels, err := tx.Labels()
	if err != nil {
		return nil, err
	}
	names, err := tx.UserNames()
	if err != nil {
		return nil, err
	}
	all := make([]goalView, len(goals))
	for i, g := range goals {
		player, err := tx.Player(g.PlayerID)
		if err != nil {
			return nil, err
		}
		v := goalView{Goal: g, Label: labels.Of(g.Indicator, g.Skill, player.Group()), Player: player.Name,
			Owner: names[g.OwnerID], Address: goalAddress(g.ID)}
		v.describe(scaleOf(indicators, g))
		all[i] = v
	}
	return all, nil
}

// scaleOf is how figures of a goal are printed.
func scaleOf(indicators []models.Indicator, g models.Goal) paper.Scale {
	for _, in := range indicators {
		if in.Code == g.Indicator {
			return paper.ScaleOf(in.Unit)
		}
	}
	return paper.ScaleOf("grade")
}

// describe puts a goal into words.
func (v *goalView) describe(scale paper.Scale) {
	v.scale = scale
	v.Says = fmt.Sprintf("%s by %s: %s", scale.Value(v.Target), paper.Day(string(v.By)), v.Status.Words())
	if v.Baseline != nil {
		v.Start = "Started at " + scale.Value(*v.Baseline)
		switch {
		case v.Baseline80 != nil && v.BaselineOn != nil:
			v.Start += fmt.Sprintf(" (likely %s), from the trend up to %s", scale.Range(v.Baseline80.Lo, v.Baseline80.Hi),
				paper.Day(string(*v.BaselineOn)))
		case v.BaselineReason != "":
			v.Start += ", as a coach put it: " + strings.TrimSuffix(v.BaselineReason, ".")
		}
	}
	if o := v.Prospect; o != nil && v.ClosedOn == nil {
		v.Chance = fmt.Sprintf("Now %s (likely %s), from %s. Chance of reaching it in time: %s, %s.",
			scale.Value(o.Level.Mean), scale.Range(o.Level.Range80.Lo, o.Level.Range80.Hi),
			paper.Plural(o.Matches, "match", "matches"), paper.Chance(o.Reached), o.Assumes)
		v.OtherReaders = o.OtherReaders
	}
	v.Answer = v.InsistReason
}

// goalOwners are who can follow a goal up.
func goalOwners(tx *store.Tx) ([]goalChoice, error) {
	names, err := tx.GoalOwners()
	var all []goalChoice
	for id, name := range names {
		all = append(all, goalChoice{id, name})
	}
	slices.SortFunc(all, func(a, b goalChoice) int {
		return cmp.Or(strings.Compare(a.Label, b.Label), cmp.Compare(a.ID, b.ID))
	})
	return all, err
}

// goalSubjects are what a goal can be on, each with its value in the form.
func goalSubjects(tx *store.Tx) ([]subjectGroup, error) {
	indicators, err := tx.Indicators()
	if err != nil {
		return nil, err
	}
	skills, err := tx.Skills()
	figures, graded := subjectGroup{Label: "Figures"}, subjectGroup{Label: "Skills"}
	for _, i := range indicators {
		unit := map[bool]string{true: " (in %)"}[i.Unit == "%"]
		figures.All = append(figures.All, field{onIndicator + i.Code, i.Label + unit})
	}
	for _, s := range skills {
		graded.All = append(graded.All, field{onSkill + s.Code, s.Label + " (grade)"})
	}
	return []subjectGroup{figures, graded}, err
}

// What a subject's value in the form begins with.
const (
	onIndicator = "indicator:"
	onSkill     = "skill:"
)

// number reads a number as it is printed on a scale; nil where the field is empty.
func (f *fields) number(name string, scale paper.Scale) *float64 {
	if f.text(name) == "" {
		return nil
	}
	n, ok := f.decimal(name, "such as 3.5, or 60 for 60%")
	if !ok {
		return nil
	}
	n /= scale.Factor
	return &n
}

// agreement reads what a goal's form says of it, apart from who and what it is on.
func (f *fields) agreement(tx *store.Tx, g *models.Goal) error {
	indicators, err := tx.Indicators()
	if err != nil {
		return err
	}
	scale := scaleOf(indicators, *g)
	if target := f.number("target", scale); target != nil {
		g.Target = *target
	} else if len(f.wrong) == 0 {
		f.refuse("target", "is missing; write where the player is to get to")
	}
	typed := f.number("baseline", scale)
	if g.Baseline == nil || typed == nil || scale.Value(*typed) != scale.Value(*g.Baseline) {
		g.Baseline = typed
	}
	plain := func(name string) string { return strings.ReplaceAll(f.text(name), "\r\n", "\n") }
	g.By, g.Why, g.Actions, g.BaselineReason = f.day("by"), plain("why"), plain("actions"), plain("baseline_reason")
	if owner := f.idIfAny("owner_id"); owner != nil {
		g.OwnerID = *owner
	}
	g.Insist, g.InsistReason = nil, plain("insist_reason")
	for _, code := range f.values["insist"] {
		g.Insist = append(g.Insist, models.GoalQuestion(code))
	}
	if len(g.Insist) == 0 {
		g.InsistReason = ""
	}
	return f.err()
}

// setGoal is POST /players/:player/goals.
func (p *Pages) setGoal(c *gin.Context, who models.Who, f *fields) (string, error) {
	player, err := id(c, "player")
	if err != nil {
		return "", err
	}
	g := models.Goal{PlayerID: player, SetOn: who.Day(p.now())}
	err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if _, err := tx.Player(player); err != nil {
			return err
		}
		if who.Reach(models.Write, models.AreaGoals) == models.ReachNone {
			return models.Errorf(models.Forbidden, "a %s may not change goal records", who.Role)
		}
		on := f.text("on")
		if code, is := strings.CutPrefix(on, onIndicator); is {
			g.Indicator = code
		} else if code, is := strings.CutPrefix(on, onSkill); is {
			g.Skill = code
		} else {
			f.refuse("on", "choose what the goal is on")
		}
		if err := f.agreement(tx, &g); err != nil {
			return err
		}
		return tx.CreateGoal(&g)
	})
	return goalAddress(g.ID), err
}

// changeGoal is POST /goals/:id.
func (p *Pages) changeGoal(c *gin.Context, who models.Who, f *fields) (string, error) {
	return p.onGoal(c, who, f, func(tx *store.Tx, g *models.Goal) error { return f.agreement(tx, g) })
}

// closeGoal is POST /goals/:id/close.
func (p *Pages) closeGoal(c *gin.Context, who models.Who, f *fields) (string, error) {
	return p.onGoal(c, who, f, func(_ *store.Tx, g *models.Goal) error {
		g.ClosedOn, g.Result = f.dayIfAny("closed_on"), models.GoalResult(f.text("result"))
		g.Outcome = strings.ReplaceAll(f.text("outcome"), "\r\n", "\n")
		if g.ClosedOn == nil {
			f.refuse("closed_on", "is missing; write the day on which the goal ended")
		}
		return f.err()
	})
}

// onGoal changes a goal from the version that the form was made from.
func (p *Pages) onGoal(c *gin.Context, who models.Who, f *fields, change func(*store.Tx, *models.Goal) error) (string,
	error) {
	n, err := id(c, "id")
	if err != nil {
		return "", err
	}
	err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		g, err := tx.Goal(n)
		if err != nil {
			return err
		}
		if who.Reach(models.Write, models.AreaGoals) == models.ReachNone {
			return models.Errorf(models.Forbidden, "a %s may not change goal records", who.Role)
		}
		g.Version = f.version()
		if err := change(tx, &g); err != nil {
			return err
		}
		return staleGoal(tx, n, tx.UpdateGoal(&g))
	})
	return goalAddress(n), err
}

// Filled is what a field of the form that changes the goal has: what was sent, or what stands now.
func (page goalPage) Filled(name string) string {
	form := fmt.Sprintf("goal-%d", page.Goal.ID)
	if page.Form.Name == form {
		return page.Form.Value(form, name)
	}
	return page.Goal.fields().Get(name)
}

// fields are a goal as its form has it.
func (v goalView) fields() url.Values {
	number := func(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
	tidy := func(x float64) string { return number(math.Round(x*v.scale.Factor*1e6) / 1e6) }
	all := url.Values{"target": {tidy(v.Target)}, "by": {string(v.By)}, "why": {v.Why}, "actions": {v.Actions},
		"owner_id": {fmt.Sprint(v.OwnerID)}, "baseline_reason": {v.BaselineReason}}
	if v.Baseline != nil {
		all.Set("baseline", tidy(*v.Baseline))
	}
	return all
}
