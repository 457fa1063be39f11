package store

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"throughline/models"
)

// Where goals stand. It follows from the kept trends, as far as the caller may read them, and from the day: nothing of
// it is kept with the goal.

// goalLevel is the trend that a goal's starting value is taken from.
type goalLevel struct{ models.Trend }

// goalLevel returns the trend of what a goal is on, in the season in which it is set, or nil.
func (tx *Tx) goalLevel(g *models.Goal) (*goalLevel, error) {
	all, err := tx.trendsOf([]models.Goal{*g}, models.WholeTrends)
	if err != nil {
		return nil, err
	}
	seasons, err := tx.seasonsByID()
	if err != nil {
		return nil, err
	}
	var best *models.Trend
	for i := range all {
		t, season := &all[i], seasons[all[i].SeasonID]
		if t.Indicator != g.Indicator || t.Skill != g.Skill || g.SetOn < season.Starts || g.SetOn > season.Ends {
			continue
		}
		if best == nil || t.Figures.Matches > best.Figures.Matches {
			best = t
		}
	}
	if best == nil {
		return nil, nil
	}
	return &goalLevel{*best}, nil
}

// start fills in a goal's starting value, or accepts a typed one with its reason.
func (l *goalLevel) start(g *models.Goal) error {
	g.Baseline80, g.BaselineOn, g.BaselineRevision = nil, nil, 0
	switch {
	case g.Baseline != nil && g.BaselineReason == "":
		return wrong("baseline_reason", "is missing; leave the baseline out and it is taken from the trend, or say why you "+
			"typed it")
	case g.Baseline != nil:
		return nil
	}
	if l == nil || l.Figures.Now == nil {
		return nil // the goal has none, and is questioned for resting on too little
	}
	now, day := *l.Figures.Now, models.DateOf(l.MadeAt)
	if n := len(l.Figures.Curve); n > 0 {
		day = l.Figures.Curve[n-1].Date
	}
	g.Baseline, g.Baseline80, g.BaselineOn, g.BaselineRevision = &now.Mean, &now.Range80, &day, l.Revision
	return nil
}

// trendsOf returns the trends of what some goals are on, as far as the caller may read them.
func (tx *Tx) trendsOf(goals []models.Goal, parts models.TrendParts) ([]models.Trend, error) {
	f := models.TrendFilter{Parts: parts}
	for _, g := range goals {
		f.Each = append(f.Each, models.PlayersSubject{PlayerID: g.PlayerID, Indicator: g.Indicator, Skill: g.Skill})
		f.PlayerID = g.PlayerID
	}
	if slices.ContainsFunc(f.Each, func(s models.PlayersSubject) bool { return s.PlayerID != f.PlayerID }) {
		f.PlayerID = 0
	}
	return tx.Trends(f)
}

func (tx *Tx) seasonsByID() (map[int64]models.Season, error) {
	all, err := seasons().find(tx, where{})
	byID := map[int64]models.Season{}
	for _, s := range all {
		byID[s.ID] = s
	}
	return byID, err
}

// GoalOwners returns the names of those who can follow a goal up: the coaches and managers, by id.
func (tx *Tx) GoalOwners() (map[int64]string, error) {
	type named struct {
		ID   int64
		Name string
	}
	all, err := rows[named](tx, "read who can follow goals up", `SELECT id, name FROM users
		WHERE academy_id = ? AND role IN ? AND deleted_at IS NULL`, tx.who.AcademyID,
		[]models.Role{models.RoleCoach, models.RoleManager})
	names := map[int64]string{}
	for _, u := range all {
		names[u.ID] = u.Name
	}
	return names, err
}

// goalState is where a goal stands today, and how likely the player is to reach it.
type goalState struct {
	Status   models.GoalStatus
	Prospect *models.Prospect
}

// GoalsToday fills in where goals stand, and how likely the open ones are to be reached.
func (tx *Tx) GoalsToday(goals []models.Goal) error {
	states, err := tx.goalStates(goals)
	if err != nil {
		return err
	}
	for i := range goals {
		state := states[goals[i].ID]
		goals[i].Status, goals[i].Prospect = state.Status, state.Prospect
	}
	return nil
}

