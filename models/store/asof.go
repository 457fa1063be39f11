package store

import (
	"slices"

	"throughline/models"
)

// OverExpectedUntil is OverExpected as the carries up to and with a day make it. It is for staff.
func (tx *Tx) OverExpectedUntil(player, season, squad int64, until models.Date) ([]models.Observation, error) {
	own, err := tx.CarryCells(models.ObservationFilter{PlayerID: player, SeasonID: season, To: &until})
	if err != nil || len(own) == 0 {
		return nil, err
	}
	g, err := tx.group(models.GroupFilter{SeasonID: season, SquadID: squad, Until: until})
	if err != nil {
		return nil, err
	}
	return g.expected.Observations(own), nil
}

// SafetyOn is Safety as it was on an earlier day: what was dated later, or was done about it later, is left out.
func (tx *Tx) SafetyOn(player, season int64, day models.Date) (models.Safety, error) {
	s, err := tx.Safety(player, season, day)
	if err != nil {
		return s, err
	}
	if tx.who.Reach(models.Read, models.AreaContact) != models.ReachNone {
		if s.Actions, err = tx.ContactActions(models.ContactActionFilter{PlayerID: player}); err != nil {
			return s, err
		}
		s.Actions = slices.DeleteFunc(s.Actions, func(a models.ContactAction) bool {
			return a.Since > day || a.SettledAt != nil && tx.dayOf(*a.SettledAt) <= day
		})
	}
	if s.HeadContacts, err = tx.HeadContacts(models.HeadContactFilter{PlayerID: player}); err != nil {
		return s, err
	}
	s.HeadContacts = slices.DeleteFunc(s.HeadContacts, func(h models.HeadContact) bool {
		return h.Date > day || h.ToldAt != nil && tx.dayOf(*h.ToldAt) <= day
	})
	for i := range s.HeadContacts {
		h := &s.HeadContacts[i]
		h.MedicalLead, h.ToldBy, h.ToldAt = "", nil, nil
	}
	if s.StandDowns, err = tx.StandDowns(models.StandDownFilter{PlayerID: player}); err != nil {
		return s, err
	}
	s.StandDowns = slices.DeleteFunc(s.StandDowns, func(d models.StandDown) bool { return !d.Open(day) })
	for i := range s.StandDowns {
		s.StandDowns[i].LiftedOn, s.StandDowns[i].ClearedBy, s.StandDowns[i].LiftedBy = nil, "", nil
	}
	s.History = models.SafetyHistory{} // of today
	return s, nil
}
