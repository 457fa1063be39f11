package fits

import (
	"encoding/json"
	"strconv"

	"throughline/models"
	"throughline/reports/trend"
)

// adjusted are the players' grades of a skill with each coach's severity taken out, by the player's name in the fit;
// nil for an indicator and where the grades are too few or all the same. It notes how strict each coach is.
func (s *subject) adjusted() map[string]*models.AdjustedGrade {
	if s.skill == "" {
		return nil
	}
	found, err := trend.Adjust(s.fit.Data)
	if err != nil {
		return nil
	}
	s.strict = make(map[int64]float64, len(found.Coaches))
	for _, c := range found.Coaches {
		if id, err := strconv.ParseInt(c.Coach, 10, 64); err == nil {
			s.strict[id] = c.Stricter.Mean
		}
	}
	all := make(map[string]*models.AdjustedGrade, len(found.Players))
	for _, p := range found.Players {
		all[p.Player] = &models.AdjustedGrade{Grades: p.Grades, Coaches: p.Coaches, Estimate: *estimate(&p.Level)}
	}
	return all
}

// severities are how strict each coach is, by skill, as JSON; empty where no fit tells.
func (d *Data) severities() string {
	all := models.Severities{}
	for i := range d.subjects {
		if s := &d.subjects[i]; len(s.strict) > 0 {
			all[s.skill] = s.strict
		}
	}
	if len(all) == 0 {
		return ""
	}
	text, err := json.Marshal(all)
	if err != nil {
		panic(err) // numbers by text
	}
	return string(text)
}
