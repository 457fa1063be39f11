package pages_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// notesOf are the review notes of a player.
func notesOf(t *testing.T, a *apitest.Academy, player int64) (all []models.ReviewNote) {
	t.Helper()
	err := a.Store.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) (err error) {
		all, err = tx.ReviewNotes(models.ReviewNoteFilter{PlayerID: player})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// between returns what stands between two texts of a page.
func between(page, from, to string) string {
	_, rest, _ := strings.Cut(page, from)
	middle, _, _ := strings.Cut(rest, to)
	return middle
}

func TestANoteIsLookedAtAsThePlayerWillSeeItBeforeItIsSaved(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		coach, at := a.SignIn(t, "ansel"), fmt.Sprint("/players/", a.Bryn.ID)
		page := coach.Get(at)
		if !strings.Contains(page.Body, "Speak to the player in a note they read: say “you”") ||
			!strings.Contains(page.Body, "safeguarding lead") {
			t.Error("the form does not say to whom a note is written, or where a safeguarding concern goes")
		}
		note := url.Values{"readers": {"player"}, "text": {"You got to your feet first.\r\nNow do it <twice>."},
			"follow_up": {"2026-01-10"}}
		seen := post(coach, at+"/notes/preview", note)
		if seen.Status != http.StatusOK || len(notesOf(t, a, a.Bryn.ID)) != 0 {
			t.Fatalf("the preview: %d, %d notes are kept; want 200 and none", seen.Status, len(notesOf(t, a, a.Bryn.ID)))
		}
		shown := between(between(seen.Body, `class="phone"`, "</div>"), "<li>", "</li>")
		if !strings.Contains(shown, "&lt;twice&gt;") || !strings.Contains(seen.Body, "on the player’s\n  phone") {
			t.Errorf("the preview shows %q", shown)
		}
		if got := post(coach, at+"/notes", formOn(t, seen, at+"/notes")); got.Status != http.StatusSeeOther {
			t.Fatalf("saved: %d %s", got.Status, got.Body)
		}
		kept := notesOf(t, a, a.Bryn.ID)
		if len(kept) != 1 || !kept[0].Shared || kept[0].Version != 1 || kept[0].AuthorID == 0 ||
			kept[0].Text != "You got to your feet first.\nNow do it <twice>." {
			t.Fatalf("kept is %+v", kept)
		}
		report := a.SignIn(t, "bryn").Get(seasonReport(a.Bryn, a.Season)).Body
		if _, notes, _ := strings.Cut(report, "Notes for you"); !strings.Contains(notes, "<li>"+shown+"</li>") {
			t.Errorf("the player reads something else than %q was shown", shown)
		}
		if trail := a.SignIn(t, "mabyn").Get(fmt.Sprint("/audit?player=", a.Bryn.ID)); !strings.Contains(trail.Body,
			"review note") {
			t.Error("the audit trail does not know of the note")
		}
	})
}

func TestANoteThatIsRefusedKeepsWhatWasTypedAndSaysWhatIsWrongBesideTheField(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		coach, at := a.SignIn(t, "ansel"), fmt.Sprint("/players/", a.Bryn.ID)
		for _, path := range []string{"/notes/preview", "/notes"} {
			got := post(coach, at+path, url.Values{"text": {"Half a thought"}, "follow_up": {"2026-01-10"}})
			if got.Status != http.StatusUnprocessableEntity || !strings.Contains(got.Body, "Half a thought</textarea>") ||
				!strings.Contains(got.Body, `value="2026-01-10"`) ||
				!strings.Contains(got.Body, `id="n-readers-wrong">Choose who reads the note`) {
				t.Errorf("%s without its readers: %d", path, got.Status)
			}
			got = post(coach, at+path, url.Values{"text": {" "}, "readers": {"staff"}, "match_id": {"987654"}})
			if got.Status != http.StatusUnprocessableEntity ||
				!strings.Contains(got.Body, `id="n-text-wrong">Write the note`) ||
				!strings.Contains(got.Body, `<option value="staff" selected>`) {
				t.Errorf("%s without its text: %d", path, got.Status)
			}
			got = post(coach, at+path, url.Values{"text": {"x"}, "readers": {"staff"}, "follow_up": {"2020-01-01"}})
			if got.Status != http.StatusUnprocessableEntity ||
				!strings.Contains(got.Body, `id="n-follow-wrong">2020-01-01`) {
				t.Errorf("%s with a follow-up before its day: %d", path, got.Status)
			}
			for login, status := range map[string]int{"bryn": 403, "sorrel": 403, "owen": 404, "edda": 404} {
				got := post(a.SignIn(t, login), at+path, url.Values{"text": {"x"}, "readers": {"player"}})
				if got.Status != status {
					t.Errorf("%s by %s: %d; want %d", path, login, got.Status, status)
				}
			}
		}
		if kept := notesOf(t, a, a.Bryn.ID); len(kept) != 0 {
			t.Errorf("kept is %+v", kept)
		}
		if page := a.SignIn(t, "bryn").Get(at); strings.Contains(page.Body, "Write a review note") {
			t.Error("the player is offered the form")
		}
	})
}

