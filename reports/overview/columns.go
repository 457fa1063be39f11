package overview

import (
	"slices"

	"throughline/models"
	"throughline/reports/evidence"
	"throughline/reports/trend"
)

// A position group shows its first headline figures and skills for which there is a level of one of its players: more
// do not fit beside one another on paper. The player's report has all.
const (
	mostIndicators = 6
	mostSkills     = 4
)

// readTrends reads the trends of all players, if they stand on the data as they are.
func (r *reader) readTrends() error {
	season, squad := r.q.SeasonID, r.q.SquadID
	hides, err := r.src.PlayersHidden(season, squad)
	if err != nil {
		return err
	}
	r.o.OtherReaders = models.OtherLevels(false, hides)
	if err := r.readCatalogues(); err != nil {
		return err
	}
	state := &r.o.Trends
	if state.Withheld, err = r.src.TrendsWithheld(season, squad); err != nil {
		return err
	}
	of, err := r.src.SquadSeason(season, squad)
	if err != nil {
		return err
	}
	state.Revision = of.Revision
	state.Current = of.Revision > 0 && of.Fitted == of.Revision && !state.Withheld
	r.trends = map[int64]map[string]*models.Trend{}
	if !state.Current || len(r.ids) == 0 {
		return nil
	}
	all, err := r.src.Trends(models.TrendFilter{SeasonID: season, SquadID: squad, Subjects: r.subjects(),
		Parts: models.BareTrends})
	for i := range all {
		t := &all[i]
		state.MadeAt = &t.MadeAt
		if r.trends[t.PlayerID] == nil {
			r.trends[t.PlayerID] = map[string]*models.Trend{}
		}
		r.trends[t.PlayerID][key(t.Indicator, t.Skill)] = t
	}
	return err
}

// subjects are the codes of what may be shown: the headlines of the players' groups, and what their goals are on.
func (r *reader) subjects() (codes []string) {
	for _, p := range r.players {
		indicators, skills := models.Headlines(p.Group())
		codes = append(append(codes, indicators...), skills...)
		for _, g := range r.goals[p.ID] {
			codes = append(codes, g.Indicator+g.Skill)
		}
	}
	slices.Sort(codes)
	return slices.Compact(codes)
}

func (r *reader) readCatalogues() error {
	indicators, err := r.src.Indicators()
	if err != nil {
		return err
	}
	skills, err := r.src.Skills()
	r.indicators, r.skills = map[string]models.Indicator{}, map[string]models.Skill{}
	for _, in := range indicators {
		r.indicators[in.Code] = in
	}
	for _, s := range skills {
		r.skills[s.Code] = s
	}
	return err
}

// readCalls reads which skills have a grade of the season that calls for action.
func (r *reader) readCalls() error {
	r.calls = map[int64]map[string]bool{}
	most := 0
	for _, s := range r.skills {
		most = max(most, s.ActUpTo)
	}
	if most == 0 || len(r.ids) == 0 {
		return nil
	}
	low, err := r.src.Ratings(models.RatingFilter{PlayerIDs: r.ids, SeasonID: r.q.SeasonID, AtMost: most})
	for _, g := range low {
		if !r.skills[g.Skill].Calls(g.Grade) {
			continue
		}
		if r.calls[g.PlayerID] == nil {
			r.calls[g.PlayerID] = map[string]bool{}
		}
		r.calls[g.PlayerID][g.Skill] = true
	}
	return err
}

// columns are what a position group shows.
func (r *reader) columns(group models.Group, players []models.Player) []Column {
	indicators, skills := models.Headlines(group)
	indicators = slices.DeleteFunc(indicators, func(code string) bool { _, known := r.indicators[code]; return !known })
	skills = slices.DeleteFunc(skills, func(code string) bool { _, known := r.skills[code]; return !known })
	all := []Column{}
	for _, code := range r.first(indicators, mostIndicators, players, func(code string) string { return key(code, "") }) {
		in := r.indicators[code]
		all = append(all, Column{Indicator: code, Label: in.Label, Unit: in.Unit, Better: in.Better, Meaning: in.Meaning})
	}
	for _, code := range r.first(skills, mostSkills, players, func(code string) string { return key("", code) }) {
		s := r.skills[code].For(group)
		all = append(all, Column{Skill: code, Label: s.Label, Unit: "grade", Better: models.Higher,
			Meaning: "Coaches’ grades from 1 to 5, with each coach’s strictness taken out."})
	}
	return all
}

// first are the first codes with a level of one of the players; without any, the first of all.
func (r *reader) first(codes []string, most int, players []models.Player, key func(string) string) []string {
	told := slices.DeleteFunc(slices.Clone(codes), func(code string) bool {
		return !slices.ContainsFunc(players, func(p models.Player) bool { return tells(r.trends[p.ID][key(code)]) })
	})
	if len(told) == 0 {
		told = codes
	}
	return told[:min(len(told), most)]
}

// tells says whether a trend says where a level is.
func tells(t *models.Trend) bool {
	return t != nil && t.Figures.Now != nil && t.Figures.Verdict != models.VerdictTooLittle
}

// cell is a player's level in the figure of a column.
func (r *reader) cell(player int64, col Column) Cell {
	t := r.trends[player][key(col.Indicator, col.Skill)]
	calls := col.Skill != "" && r.calls[player][col.Skill]
	if t == nil {
		return Cell{Calls: calls, Words: wordsOf("", col, calls)}
	}
	if !tells(t) {
		return Cell{Verdict: models.VerdictTooLittle, Words: wordsOf(models.VerdictTooLittle, col, calls), Calls: calls}
	}
	f := &t.Figures
	c := Cell{Matches: f.Matches, Verdict: f.Verdict, Words: wordsOf(f.Verdict, col, calls), ToCheck: f.SetsAside(),
		Level: &f.Now.Mean, Range80: &f.Now.Range80, Improved: f.Improved, Declined: f.Declined, Calls: calls}
	if f.Compared != nil {
		c.Average, c.Against = &f.Compared.Mean, f.Compared.Against
	}
	return c
}

// wordsOf are a verdict as it is printed.
func wordsOf(verdict string, col Column, calls bool) string {
	if calls {
		return "a grade calls for action"
	}
	return evidence.VerdictWords(verdict, col.Better, evidence.StaffEdition)
}

// firm says whether the engine is sure enough of a direction for a sentence to name it.
func (c *Cell) firm() bool {
	v := trend.Verdict(c.Verdict)
	return c.Level != nil && !c.Calls && (v == trend.Improving || v == trend.Declining)
}

// probable says whether a direction is likely and no more.
func (c *Cell) probable() bool {
	v := trend.Verdict(c.Verdict)
	return c.Level != nil && !c.Calls && (v == trend.ProbablyImproving || v == trend.ProbablyDeclining)
}

// scales gives every column the ends of its scale: the same wherever the figure stands.
func (o *Report) scales() {
	ends := map[string]*models.Range{}
	o.rows(func(g *Group, row *Row) {
		for i, c := range row.Cells {
			if c.Range80 == nil {
				continue
			}
			name := key(g.Columns[i].Indicator, g.Columns[i].Skill)
			if ends[name] == nil {
				ends[name] = &models.Range{Lo: c.Range80.Lo, Hi: c.Range80.Hi}
			}
			ends[name].Lo, ends[name].Hi = min(ends[name].Lo, c.Range80.Lo), max(ends[name].Hi, c.Range80.Hi)
		}
	})
	for i := range o.Groups {
		for k := range o.Groups[i].Columns {
			col := &o.Groups[i].Columns[k]
			col.Scale = ends[key(col.Indicator, col.Skill)]
		}
	}
}
