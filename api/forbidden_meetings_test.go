package api_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// meetingIn holds a meeting up to a status, and returns it for REST with a change.
func meetingIn(t *testing.T, s *stage, status models.MeetingStatus, change func(*models.Meeting)) given {
	t.Helper()
	m := models.Meeting{SeasonID: s.Season.ID, SquadID: s.Under18.ID, Date: "2025-11-02", Purpose: "The county trial",
		Present:  []models.Attendee{{Name: "Piers Holt"}},
		Criteria: []models.Criterion{{Label: "Tackle", Skill: "tackle", Weight: 2}, {Label: "Takes coaching", Weight: 1}},
		Places:   []models.Place{{Name: "Back row", Group: models.GroupBackRow, Wanted: 1}},
		Candidates: []models.Candidate{{PlayerID: s.Bryn.ID, Place: "Back row", Decision: models.Deferred,
			Reason: "We have not seen enough of the season."}}}
	s.as(t, "mabyn", func(tx *store.Tx) error {
		if status == models.MeetingDraft {
			m.Candidates[0].Decision, m.Candidates[0].Reason = "", ""
			return tx.CreateMeeting(&m)
		}
		return storetest.Hold(tx, &m, status)
	})
	sent := m
	sent.Criteria, sent.Places = slices.Clone(m.Criteria), slices.Clone(m.Places)
	sent.Candidates = slices.Clone(m.Candidates)
	change(&sent)
	body, err := json.Marshal(sent)
	if err != nil {
		t.Fatal(err)
	}
	var members map[string]any
	if err := json.Unmarshal(body, &members); err != nil {
		t.Fatal(err)
	}
	for _, own := range []string{"id", "academy_id", "version", "created_at", "changed_at", "deleted_at"} {
		delete(members, own)
	}
	if body, err = json.Marshal(members); err != nil {
		t.Fatal(err)
	}
	made := given{"meeting": m.ID, "version": m.Version, "body": string(body), "player": s.Bryn.ID}
	s.as(t, "mabyn", func(tx *store.Tx) error {
		told, err := tx.Feedbacks(models.FeedbackFilter{MeetingID: m.ID})
		for _, b := range told {
			made["feedback"] = b.ID
		}
		return err
	})
	return made
}

