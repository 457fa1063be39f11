package pages_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports/paper"
)

// post sends a form as a page of ours would.
func post(c *apitest.Client, path string, form url.Values) apitest.Answer {
	return c.Do(http.MethodPost, path, strings.NewReader(form.Encode()), "Content-Type",
		"application/x-www-form-urlencoded")
}

func TestAHeadContactGoesFromTheMarkToTheClearance(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		coach, manager := a.SignIn(t, "ansel"), a.SignIn(t, "mabyn")
		at := fmt.Sprint("/players/", a.Bryn.ID)
		if got := post(coach, at+"/head-contacts",
			url.Values{"date": {"2025-11-31"}, "stand_down": {"yes"}}); got.Status != http.StatusUnprocessableEntity ||
			!strings.Contains(got.Body, `value="2025-11-31"`) || !strings.Contains(got.Body, `role="alert"`) {
			t.Errorf("on a day that there is not: %d; want the page again, with what was sent", got.Status)
		}
		if got := post(coach, at+"/head-contacts",
			url.Values{"date": {"2025-11-29"}, "stand_down": {"yes"}}); got.Status != http.StatusSeeOther {
			t.Fatalf("marking: %d %s", got.Status, got.Body)
		}
		for _, login := range []string{"ansel", "mabyn", "sorrel"} {
			if got := a.SignIn(t, login).Get("/safety"); !strings.Contains(got.Body, "Bryn Calder") ||
				!strings.Contains(got.Body, "Check now that the medical lead knows") ||
				!strings.Contains(got.Body, "from 29 Nov 2025") {
				t.Errorf("%s: the page does not ask that the medical lead be told, or does not show the stand-down", login)
			}
		}
		if got := a.SignIn(t, "bryn").Get(at); got.Status != http.StatusOK ||
			!strings.Contains(got.Body, "Stood down from 29 Nov 2025") {
			t.Errorf("the player himself: %d; want to be told", got.Status)
		}
		var contact models.HeadContact
		var down models.StandDown
		err := s.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			contacts, err := tx.HeadContacts(models.HeadContactFilter{})
			if err != nil {
				return err
			}
			downs, err := tx.StandDowns(models.StandDownFilter{})
			contact, down = contacts[0], downs[0]
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		told := fmt.Sprintf("/safety/head-contacts/%d/told", contact.ID)
		if got := post(a.SignIn(t, "sorrel"), told,
			url.Values{"medical_lead": {"Dr Hesper Lowe"}}); got.Status != http.StatusForbidden {
			t.Errorf("told, by a selector: %d; want 403", got.Status)
		}
		if got := post(coach, told, url.Values{"medical_lead": {"Dr Hesper Lowe"}}); got.Status != http.StatusSeeOther {
			t.Errorf("told: %d %s", got.Status, got.Body)
		}
		lift := fmt.Sprintf("/safety/stand-downs/%d/lift", down.ID)
		cleared := url.Values{"cleared_by": {"Dr Hesper Lowe"}, "lifted_on": {"2025-12-20"}}
		if got := post(coach, lift, cleared); got.Status != http.StatusForbidden {
			t.Errorf("lifted by a coach: %d; want 403", got.Status)
		}
		if got := post(manager, lift,
			url.Values{"lifted_on": {"2025-12-20"}}); got.Status != http.StatusUnprocessableEntity ||
			!strings.Contains(got.Body, `value="2025-12-20"`) {
			t.Errorf("lifted by nobody: %d; want the page again", got.Status)
		}
		if got := post(manager, lift, cleared); got.Status != http.StatusSeeOther {
			t.Errorf("lifted: %d %s", got.Status, got.Body)
		}
		if got := manager.Get("/safety"); strings.Contains(got.Body, "Tell the medical lead now") ||
			strings.Contains(got.Body, "/lift\"") {
			t.Error("the page still asks for what was done")
		}
		for _, path := range []string{told, lift} {
			if got := post(a.SignIn(t, "edda"), path, cleared); got.Status != http.StatusNotFound &&
				got.Status != http.StatusUnprocessableEntity {
				t.Errorf("another academy's manager at %s: %d", path, got.Status)
			}
		}
		if got := a.SignIn(t, "bryn").Get("/safety"); got.Status != http.StatusForbidden {
			t.Errorf("the player gets the page of the staff: %d", got.Status)
		}
	})
}

