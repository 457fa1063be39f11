package evidence

import (
	"fmt"
	"slices"
	"strings"

	"throughline/models"
	"throughline/reports/paper"
	"throughline/reports/trend"
)

// StandoutSource is what Standouts read.
type StandoutSource interface {
	Indicators() ([]models.Indicator, error)
	Skills() ([]models.Skill, error)
	SquadSeason(season, squad int64) (models.SquadSeason, error)
	Trends(models.TrendFilter) ([]models.Trend, error)
	Ratings(models.RatingFilter) ([]models.Rating, error)
}

// Standouts says of the players of a squad's season who develops and who does not, for staff.
type Standouts struct {
	src    StandoutSource
	labels models.Labels
	better map[string]models.Better
	skills map[string]models.Skill
	first  map[models.Group][]models.PlayersSubject // the headlines, without players
}

// Development is how a player's figures move over a squad's season. Both directions can hold at once.
type Development struct {
	Words string // such as "probably improving: contact won (12 matches)"
	Notes string // goals without movement, grades that call for action, and what to check in the record; may be empty
	// The strongest verdict for the better and for the worse; empty for none.
	Better, Worse trend.Verdict
	// Steady is said where no figure moves for the better or the worse, and of the headline figures with enough data
	// at least half are steady.
	Steady bool
}

// calling is said instead of a verdict on a skill if one of its grades in the season calls for action.
const calling = "a grade calls for action"

// checking asks staff to look a match up.
const checking = "check the record"

// NewStandouts reads the catalogues. Errors are the source's.
func NewStandouts(src StandoutSource) (*Standouts, error) {
	indicators, err := src.Indicators()
	if err != nil {
		return nil, err
	}
	skills, err := src.Skills()
	if err != nil {
		return nil, err
	}
	f := &Standouts{
		src: src, labels: models.NewLabels(indicators, skills), better: map[string]models.Better{},
		skills: map[string]models.Skill{}, first: map[models.Group][]models.PlayersSubject{},
	}
	for _, i := range indicators {
		f.better[i.Code] = i.Better
	}
	for _, s := range skills {
		f.skills[s.Code] = s
	}
	return f, nil
}

// headlines are the figures that come first for a position group, in order, without a player.
func (f *Standouts) headlines(g models.Group) []models.PlayersSubject {
	if known, ok := f.first[g]; ok {
		return known
	}
	all := []models.PlayersSubject{}
	indicators, skills := models.Headlines(g)
	for _, code := range indicators {
		all = append(all, models.PlayersSubject{Indicator: code})
	}
	for _, code := range skills {
		// a grade may call for action, whatever the trend: such a skill is not called steady
		if f.skills[code].ActUpTo == 0 {
			all = append(all, models.PlayersSubject{Skill: code})
		}
	}
	f.first[g] = all
	return all
}

// moved are the verdicts with a direction.
var moved = []string{string(trend.Improving), string(trend.ProbablyImproving), string(trend.ProbablyDeclining),
	string(trend.Declining)}

// told are the verdicts that say something.
var told = append([]string{string(trend.Steady), string(trend.Unclear)}, moved...)