// meetingSteps are what a meeting's record refuses: every step of the table, and every change that comes too late or
// too early.
func meetingSteps() []forbidden {
	var all []forbidden
	row := func(name, who string, in models.MeetingStatus, want int, reason, form, fields, keeps string,
		change func(*models.Meeting)) {
		page := http.StatusUnprocessableEntity
		if want == http.StatusForbidden {
			page = want
		}
		all = append(all, forbidden{
			name: name, who: who,
			setup: func(t *testing.T, s *stage) given { return meetingIn(t, s, in, change) },
			rest: restStep{method: http.MethodPut, path: "/meetings/{meeting}", body: "{body}", match: `"{version}"`,
				want: want},
			page: pageStep{path: "/meetings/{meeting}/" + form, form: "version={version}&" + fields, keeps: keeps,
				want: page},
			reason: reason, unchanged: []string{"/meetings/{meeting}"},
		})
	}
	for _, step := range models.MeetingSteps() {
		if step.Why == "" {
			continue
		}
		row(fmt.Sprintf("a meeting does not go from %s to %s", step.From, step.To), "sorrel", step.From,
			http.StatusConflict, step.Why, "step", "to="+string(step.To), "",
			func(m *models.Meeting) { m.Status = step.To })
	}
	row("a coach does not lock criteria", "ansel", models.MeetingDraft, http.StatusForbidden,
		"a coach may not change meeting", "step", "to=locked", "",
		func(m *models.Meeting) { m.Status = models.MeetingLocked })
	for _, in := range []models.MeetingStatus{models.MeetingLocked, models.MeetingOpened, models.MeetingDecided} {
		row(fmt.Sprintf("weights stay once a meeting is %s", in), "sorrel", in, http.StatusConflict,
			"criteria, weights and places are locked", "criteria",
			"label-0=Tackle&of-0=skill:tackle&weight-0=7.5&label-1=Takes+coaching&weight-1=1", "7.5",
			func(m *models.Meeting) { m.Criteria[0].Weight = 7.5 })
		row(fmt.Sprintf("places stay once a meeting is %s", in), "sorrel", in, http.StatusConflict,
			"criteria, weights and places are locked", "places", "place-0=Back+row&for-0=group:back_row&wanted-0=3", "",
			func(m *models.Meeting) { m.Places[0].Wanted = 3 })
	}
	for _, in := range []models.MeetingStatus{models.MeetingDraft, models.MeetingLocked} {
		row(fmt.Sprintf("nothing is decided while a meeting is %s", in), "sorrel", in, http.StatusConflict,
			"the comparison is not open yet", "decision",
			"player={player}&place=Back+row&decision=reserve&reason=Brave+and+still+learning", "",
			func(m *models.Meeting) {
				m.Candidates[0].Decision, m.Candidates[0].Reason = models.Reserve, "Brave and still learning"
			})
	}
	row("a candidate stays once the comparison is opened", "sorrel", models.MeetingOpened, http.StatusConflict,
		"the comparison was opened with this candidate", "remove", "player={player}&place=Back+row", "",
		func(m *models.Meeting) { m.Candidates = []models.Candidate{} })
	row("a reason that is only figures is questioned", "sorrel", models.MeetingOpened, http.StatusUnprocessableEntity,
		"is only figures; say in words", "decision",
		"player={player}&place=Back+row&decision=reserve&reason=Tackle+3.9+of+5,+highest+composite", "Tackle 3.9 of 5",
		func(m *models.Meeting) {
			m.Candidates[0].Decision, m.Candidates[0].Reason = models.Reserve, "Tackle 3.9 of 5, highest composite"
		})
	row("a decision needs a reason", "sorrel", models.MeetingOpened, http.StatusUnprocessableEntity,
		"give the reason in words", "decision", "player={player}&place=Back+row&decision=reserve&reason=", "",
		func(m *models.Meeting) { m.Candidates[0].Decision, m.Candidates[0].Reason = models.Reserve, "" })
	row("a closed record stays", "mabyn", models.MeetingClosed, http.StatusConflict, "add a correction instead", "about",
		"date=2025-11-02&purpose=Another+trial&present=Piers+Holt", "Another trial",
		func(m *models.Meeting) { m.Purpose = "Another trial" })
	row("a closed record takes no candidate", "sorrel", models.MeetingClosed, http.StatusConflict,
		"add a correction instead", "candidate", "player={player}&place=Back+row", "",
		func(m *models.Meeting) {
			m.Candidates = append(m.Candidates, models.Candidate{PlayerID: 1 << 40, Place: "Back row"})
		})
	return append(all, besideMeetingSteps()...)
}