// contactsOf are the head contacts of the academy.
func contactsOf(t *testing.T, a *apitest.Academy) (all []models.HeadContact) {
	t.Helper()
	err := a.Store.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) (err error) {
		all, err = tx.HeadContacts(models.HeadContactFilter{})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestTheOptionsOfAMatchShowItsScoreAndDifficultyAsPapersDo(t *testing.T) {
	a := apitest.OnSQLite(t)
	one, hard := models.Match{}, 4
	err := a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
		all, err := tx.Matches(models.MatchFilter{SeasonID: a.Season.ID, SquadID: a.Under18.ID, PlayerID: a.Bryn.ID})
		if err != nil {
			return err
		}
		one = all[len(all)-1]
		one.Difficulty = &hard
		if err := tx.UpdateMatch(&one); err != nil {
			return err
		}
		for _, e := range []models.MatchEvent{{Kind: models.EventTry, Ours: true}, {Kind: models.EventDropGoal}} {
			e.MatchID, e.Clock = one.ID, models.Clock{Half: 1, Second: 600}
			if err := tx.CreateMatchEvent(&e); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	page := a.SignIn(t, "ansel").Get(fmt.Sprint("/players/", a.Bryn.ID))
	want := fmt.Sprintf(`<option value="%d">%s v %s (score 5–3, difficulty 4)</option>`, one.ID,
		paper.Day(string(one.Date)), one.Opponent)
	if got := strings.Count(page.Body, want); got != 2 { // a head contact's and a note's
		t.Errorf("%d lists have %s, want 2:\n%s", got, want, page.Body)
	}
	// Those, the way to its log, and its row among the matches.
	if strings.Contains(page.Body, "0–0") || strings.Count(page.Body, "score ") != 4 ||
		strings.Count(page.Body, "score 5–3, difficulty 4") != 4 {
		t.Error("a match without a recorded score shows one")
	}
}

func TestTheFormOfAHeadContactTakesTheMatchClock(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		coach := a.SignIn(t, "ansel")
		at := fmt.Sprint("/players/", a.Bryn.ID)
		page := coach.Get(at)
		if !strings.Contains(page.Body, `name="clock"`) || !strings.Contains(page.Body, `name="half"`) {
			t.Fatal("the form asks for no match clock")
		}
		_, options, _ := strings.Cut(page.Body, `name="match_id"`)
		_, options, _ = strings.Cut(options, `<option value="">`)
		_, options, _ = strings.Cut(options, `<option value="`)
		match, _, _ := strings.Cut(options, `"`)
		for _, wrong := range []url.Values{
			{"match_id": {match}, "half": {""}, "clock": {"50:00"}}, {"match_id": {match}, "half": {"2"}, "clock": {"50:75"}},
			{"match_id": {match}, "half": {"2"}, "clock": {"late"}}, {"match_id": {match}, "half": {"2"}, "clock": {""}},
			{"date": {"2025-11-02"}, "half": {"2"}, "clock": {"50:00"}},
		} {
			if got := post(coach, at+"/head-contacts", wrong); got.Status != http.StatusUnprocessableEntity ||
				!strings.Contains(got.Body, `role="alert"`) || !strings.Contains(got.Body, `value="`+wrong.Get("clock")+`"`) {
				t.Errorf("%v: %d; want the page again, with what was sent", wrong, got.Status)
			}
		}
		if got := contactsOf(t, a); len(got) > 0 {
			t.Fatalf("what was refused was recorded: %+v", got)
		}
		for _, sent := range []url.Values{ // as it was known, then with its minute, then once more
			{"match_id": {match}}, {"match_id": {match}, "half": {"2"}, "clock": {"50:00"}},
			{"match_id": {match}, "half": {"2"}, "clock": {"50:00"}}, {"match_id": {match}},
		} {
			if got := post(coach, at+"/head-contacts", sent); got.Status != http.StatusSeeOther {
				t.Fatalf("%v: %d %s", sent, got.Status, got.Body)
			}
		}
		got := contactsOf(t, a)
		if len(got) != 1 || got[0].Clock == nil || *got[0].Clock != (models.Clock{Half: 2, Second: 3000}) {
			t.Errorf("head contacts %+v, want one at 50:00", got)
		}
		if page := coach.Get("/safety").Body; !strings.Contains(page, "half 2, 50:00") ||
			!strings.Contains(page, "From that moment on, nothing in this match counts") {
			t.Error("the safety page does not say from when on nothing counts")
		}
	})
}

