package api_test

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"throughline/api"
	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/jobs"
	"throughline/models/store/storetest"
	"throughline/reports"
	"throughline/reports/chart"
	"throughline/reports/pack"
	"throughline/reports/paper/pdf"
	"throughline/reports/paper/pdf/pdftest"
)

// hooked calls before with how many reports this process has kept, before it keeps another.
type hooked struct {
	api.Packs
	kept   *atomic.Int32
	before func(kept int32)
}

func (h hooked) Keep(ctx context.Context, r models.PackedReport) error {
	if h.before != nil {
		h.before(h.kept.Load())
	}
	err := h.Packs.Keep(ctx, r)
	if err == nil {
		h.kept.Add(1)
	}
	return err
}

// packMaker returns the kind of job that makes packs of a store, and how many reports it has kept.
func packMaker(s *store.Store, printer *pdf.Printer, before func(int32)) (models.JobKind, *atomic.Int32, error) {
	charts := chart.NewRenderer(0)
	papers, err := reports.Papers(charts)
	if err != nil {
		return models.JobKind{}, nil, err
	}
	report, err := pack.ReportIn(papers)
	records := hooked{api.Packs{Store: s}, new(atomic.Int32), before}
	return pack.NewMaker(records, report, printer).Kind(), records.kept, err
}

// soonDead is long enough for a busy machine to say that a process lives, and short enough for a test.
const soonDead = 3 * time.Second

func packsSoon() jobs.Options {
	return jobs.Options{Poll: 20 * time.Millisecond, Dead: soonDead,
		Retry: func(int) time.Duration { return time.Millisecond }}
}

// makePacks makes packs of a store until the test ends.
func makePacks(t testing.TB, s *store.Store, printer *pdf.Printer, before func(int32)) *atomic.Int32 {
	t.Helper()
	kind, kept, err := packMaker(s, printer, before)
	if err != nil {
		t.Fatal(err)
	}
	w, err := s.Workers([]models.JobKind{kind}, packsSoon())
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Start(context.WithoutCancel(t.Context())); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := w.Stop(); err != nil {
			t.Error(err)
		}
	})
	return kept
}

// packAt is the page of the pack of the under 18s.
func packAt(a *apitest.Academy) string {
	return fmt.Sprintf("/squads/%d/seasons/%d/pack", a.Under18.ID, a.Season.ID)
}

// untilPage asks for a page until it has some words.
func untilPage(t testing.TB, c *apitest.Client, path, words string) apitest.Answer {
	t.Helper()
	for end := time.Now().Add(time.Minute); ; {
		got := c.Get(path)
		if got.Status == http.StatusOK && strings.Contains(got.Body, words) {
			return got
		}
		if time.Now().After(end) {
			t.Fatalf("%s never said %q: %d %s", path, words, got.Status, got.Body)
		}
	}
}

func askForPack(t testing.TB, c *apitest.Client, a *apitest.Academy, form url.Values) {
	t.Helper()
	if got := c.Post(packAt(a), form); got.Status != http.StatusSeeOther {
		t.Fatalf("a pack is asked for: %d %s", got.Status, got.Body)
	}
}

// deletePack sends the form on the page of the pack that deletes it.
func deletePack(t testing.TB, c *apitest.Client, a *apitest.Academy) {
	t.Helper()
	_, after, _ := strings.Cut(c.Get(packAt(a)).Body, `name="pack"`)
	_, after, _ = strings.Cut(after, `value="`)
	id, _, _ := strings.Cut(after, `"`)
	if got := c.Post(packAt(a)+"/delete", url.Values{"pack": {id}}); id == "" || got.Status != http.StatusSeeOther {
		t.Fatalf("pack %q is deleted: %d %s", id, got.Status, got.Body)
	}
}

// unpacked are the files of an archive, in its order.
func unpacked(t testing.TB, archive string) (names []string, files map[string]string) {
	t.Helper()
	z, err := zip.NewReader(strings.NewReader(archive), int64(len(archive)))
	if err != nil {
		t.Fatal(err)
	}
	files = map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r) // checks its sum
		if err != nil {
			t.Fatal(err)
		}
		names, files[f.Name] = append(names, f.Name), string(text)
	}
	return names, files
}

