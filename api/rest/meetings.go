package rest

import (
	"net/http"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/selection"
)

type meetingsWanted struct {
	Page
	Dated
	Season int64 `query:"season" minimum:"1" doc:"Only meetings of this season."`
	Squad  int64 `query:"squad" minimum:"1" doc:"Only meetings of this squad."`
	Player int64 `query:"player" minimum:"1" doc:"Only meetings where this player is a candidate."`
}

func meetings(s *Service) {
	add(s, resource[models.Meeting, meetingsWanted]{
		name: "meeting", many: "meetings", path: "/meetings", part: selectionPart, order: "by date",
		about: "A meeting is the record of a selection meeting: the places, the candidates, the criteria they were " +
			"compared by, what was decided and why, who disagreed, and who was there. No one is selected or released on a " +
			"number alone: every decision needs a reason in words. Tell the player in person before a decision appears on a " +
			"screen, and show it only to the people it is for. Players do not see meetings.\n\n" +
			"A meeting goes step by step, each by a PUT with the next status: draft, locked, opened, decided, closed. " +
			"Criteria, weights and places change only in a draft. The step to opened keeps a copy of the evidence on each " +
			"candidate, which the comparison reads; decisions follow it. A closed record takes only corrections. A step that " +
			"is not allowed is 409 with the reason.",
		list: func(tx *store.Tx, in *meetingsWanted) ([]models.Meeting, error) {
			return tx.Meetings(models.MeetingFilter{SeasonID: in.Season, SquadID: in.Squad, PlayerID: in.Player})
		},
		get: (*store.Tx).Meeting, create: (*store.Tx).CreateMeeting, update: (*store.Tx).UpdateMeeting,
		remove: (*store.Tx).DeleteMeeting,
		record: func(m *models.Meeting) *models.Record { return &m.Record },
		keep: func(now, sent *models.Meeting) {
			if sent.Status == "" {
				sent.Status = now.Status
			}
		},
		optional: []string{"status", "present", "criteria", "places", "candidates", "total_weight"},
		fixed:    []string{"total_weight", "steps", "locked_at", "opened_at", "revision", "opened_before"},
		example: models.Meeting{
			Record: exampleRecord(6), SeasonID: exampleSeason, SquadID: exampleSquad, Date: "2026-03-02",
			Purpose: "The county trial on 14 March", Status: models.MeetingDraft,
			Present: []models.Attendee{{UserID: some[int64](exampleUser), Name: "Orla Fenn"}, {Name: "Piers Holt, county"}},
			Criteria: []models.Criterion{
				{Label: "Wins contact", Indicator: "contact_won", Weight: 2}, {Label: "Tackle", Skill: "tackle", Weight: 1.5},
				{Label: "Behind on the scoreboard", Words: "Keeps working in the last quarter when we are behind.", Weight: 1},
			},
			TotalWeight: 4.5,
			Places: []models.Place{{Name: "Back row", Group: models.GroupBackRow, Wanted: 2},
				{Name: "Hooker", Position: models.Hooker, Wanted: 1}},
			Candidates: []models.Candidate{{PlayerID: examplePlayer, Place: "Back row"}},
		},
	})
	s.comparison()
}

// comparison is the comparison of a meeting's candidates.
func (s *Service) comparison() {
	example := selection.Example()
	does(s, operation{
		method: http.MethodGet, path: "/meetings/{id}/comparison", id: "get-comparison",
		summary: "Read a meeting's comparison", part: selectionPart,
		about: "The candidates of a meeting side by side, by place, on the evidence that was kept when the comparison was " +
			"opened. Before that it is 409. Candidates stand in the meeting's order, which says nothing about them: the " +
			"composite has a likely range, and the chances say how sure any order is. Only candidates whom the caller may " +
			"read are compared. No one is selected or released on a number alone. Tell the player in person before a decision " +
			"appears on a screen.",
		gives: []content{{media: jsonType, example: example}}, refusals: []int{http.StatusNotFound, http.StatusConflict},
	}, func(r *request, in *one) (*reply, error) {
		var found *selection.Comparison
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			found, err = selection.Read(tx, in.ID, s.now())
			return err
		})
		if err != nil {
			return nil, err
		}
		return r.foundJSON("", found)
	})
}
