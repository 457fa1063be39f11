package pages_test

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// consentsOf are a player's consents, one line each.
func consentsOf(t *testing.T, a *apitest.Academy, player int64) (lines []string, last models.Consent) {
	t.Helper()
	err := a.Store.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
		all, err := tx.Consents(models.ConsentFilter{PlayerID: player})
		for _, c := range all {
			line := fmt.Sprintf("%s by %s (%s) on %s, kept: %s", c.Purpose, c.GivenBy, c.Relation, c.On, c.KeptAt)
			if c.WithdrawnOn != nil {
				line += ", withdrawn on " + string(*c.WithdrawnOn)
			}
			lines, last = append(lines, line), c
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return lines, last
}

// TestAPileOfSignedFormsIsEnteredOnOnePage enters the forms of a squad as they lie on the desk of a secretary on 1
// December 2025, and withdraws one.
func TestAPileOfSignedFormsIsEnteredOnOnePage(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		err := s.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			born := models.Date("2007-03-01")
			owen, err := tx.Player(a.Owen.ID)
			if err != nil {
				return err
			}
			owen.BornOn = &born // an adult since March
			if err := tx.UpdatePlayer(&owen); err != nil {
				return err
			}
			return tx.SaveSettings(&models.Settings{Requires: []models.Purpose{models.PurposeFilming,
				models.PurposeSelection}})
		})
		if err != nil {
			t.Fatal(err)
		}
		manager, at := a.SignIn(t, "mabyn"), fmt.Sprintf("/squads/%d/consents", a.Under18.ID)
		of := func(name string, player int64) string { return fmt.Sprintf("%s-%d", name, player) }
		forms := url.Values{
			"kept_at":                {"Office, shelf 3"},
			of("by", a.Bryn.ID):      {"Ida Calder"},
			of("on", a.Bryn.ID):      {"2025-12-02"}, // tomorrow
			of("give", a.Bryn.ID):    {"filming", "selection"},
			of("by", a.Owen.ID):      {"Owen Tarrant"},
			of("on", a.Owen.ID):      {"2025-11-20"},
			of("give", a.Owen.ID):    {"filming"},
			of("unknown", a.Owen.ID): {""},
		}
		refused := post(manager, at, forms)
		page := strings.Join(strings.Fields(refused.Body), " ")
		if refused.Status != http.StatusUnprocessableEntity ||
			!strings.Contains(page, ">Bryn Calder, Signed on</a>: ") ||
			!strings.Contains(page, "2 Dec 2025 has not come yet") || !strings.Contains(page, `value="Ida Calder"`) ||
			strings.Count(page, `name="give-`+fmt.Sprint(a.Bryn.ID)+`" value="filming" checked`) != 1 {
			t.Errorf("a form signed tomorrow: %d %s", refused.Status, said(refused.Body))
		}
		if lines, _ := consentsOf(t, a, a.Owen.ID); len(lines) != 0 {
			t.Errorf("another row was saved all the same: %q", lines)
		}
		forms.Set(of("on", a.Bryn.ID), "2025-09-01") // back-dated
		if got := post(manager, at, forms); got.Header.Get("Location") != at+"?saved=3" {
			t.Fatalf("the pile: %d %s", got.Status, said(got.Body))
		}
		bryn, kept := consentsOf(t, a, a.Bryn.ID)
		owen, _ := consentsOf(t, a, a.Owen.ID)
		if want := []string{"filming by Ida Calder (guardian) on 2025-09-01, kept: Office, shelf 3",
			"selection by Ida Calder (guardian) on 2025-09-01, kept: Office, shelf 3"}; !slices.Equal(bryn, want) {
			t.Errorf("of a minor there are %q, want %q", bryn, want)
		}
		if want := []string{"filming by Owen Tarrant (self) on 2025-11-20, kept: Office, shelf 3"}; !slices.Equal(owen,
			want) {
			t.Errorf("of an adult there are %q, want %q", owen, want)
		}
		for _, c := range []struct {
			sent   url.Values
			status int
			says   string
		}{
			{forms, 422, "gave this consent already, from 1 Sep 2025"},
			{url.Values{}, 422, "nothing was entered yet"},
			{url.Values{of("give", a.Owen.ID): {"selection"}}, 422, "write the name of the person who signed"},
			{url.Values{of("withdrawn", kept.ID): {"2025-12-24"}}, 422, "24 Dec 2025 has not come yet"},
			{url.Values{of("withdrawn", kept.ID): {"2025-08-01"}}, 422, "is before the consent was given"},
			{url.Values{"withdrawn-98765": {"2025-11-01"}}, 412, "was changed after you opened the page"},
			{url.Values{of("withdrawn", kept.ID): {"2025-11-30"}}, 303, ""},
		} {
			if got := post(manager, at, c.sent); got.Status != c.status || !strings.Contains(said(got.Body), c.says) {
				t.Errorf("%v: %d %s; want %d and %q", c.sent, got.Status, said(got.Body), c.status, c.says)
			}
		}
		if lines, _ := consentsOf(t, a, a.Bryn.ID); !strings.HasSuffix(lines[1], "withdrawn on 2025-11-30") {
			t.Errorf("after the withdrawal there are %q", lines)
		}
		// The player's own page holds to the same days.
		player := fmt.Sprint("/players/", a.Tam.ID)
		late := url.Values{"purpose": {"filming"}, "given_by": {"Ida Veale"}, "relation": {"guardian"}, "on": {"2025-12-02"}}
		if got := post(manager, player+"/consents", late); got.Status != 422 ||
			!strings.Contains(said(got.Body), "has not come yet") {
			t.Errorf("a consent of tomorrow on the player's page: %d", got.Status)
		}
	})
}