// packRows counts the rows that are kept of an academy's packs, in the database below the store.
func packRows(t testing.TB, at string, a *apitest.Academy) (n int) {
	t.Helper()
	driver, before := "pgx", fmt.Sprintf("SELECT set_config('throughline.academy', '%d', false)", a.ID)
	if file, is := strings.CutPrefix(at, "sqlite:"); is {
		driver, at, before = "sqlite", "file:"+file+"?_pragma=busy_timeout(5000)", "SELECT 1"
	}
	db, err := sql.Open(driver, at)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	if _, err = db.ExecContext(t.Context(), before); err == nil {
		err = db.QueryRowContext(t.Context(), "SELECT (SELECT count(*) FROM report_packs) + (SELECT count(*) FROM "+
			"packed_reports)").Scan(&n)
	}
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// servePacks serves an academy on a database.
func servePacks(t testing.TB, at string) *apitest.Academy {
	t.Helper()
	return apitest.Serve(t, storetest.With(t, at, store.Options{Now: storetest.Now}))
}

func TestAPackHasTheReportOfEachPlayerForItsMakerAlone(t *testing.T) {
	storetest.OneByOne(t)
	storetest.EachURL(t, func(t *testing.T, at string) {
		now := func() time.Time { return apitest.Now } // that of the pages
		a := apitest.Serve(t, storetest.With(t, at, store.Options{Now: now}))
		makePacks(t, a.Store, nil, nil)
		coach := a.SignIn(t, "ansel")
		var archives []string
		for range 2 {
			askForPack(t, coach, a, url.Values{"edition": {"staff"}})
			untilPage(t, coach, packAt(a), "Download</a>")
			got := coach.Get(packAt(a) + ".zip")
			if got.Status != http.StatusOK || got.Header.Get("Content-Type") != "application/zip" ||
				!strings.Contains(got.Header.Get("Content-Disposition"), "season-reports-Under-18-2025-26-staff.zip") {
				t.Fatalf("the file: %d %v", got.Status, got.Header)
			}
			archives = append(archives, got.Body)
			if len(archives) == 1 {
				deletePack(t, coach, a)
			}
		}
		if archives[0] != archives[1] {
			t.Error("a pack of the same records has other bytes")
		}
		names, files := unpacked(t, archives[0])
		want := []string{"index.html", "season-report-Bryn-Calder-2025-26.html", "season-report-Owen-Tarrant-2025-26.html"}
		if !slices.Equal(names, want) {
			t.Errorf("it has %q; want %q", names, want)
		}
		if !strings.Contains(files[want[0]], `<a href="`+want[1]+`">Bryn Calder: season report 2025-26</a>`) {
			t.Errorf("the index: %s", files[want[0]])
		}
		one := coach.Get(fmt.Sprintf("/players/%d/seasons/%d/report.html", a.Bryn.ID, a.Season.ID)).Body
		if len(one) < 1000 || bodyOf(files[want[1]]) != bodyOf(one) {
			t.Error("a report in the pack is another than the one that the coach downloads")
		}
		program := a.Program(t, "ansel")
		all := program.Get("/api/v1/report-packs")
		if !strings.Contains(all.Body, `"state":"ready","players":2,"made":2`) {
			t.Errorf("the coach's packs: %s", all.Body)
		}
		for login, status := range map[string]int{"mabyn": http.StatusOK, "sorrel": http.StatusOK,
			"bryn": http.StatusForbidden} {
			if got := a.Program(t, login).Get("/api/v1/report-packs"); got.Status != status ||
				strings.Contains(got.Body, "state") {
				t.Errorf("%s sees %d %s", login, got.Status, got.Body)
			}
			if got := a.SignIn(t, login).Get(packAt(a) + ".zip"); got.Status == http.StatusOK {
				t.Errorf("%s has another's pack", login)
			}
		}
		readByCoach(t, a)
	})
}

// bodyOf is a page from its heading on.
func bodyOf(page string) string {
	_, body, _ := strings.Cut(page, "<main")
	return body
}

// readByCoach wants an entry in the trail that the coach read each player's record, and the opening of each report.
func readByCoach(t *testing.T, a *apitest.Academy) {
	t.Helper()
	if err := a.Store.AccountForReads(t.Context()); err != nil {
		t.Fatal(err)
	}
	for _, player := range []models.Player{a.Bryn, a.Owen} {
		trail := a.Program(t, "mabyn").Get(fmt.Sprintf("/api/v1/audit-entries?player=%d&action=read", player.ID))
		if trail.Status != http.StatusOK || !strings.Contains(trail.Body, "season report") ||
			!strings.Contains(trail.Body, models.Here) {
			t.Errorf("the trail of %s: %d %s", player.Name, trail.Status, trail.Body)
		}
	}
}

func TestAPackIsRefusedToACoachWhoLacksOnePlayer(t *testing.T) {
	at := storetest.SQLite(t)
	a := servePacks(t, at)
	err := a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
		users, err := tx.Users(models.UserFilter{Login: "ansel"})
		if err != nil {
			return err
		}
		if err := tx.AddSquadStaff(users[0].ID, a.Under16.ID); err != nil { // Owen is in both
			return err
		}
		return tx.RemoveSquadStaff(users[0].ID, a.Under18.ID)
	})
	if err != nil {
		t.Fatal(err)
	}
	coach := a.SignIn(t, "ansel")
	got := coach.Post(packAt(a), url.Values{"edition": {"staff"}})
	if got.Status != http.StatusForbidden || !strings.Contains(got.Body, "you do not see all of them") ||
		strings.Contains(got.Body, "Bryn") {
		t.Errorf("%d %s; want it refused with the reason and no name", got.Status, got.Body)
	}
	if page := coach.Get(packAt(a)); !strings.Contains(page.Body, "you do not see all of them") ||
		strings.Contains(page.Body, "<button>Make") || strings.Contains(page.Body, "Bryn") {
		t.Errorf("the page: %s", page.Body)
	}
	if n := packRows(t, at, a); n > 0 {
		t.Errorf("%d rows are left", n)
	}
}

