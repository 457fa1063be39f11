package scenario

import (
	"strings"
	"time"

	"throughline/models"
)

// guardianNames are first names of guardians, with what they are to the player. All of it is made up.
var guardianNames = []struct{ name, relation string }{
	{"Marian", "mother"}, {"Desmond", "father"}, {"Ruth", "mother"}, {"Alun", "father"}, {"Colette", "mother"},
	{"Piers", "stepfather"},
	{"Winifred", "grandmother"}, {"Yusuf", "father"}, {"Bethan", "mother"}, {"Goran", "father"},
	{"Ines", "aunt, guardian"}, {"Stewart", "father"},
}

// medicalLead is who is told of head contacts, and practitioner who clears players. Both are made up.
const (
	medicalLead  = "Sunniva Aldous"
	practitioner = "Dr Tamsin Orrock"
)

// unasked are players whose guardians have not answered yet whether selectors may see them.
var unasked = []string{"Ben Cattermoor", "Joe Winspear"}

// safeguards fills in what the academy keeps for people's safety: its settings, consents and guardians of minors,
// limits of minutes, one head contact with what followed, and answers to notes.
func (s *simulation) safeguards() {
	s.Settings = models.Settings{RetentionMonths: 24, Requires: []models.Purpose{models.PurposeFilming,
		models.PurposeSelection}}
	s.Limits = []models.MinutesLimit{
		{Record: local(1), Name: "Any seven days, all teams", Days: 7, Minutes: 150, WarnAt: 0.9},
		{Record: local(2), Name: "The season, all teams", Days: 0, Minutes: 1700, WarnAt: 0.85},
		{Record: local(3), Name: "Contact at training in any seven days", Counts: models.CountsContact, Days: 7, Minutes: 40,
			WarnAt: 0.8},
	}
	for _, p := range s.Players {
		s.consents(p)
		s.ownConsents(p)
	}
	s.blow()
	s.answers()
}

// consents gives a player who joins as a minor a guardian, who consents on paper.
func (s *simulation) consents(p models.Player) {
	joined := s.joined(p.ID)
	if !p.MinorOn(joined) {
		return
	}
	d := stream(s.seed, "guardian", p.ID)
	who := pick(d, guardianNames)
	name := who.name + p.Name[strings.LastIndex(p.Name, " "):]
	s.Guardians = append(s.Guardians, models.Guardian{
		Record: local(int64(len(s.Guardians) + 1)), PlayerID: p.ID, Name: name, Relation: who.relation,
		Contact: "by phone in the evening; the office has the number",
	})
	given := func(purpose models.Purpose, withdrawn *models.Date) {
		s.Consents = append(s.Consents, models.Consent{
			Record: local(int64(len(s.Consents) + 1)), PlayerID: p.ID, Purpose: purpose, GivenBy: name,
			Relation: models.ByGuardian,
			On:       joined, WithdrawnOn: withdrawn, KeptAt: "office, folder " + s.Squads[s.squadOf[p.ID-1]-1].Name,
			RecordedBy: managerUser,
		})
	}
	given(models.PurposeRecords, nil)
	given(models.PurposeFilming, nil)
	for _, n := range unasked {
		if n == p.Name {
			return
		}
	}
	given(models.PurposeSelection, nil)
	if d.chance(0.1) {
		withdrawn := joined.AddDays(d.between(40, 120))
		if withdrawn <= s.Today {
			given(models.PurposeStaffDevices, &withdrawn) // the academy films on its own machines, and does not ask for it
		}
	}
}

// signsWithin is how many days after their eighteenth birthday a player's own consents are on file.
const signsWithin = 14

