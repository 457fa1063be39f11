package evidence

import (
	"slices"
	"strings"

	"throughline/models"
	"throughline/reports/trend"
)

// StandoutSource is what Standouts read.
type StandoutSource interface {
	Indicators() ([]models.Indicator, error)
	Skills() ([]models.Skill, error)
	Players(models.PlayerFilter) ([]models.Player, error)
	SquadSeason(season, squad int64) (models.SquadSeason, error)
	Trends(models.TrendFilter) ([]models.Trend, error)
	Ratings(models.RatingFilter) ([]models.Rating, error)
}

// Standouts puts the firm verdicts of a squad's season into words, for staff.
type Standouts struct {
	src    StandoutSource
	labels models.Labels
	better map[string]models.Better
	skills map[string]models.Skill
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
		skills: map[string]models.Skill{},
	}
	for _, i := range indicators {
		f.better[i.Code] = i.Better
	}
	for _, s := range skills {
		f.skills[s.Code] = s
	}
	return f, nil
}

// Of says for each player of a squad's season with firm trends which those are, such as "improving: contact won;
// declining: repositions in place", and where a match is so far out that levels leave it out, whatever the verdict:
// "check the record: carries". While trends are being made again, there are none.
func (f *Standouts) Of(seasonID, squad int64) (map[int64]string, error) {
	behind, err := f.src.SquadSeason(seasonID, squad)
	if err != nil || behind.Fitted != behind.Revision {
		return nil, err
	}
	trends, err := f.src.Trends(models.TrendFilter{SeasonID: seasonID, SquadID: squad,
		Verdicts: []string{string(trend.Improving), string(trend.Declining)}, OrToCheck: true})
	if err != nil {
		return nil, err
	}
	called, err := f.called(seasonID, trends)
	if err != nil {
		return nil, err
	}
	members, err := f.src.Players(models.PlayerFilter{SeasonID: seasonID, SquadID: squad})
	if err != nil {
		return nil, err
	}
	groups := map[int64]models.Group{}
	for _, p := range members {
		groups[p.ID] = p.Group()
	}
	named := map[int64]map[string][]string{}
	for _, t := range trends {
		better := f.better[t.Indicator]
		if t.Skill != "" {
			better = models.Higher
		}
		verdict := VerdictWords(t.Verdict, better, StaffEdition)
		firm := t.Verdict == string(trend.Improving) || t.Verdict == string(trend.Declining)
		switch {
		case !firm:
			verdict = checking
		case called[t.PlayerID][t.Skill]:
			verdict = calling
		}
		if named[t.PlayerID] == nil {
			named[t.PlayerID] = map[string][]string{}
		}
		label := strings.ToLower(f.labels.Of(t.Indicator, t.Skill, groups[t.PlayerID]))
		if firm && better == models.Lower { // fewer errors are an improvement: say which way they went
			label += map[trend.Verdict]string{trend.Improving: " (falling)",
				trend.Declining: " (rising)"}[trend.Verdict(t.Verdict)]
		}
		if firm && t.Figures.ToCheck() {
			label += " (" + checking + ")"
		}
		named[t.PlayerID][verdict] = append(named[t.PlayerID][verdict], label)
	}
	words := map[int64]string{}
	for player, by := range named {
		var parts []string
		for _, verdict := range []string{calling, "improving", "rising", "declining", "falling", checking} {
			if labels := by[verdict]; len(labels) > 0 {
				slices.Sort(labels)
				parts = append(parts, verdict+": "+strings.Join(labels, ", "))
			}
		}
		words[player] = strings.Join(parts, "; ")
	}
	return words, nil
}

// called says by player which of the skills with trends have a grade of the season that calls for action.
func (f *Standouts) called(season int64, trends []models.Trend) (map[int64]map[string]bool, error) {
	called := map[int64]map[string]bool{}
	for _, t := range trends {
		if t.Skill == "" || called[t.PlayerID] != nil {
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