// A pack goes when a player's data are erased, when its maker leaves the squad or the academy, and after a day: from
// the pages at once, and from the database in the same moment or with the next sweep.
func TestAPackGoesWhenItMust(t *testing.T) {
	storetest.OneByOne(t)
	for name, c := range map[string]struct {
		together bool // in the same transaction
		ends     func(t *testing.T, a *apitest.Academy, clock *atomic.Int64) error
	}{
		"an erasure": {true, func(t *testing.T, a *apitest.Academy, _ *atomic.Int64) error {
			manager, err := a.Store.WhoByID(t.Context(), a.ID, userOf(t, a, "mabyn"))
			if err == nil {
				_, err = a.Store.ErasePlayer(t.Context(), manager, a.Owen.ID, a.Owen.Name, models.AskedByGuardian)
			}
			return err
		}},
		"the squad left": {false, func(t *testing.T, a *apitest.Academy, _ *atomic.Int64) error {
			return a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
				return tx.RemoveSquadStaff(userOf(t, a, "ansel"), a.Under18.ID)
			})
		}},
		"the maker removed": {false, func(t *testing.T, a *apitest.Academy, _ *atomic.Int64) error {
			return a.Store.Write(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
				return tx.DeleteUser(userOf(t, a, "ansel"), 1)
			})
		}},
		"a day": {false, func(_ *testing.T, _ *apitest.Academy, clock *atomic.Int64) error {
			clock.Add(int64(models.ReportPackFor))
			return nil
		}},
	} {
		run := func(t *testing.T, at string) {
			var clock atomic.Int64
			now := func() time.Time { return storetest.Now().Add(time.Duration(clock.Load())) }
			a := apitest.Serve(t, storetest.With(t, at, store.Options{Now: now}))
			makePacks(t, a.Store, nil, nil)
			coach := a.Program(t, "ansel")
			made := coach.Do(http.MethodPost, fmt.Sprintf("/api/v1/squads/%d/seasons/%d/report-packs", a.Under18.ID,
				a.Season.ID), strings.NewReader(`{"edition":"player","pdf":false}`), "Content-Type", "application/json")
			pack := made.Header.Get("Location")
			untilPage(t, coach, pack, `"state":"ready"`)
			if err := a.Store.SweepReportPacks(t.Context()); err != nil || packRows(t, at, a) != 3 {
				t.Fatalf("%d rows after a sweep, %v; want a pack of two", packRows(t, at, a), err)
			}
			if err := c.ends(t, a, &clock); err != nil {
				t.Fatal(err)
			}
			if n := packRows(t, at, a); c.together && n > 0 {
				t.Errorf("%d rows are left", n)
			}
			if got := coach.Get(pack, "Accept", "application/zip"); got.Status != http.StatusNotFound &&
				got.Status != http.StatusUnauthorized {
				t.Errorf("the file is answered %d", got.Status)
			}
			if err := a.Store.SweepReportPacks(t.Context()); err != nil || packRows(t, at, a) > 0 {
				t.Errorf("%d rows are left, %v", packRows(t, at, a), err)
			}
		}
		t.Run(name, func(t *testing.T) {
			if c.together { // which is the database's to keep
				storetest.EachURL(t, run)
				return
			}
			run(t, storetest.SQLite(t))
		})
	}
}

func userOf(t *testing.T, a *apitest.Academy, login string) int64 {
	t.Helper()
	u, _, err := a.Store.UserByLogin(t.Context(), login)
	if err != nil {
		t.Fatal(err)
	}
	return u.ID
}

