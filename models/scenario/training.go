package scenario

import "throughline/models"

// Training is on Tuesdays and Thursdays, from the first Tuesday on, with a break at the turn of the year.
const (
	firstTraining models.Date = "2025-08-26"
	breakFrom     models.Date = "2025-12-19"
	breakUntil    models.Date = "2026-01-05"
)

// What sessions are for, on Tuesdays with contact and on Thursdays without.
var (
	contactSessions = []string{"Tackle height and live rucks", "Breakdown, then live attack", "Set piece, live",
		"Maul, for and against", "Defence in our own 22"}
	lightSessions = []string{"Handling when tired", "Shape from set piece, walked through", "Kick and chase",
		"Exits and restarts", "Speed and footwork"}
)

// trainingSessions fills in every squad's sessions up to today, and who was there. Some players' attendance, and that
// of a squad's last session, is not recorded: no one has entered it yet.
func (s *simulation) trainingSessions() {
	for tuesday := firstTraining; tuesday <= s.Today; tuesday = tuesday.AddDays(7) {
		for _, day := range []models.Date{tuesday, tuesday.AddDays(2)} {
			if day > s.Today || day >= breakFrom && day <= breakUntil {
				continue
			}
			for _, squad := range s.Squads {
				s.session(squad.ID, day, day == tuesday)
			}
		}
	}
}

// session adds one session of a squad.
func (s *simulation) session(squad int64, day models.Date, contact bool) {
	d := stream(s.seed, "session", squad, int64(firstTraining.DaysUntil(day)))
	t := models.TrainingSession{Record: local(int64(len(s.Sessions) + 1)), SquadID: squad, Date: day, Start: "18:30",
		Minutes: 75, Purpose: pick(d, lightSessions), Contact: contact}
	if contact {
		minutes := d.between(12, 18)
		t.Purpose, t.ContactMinutes = pick(d, contactSessions), &minutes
	}
	s.Sessions = append(s.Sessions, t)
	if day.AddDays(7) > s.Today && !contact {
		return // the last one
	}
	for _, m := range s.Memberships {
		if m.SquadID == squad && m.From <= day && (m.Until == nil || day <= *m.Until) && !d.chance(0.02) {
			s.Attendance = append(s.Attendance, s.attended(d, t, m.PlayerID))
		}
	}
}

// attended draws how a player took part in a session.
func (s *simulation) attended(d dice, t models.TrainingSession, player int64) models.Attendance {
	a := models.Attendance{Record: local(int64(len(s.Attendance) + 1)), SessionID: t.ID, PlayerID: player,
		Status: models.AttendedPresent}
	out := s.status(player, t.Date)
	for _, down := range s.StandDowns {
		if down.PlayerID == player && down.Open(t.Date) && out == models.Available {
			out = models.Modified
		}
	}
	switch chance := d.Float64(); {
	case out == models.Unavailable:
		a.Status, a.Reason = models.AttendedAbsent, models.ReasonUnavailable
	case out == models.Modified:
		a.Status, a.WithoutContact = models.AttendedModified, t.Contact
	case chance < 0.05:
		a.Status, a.Reason = models.AttendedAbsent, models.ReasonSchool
	case chance < 0.07:
		a.Status, a.Reason = models.AttendedAbsent, models.ReasonAway
	case chance < 0.10:
		minutes := d.between(40, 65)
		a.Status, a.Reason, a.Minutes = models.AttendedModified, models.ReasonLate, &minutes
	}
	return a
}

// sessionOn returns the local id of a squad's session on a day, nil if it had none.
func (s *simulation) sessionOn(squad int64, day models.Date) *int64 {
	for i := range s.Sessions {
		if t := &s.Sessions[i]; t.SquadID == squad && t.Date == day {
			return &t.ID
		}
	}
	return nil
}
