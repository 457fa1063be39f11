package fits

import (
	"throughline/models"
	"throughline/reports/trend"
)

// adjusted are the players' grades of a skill with each coach's severity taken out, by the player's name in the fit;
// nil for an indicator and where the grades are too few or all the same.
func (s *subject) adjusted() map[string]*models.AdjustedGrade {
	if s.skill == "" {
		return nil
	}
	found, err := trend.Adjust(s.fit.Data)
	if err != nil {
		return nil
	}
	all := make(map[string]*models.AdjustedGrade, len(found.Players))
	for _, p := range found.Players {
		all[p.Player] = &models.AdjustedGrade{Grades: p.Grades, Coaches: p.Coaches, Estimate: *estimate(&p.Level)}
	}
	return all
}