func TestANoteIsChangedOnlyAsItStands(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		coach, at := a.SignIn(t, "ansel"), fmt.Sprint("/players/", a.Bryn.ID)
		post(coach, at+"/notes", url.Values{"text": {"First words"}, "readers": {"staff"}})
		note := notesOf(t, a, a.Bryn.ID)[0]
		form := formOn(t, coach.Get(fmt.Sprintf("%s?note=%d", at, note.ID)), at+"/notes/preview#write")
		if form.Get("version") != "1" || form.Get("note") != fmt.Sprint(note.ID) {
			t.Fatalf("the form is %v", form)
		}
		form.Set("text", "Second words")
		form.Set("readers", "player")
		seen := post(coach, at+"/notes/preview", form)
		for _, wanted := range []int{http.StatusSeeOther, http.StatusPreconditionFailed} { // the second comes too late
			got := post(coach, at+"/notes", formOn(t, seen, at+"/notes"))
			if got.Status != wanted {
				t.Errorf("changed: %d; want %d", got.Status, wanted)
			}
		}
		kept := notesOf(t, a, a.Bryn.ID)
		if len(kept) != 1 || kept[0].Version != 2 || kept[0].Text != "Second words" || !kept[0].Shared {
			t.Errorf("kept is %+v", kept)
		}
		if got := coach.Get(fmt.Sprintf("/players/%d?note=%d", a.Owen.ID, note.ID)); got.Status != http.StatusNotFound {
			t.Errorf("on another player’s page: %d", got.Status)
		}
	})
}

func TestACheckInIsLookedAtAsThePlayerWillSeeItBeforeItIsSaved(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		coach, at := a.SignIn(t, "ansel"), fmt.Sprint("/players/", a.Bryn.ID)
		goal := models.Goal{PlayerID: a.Bryn.ID, Skill: "tackle", Target: 4, SetOn: "2025-10-01", By: "2026-03-01",
			Why:    "Safer head position",
			Insist: models.AskFewMatches.Codes(), InsistReason: "There is no trend yet."}
		var checkIns []models.CheckIn
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			names, err := tx.UserNames()
			for id, name := range names {
				if name == "Ansel Brock" {
					goal.OwnerID = id
				}
			}
			if err != nil {
				return err
			}
			return tx.CreateGoal(&goal)
		})
		if err != nil {
			t.Fatal(err)
		}
		if page := coach.Get(at); !strings.Contains(page.Body, "Speak to the player in a check-in they read") {
			t.Error("the form does not say to whom a check-in is written")
		}
		if got := post(coach, at+"/check-ins/preview", url.Values{"text": {"Good"}}); got.Status !=
			http.StatusUnprocessableEntity || !strings.Contains(got.Body, `id="k-goal-wrong">Choose the goal`) ||
			!strings.Contains(got.Body, "Good</textarea>") {
			t.Errorf("without a goal: %d", got.Status)
		}
		sent := url.Values{"goal_id": {fmt.Sprint(goal.ID)}, "readers": {"player"},
			"text": {"You keep your head to the side now."}}
		if got := post(coach, fmt.Sprint("/players/", a.Owen.ID, "/check-ins"), sent); got.Status !=
			http.StatusUnprocessableEntity {
			t.Errorf("on another player’s goal: %d", got.Status)
		}
		seen := post(coach, at+"/check-ins/preview", sent)
		shown := between(between(seen.Body, `class="phone"`, "</div>"), `<p class="meta">`, "</p>")
		if !strings.Contains(shown, "You keep your head") {
			t.Fatalf("the preview shows %q", shown)
		}
		if got := post(coach, at+"/check-ins", formOn(t, seen, at+"/check-ins")); got.Status != http.StatusSeeOther {
			t.Fatalf("saved: %d %s", got.Status, got.Body)
		}
		err = s.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) (err error) {
			checkIns, err = tx.CheckIns(goal.ID)
			return err
		})
		if err != nil || len(checkIns) != 1 {
			t.Fatalf("kept is %+v, %v", checkIns, err)
		}
		if report := a.SignIn(t, "bryn").Get(seasonReport(a.Bryn, a.Season)).Body; !strings.Contains(report, shown) {
			t.Errorf("the player reads something else than %q", shown)
		}
	})
}