// besideMeetingSteps are what recommendations, corrections and feedback refuse, and the second of two editors.
func besideMeetingSteps() []forbidden {
	same := func(*models.Meeting) {}
	in := func(status models.MeetingStatus) func(*testing.T, *stage) given {
		return func(t *testing.T, s *stage) given { return meetingIn(t, s, status, same) }
	}
	feedback := func(
		name, who string, want int, reason, body, form string, also func(*testing.T, *stage, given),
	) forbidden {
		page := http.StatusUnprocessableEntity
		if want == http.StatusForbidden {
			page = want
		}
		return forbidden{
			name: name, who: who,
			setup: func(t *testing.T, s *stage) given {
				made := in(models.MeetingClosed)(t, s)
				made["told"] = 1
				also(t, s, made)
				return made
			},
			rest: restStep{method: http.MethodPut, path: "/selection-feedback/{feedback}", body: body, match: `"{told}"`,
				want: want},
			page: pageStep{path: "/meetings/{meeting}/feedback", form: "feedback={feedback}&version={told}&" + form,
				want: page},
			reason: reason, unchanged: []string{"/selection-feedback/{feedback}"},
		}
	}
	nothing := func(*testing.T, *stage, given) {}
	return []forbidden{
		{
			name: "a correction follows a closed record alone", who: "sorrel", setup: in(models.MeetingDecided),
			rest: restStep{method: http.MethodPost, path: "/corrections",
				body: `{"meeting_id": {meeting}, "text": "A day later.", "why": "It moved."}`, want: http.StatusConflict},
			page: pageStep{path: "/meetings/{meeting}/correction", form: "text=A+day+later.&why=It+moved.",
				keeps: "A day later.", want: http.StatusUnprocessableEntity},
			reason: "the meeting is not closed", unchanged: []string{"/corrections?limit=500"},
		},
		{
			name: "no one recommends once a meeting has decided", who: "ansel", setup: in(models.MeetingDecided),
			rest: restStep{method: http.MethodPost, path: "/recommendations",
				body: `{"meeting_id": {meeting}, "player_id": {player}, "view": "choose", "text": "Ready."}`,
				want: http.StatusConflict},
			page: pageStep{path: "/meetings/{meeting}/recommendation", form: "player={player}&view=choose&text=Quite+ready.",
				keeps: "Quite ready.", want: http.StatusUnprocessableEntity},
			reason: "the meeting has decided", unchanged: []string{"/recommendations?limit=500"},
		},
		{
			name: "a selector does not recommend", who: "sorrel", setup: in(models.MeetingOpened),
			rest: restStep{method: http.MethodPost, path: "/recommendations",
				body: `{"meeting_id": {meeting}, "player_id": {player}, "view": "choose", "text": "Ready."}`,
				want: http.StatusForbidden},
			page: pageStep{path: "/meetings/{meeting}/recommendation", form: "player={player}&view=choose&text=Ready.",
				want: http.StatusForbidden},
			reason: "a selector may not change recommendation", unchanged: []string{"/recommendations?limit=500"},
		},
		feedback("feedback is not released before the player was told", "ansel", http.StatusConflict,
			"tell the player in person first", `{"text": "Well played.", "released": true}`,
			"text=Well+played.&release=yes", nothing),
		feedback("a manager does not release feedback", "mabyn", http.StatusForbidden,
			"only a coach of the player", `{"text": "Well played.", "released": true, "told_on": "2025-11-03"}`,
			"text=Well+played.&release=yes&told_on=2025-11-03", nothing),
		feedback("released feedback stays", "ansel", http.StatusConflict, "was released to the player and stays",
			`{"text": "Other words.", "released": false}`, "text=Other+words.",
			func(t *testing.T, s *stage, made given) {
				s.as(t, "ansel", func(tx *store.Tx) error {
					b, err := tx.Feedback(made["feedback"].(int64))
					told := models.Date("2025-11-03")
					if b.ToldOn, b.Released = &told, true; err != nil {
						return err
					}
					err = tx.UpdateFeedback(&b)
					made["told"] = b.Version
					return err
				})
			}),
		{
			name: "the second editor of a meeting is told what changed", who: "sorrel",
			setup: func(t *testing.T, s *stage) given {
				made := meetingIn(t, s, models.MeetingLocked, func(m *models.Meeting) { m.Purpose = "The spring trial" })
				s.as(t, "mabyn", func(tx *store.Tx) error {
					m, err := tx.Meeting(made["meeting"].(int64))
					if m.Purpose = "The autumn trial"; err != nil {
						return err
					}
					return tx.UpdateMeeting(&m)
				})
				return made
			},
			rest: restStep{method: http.MethodPut, path: "/meetings/{meeting}", body: "{body}", match: `"{version}"`,
				want: http.StatusPreconditionFailed},
			page: pageStep{path: "/meetings/{meeting}/about",
				form: "version={version}&date=2025-11-02&purpose=The+spring+trial&present=Piers+Holt", keeps: "The spring trial",
				want: http.StatusPreconditionFailed},
			reason: "The autumn trial", unchanged: []string{"/meetings/{meeting}"},
		},
	}
}
