package scenario

import (
	"context"
	"fmt"

	"throughline/models"
	"throughline/models/store"
)

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

// meetings are the meetings of the under 18s, one in each status: what is agreed, what is decided, and what follows.
// Meet walks each of them to its status, because the comparison of a meeting needs trends.
func (s *simulation) meetings() {
	of := func(user int64) models.Attendee { return models.Attendee{UserID: &user, Name: staff[user-1].name} }
	const backRow, centre = "Back row", "Inside centre"
	wins := models.Criterion{Label: "Wins contact", Indicator: "contact_won", Weight: 3}
	inPlace := models.Criterion{Label: "In place between involvements", Indicator: "in_place", Weight: 3}
	decides := models.Criterion{Label: "Pass or carry", Skill: "pass_or_carry", Weight: 2}
	coaching := models.Criterion{Label: "Takes coaching", Weight: 2,
		Words: "Does what we agreed, tells us what they saw, and helps the younger players."}
	backs := models.Place{Name: backRow, Group: models.GroupBackRow, Wanted: 2}
	inside := models.Place{Name: centre, Position: models.Centre, Wanted: 1}
	osterley, trevellick := s.playerNamed("Nathan Osterley"), s.playerNamed("Jago Trevellick")
	hartshaw := s.playerNamed("Lewin Hartshaw")
	add := func(m models.Meeting) {
		m.Record, m.SeasonID, m.SquadID = local(int64(len(s.Meetings)+1)), s.Season.ID, under18
		m.TotalWeight = m.Weight()
		s.Meetings = append(s.Meetings, m)
	}
	add(models.Meeting{
		Date: "2026-01-10", Status: models.MeetingClosed,
		Purpose:  "Winter meeting: who trains with the senior academy's back row until Easter",
		Present:  []models.Attendee{of(selectorUser), of(lanyon), of(managerUser)},
		Criteria: []models.Criterion{wins, inPlace},
		Places:   []models.Place{{Name: backRow, Group: models.GroupBackRow, Wanted: 1}},
		Candidates: []models.Candidate{
			{PlayerID: s.Cast.Improver, Place: backRow, Decision: models.Chosen,
				Reason: "Listens, tries what was agreed in the next match, and wins more contacts for it."},
			{PlayerID: trevellick, Place: backRow, Decision: models.Reserve,
				Reason: "Ready in training. We would like to see the same after an hour of a hard match."},
		},
	})
	add(models.Meeting{
		Date: "2026-04-18", Status: models.MeetingDecided,
		Purpose:  "Tour party: inside centre for the Easter matches.",
		Present:  []models.Attendee{of(selectorUser), of(lanyon)},
		Criteria: []models.Criterion{wins, decides}, Places: []models.Place{inside},
		Candidates: []models.Candidate{
			{PlayerID: s.Cast.Steady, Place: centre, Decision: models.Chosen,
				Reason: "Makes the same good choice in the last minute as in the first, and the younger ones follow."},
			{PlayerID: hartshaw, Place: centre, Decision: models.Reserve,
				Reason: "Brave in contact. Passing under pressure is the next thing to work on."},
		},
	})
	add(models.Meeting{
		Date: "2026-05-02", Status: models.MeetingOpened,
		Purpose: "Spring meeting: who moves up to the senior academy next season in the back row and at inside centre.",
		Present: []models.Attendee{of(selectorUser), of(lanyon), of(vaomotu), of(managerUser),
			{Name: "Bethan Corwick, player welfare"}},
		Criteria: []models.Criterion{wins, inPlace, decides, coaching}, Places: []models.Place{backs, inside},
		Candidates: []models.Candidate{
			{PlayerID: s.Cast.Improver, Place: backRow, Decision: models.Chosen,
				Reason: "Better in contact all season, including against the stronger sides, and the coaches saw the same in " +
					"training. Knows why, too.",
				Dissent: "M. Ellisdon wanted to see one more match against Brackwater first.",
				Marks:   map[string]int{coaching.Label: 5}},
			{PlayerID: s.Cast.Fading, Place: backRow, Decision: models.Deferred,
				Reason: "The best of them off the ball in September, and we all think that can come back. G. Lanyon talks to " +
					"the player first. We look at it again in August.",
				Marks: map[string]int{coaching.Label: 3}},
			{PlayerID: osterley, Place: backRow, Marks: map[string]int{coaching.Label: 4}},
			{PlayerID: trevellick, Place: backRow, Decision: models.Chosen,
				Reason: "Has trained and played up since November and looks at home. G. Lanyon will tell the player in person.",
				Marks:  map[string]int{coaching.Label: 4}},
			{PlayerID: s.Cast.Steady, Place: centre, Decision: models.Reserve,
				Reason: "No one is more reliable. The senior academy already has two centres like this. First in line if " +
					"one leaves."},
			{PlayerID: hartshaw, Place: centre},
		},
	})
	add(models.Meeting{
		Date: "2026-05-03", Status: models.MeetingLocked,
		Purpose:    "Summer camp: one place in the back row",
		Criteria:   []models.Criterion{inPlace, coaching},
		Places:     []models.Place{{Name: backRow, Group: models.GroupBackRow, Wanted: 1}},
		Candidates: []models.Candidate{{PlayerID: osterley, Place: backRow}, {PlayerID: s.Cast.Fading, Place: backRow}},
	})
	add(models.Meeting{
		Date: "2026-05-03", Status: models.MeetingDraft,
		Purpose:    "Captain of the under 18s next season.",
		Criteria:   []models.Criterion{coaching},
		Places:     []models.Place{{Name: "Captain", Group: models.GroupCentre, Wanted: 1}},
		Candidates: []models.Candidate{{PlayerID: s.Cast.Steady, Place: "Captain"}},
	})
}