// A file, the player's edition and a print of a page can be handed over. What is asked for under data protection law
// is complete.
func TestAStaffOnlyNoteIsInNothingThatIsHandedOverAndInTheArchive(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		coach, at := a.SignIn(t, "ansel"), fmt.Sprint("/players/", a.Bryn.ID)
		const secret, shared = "Between us for now", "You are on time now"
		seen := post(coach, at+"/notes/preview", url.Values{"text": {secret}, "readers": {"staff"}})
		if !strings.Contains(seen.Body, "the player does not see this note") {
			t.Error("the preview does not say that the player does not see it")
		}
		post(coach, at+"/notes", formOn(t, seen, at+"/notes"))
		post(coach, at+"/notes", url.Values{"text": {shared}, "readers": {"player"}})
		report := seasonReport(a.Bryn, a.Season)
		for login, paths := range map[string][]string{"ansel": {report + "/report.html"}, "mabyn": {report + "/report.html"},
			"bryn": {report, report + "/report.html", at}} {
			for _, path := range paths {
				got := a.SignIn(t, login).Get(path)
				if got.Status != http.StatusOK || strings.Contains(got.Body, secret) ||
					path != at && !strings.Contains(got.Body, shared) {
					t.Errorf("%s at %s: %d; the staff-only note is there: %t", login, path, got.Status,
						strings.Contains(got.Body, secret))
				}
			}
		}
		for _, path := range []string{report, at} { // a print leaves the note out
			item := between(coach.Get(path).Body, `<li class="screen-only">`, "</li>")
			if !strings.Contains(item, secret) {
				t.Errorf("%s shows staff the note in %q; want an item that is not printed", path, item)
			}
		}
		got := a.SignIn(t, "mabyn").Post(at+"/record.zip", nil)
		archive, err := zip.NewReader(bytes.NewReader([]byte(got.Body)), int64(len(got.Body)))
		if err != nil {
			t.Fatal(err)
		}
		all := ""
		for _, f := range archive.File {
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			text, err := io.ReadAll(r)
			if err != nil {
				t.Fatal(err)
			}
			all += string(text)
		}
		if !strings.Contains(all, secret) || !strings.Contains(all, shared) {
			t.Error("the archive of everything kept is not complete")
		}
	})
}

