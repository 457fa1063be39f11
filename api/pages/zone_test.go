package pages_test

import (
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// inUTC finds an instant that a page shows in UTC: the clock of the store stands at 15:09, that of the pages at 09:00.
var inUTC = regexp.MustCompile(`\bUTC\b|\b(15:09|09:00)\b`)

// Pages show each instant, and the day that is today, in the zone that the academy has chosen; programs get UTC. In
// March Auckland is 13 hours ahead and Honolulu is always 10 behind (IANA time zone database, files australasia and
// northamerica).
func TestTimesAreShownInTheAcademysZone(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		c := a.SignIn(t, "mabyn")
		choose := func(zone string) apitest.Answer {
			t.Helper()
			form := fieldsOf(c.Get("/settings").Body, `action="/settings"`)
			form.Set("time_zone", zone)
			return c.Post("/settings", form)
		}
		if got := choose("Atlantis/Harbour"); got.Status != http.StatusUnprocessableEntity || !strings.Contains(got.Body,
			"“Atlantis/Harbour” is not a time zone; write a name of the IANA list") {
			t.Errorf("an unknown zone: %d", got.Status)
		}
		if got := choose("Pacific/Auckland"); got.Status != http.StatusSeeOther {
			t.Fatalf("%d: %s", got.Status, got.Body)
		}
		c = a.SignIn(t, "mabyn")
		for path, want := range map[string]string{"/account": ", 04:09 NZDT", "/audit": "04:09:26 NZDT", "/settings": "22:00",
			"/": "", "/people": "", "/safety": "", "/matches": "", "/skills": "", fmt.Sprintf("/players/%d", a.Bryn.ID): "",
			seasonReport(a.Bryn, a.Season): "1 Dec 2025"} {
			page := c.Get(path)
			if page.Status != http.StatusOK || !strings.Contains(page.Body, want) {
				t.Errorf("%s: %d; want %q", path, page.Status, want)
			}
			if at := inUTC.FindString(page.Body); at != "" {
				t.Errorf("%s shows %q", path, at)
			}
		}
		if entries := a.Program(t, "mabyn").Get("/api/v1/audit-entries").Body; !strings.Contains(entries,
			"2026-03-14T15:09:26") {
			t.Errorf("a program gets %.300s; want UTC", entries)
		}
		if got := choose("Pacific/Honolulu"); got.Status != http.StatusSeeOther {
			t.Fatalf("%d: %s", got.Status, got.Body)
		}
		if page := c.Get(seasonReport(a.Bryn, a.Season)).Body; !strings.Contains(page, "Made on 30 Nov 2025") {
			t.Error("a report made late in the evening has the day of UTC")
		}
		mine := a.SignIn(t, "bryn").Get("/my-grades?block=November").Body
		if !strings.Contains(mine, `name="date" value="2025-11-30"`) {
			t.Error("today is the day of UTC")
		}
		// A form that leaves the zone out leaves it as it was.
		form := fieldsOf(c.Get("/settings").Body, `action="/settings"`)
		form.Del("time_zone")
		if got := c.Post("/settings", form); got.Status != http.StatusSeeOther {
			t.Errorf("%d: %s", got.Status, got.Body)
		}
		if page := c.Get("/settings").Body; !strings.Contains(page, `value="Pacific/Honolulu"`) {
			t.Error("the zone was lost")
		}
	})
}