// What is over is in the history, and nothing of it among what needs action now.
func TestWhatIsOverMovesToTheHistory(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		at := fmt.Sprint("/players/", a.Bryn.ID)
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			return tx.CreateMinutesLimit(&models.MinutesLimit{Name: "Five days", Days: 5, Minutes: 100})
		})
		if err != nil {
			t.Fatal(err)
		}
		manager := a.SignIn(t, "mabyn")
		parts := func() (now, history string) {
			now, history, found := strings.Cut(manager.Get("/safety").Body, `id="history"`)
			if !found || !strings.Contains(now, "Needs action now") {
				t.Fatal("the page has no history")
			}
			return now, history
		}
		over := "over the limit “Five days”: 105 of 100"
		if now, history := parts(); strings.Contains(now, "Five days") || !strings.Contains(history, over) {
			t.Error("a limit passed weeks ago is not history") // 70 on 1 November and 35 on the 5th; it is December
		}
		if page := a.SignIn(t, "ansel").Get("/").Body; strings.Contains(page, "Five days") {
			t.Error("the home page warns of a limit passed weeks ago")
		}
		post(manager, at+"/head-contacts", url.Values{"date": {"2025-11-02"}, "stand_down": {"yes"}})
		now, history := parts()
		if !strings.Contains(now, "Check now that") || !strings.Contains(now, "/lift") ||
			strings.Contains(history, "Head contact") || strings.Contains(history, "Stand-down") {
			t.Error("what is open is not among what needs action")
		}
		contact := contactsOf(t, a)[0]
		post(manager, fmt.Sprintf("/safety/head-contacts/%d/told", contact.ID), url.Values{"medical_lead": {"Dr Lowe"}})
		now, history = parts()
		if strings.Contains(now, "Check now that") || !strings.Contains(history, "Dr Lowe was told") {
			t.Error("a head contact of which the medical lead knows is not history")
		}
		_, down, _ := strings.Cut(now, "/safety/stand-downs/")
		down, _, _ = strings.Cut(down, "/")
		post(manager, "/safety/stand-downs/"+down+"/lift", url.Values{"cleared_by": {"Dr Lowe"},
			"lifted_on": {"2025-12-01"}})
		now, history = parts()
		if strings.Contains(now, a.Bryn.Name+"</a>, from") || !strings.Contains(history, "until 1 Dec 2025, cleared by") {
			t.Error("a stand-down that has ended is not history")
		}
		page := manager.Get(at).Body
		now, history, found := strings.Cut(page, "Safety history")
		if !found || strings.Contains(now, "Stood down") || strings.Contains(now, "Five days") ||
			!strings.Contains(history, "Stood down from 2 Nov 2025") || !strings.Contains(history, "Five days") {
			t.Error("the player’s page does not set what is over apart")
		}
	})
}

// A program or a log marked it: the page proposes the stand-down, as the form of a mark does.
func TestAHeadContactWithoutAStandDownNeedsActionUntilOneIsSet(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		manager := a.SignIn(t, "mabyn")
		contact := models.HeadContact{PlayerID: a.Bryn.ID, Date: "2025-11-02"}
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error { return tx.CreateHeadContact(&contact) })
		if err != nil {
			t.Fatal(err)
		}
		at := fmt.Sprintf("/players/%d/head-contacts", a.Bryn.ID)
		button := "Stand the player down</button>"
		if got := manager.Get("/safety").Body; !strings.Contains(got, button) || !strings.Contains(got, at) {
			t.Error("a head contact not yet reported does not propose the stand-down")
		}
		post(manager, fmt.Sprintf("/safety/head-contacts/%d/told", contact.ID), url.Values{"medical_lead": {"Dr Lowe"}})
		now, history, _ := strings.Cut(manager.Get("/safety").Body, `id="history"`)
		if !strings.Contains(now, button) || !strings.Contains(now, "Dr Lowe was told") ||
			strings.Contains(history, "Dr Lowe was told") {
			t.Error("a reported head contact without a stand-down is called history")
		}
		if got := a.SignIn(t, "sorrel").Get("/safety").Body; strings.Contains(got, button) {
			t.Error("a selector is offered the stand-down")
		}
		post(manager, at, url.Values{"date": {"2025-11-02"}, "stand_down": {"yes"}}) // what the button sends
		if all := contactsOf(t, a); len(all) != 1 || all[0].Proposal != nil {
			t.Errorf("head contacts after the button %+v; want the one, stood down", all)
		}
		now, history, _ = strings.Cut(manager.Get("/safety").Body, `id="history"`)
		if strings.Contains(now, button) || !strings.Contains(now, "/lift") ||
			!strings.Contains(history, "Dr Lowe was told") {
			t.Error("a head contact with its stand-down set is not history")
		}
	})
}