// ownConsents has a player consent for themselves: on joining as an adult, or on their eighteenth birthday. The office
// still waits for those whose birthday was a few days ago.
func (s *simulation) ownConsents(p models.Player) {
	on := s.joined(p.ID)
	if p.MinorOn(on) {
		birthday, known := p.ComesOfAge()
		if !known || birthday.AddDays(signsWithin) > s.Today {
			return
		}
		on = birthday
	}
	for _, purpose := range s.Settings.Requires {
		s.Consents = append(s.Consents, models.Consent{
			Record: local(int64(len(s.Consents) + 1)), PlayerID: p.ID, Purpose: purpose, GivenBy: p.Name,
			Relation: models.BySelf, On: on, KeptAt: "office, folder " + s.Squads[s.squadOf[p.ID-1]-1].Name,
			RecordedBy: managerUser,
		})
	}
}

// awayAfterBlow is how many days, at least, the player of the head contact did not play afterwards.
const awayAfterBlow = 24

// blow finds an ordinary player of the under 18s who was out for some weeks after a match, and records a head contact
// as the reason: that it happened, who was told, and who cleared the player. What was simulated does not change.
func (s *simulation) blow() {
	for i, p := range s.Players {
		if s.parts[i] != ordinary || s.squadOf[i] != under18 {
			continue
		}
		var own []*models.Play
		for n := range s.Plays {
			if s.Plays[n].Appearance.PlayerID == p.ID {
				own = append(own, &s.Plays[n])
			}
		}
		for n := 0; n+1 < len(own); n++ {
			m := own[n].Match
			if m.SquadID == nil || own[n].Appearance.PlayerID != p.ID ||
				m.Date.DaysUntil(own[n+1].Match.Date) < awayAfterBlow ||
				s.status(p.ID, m.Date.AddDays(1)) != models.Unavailable {
				continue
			}
			day, err := m.Date.Time()
			if err != nil {
				continue
			}
			told, match, marked, contact := day.Add(15*time.Hour+40*time.Minute), m.ID, headCoach[under18], int64(1)
			s.HeadContacts = append(s.HeadContacts, models.HeadContact{
				Record: local(contact), PlayerID: p.ID, Date: m.Date, MatchID: &match, MarkedBy: &marked, MedicalLead: medicalLead,
				ToldBy: &marked, ToldAt: &told,
			})
			cleared := own[n+1].Match.Date.AddDays(-1)
			s.StandDowns = append(s.StandDowns, models.StandDown{
				Record: local(1), PlayerID: p.ID, From: m.Date, HeadContactID: &contact, SetBy: marked, LiftedOn: &cleared,
				ClearedBy: practitioner,
			})
			return
		}
	}
}

// replies are answers of players to what was written about them, and what a coach answered then; empty for nothing.
var replies = []struct{ player, coach string }{
	{"I watched it twice. I was thinking about the next one before this one was over.",
		"That is it exactly. See you on Tuesday."},
	{"I thought I was square. I wasn't. Can we do it at walking pace first?", "Yes. Ten minutes before the others."},
	{"Thanks. I didn't think anyone had noticed.", ""},
	{"I've done the five falls a side all week.", ""},
	{"Can we look at it together? I'm not sure which way I should have gone.",
		"There are two good options. Bring the video."},
}

// answers has players of the cast answer notes that they have read.
func (s *simulation) answers() {
	n := 0
	for _, note := range s.Notes {
		if note.ReadAt == nil || n == len(replies) || s.parts[note.PlayerID-1] == ordinary {
			continue
		}
		player := s.userOf[note.PlayerID]
		answer := models.NoteAnswer{Record: local(int64(len(s.Answers) + 1)), NoteID: note.ID, AuthorID: player,
			Text: replies[n].player}
		if n%2 == 0 {
			seen := managerUser
			answer.SeenBy = &seen
		}
		s.Answers = append(s.Answers, answer)
		if replies[n].coach != "" {
			s.Answers = append(s.Answers, models.NoteAnswer{Record: local(int64(len(s.Answers) + 1)), NoteID: note.ID,
				AuthorID: note.AuthorID, Text: replies[n].coach})
		}
		n++
	}
}