// Meet walks the meetings of a loaded academy to their statuses, step by step, once its trends are made: a comparison
// is opened on what is known. A coach recommends, tells the player of the closed meeting in person, and releases what
// was said; a correction follows. A meeting that was walked before stays.
func Meet(ctx context.Context, s *store.Store, a *Academy, loaded Loaded) error {
	as := func(u models.User) models.Who {
		return models.Who{AcademyID: loaded.Academy.ID, UserID: u.ID, Name: u.Name, Role: u.Role, From: models.Here}
	}
	selector, coach := as(loaded.Selector), as(loaded.Coach)
	selector.SquadIDs, coach.SquadIDs = []int64{loaded.SquadID}, []int64{loaded.SquadID}
	for _, planned := range a.Meetings {
		var m models.Meeting
		err := s.Read(ctx, selector, func(tx *store.Tx) error {
			all, err := tx.Meetings(models.MeetingFilter{SeasonID: loaded.SeasonID, SquadID: loaded.SquadID})
			for _, one := range all {
				if one.Purpose == planned.Purpose {
					m = one
				}
			}
			return err
		})
		if err != nil {
			return fmt.Errorf("find a meeting: %w", err)
		}
		if m.ID == 0 || m.Status != models.MeetingDraft {
			continue
		}
		if err := walk(ctx, s, selector, coach, planned, m); err != nil {
			return fmt.Errorf("hold the meeting of %s: %w", m.Date, err)
		}
	}
	return nil
}

// walk takes the steps of one meeting.
func walk(ctx context.Context, s *store.Store, selector, coach models.Who, planned, m models.Meeting) error {
	update := func(to models.MeetingStatus) error {
		m.Status = to
		return s.Write(ctx, selector, func(tx *store.Tx) error { return tx.UpdateMeeting(&m) })
	}
	for _, to := range planned.Status.Codes() {
		if to == models.MeetingDraft {
			if len(m.Candidates) > 1 {
				err := s.Write(ctx, coach, func(tx *store.Tx) error {
					return tx.CreateRecommendation(&models.Recommendation{MeetingID: m.ID, PlayerID: m.Candidates[0].PlayerID,
						View: models.RecommendChoose, Text: "Has done what we agreed since September, week after week."})
				})
				if err != nil {
					return err
				}
			}
		} else if err := update(to); err != nil {
			return err
		}
		if to == models.MeetingOpened {
			for i, c := range planned.Candidates {
				id := m.Candidates[i].PlayerID
				m.Candidates[i] = c
				m.Candidates[i].PlayerID = id
			}
			if err := update(to); err != nil {
				return err
			}
		}
		if to == planned.Status {
			break
		}
	}
	if planned.Status != models.MeetingClosed {
		return nil
	}
	err := s.Write(ctx, selector, func(tx *store.Tx) error {
		return tx.AddCorrection(&models.Correction{MeetingID: m.ID, Text: "The place is until the end of April.",
			Why: "The senior academy has moved its spring block."})
	})
	if err != nil {
		return err
	}
	return s.Write(ctx, coach, func(tx *store.Tx) error {
		all, err := tx.Feedbacks(models.FeedbackFilter{MeetingID: m.ID})
		if err != nil || len(all) == 0 {
			return err
		}
		told := m.Date.AddDays(2)
		all[0].ToldOn, all[0].Released = &told, true
		all[0].Text = "You train with the senior academy's back row until Easter. You listened, tried what we agreed in " +
			"the next match, and won more contacts for it."
		return tx.UpdateFeedback(&all[0])
	})
}