// Bryn, without a birth date, counts as a minor; Owen is an adult; Tam has left.
func TestAConsentIsMissingOnlyWhereTheAcademyRequiresItOfThatPlayer(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			rules := models.Settings{Requires: []models.Purpose{models.PurposeSelection}}
			if err := tx.SaveSettings(&rules); err != nil {
				return err
			}
			owen, err := tx.Player(a.Owen.ID)
			if err != nil {
				return err
			}
			born := models.Date("2007-11-30") // eighteen since yesterday
			owen.BornOn = &born
			if err := tx.UpdatePlayer(&owen); err != nil {
				return err
			}
			members, err := tx.Memberships(models.MembershipFilter{PlayerID: a.Tam.ID})
			if err != nil {
				return err
			}
			left := models.Date("2025-11-30")
			members[0].Until = &left
			return tx.UpdateMembership(&members[0])
		})
		if err != nil {
			t.Fatal(err)
		}
		manager := a.SignIn(t, "mabyn")
		_, list, _ := strings.Cut(manager.Get("/safety").Body, `id="consents"`)
		list, _, _ = strings.Cut(list, "</ul>")
		if !strings.Contains(list, "Bryn Calder</a>: Selection") || strings.Contains(list, "Filming") ||
			!strings.Contains(list, "Owen Tarrant</a>: the player’s own: Selection") || strings.Contains(list, "Tam") {
			t.Errorf("the list is %q; want a guardian’s consent to selection for Bryn, and Owen’s own", list)
		}
		for player, missing := range map[int64]bool{a.Bryn.ID: true, a.Owen.ID: false, a.Tam.ID: false} {
			if got := manager.Get(fmt.Sprint("/players/", player)); strings.Contains(got.Body, "Consent missing") != missing {
				t.Errorf("page of player %d: a consent is missing there: %t", player, !missing)
			}
		}
	})
}