// The match review leads to a form of a new note. It has the proposed lines and the match, and nothing is kept or
// chosen for the coach: what they make of it is kept. Readers without the right to write get no link, form or note.
func TestAReviewOfAMatchFillsANoteThatTheCoachEdits(t *testing.T) {
	a := apitest.OnSQLite(t)
	var match int64
	err := a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
		matches, err := tx.Matches(models.MatchFilter{SeasonID: a.Season.ID, SquadID: a.Under18.ID})
		if err != nil {
			return err
		}
		coach, err := tx.Users(models.UserFilter{Login: "ansel"})
		if err != nil {
			return err
		}
		match = matches[0].ID
		for _, day := range []models.Date{"2025-11-02", "2025-11-03", "2025-11-04", "2025-11-06"} { // more than a form lists
			m := models.Match{SeasonID: a.Season.ID, SquadID: &a.Under18.ID, Date: day, Opponent: "Fenwharf", Halves: 2,
				HalfMinutes: 35}
			if err := tx.CreateMatch(&m); err != nil {
				return err
			}
			if err := tx.CreateAppearance(&models.Appearance{MatchID: m.ID, PlayerID: a.Bryn.ID, Minutes: 20}); err != nil {
				return err
			}
		}
		l := models.Log{MatchID: match, PlayerID: a.Bryn.ID, LoggerID: coach[0].ID, Depth: models.Core,
			Kinds: []models.Kind{models.KindTackle, models.KindPass}, Finished: true}
		if err := tx.CreateLog(&l); err != nil {
			return err
		}
		for i, one := range []struct {
			kind   models.Kind
			result string
		}{
			{models.KindTackle, "won"}, {models.KindTackle, "won"}, {models.KindTackle, "won"}, {models.KindTackle, "even"},
			{models.KindPass, "lost"}, {models.KindPass, "lost"},
			{models.KindPass, "accurate"}, {models.KindPass, "accurate"},
		} {
			job := models.Involvement{LogID: l.ID, Kind: one.kind, Clock: models.Clock{Half: 1, Second: 60 * (i + 1)},
				Details: map[string]string{"result": one.result}}
			if err := tx.CreateInvolvement(&job); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	at := fmt.Sprint("/players/", a.Bryn.ID)
	review, filled := fmt.Sprintf("%s/matches/%d/review", at, match), fmt.Sprintf("%s?review=%d#write", at, match)
	const lines = "From a part of your match, of what was watched.\nKeep:\n- Tackling: 3 of 4 tackles won.\n" +
		"Work on:\n- Passing: 2 of 4 passes lost."
	coach := a.SignIn(t, "ansel")
	if got := coach.Get(review); got.Status != http.StatusOK || !strings.Contains(got.Body, `href="`+filled+`"`) {
		t.Errorf("the review: %d; want it to lead to %s", got.Status, filled)
	}
	page := coach.Get(filled)
	box := between(between(page.Body, `<textarea id="n-text"`, "</textarea>"), ">\n", "</")
	if box != lines || !strings.Contains(page.Body, fmt.Sprintf(`<option value="%d" selected>`, match)) ||
		!strings.Contains(page.Body, `<option value="player">`) || len(notesOf(t, a, a.Bryn.ID)) != 0 {
		t.Errorf("the form is filled with %q; want %q, the match, no reader and nothing kept", box, lines)
	}
	got := post(coach, at+"/notes", url.Values{"readers": {"player"}, "match_id": {fmt.Sprint(match)},
		"text": {"Three tackles won. Now the passes."}})
	kept := notesOf(t, a, a.Bryn.ID)
	if got.Status != http.StatusSeeOther || len(kept) != 1 || kept[0].Text != "Three tackles won. Now the passes." ||
		kept[0].MatchID == nil || *kept[0].MatchID != match {
		t.Errorf("saved: %d, kept is %+v", got.Status, kept)
	}
	for _, login := range []string{"bryn", "sorrel"} {
		reader := a.SignIn(t, login)
		if got := reader.Get(review); got.Status != http.StatusOK || strings.Contains(got.Body, "?review=") {
			t.Errorf("%s: the review is %d, or leads to a form", login, got.Status)
		}
		if got := reader.Get(filled); strings.Contains(got.Body, "<textarea") || strings.Contains(got.Body, "3 of 4") {
			t.Errorf("%s gets the form", login)
		}
		if got := post(reader, at+"/notes", url.Values{"text": {lines}, "readers": {"player"}}); got.Status != 403 {
			t.Errorf("%s writes a note: %d; want 403", login, got.Status)
		}
	}
	for _, missing := range []string{"987654", "x"} {
		if got := coach.Get(at + "?review=" + missing); got.Status != http.StatusNotFound {
			t.Errorf("a form of match %q: %d; want 404", missing, got.Status)
		}
	}
}
