package scenario

import "throughline/models"

// spells draws what keeps players from training and playing in the course of the year. More come from matches, see
// hurt.
func (s *simulation) spells() {
	d := stream(s.seed, "spells")
	for i, p := range s.Players {
		switch {
		case s.parts[i] == backFromSpell:
			s.away(p.ID, "2025-11-10", "2026-01-16", 15)
		case s.parts[i] == ordinary && d.chance(0.3):
			from := firstSaturday.AddDays(d.between(-10, 200))
			s.away(p.ID, from, from.AddDays(d.between(6, 35)), d.between(0, 9))
		}
	}
	// One player is out as the season ends, for an unknown time.
	for i := len(s.Players) - 1; i >= 0; i-- {
		if s.parts[i] == ordinary && s.squadOf[i] == under18 && s.away(s.Players[i].ID, "2026-04-20", "", 0) {
			break
		}
	}
}

// hurt takes a player who went off in a match out of the next weeks.
func (s *simulation) hurt(d dice, player int64, day models.Date) {
	from := day.AddDays(1)
	s.away(player, from, from.AddDays(d.between(8, 40)), d.between(3, 9))
}

// away adds a spell without training, and one of limited training after it. It changes nothing and returns false if
// the squad could not field a team without the player, or if they have another spell.
func (s *simulation) away(player int64, from, until models.Date, modified int) bool {
	end := until
	if end == "" || end > seasonEnd {
		end = seasonEnd
	}
	last := end.AddDays(modified)
	frontRow := 0
	for _, o := range s.Spells {
		if o.From > last || o.Until != nil && *o.Until < from {
			continue
		}
		if o.PlayerID == player {
			return false
		}
		if o.Status != models.Unavailable || s.squadOf[o.PlayerID-1] != s.squadOf[player-1] {
			continue
		}
		a, b := s.places[o.PlayerID-1], s.places[player-1]
		if a[0] == b[0] || throws(a) && throws(b) {
			return false
		}
		if a[0].frontRow() && b[0].frontRow() {
			if frontRow++; frontRow > 1 {
				return false
			}
		}
	}
	spell := models.Spell{PlayerID: player, Status: models.Unavailable, From: from}
	if until != "" {
		spell.Until = &end
	}
	s.addSpell(spell)
	if until != "" && modified > 0 && end < seasonEnd {
		s.addSpell(models.Spell{PlayerID: player, Status: models.Modified, From: end.AddDays(1), Until: &last})
	}
	return true
}

func (s *simulation) addSpell(spell models.Spell) {
	spell.Record = local(int64(len(s.Spells) + 1))
	s.Spells = append(s.Spells, spell)
}

// throws says whether a player of these places can play hooker.
func throws(places []place) bool {
	for _, p := range places {
		if p == hooker {
			return true
		}
	}
	return false
}

// status is a player's availability on a day.
func (s *simulation) status(player int64, day models.Date) models.Availability {
	for _, o := range s.Spells {
		if o.PlayerID == player && o.From <= day && (o.Until == nil || *o.Until >= day) {
			return o.Status
		}
	}
	return models.Available
}