// goalStates are where goals stand, by id.
func (tx *Tx) goalStates(goals []models.Goal) (map[int64]goalState, error) {
	states := map[int64]goalState{}
	open := slices.DeleteFunc(slices.Clone(goals), func(g models.Goal) bool { return g.ClosedOn != nil })
	for i := range goals {
		if goals[i].ClosedOn != nil {
			states[goals[i].ID] = goalState{Status: goals[i].StatusOn(tx.today(), false, false, false)}
		}
	}
	if len(open) == 0 {
		return states, nil
	}
	trends, err := tx.trendsOf(open, models.BareTrends)
	if err != nil {
		return nil, err
	}
	seasons, err := tx.seasonsByID()
	if err != nil {
		return nil, err
	}
	paused, err := tx.unavailable(open)
	if err != nil {
		return nil, err
	}
	for i := range open {
		g := &open[i]
		prospect, met := prospectOf(g, trends, seasons)
		if prospect != nil {
			hidden, err := tx.PlayersHidden(prospect.SeasonID, prospect.SquadID)
			if err != nil {
				return nil, err
			}
			grades, err := tx.otherGrades(g, seasons, met)
			if err != nil {
				return nil, err
			}
			levels := models.OtherLevels(tx.who.Role == models.RolePlayer, hidden)
			prospect.OtherReaders = strings.TrimSpace(grades + " " + levels)
		}
		if met {
			calls, err := tx.gradeCalls(g)
			if err != nil {
				return nil, err
			}
			met = !calls
		}
		states[g.ID] = goalState{g.StatusOn(tx.today(), met, prospect == nil, paused[g.PlayerID]), prospect}
	}
	return states, nil
}

// prospectOf reads from the latest trend that was made with the goal as it is now how likely it is to be reached, and
// whether it is met; nil if no trend says enough.
func prospectOf(g *models.Goal, trends []models.Trend, seasons map[int64]models.Season) (*models.Prospect, bool) {
	var of *models.Trend
	var best models.GoalOutlook
	for i := range trends {
		t := &trends[i]
		if t.PlayerID != g.PlayerID || t.Indicator != g.Indicator || t.Skill != g.Skill {
			continue
		}
		at := slices.IndexFunc(t.Figures.Goals, func(o models.GoalOutlook) bool {
			return o.GoalID == g.ID && o.Target == g.Target && o.By == g.By
		})
		if at < 0 || t.Figures.Now == nil || t.Figures.Verdict == models.VerdictTooLittle {
			continue
		}
		if of == nil || cmp.Or(cmp.Compare(seasons[t.SeasonID].Starts, seasons[of.SeasonID].Starts),
			cmp.Compare(t.Figures.Matches, of.Figures.Matches)) > 0 {
			of, best = t, t.Figures.Goals[at]
		}
	}
	if of == nil {
		return nil, false
	}
	return &models.Prospect{Reached: best.Reached, Assumes: best.Assumes(), Now: best.Now, Level: *of.Figures.Now,
		Matches: of.Figures.Matches, SeasonID: of.SeasonID, SquadID: of.SquadID}, best.Met
}

// actsUpTo is the grade in the skill of a goal up to which action is needed; 0 if none calls for it.
func (tx *Tx) actsUpTo(g *models.Goal) (int, error) {
	if g.Skill == "" {
		return 0, nil
	}
	all, err := tx.Skills()
	at := slices.IndexFunc(all, func(s models.Skill) bool { return s.Code == g.Skill })
	if err != nil || at < 0 {
		return 0, err
	}
	return all[at].ActUpTo, nil
}

// otherGrades is the line beside a goal whose level is there: whether it is met depends on the grades since it was set
// that its reader may read. It is empty where no grade can make a difference.
func (tx *Tx) otherGrades(g *models.Goal, seasons map[int64]models.Season, there bool) (string, error) {
	upTo, err := tx.actsUpTo(g)
	switch {
	case err != nil || !there || upTo == 0:
		return "", err
	case tx.who.Role == models.RolePlayer:
		return models.OwnGrades, nil
	}
	for id, season := range seasons {
		if season.Ends < g.SetOn {
			continue
		}
		if seen, err := tx.GradesSeen(g.PlayerID, id); err != nil || seen != "" {
			return seen.Line(), err
		}
	}
	return "", nil
}

