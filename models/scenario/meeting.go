package scenario

import "throughline/models"

// rounds asks the coaches of the under 18s for their grades, three times in the year. The last is still open on the
// day of the demo.
func (s *simulation) rounds() {
	round := func(r models.RatingRound) {
		r.Record, r.SeasonID, r.SquadID = local(int64(len(s.Rounds)+1)), s.Season.ID, under18
		s.Rounds = append(s.Rounds, r)
	}
	opens := func(day models.Date) *models.Date { return &day }
	winter, spring := blocks[2], blocks[len(blocks)-1]
	round(models.RatingRound{Name: "Before the holidays", Date: winter.last, Block: winter.name,
		Opens: opens(winter.last.AddDays(-2)), Closes: winter.last.AddDays(18)})
	for n, m := range s.matchesOf(under18) {
		if n == 21 { // one of those that coaches give grades after, see ratings
			id := m.ID
			round(models.RatingRound{Name: "After " + m.Opponent, Date: m.Date, MatchID: &id, Closes: m.Date.AddDays(8)})
		}
	}
	round(models.RatingRound{Name: "For the spring meeting", Date: spring.last, Block: spring.name,
		Opens: opens(spring.last.AddDays(-2)), Closes: lastDay.AddDays(7)})
}

// meetings is one meeting, on who moves up to the senior academy. It is not closed: some are to be talked about again.
func (s *simulation) meetings() {
	of := func(user int64) models.Attendee { return models.Attendee{UserID: &user, Name: staff[user-1].name} }
	const backRow, centre = "Back row", "Inside centre"
	s.Meetings = []models.Meeting{{
		Record: local(1), SeasonID: s.Season.ID, SquadID: under18, Date: "2026-05-02", Status: models.MeetingOpen,
		Purpose: "Spring meeting: who moves up to the senior academy next season in the back row and at inside centre.",
		Present: []models.Attendee{of(selectorUser), of(lanyon), of(vaomotu), of(managerUser),
			{Name: "Bethan Corwick, player welfare"}},
		Criteria: []models.Criterion{
			{Label: "Wins contact", Indicator: "contact_won", Weight: 3},
			{Label: "In place between involvements", Indicator: "in_place", Weight: 3},
			{Label: "Pass or carry", Skill: "pass_or_carry", Weight: 2},
			{Label: "Takes coaching", Words: "Does what we agreed, tells us what they saw, and helps the younger players.",
				Weight: 2},
		},
		TotalWeight: 10,
		Places: []models.Place{{Name: backRow, Group: models.GroupBackRow, Wanted: 2},
			{Name: centre, Position: models.Centre, Wanted: 1}},
		Candidates: []models.Candidate{
			{PlayerID: s.Cast.Improver, Place: backRow, Decision: models.Chosen,
				Reason: "Better in contact all season, including against the stronger sides, and the coaches saw the same in " +
					"training. Knows why, too.",
				Dissent: "M. Ellisdon wanted to see one more match against Brackwater first."},
			{PlayerID: s.Cast.Fading, Place: backRow, Decision: models.Deferred,
				Reason: "The best of them off the ball in September, and we all think that can come back. G. Lanyon talks to " +
					"the player first. We look at it again in August."},
			{PlayerID: s.playerNamed("Nathan Osterley"), Place: backRow},
			{PlayerID: s.playerNamed("Jago Trevellick"), Place: backRow, Decision: models.Chosen,
				Reason: "Has trained and played up since November and looks at home. G. Lanyon will tell the player in person."},
			{PlayerID: s.Cast.Steady, Place: centre, Decision: models.Reserve,
				Reason: "No one is more reliable. The senior academy already has two centres like this. First in line if " +
					"one leaves."},
			{PlayerID: s.playerNamed("Lewin Hartshaw"), Place: centre},
		},
	}}
}
