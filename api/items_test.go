package api_test

import (
	"fmt"
	"html"
	"net/http"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// itemsOf are the texts of what waits for a user, of one kind, as programs read them.
func itemsOf(t *testing.T, a *apitest.Academy, login string, kind models.ItemKind) []string {
	t.Helper()
	got := a.Program(t, login).Get("/api/v1/items?kind=" + string(kind))
	if got.Status != http.StatusOK {
		t.Fatalf("items of %s: %d %s", login, got.Status, got.Body)
	}
	var texts []string
	for _, item := range items(got.Body) {
		texts = append(texts, item["text"].(string))
	}
	return texts
}

// spoken is a page as it reads: without marks, on one line.
func spoken(page string) string {
	var b strings.Builder
	inTag := false
	for _, r := range page {
		switch {
		case r == '<':
			inTag = true
		case r == '>':
			inTag = false
			b.WriteByte(' ')
		case !inTag:
			b.WriteRune(r)
		}
	}
	return strings.ReplaceAll(strings.Join(strings.Fields(html.UnescapeString(b.String())), " "), " ,", ",")
}

func TestWhatWaitsStandsOnTheHomePageOfWhomItWaitsForUntilItIsDone(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *store.Store) {
		s := &stage{apitest.Serve(t, db), map[string]models.Who{}, map[string]*apitest.Client{}}
		var contact models.HeadContact
		s.as(t, "ansel", func(tx *store.Tx) error {
			contact = models.HeadContact{PlayerID: s.Bryn.ID, Date: "2025-11-01"}
			return tx.CreateHeadContact(&contact)
		})
		const text = "Tell the medical lead about the head contact of Bryn Calder, and record who you told"
		for login, waits := range map[string]bool{"ansel": true, "mabyn": true, "sorrel": false, "bryn": false,
			"edda": false, "orla": false} {
			got := itemsOf(t, s.Academy, login, models.ItemHeadContact)
			if has := slices.Contains(got, text); has != waits {
				t.Errorf("%s: waits %v, want %v", login, has, waits)
			}
		}
		home := spoken(s.browser(t, "ansel").Get("/").Body)
		first, squads := strings.Index(home, "Waiting for you "+text+", since 1 Nov 2025"), strings.Index(home, "Under 18")
		if first < 0 || first > squads {
			t.Errorf("it is not first on the home page: %s", home)
		}
		s.as(t, "ansel", func(tx *store.Tx) error {
			_, err := tx.TellMedicalLead(contact.ID, "Dr Ina Fold")
			return err
		})
		if left := itemsOf(t, s.Academy, "ansel", models.ItemHeadContact); len(left) != 0 {
			t.Errorf("it is done, and %q still waits", left)
		}
		if home := s.browser(t, "ansel").Get("/").Body; strings.Contains(home, "head contact of Bryn") {
			t.Error("it is done, and the home page says that it waits")
		}
	})
}

func TestAMinorsReplyWaitsForTheStaffWhoWroteNeitherItNorTheNote(t *testing.T) {
	storetest.Each(t, func(t *testing.T, db *store.Store) {
		s := &stage{apitest.Serve(t, db), map[string]models.Who{}, map[string]*apitest.Client{}}
		note := models.ReviewNote{PlayerID: s.Bryn.ID, Date: "2025-11-02", Shared: true, Text: "Watch the clip."}
		s.as(t, "ansel", func(tx *store.Tx) error { return tx.CreateReviewNote(&note) })
		reply := models.NoteAnswer{NoteID: note.ID, Text: "Watched it."}
		s.as(t, "bryn", func(tx *store.Tx) error { return tx.AnswerNote(&reply) })
		if got := itemsOf(t, s.Academy, "ansel", models.ItemReply); len(got) != 0 {
			t.Errorf("the author of the note is asked for %q", got)
		}
		if got := itemsOf(t, s.Academy, "mabyn", models.ItemReply); len(got) != 1 ||
			got[0] != "Read the reply to a note for Bryn Calder, and confirm that you have seen it" {
			t.Errorf("the manager is asked for %q", got)
		}
		s.as(t, "mabyn", func(tx *store.Tx) error {
			_, err := tx.SeeNoteAnswer(reply.ID)
			return err
		})
		if got := itemsOf(t, s.Academy, "mabyn", models.ItemReply); len(got) != 0 {
			t.Errorf("it was read, and %q still waits", got)
		}
	})
}

// A list of thirty follow-ups hides what is urgent: of each kind some items are listed and the others folded, but never
// what keeps a player safe.
func TestManyItemsOfAKindAreFoldedButThoseOfSafety(t *testing.T) {
	a := apitest.OnSQLite(t)
	if err := a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
		names, err := tx.UserNames()
		if err != nil {
			return err
		}
		var ansel int64
		for id, name := range names {
			if name == "Ansel Brock" {
				ansel = id
			}
		}
		day := models.Date("2025-10-06")
		for n := range 8 {
			p := models.Player{Name: fmt.Sprintf("Player %d", n), Positions: []models.Position{models.Flanker}}
			if err := tx.CreatePlayer(&p); err != nil {
				return err
			}
			err := tx.CreateMembership(&models.Membership{SeasonID: a.Season.ID, SquadID: a.Under18.ID, PlayerID: p.ID,
				From: a.Season.Starts})
			if err != nil {
				return err
			}
			if err := tx.CreateHeadContact(&models.HeadContact{PlayerID: p.ID, Date: "2025-10-05"}); err != nil {
				return err
			}
			note := models.ReviewNote{PlayerID: p.ID, AuthorID: ansel, Date: "2025-10-01", Text: "Look again.", FollowUp: &day}
			if err := tx.CreateReviewNote(&note); err != nil {
				return err
			}
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	home := a.SignIn(t, "ansel").Get("/").Body
	waiting, _, _ := strings.Cut(home[strings.Index(home, "Waiting for you"):], "</section>")
	listed, folded, found := strings.Cut(waiting, "<details>")
	if !found || strings.Count(listed, "Tell the medical lead") != 8 || strings.Contains(folded, "medical lead") ||
		strings.Count(listed, "Follow up on your note") != 5 || !strings.Contains(folded, "more like these") {
		t.Errorf("the home page has %s", waiting)
	}
}