// gradeCalls says whether a grade in the skill of a goal, given since the goal was set, calls for action: no level
// reassures then. It counts the grades that the caller may read.
func (tx *Tx) gradeCalls(g *models.Goal) (bool, error) {
	upTo, err := tx.actsUpTo(g)
	if err != nil || upTo == 0 {
		return false, err
	}
	k := ratings()
	reach, some := k.reaching(tx, models.Read)
	if !some {
		return false, nil
	}
	found, err := k.find(tx, reach, that("ratings.player_id = ? AND ratings.skill = ? AND ratings.grade <= ?",
		g.PlayerID, g.Skill, upTo), that("ratings.date >= ?", g.SetOn))
	return len(found) > 0, err
}

// unavailable are the players of goals who are unavailable or stood down today: what is overdue waits for them.
func (tx *Tx) unavailable(goals []models.Goal) (map[int64]bool, error) {
	var ids []int64
	for _, g := range goals {
		if g.By < tx.today() {
			ids = append(ids, g.PlayerID)
		}
	}
	away := map[int64]bool{}
	if len(ids) == 0 {
		return away, nil
	}
	today := tx.today()
	found, err := rows[int64](tx, "find players who are unavailable", `SELECT player_id FROM spells
			WHERE academy_id = ? AND player_id IN ? AND status = ? AND deleted_at IS NULL AND from_date <= ?
			AND (until_date IS NULL OR until_date >= ?)
		UNION SELECT player_id FROM stand_downs WHERE academy_id = ? AND player_id IN ? AND deleted_at IS NULL
			AND from_date <= ? AND (lifted_on IS NULL OR lifted_on > ?)`, tx.who.AcademyID, ids, models.Unavailable, today,
		today, tx.who.AcademyID, ids, today, today)
	for _, id := range found {
		away[id] = true
	}
	return away, err
}

// goalItems are the open goals that the caller follows up and that stand as asked. Says has a place for the player and
// one for what the goal is on.
func goalItems(tx *Tx, status models.GoalStatus, says string) ([]models.Item, error) {
	if tx.who.Reach(models.Write, models.AreaGoals) == models.ReachNone {
		return nil, nil
	}
	own, states, err := tx.ownGoals()
	if err != nil || len(own) == 0 {
		return nil, err
	}
	labels, err := tx.Labels()
	if err != nil {
		return nil, err
	}
	ids := make([]int64, len(own))
	for i, g := range own {
		ids[i] = g.PlayerID
	}
	names, err := tx.playerNames(ids)
	if err != nil {
		return nil, err
	}
	groups, err := tx.groupsOf(ids)
	var all []models.Item
	for _, g := range own {
		if states[g.ID].Status != status {
			continue
		}
		all = append(all, models.Item{PlayerID: &g.PlayerID, About: "goal", AboutID: g.ID, Due: &g.By, Since: g.SetOn,
			Text: fmt.Sprintf(says, names[g.PlayerID], labels.Of(g.Indicator, g.Skill, groups[g.PlayerID])),
			Link: fmt.Sprintf("/goals/%d", g.ID)})
	}
	return all, err
}

// ownGoals are the open goals that the caller follows up, and where they stand.
func (tx *Tx) ownGoals() ([]models.Goal, map[int64]goalState, error) {
	if tx.pursued != nil {
		return tx.pursued.goals, tx.pursued.states, nil
	}
	own, err := goals().list(tx, that("goals.owner_id = ? AND goals.closed_on IS NULL", tx.who.UserID))
	if err != nil {
		return nil, nil, err
	}
	states, err := tx.goalStates(own)
	if err == nil && !tx.writes {
		tx.pursued = &pursuit{own, states}
	}
	return own, states, err
}

type pursuit struct {
	goals  []models.Goal
	states map[int64]goalState
}

// Labels returns what the academy calls its indicators and skills.
func (tx *Tx) Labels() (models.Labels, error) {
	indicators, err := tx.Indicators()
	if err != nil {
		return models.Labels{}, err
	}
	skills, err := tx.Skills()
	return models.NewLabels(indicators, skills), err
}