func TestAManagerKeepsConsentsAndGuardiansOnThePlayersPage(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		manager := a.SignIn(t, "mabyn")
		at := fmt.Sprint("/players/", a.Tam.ID)
		given := url.Values{"purpose": {"selection"}, "given_by": {"Ida Veale"}, "relation": {"guardian"},
			"on": {"2025-08-20"}, "until": {""}, "kept_at": {"Office, shelf 3"}}
		if got := post(manager, at+"/consents", given); got.Status != http.StatusSeeOther ||
			got.Header.Get("Location") != at+"#consents" {
			t.Fatalf("a consent: %d %s", got.Status, got.Body)
		}
		if got := post(manager, at+"/guardians",
			url.Values{"name": {"Ida Veale"}, "relation": {"mother"}}); got.Status != http.StatusSeeOther {
			t.Fatalf("a guardian: %d %s", got.Status, got.Body)
		}
		if got := post(manager, at+"/guardians",
			url.Values{"name": {""}, "relation": {"mother"}}); got.Status != http.StatusUnprocessableEntity ||
			!strings.Contains(got.Body, `value="mother"`) {
			t.Errorf("a guardian without a name: %d; want the page again, with what was sent", got.Status)
		}
		page := manager.Get(at)
		for _, words := range []string{"Ida Veale", "Office, shelf 3", "mother", "counted as a minor", "Mabyn Orrell"} {
			if !strings.Contains(strings.Join(strings.Fields(page.Body), " "), words) {
				t.Errorf("the page does not say %q", words)
			}
		}
		var consent int64
		err := s.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			all, err := tx.Consents(models.ConsentFilter{PlayerID: a.Tam.ID})
			for _, c := range all {
				if c.Purpose == models.PurposeSelection {
					consent = c.ID
				}
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		withdraw := fmt.Sprintf("/consents/%d/withdraw", consent)
		if got := post(manager, fmt.Sprint("/players/", a.Bryn.ID)+withdraw,
			url.Values{"withdrawn_on": {"2025-12-01"}}); got.Status != http.StatusNotFound {
			t.Errorf("under another player: %d; want 404", got.Status)
		}
		form := formOn(t, page, at+withdraw)
		form.Set("withdrawn_on", "2025-12-01")
		if got := post(manager, at+withdraw, form); got.Status != http.StatusSeeOther {
			t.Errorf("withdrawn: %d %s", got.Status, got.Body)
		}
		for login, status := range map[string]int{"ansel": 404, "sorrel": 404, "bryn": 404, "edda": 404} {
			c := a.SignIn(t, login)
			if got := c.Get(at); got.Status != status {
				t.Errorf("%s: %d; want %d", login, got.Status, status)
			}
			if got := post(c, at+"/guardians",
				url.Values{"name": {"X"}, "relation": {"x"}}); got.Status != http.StatusForbidden &&
				got.Status != http.StatusNotFound && got.Status != http.StatusUnprocessableEntity {
				t.Errorf("%s adds a guardian: %d", login, got.Status)
			}
		}
		if got := a.SignIn(t, "ansel").Get(fmt.Sprint("/players/", a.Bryn.ID)); got.Status != http.StatusOK ||
			strings.Contains(got.Body, "Add a consent") || strings.Contains(got.Body, "Erase") {
			t.Errorf("a coach: %d; want the page without what he may not do", got.Status)
		}
	})
}

func TestPeopleTakeTheirDataAwayAndAreErasedOnPages(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		at := fmt.Sprint("/players/", a.Bryn.ID)
		for login, status := range map[string]int{"mabyn": 200, "bryn": 200, "ansel": 403, "sorrel": 403, "owen": 404,
			"edda": 404} {
			if got := a.SignIn(t, login).Post(at+"/record.zip", nil); got.Status != status || status == 200 &&
				!strings.HasPrefix(got.Body, "PK") {
				t.Errorf("%s: %d; want %d", login, got.Status, status)
			}
		}
		manager := a.SignIn(t, "mabyn")
		if got := post(manager, at+"/erasure",
			url.Values{"name": {"Bryn"}, "asked_by": {"guardian"}}); got.Status != http.StatusUnprocessableEntity ||
			!strings.Contains(got.Body, "is not the name of player") {
			t.Errorf("with half a name: %d; want the page again", got.Status)
		}
		if got := post(a.SignIn(t, "ansel"), at+"/erasure",
			url.Values{"name": {"Bryn Calder"}, "asked_by": {"guardian"}}); got.Status != http.StatusForbidden {
			t.Errorf("by a coach: %d; want 403", got.Status)
		}
		bryn := a.SignIn(t, "bryn")
		got := post(manager, at+"/erasure", url.Values{"name": {"Bryn Calder"}, "asked_by": {"guardian"}})
		if got.Status != http.StatusSeeOther || !strings.HasPrefix(got.Header.Get("Location"), "/data-requests#request-") {
			t.Fatalf("erased: %d %s", got.Status, got.Body)
		}
		if proof := manager.Get("/data-requests"); !strings.Contains(proof.Body,
			fmt.Sprint("Erasure of player ", a.Bryn.ID)) || strings.Contains(proof.Body, "Bryn") {
			t.Error("the proof is not there, or names him")
		}
		if got := manager.Get(at); got.Status != http.StatusNotFound {
			t.Errorf("his page: %d; want 404", got.Status)
		}
		if got := bryn.Get("/"); got.Status != http.StatusSeeOther || !strings.HasPrefix(got.Header.Get("Location"),
			"/sign-in") {
			t.Errorf("his session: %d to %s; want that it has ended", got.Status, got.Header.Get("Location"))
		}
	})
}
