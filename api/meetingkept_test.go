package api_test

import (
	"encoding/json"
	"fmt"
	"html"
	"net/http"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// TestAMeetingsEvidenceTellsNoReaderWhatIsHiddenFromThem: a selector reads nothing about a candidate whom they are not
// shown, and a coach nothing of a grade that is hidden from them, on the page and by REST.
func TestAMeetingsEvidenceTellsNoReaderWhatIsHiddenFromThem(t *testing.T) {
	eachStage(t, func(t *testing.T, s *stage) {
		shown, hidden := s.player(t, "Osk Verran"), s.player(t, "Zeb Quill")
		s.coach(t, "teague", s.Under18.ID)
		m := models.Meeting{SeasonID: s.Season.ID, SquadID: s.Under18.ID, Date: "2026-03-12", Purpose: "The spring trial",
			Present:  []models.Attendee{{Name: "Piers Holt"}},
			Criteria: []models.Criterion{{Label: "Tackle", Skill: "tackle", Weight: 2}},
			Places:   []models.Place{{Name: "Back row", Group: models.GroupBackRow, Wanted: 1}},
			Candidates: []models.Candidate{
				{PlayerID: shown.ID, Place: "Back row", Decision: models.Reserve, Reason: "Steady, and still learning."},
				{PlayerID: hidden.ID, Place: "Back row", Decision: models.NotChosen, Reason: "Zealously offside too often."}}}
		s.as(t, "mabyn", func(tx *store.Tx) error { return storetest.Hold(tx, &m, models.MeetingOpened) })
		s.as(t, "ansel", func(tx *store.Tx) error {
			return tx.CreateRecommendation(&models.Recommendation{MeetingID: m.ID, PlayerID: hidden.ID,
				View: models.Recommendable("wait"), Text: "Zonked in the last quarter."})
		})
		s.as(t, "mabyn", func(tx *store.Tx) error {
			rules, err := tx.Settings()
			if err != nil {
				return err
			}
			rules.Requires = append(rules.Requires, models.PurposeSelection)
			if err := tx.SaveSettings(&rules); err != nil {
				return err
			}
			return tx.CreateConsent(&models.Consent{PlayerID: shown.ID, Purpose: models.PurposeSelection,
				GivenBy: "A guardian", Relation: models.ByGuardian, On: "2025-09-01"})
		})
		read := func(login string) map[string]string {
			t.Helper()
			all := map[string]string{}
			for _, address := range []string{"/api/v1/meetings/%d", "/api/v1/meetings/%d/comparison", "/meetings/%d"} {
				address = fmt.Sprintf(address, m.ID)
				client := s.browser(t, login)
				if strings.HasPrefix(address, "/api") {
					client = s.Program(t, login)
				}
				got := client.Get(address)
				if got.Status != http.StatusOK {
					t.Fatalf("%s reads %s: %d %s", login, address, got.Status, got.Body)
				}
				all[address] = html.UnescapeString(got.Body)
			}
			return all
		}
		for address, text := range read("mabyn") {
			if !strings.Contains(text, "Osk Verran") && !strings.Contains(text, fmt.Sprint(hidden.ID)) {
				t.Errorf("the manager does not read both candidates at %s", address)
			}
		}
		for address, text := range read("sorrel") {
			for _, secret := range []string{"Zeb Quill", "Zealously", "Zonked", fmt.Sprintf(`"player_id":%d,`, hidden.ID)} {
				if strings.Contains(strings.ReplaceAll(text, ": ", ":"), secret) {
					t.Errorf("the selector reads %q at %s", secret, address)
				}
			}
		}
		s.deciding(t, &m, hidden.ID)
		before := read("ansel")
		s.as(t, "teague", func(tx *store.Tx) error { // hidden from Ansel, who has given none
			return tx.CreateRating(&models.Rating{PlayerID: shown.ID, Skill: "tackle", Grade: 2, Date: "2026-03-13",
				Block:   "March",
				Comment: "Zigzags into the tackle."})
		})
		comparison := fmt.Sprintf("/api/v1/meetings/%d/comparison", m.ID)
		for address, text := range read("ansel") {
			if strings.Contains(text, "Zigzags") {
				t.Errorf("the coach reads the hidden grade’s comment at %s", address)
			}
			was := before[address]
			if address == comparison { // which says that the record has changed, and no more
				text, was = afterMember(text, `"places"`), afterMember(was, `"places"`)
			}
			if strings.HasPrefix(address, "/api") && text != was {
				t.Errorf("a hidden grade changes what the coach reads at %s:\n%s\nit was\n%s", address, text, was)
			}
		}
	})
}

// deciding has the selector say that every candidate is decided, while one who is hidden from them is not: it is
// refused on the page and by REST with what to do, and tells no name.
func (s *stage) deciding(t *testing.T, m *models.Meeting, hidden int64) {
	t.Helper()
	s.as(t, "mabyn", func(tx *store.Tx) error {
		now, err := tx.Meeting(m.ID)
		for i := range now.Candidates {
			if c := &now.Candidates[i]; c.PlayerID == hidden {
				c.Decision, c.Reason = "", ""
			}
		}
		if err == nil {
			err = tx.UpdateMeeting(&now)
		}
		m.Version = now.Version
		return err
	})
	var body string
	if err := s.Store.Read(t.Context(), s.user(t, "sorrel"), func(tx *store.Tx) error {
		seen, err := tx.Meeting(m.ID)
		if err != nil {
			return err
		}
		said, err := json.Marshal(map[string]any{"season_id": seen.SeasonID, "squad_id": seen.SquadID, "date": seen.Date,
			"purpose": seen.Purpose, "status": "decided", "present": seen.Present, "criteria": seen.Criteria,
			"places": seen.Places, "candidates": seen.Candidates})
		body = string(said)
		return err
	}); err != nil {
		t.Fatal(err)
	}
	const reason = "1 candidate is not shown to you and has no decision. Ask a manager"
	rest := s.Program(t, "sorrel").Do(http.MethodPut, fmt.Sprintf("/api/v1/meetings/%d", m.ID), strings.NewReader(body),
		"Content-Type", "application/json", "If-Match", fmt.Sprintf(`"%d"`, m.Version))
	page := s.browser(t, "sorrel").Post(fmt.Sprintf("/meetings/%d/step", m.ID),
		formOf(fmt.Sprintf("version=%d&to=decided", m.Version)))
	for by, got := range map[string]struct {
		status, want int
		body         string
	}{"REST": {rest.Status, http.StatusConflict, rest.Body},
		"the page": {page.Status, http.StatusUnprocessableEntity, html.UnescapeString(page.Body)}} {
		if got.status != got.want || !strings.Contains(strings.Join(strings.Fields(got.body), " "), reason) ||
			strings.Contains(got.body, "Zeb") {
			t.Errorf("%s answers %d; want %d with %q and no name\n%s", by, got.status, got.want, reason, got.body)
		}
	}
	if now := s.read(t, fmt.Sprintf("/meetings/%d", m.ID)); !strings.Contains(now, `"status":"opened"`) {
		t.Errorf("the meeting went on: %s", now)
	}
}

// afterMember is the text from a member of JSON on.
func afterMember(text, member string) string {
	if at := strings.Index(text, member); at >= 0 {
		return text[at:]
	}
	return text
}
