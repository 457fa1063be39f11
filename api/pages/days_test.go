package pages_test

import (
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"

	"throughline/api"
	"throughline/api/apitest"
	"throughline/api/pages/browsertest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports/fits"
)

// follow goes where the first link of the page that is called so leads.
func (s *visitor) follow(label string) {
	s.t.Helper()
	to := browsertest.Eval[string](s.b, fmt.Sprintf(`[...document.querySelectorAll("a")].find((a) =>
		a.textContent.replace(/\s+/g, " ").trim() === %q)?.getAttribute("href") ?? ""`, label))
	if to == "" {
		s.t.Fatalf("%s has no link %q", s.where(), label)
	}
	s.open(to)
}

// A player of sixteen on a phone: reads the season, a review, says that it was read, answers, and grades a match.
func TestAPlayersWholeDayOnAPhone(t *testing.T) {
	storetest.OneByOne(t)
	a := apitest.OnSQLite(t)
	_, ansel, err := a.Store.UserByLogin(t.Context(), "ansel")
	if err != nil {
		t.Fatal(err)
	}
	day := a.Season.Starts.AddDays(120)
	err = a.Store.Write(t.Context(), ansel, func(tx *store.Tx) error {
		review := models.Review{PlayerID: a.Bryn.ID, SeasonID: a.Season.ID, SquadID: a.Under18.ID, Date: day, Shared: true,
			Summary: "You get up faster than in autumn.", NextStep: "Look before the next job."}
		if err := tx.CreateReview(&review); err != nil {
			return err
		}
		return tx.CreateReviewNote(&models.ReviewNote{PlayerID: a.Bryn.ID, Date: day, Text: "Late to training twice."})
	})
	if err != nil {
		t.Fatal(err)
	}
	s := &visitor{t: t, b: signedIn(t, a, "bryn"), base: a.URL, widths: []int64{360}}
	s.open("/")
	s.sees("Bryn Calder", "Read it and answer")
	s.follow("My reviews")
	s.sees("You get up faster than in autumn.", "Look before the next job.")
	s.follow("Read it, and say that you have")
	s.press("I have read it")
	s.sees("You read it on")
	s.fill("a-text", "I will look up first.")
	s.press("Send the answer")
	s.sees("I will look up first.")

	s.follow("Grade myself")
	s.open(browsertest.Eval[string](s.b, `document.querySelector('a[href^="/my-grades?match="]').getAttribute("href")`))
	browsertest.Eval[bool](s.b, `document.querySelector("[name=g-tackle][value='3']").click(), true`)
	s.press("Save my grades")
	s.sees("Tackle: 3")

	s.follow("Help")
	s.sees("My season")
	for _, path := range []string{"/", "/my-reviews", "/my-grades"} {
		s.open(path)
		for _, others := range []string{"Owen Tarrant", "Tam Veale", "Late to training twice."} {
			if strings.Contains(s.text(), others) {
				t.Errorf("%s tells the player: %s", s.where(), others)
			}
		}
	}
}

// Selectors agree on criteria, lock them, look at the comparison, decide and close; then a coach tells a player.
func TestSelectorsHoldAWholeMeetingInTheBrowser(t *testing.T) {
	storetest.OneByOne(t)
	a := apitest.OnSQLite(t)
	keeper := fits.NewKeeper(api.Records{Store: a.Store}, func() time.Time { return time.Now().Add(-time.Hour) },
		slog.New(slog.DiscardHandler))
	if _, err := api.RefitAll(t.Context(), a.Store, keeper); err != nil {
		t.Fatal(err)
	}
	s := &visitor{t: t, b: signedIn(t, a, "sorrel"), base: a.URL}
	s.follow("Meetings")
	s.fill("m-date", "2025-12-01")
	s.fill("m-purpose", "Two for the county day")
	s.press("Start the meeting")
	at := s.where()
	s.fill("a-present", "Sorrel Dane\nAnsel Brock")
	s.press("Save")
	s.fill("c-0", "Tackling")
	s.choose("c-of-0", "Tackle completion")
	s.fill("c-words-0", "Makes the tackles that are there")
	s.fill("c-weight-0", "2")
	s.fill("c-1", "Learns from a bad half")
	s.fill("c-weight-1", "1")
	s.press("Save the criteria")
	s.fill("p-0", "Open side")
	s.fill("p-wanted-0", "1")
	s.press("Save the places")
	members := browsertest.Eval[string](s.b, `[...document.querySelector("#k-player optgroup").children]
		.map(o => o.text).join()`)
	if want := a.Bryn.Name + "," + a.Owen.Name; members != want {
		t.Errorf("the first candidates to choose from are %s; want the squad's, %s", members, want)
	}
	for _, name := range []string{a.Bryn.Name, a.Owen.Name} {
		s.choose("k-player", name)
		s.press("Add the candidate")
	}
	s.press("Lock criteria, weights and places")
	s.sees("Bryn Calder, Open side", "Owen Tarrant, Open side")
	if strings.Contains(s.text(), "Chance among those compared") {
		t.Error("the comparison shows before it is opened")
	}
	s.open("/")
	s.sees("Meetings that are not closed", "Two for the county day criteria locked")
	s.open(at)
	s.press("Open the comparison")
	s.sees("5. Comparison", "Tackling (weight 2)")

	decide := func(n int, decision, reason string) {
		s.choose(fmt.Sprintf("decision-%d", n), decision)
		s.fill(fmt.Sprintf("decision-%d-why", n), reason)
		// each candidate has a form of their own, with a button that is called the same
		browsertest.Eval[bool](s.b, fmt.Sprintf(`document.getElementById("decision-%d-why").form
			.querySelector("button").focus(), true`, n))
		s.b.Leave(kb.Enter)
		s.look()
	}
	s.allowed = "status of 422"
	decide(0, "chosen", "83 %")
	s.allowed = ""
	s.sees("only figures")
	decide(0, "chosen", "Tackles low in every match that we saw, and gets up.")
	s.refused("Every candidate is decided")
	decide(1, "deferred", "Plays well; wait until the shoulder has had a month.")
	s.press("Every candidate is decided")
	s.press("Close the record")
	s.sees("What players are told", "A coach of the player’s squad tells the player in person first")
	s.open("/")
	if strings.Contains(s.text(), "Two for the county day") {
		t.Error("a closed meeting is still on Home")
	}

	coach := &visitor{t: t, b: signedIn(t, a, "ansel"), base: a.URL}
	coach.open(at)
	coach.sees("Tackles low in every match")
	own := a.SignIn(t, "bryn")
	if strings.Contains(own.Get(own.Get("/").Header.Get("Location")).Body, "Tackles low") {
		t.Error("the player reads what no coach has released")
	}
}