func TestAPackThatIsStoppedLeavesNothing(t *testing.T) {
	storetest.OneByOne(t)
	storetest.EachURL(t, func(t *testing.T, at string) {
		a := servePacks(t, at)
		second, stopped := make(chan struct{}), make(chan struct{})
		makePacks(t, a.Store, nil, func(kept int32) {
			if kept == 1 {
				close(second)
				<-stopped
			}
		})
		coach := a.SignIn(t, "ansel")
		askForPack(t, coach, a, url.Values{"edition": {"staff"}})
		<-second
		if page := coach.Get(packAt(a)); !strings.Contains(page.Body, "1 of 2 reports made") {
			t.Errorf("while it is made: %s", page.Body)
		}
		deletePack(t, coach, a)
		close(stopped)
		untilPage(t, coach, packAt(a), "Make the pack</button>")
		for end := time.Now().Add(time.Minute); ; { // until the job has ended
			var states []models.Job
			err := a.Store.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) (err error) {
				states, err = tx.Jobs(100)
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
			if i := slices.IndexFunc(states, func(j models.Job) bool {
				return j.Kind == models.PackTask{}.Kind()
			}); i >= 0 && (states[i].State == models.JobCancelled || states[i].State == models.JobDone) {
				break
			}
			if time.Now().After(end) {
				t.Fatalf("the job goes on: %+v", states)
			}
		}
		if n := packRows(t, at, a); n > 0 {
			t.Errorf("%d rows are left", n)
		}
	})
}

// doomedPacks, if set, is the address of a database whose packs this process makes until it is killed.
const doomedPacks = "THROUGHLINE_TEST_DOOMED_PACKS"

// toilOnPacks is the process that is killed: it says when it has kept one report and made another.
func toilOnPacks(url string) error {
	ctx := context.Background()
	s, err := store.Open(ctx, url, store.Options{Now: storetest.Now})
	if err != nil {
		return err
	}
	kind, _, err := packMaker(s, nil, func(kept int32) {
		if kept == 1 {
			fmt.Println("one kept")
			select {}
		}
	})
	if err != nil {
		return err
	}
	w, err := s.Workers([]models.JobKind{kind}, packsSoon())
	if err != nil {
		return err
	}
	if err := w.Start(ctx); err != nil {
		return err
	}
	select {}
}

func TestAPackOfAKilledProcessGoesOnWithTheNextReport(t *testing.T) {
	storetest.OneByOne(t)
	storetest.EachURL(t, func(t *testing.T, at string) {
		a := servePacks(t, at)
		coach := a.SignIn(t, "ansel")
		askForPack(t, coach, a, url.Values{"edition": {"staff"}})
		self, err := os.Executable()
		if err != nil {
			t.Fatal(err)
		}
		c := exec.CommandContext(t.Context(), self)
		c.Env = append(os.Environ(), doomedPacks+"="+at)
		c.Stderr = os.Stderr
		out, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		if line, err := bufio.NewReader(out).ReadString('\n'); err != nil || line != "one kept\n" {
			t.Fatalf("%q, %v", line, err)
		}
		if err := c.Process.Kill(); err != nil { // SIGKILL
			t.Fatal(err)
		}
		_ = c.Wait()
		if got := coach.Get(packAt(a) + ".zip"); got.Status != http.StatusConflict {
			t.Errorf("half a pack is answered %d; want 409", got.Status)
		}
		kept := makePacks(t, a.Store, nil, nil)
		untilPage(t, coach, packAt(a), "Download</a>")
		if n := kept.Load(); n != 1 {
			t.Errorf("the next process made %d reports; want only the one that was missing", n)
		}
		if names, _ := unpacked(t, coach.Get(packAt(a)+".zip").Body); len(names) != 3 {
			t.Errorf("the pack has %q", names)
		}
	})
}

func TestAPackHasPDFWhereTheServerHasAChromium(t *testing.T) {
	storetest.OneByOne(t)
	printer := pdftest.Printer(t)
	a := apitest.OnSQLite(t, func(o *api.Options) { o.Printer = printer })
	makePacks(t, a.Store, printer, nil)
	coach := a.SignIn(t, "ansel")
	askForPack(t, coach, a, url.Values{"edition": {"talk-sheet"}, "pdf": {"yes"}})
	untilPage(t, coach, packAt(a), "Download</a>")
	names, files := unpacked(t, coach.Get(packAt(a)+".zip").Body)
	const bryn = "season-report-Bryn-Calder-2025-26-talk-sheet.pdf"
	if file := []byte(files[bryn]); len(names) != 5 || !bytes.HasPrefix(file, []byte("%PDF-")) ||
		!strings.Contains(pdftest.Text(t, file), "Bryn Calder") {
		t.Errorf("it has %q, and the PDF of the first player %d bytes", names, len(files[bryn]))
	}
}