// Of says how some players of a squad's season develop. Goals are open ones; of those on a steady figure it says that
// they do not move. It is nil while trends are being made again.
func (f *Standouts) Of(seasonID, squad int64, members []models.Player, goals []models.Goal) (map[int64]Development,
	error) {
	behind, err := f.src.SquadSeason(seasonID, squad)
	if err != nil || behind.Revision > 0 && behind.Fitted != behind.Revision {
		return nil, err
	}
	filter := models.TrendFilter{SeasonID: seasonID, SquadID: squad}
	if len(members) == 1 {
		filter.PlayerID = members[0].ID
	}
	filter.Verdicts, filter.OrToCheck, filter.Parts = told, true, models.TrendVerdicts
	standing, err := f.src.Trends(filter)
	if err != nil {
		return nil, err
	}
	verdicts := map[models.PlayersSubject]string{}
	var firm, counted []models.PlayersSubject
	var trends []models.Trend // to check and no more
	for _, t := range standing {
		of := subjectOf(t)
		verdicts[of] = t.Verdict
		switch v := trend.Verdict(t.Verdict); {
		case v == trend.Improving || v == trend.Declining:
			firm = append(firm, of)
		case slices.Contains(moved, t.Verdict):
			counted = append(counted, of)
		case t.ToCheck:
			trends = append(trends, t)
		}
	}
	held := map[models.PlayersSubject]bool{}
	for _, g := range goals {
		of := models.PlayersSubject{PlayerID: g.PlayerID, Indicator: g.Indicator, Skill: g.Skill}
		if verdicts[of] == string(trend.Steady) && f.skills[g.Skill].ActUpTo == 0 {
			held[of], counted = true, append(counted, of)
		}
	}
	heads := map[int64]headline{}
	for _, p := range members {
		h := f.headline(p, verdicts)
		if heads[p.ID] = h; h.holds() {
			counted = append(counted, h.first)
		}
	}
	matches := map[models.PlayersSubject]int{}
	for _, some := range []models.TrendFilter{{Each: firm, Parts: models.BareTrends},
		{Each: counted, Parts: models.TrendVerdicts}} {
		if some.SeasonID, some.SquadID = seasonID, squad; len(some.Each) == 0 {
			continue
		}
		read, err := f.src.Trends(some)
		if err != nil {
			return nil, err
		}
		for _, t := range read {
			matches[subjectOf(t)] = t.Figures.Matches
			if slices.Contains(moved, t.Figures.Verdict) {
				trends = append(trends, t)
			}
		}
	}
	called, err := f.called(seasonID, trends)
	if err != nil {
		return nil, err
	}
	all := map[int64]Development{}
	for _, p := range members {
		say := &saying{Standouts: f, of: p, moving: map[string][]string{}, notes: map[string][]string{}}
		for _, t := range trends {
			if t.PlayerID == p.ID {
				say.moves(t, called[p.ID][t.Skill])
			}
		}
		for of := range held {
			if of.PlayerID == p.ID {
				say.notes[notMoving] = append(say.notes[notMoving], say.name(of, "", matches[of]))
			}
		}
		all[p.ID] = say.development(heads[p.ID], matches)
	}
	return all, nil
}

func subjectOf(t models.Trend) models.PlayersSubject {
	return models.PlayersSubject{PlayerID: t.PlayerID, Indicator: t.Indicator, Skill: t.Skill}
}

// headline counts a player's headline figures that are steady, and those that are unclear.
type headline struct {
	steady, unclear int
	first           models.PlayersSubject // of the steady ones
}

func (f *Standouts) headline(p models.Player, verdicts map[models.PlayersSubject]string) (h headline) {
	for _, of := range f.headlines(p.Group()) {
		of.PlayerID = p.ID
		switch verdicts[of] {
		case string(trend.Steady):
			if h.steady++; h.steady == 1 {
				h.first = of
			}
		case string(trend.Unclear):
			h.unclear++
		}
	}
	return h
}

// holds says whether at least half of the headline figures with enough data are steady.
func (h headline) holds() bool { return h.steady > 0 && h.steady >= h.unclear }

// notMoving is said of the goals on a steady figure.
const notMoving = "goal without movement"

// saying is what is said of one player: names of figures by the words for them.
type saying struct {
	*Standouts
	Development
	of            models.Player
	moving, notes map[string][]string
}

// name is a figure with the matches behind it.
func (s *saying) name(of models.PlayersSubject, way string, matches int) string {
	return fmt.Sprintf("%s%s (%s)", s.label(of), way, paper.Plural(matches, "match", "matches"))
}

func (s *saying) label(of models.PlayersSubject) string {
	return paper.Lower(s.labels.Of(of.Indicator, of.Skill, s.of.Group()))
}