// TestAConsentFormSaysWhatEachConsentIsForAndWhatStopsWithoutIt reads the printed forms: a minor's, an adult's, a
// squad's, and the blank one.
func TestAConsentFormSaysWhatEachConsentIsForAndWhatStopsWithoutIt(t *testing.T) {
	a := apitest.OnSQLite(t)
	manager := a.SignIn(t, "mabyn")
	form := said(manager.Get(fmt.Sprintf("/players/%d/consent-form", a.Tam.ID)).Body)
	filming := models.ConsentPurposes()[1]
	for _, words := range []string{"Northmoor Rugby Academy", "Consent form: Tam Veale", filming.For, filming.Blocks,
		"Guardian", "Signature", "Player: I have read this too"} {
		if !strings.Contains(form, words) {
			t.Errorf("the form does not say %q: %s", words, form)
		}
	}
	if strings.Contains(form, models.ConsentPurposes()[3].For) {
		t.Error("the form asks for a consent that the academy does not ask for")
	}
	all := said(manager.Get(fmt.Sprintf("/squads/%d/consent-forms", a.Under18.ID)).Body)
	if strings.Count(all, "Consent form:") != 2 || !strings.Contains(all, "from the browser’s menu: 2 A4 sheets") {
		t.Errorf("the forms of a squad: %s", all)
	}
	if blank := said(manager.Get("/consent-form").Body); !strings.Contains(blank, "Player’s name") ||
		!strings.Contains(blank, "Guardian, for a player under 18") {
		t.Errorf("the blank form: %s", blank)
	}
	if got := a.SignIn(t, "sorrel").Get("/consent-form"); got.Status != 403 {
		t.Errorf("a selector's blank form: %d", got.Status)
	}
}

// TestAFormNearTheEighteenthBirthdaySaysFromWhenThePlayerSigns is on 1 December 2025.
func TestAFormNearTheEighteenthBirthdaySaysFromWhenThePlayerSigns(t *testing.T) {
	a := apitest.OnSQLite(t)
	manager := a.SignIn(t, "mabyn")
	for born, want := range map[models.Date]string{
		"2007-12-20": "From 20 Dec 2025 the player is 18: the guardian’s consent ends, and only the player signs. ",
		"2007-12-01": "Player Signature",         // of age today
		"2008-01-20": "Player: I have read this", // in January
	} {
		err := a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			tam, err := tx.Player(a.Tam.ID)
			if err != nil {
				return err
			}
			tam.BornOn = &born
			return tx.UpdatePlayer(&tam)
		})
		if err != nil {
			t.Fatal(err)
		}
		form := said(manager.Get(fmt.Sprintf("/players/%d/consent-form", a.Tam.ID)).Body)
		if !strings.Contains(form, want) || strings.Contains(form, "Guardian") != (born != "2007-12-01") {
			t.Errorf("born on %s: the form says %s", born, form)
		}
		home := said(manager.Get("/").Body)
		if strings.Contains(home, "1 player turning 18") != (born == "2007-12-20") {
			t.Errorf("born on %s: home says %.900s", born, home)
		}
	}
}

// TestAPlayerAboutToTurn18SignsEarly is on 1 December 2025; the birthday is in 19 days.
func TestAPlayerAboutToTurn18SignsEarly(t *testing.T) {
	a := apitest.OnSQLite(t)
	manager, at := a.SignIn(t, "mabyn"), fmt.Sprintf("/players/%d", a.Tam.ID)
	born := models.Date("2007-12-20")
	err := a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
		tam, err := tx.Player(a.Tam.ID)
		if err != nil {
			return err
		}
		tam.BornOn = &born
		return tx.UpdatePlayer(&tam)
	})
	if err != nil {
		t.Fatal(err)
	}
	if page := manager.Get(at).Body; !strings.Contains(page, `max="2025-12-20"`) ||
		!strings.Contains(page, "turns 18 on 20 Dec 2025") {
		t.Error("the form does not say from when the player’s own consent holds")
	}
	listed := func() bool { return strings.Contains(manager.Get("/work/birthdays").Body, a.Tam.Name) }
	if !listed() {
		t.Error("no one is asked for the consent of a player about to turn 18")
	}
	for _, c := range []struct {
		relation, on string
		status       int
	}{{"guardian", "2025-12-20", 422}, {"self", "2025-12-19", 422}, {"self", "2025-12-21", 422},
		{"self", "2025-12-20", 303}} {
		got := manager.Post(at+"/consents", url.Values{"purpose": {"filming"}, "given_by": {"Tam Veale"},
			"relation": {c.relation}, "on": {c.on}})
		if got.Status != c.status {
			t.Errorf("a consent by %s from %s: %d, want %d", c.relation, c.on, got.Status, c.status)
		}
	}
	if listed() {
		t.Error("the player has signed, and is still on the list of work")
	}
}