// moves takes a trend that has a direction, or a match to check.
func (s *saying) moves(t models.Trend, called bool) {
	of, verdict := subjectOf(t), t.Figures.Verdict
	if !slices.Contains(moved, verdict) {
		s.notes[checking] = append(s.notes[checking], s.label(of))
		return
	}
	if t.ToCheck || t.Figures.ToCheck() {
		s.notes[checking] = append(s.notes[checking], s.label(of))
	}
	if called {
		s.notes[calling] = append(s.notes[calling], s.label(of))
		return
	}
	better := models.Higher
	if of.Skill == "" {
		better = s.better[of.Indicator]
	}
	words := VerdictWords(verdict, better, StaffEdition)
	s.moving[words] = append(s.moving[words], s.name(of, way(verdict, better), t.Figures.Matches))
	if better != models.Neither {
		s.note(trend.Verdict(verdict))
	}
}

// development is what is said in all.
func (s *saying) development(heads headline, matches map[models.PlayersSubject]int) Development {
	parts := inOrder(s.moving, "improving", "rising", "declining", "falling", "probably improving", "probably rising",
		"probably declining", "probably falling")
	if s.Better == "" && s.Worse == "" {
		switch {
		case heads.holds():
			s.Steady = true
			parts = append(parts, "steady: "+s.name(heads.first, "", matches[heads.first])+more(heads.steady-1))
		case heads.steady+heads.unclear > 0:
			parts = append(parts, "unclear which way")
		case len(parts) == 0:
			parts = append(parts, "too little to say")
		}
	}
	s.Words = strings.Join(parts, "; ")
	s.Notes = strings.Join(inOrder(s.notes, notMoving, calling, checking), "; ")
	return s.Development
}

// note keeps the strongest verdict of a direction.
func (d *Development) note(v trend.Verdict) {
	switch v {
	case trend.Improving:
		d.Better = v
	case trend.Declining:
		d.Worse = v
	case trend.ProbablyImproving:
		if d.Better == "" {
			d.Better = v
		}
	case trend.ProbablyDeclining:
		if d.Worse == "" {
			d.Worse = v
		}
	}
}

// way says which way a figure went where lower is better: fewer errors are an improvement.
func way(verdict string, better models.Better) string {
	if better != models.Lower {
		return ""
	}
	return map[trend.Verdict]string{trend.Improving: ", falling", trend.ProbablyImproving: ", falling",
		trend.Declining: ", rising", trend.ProbablyDeclining: ", rising"}[trend.Verdict(verdict)]
}

// more is how many headline figures follow the first.
func more(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf(" and %s", paper.Plural(n, "more headline figure", "more headline figures"))
}

// inOrder lists what is said under some words, in their order: "improving: a, b".
func inOrder(by map[string][]string, order ...string) (parts []string) {
	for _, words := range order {
		if labels := by[words]; len(labels) > 0 {
			slices.Sort(labels)
			parts = append(parts, words+": "+strings.Join(labels, ", "))
		}
	}
	return parts
}

// called says by player which of the skills that move have a grade of the season that calls for action.
func (f *Standouts) called(season int64, trends []models.Trend) (map[int64]map[string]bool, error) {
	called := map[int64]map[string]bool{}
	for _, t := range trends {
		if f.skills[t.Skill].ActUpTo == 0 || !slices.Contains(moved, t.Figures.Verdict) || called[t.PlayerID] != nil {
			continue
		}
		ratings, err := f.src.Ratings(models.RatingFilter{PlayerID: t.PlayerID, SeasonID: season})
		if err != nil {
			return nil, err
		}
		called[t.PlayerID] = map[string]bool{}
		for _, r := range ratings {
			if f.skills[r.Skill].Calls(r.Grade) {
				called[t.PlayerID][r.Skill] = true
			}
		}
	}
	return called, nil
}
