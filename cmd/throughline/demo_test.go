package main_test

import (
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"

	"throughline/models"
	"throughline/models/scenario"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// wayIn is how one role gets in, as --access writes it.
type wayIn struct{ User, Password, Token string }

type access struct {
	URL   string
	Roles map[string]wayIn
}

func readAccess(t testing.TB, file string) access {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var a access
	if err := json.Unmarshal(text, &a); err != nil {
		t.Fatalf("%v in %s", err, text)
	}
	return a
}

// demonstration is what "demo --no-serve" makes, made once: in a folder where an earlier run was stopped halfway.
type demonstration struct {
	once    sync.Once
	folder  string
	stopped result // the earlier run
	kept    int    // players that it left
	said    result // the whole run
}

var demonstrated demonstration

func (d *demonstration) make(t testing.TB) {
	t.Helper()
	d.said.code = -1
	d.folder = filepath.Join(filepath.Dir(binary), "demonstration")
	if err := os.Mkdir(d.folder, 0o700); err != nil {
		t.Fatal(err)
	}
	p := start(t, d.folder, "demo", "--no-serve")
	p.until("saving the season: ")
	p.signal(syscall.SIGTERM)
	d.stopped = p.end()
	d.kept = playersIn(t, "sqlite:"+filepath.Join(d.folder, "throughline-demo.db"))
	d.said = runIn(t, d.folder, "demo", "--no-serve", "--access", "access.json")
}

// playersIn counts the players of a database.
func playersIn(t testing.TB, database string) (n int) {
	t.Helper()
	s, err := store.Open(t.Context(), database, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	academies, err := s.Academies(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range academies {
		err := s.Read(t.Context(), models.Console(a.ID), func(tx *store.Tx) error {
			players, err := tx.Players(models.PlayerFilter{})
			n += len(players)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return n
}

// demo gives a test the demonstration in a folder of its own: a copy, which it may change.
func demo(t testing.TB) (folder string, a access, said result) {
	t.Helper()
	demonstrated.once.Do(func() { demonstrated.make(t) })
	if said = demonstrated.said; said.code != 0 {
		t.Fatalf("exit %d: %s%s", said.code, said.out, said.err)
	}
	folder = t.TempDir()
	files, err := os.ReadDir(demonstrated.folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		info, err := f.Info()
		if err != nil {
			t.Fatal(err)
		}
		bytes, err := os.ReadFile(filepath.Join(demonstrated.folder, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(folder, f.Name()), bytes, info.Mode().Perm()); err != nil {
			t.Fatal(err)
		}
	}
	return folder, readAccess(t, filepath.Join(folder, "access.json")), said
}

// client is a person who is sent nowhere.
var client = &http.Client{
	CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	Transport:     &http.Transport{DisableKeepAlives: true},
}

func ask(t testing.TB, method, address string, form url.Values, headers ...string) (status int, body string,
	head http.Header) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, address, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for i := 0; i < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	res, err := client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(text), res.Header
}

// signIn signs in by the form and returns the session's cookie, or nothing if it is refused.
func signIn(t testing.TB, base string, way wayIn) string {
	t.Helper()
	status, _, head := ask(t, http.MethodPost, base+"/sign-in",
		url.Values{"user": {way.User}, "password": {way.Password}})
	if status != http.StatusSeeOther {
		return ""
	}
	cookie := sessionOf(head)
	return cookie
}

func TestTheDemonstrationLetsEachRoleIn(t *testing.T) {
	folder, first, said := demo(t)
	for _, role := range []string{"manager", "coach", "selector", "player"} {
		way := first.Roles[role]
		if len(way.User) < 2 || len(way.Password) < 12 || len(way.Token) < 32 {
			t.Errorf("the way in for the %s is %+v", role, way)
		}
		if !strings.Contains(said.out, way.User) || !strings.Contains(said.out, way.Password) {
			t.Errorf("the way in for the %s is not printed:\n%s", role, said.out)
		}
	}
	if first.URL != "http://127.0.0.1:8080" || len(first.Roles) != 4 {
		t.Errorf("access is to %q for %d roles; want http://127.0.0.1:8080 for 4", first.URL, len(first.Roles))
	}
	info, err := os.Stat(filepath.Join(folder, "access.json"))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the file has mode %v, %v; want 0600", info.Mode(), err)
	}
	if !strings.Contains(said.err, "saving the season: ") || strings.ContainsAny(said.err, "\x1b\r") {
		t.Errorf("progress elsewhere than on a terminal is not plain lines: %q", said.err)
	}
	if _, err := os.Stat(filepath.Join(folder, "throughline-demo.db")); err != nil {
		t.Error(err)
	}

	playersEditionsReadEasily(t, "sqlite:"+filepath.Join(folder, "throughline-demo.db"))

	// Again: the same people, other passwords, and the file kept to its owner even where it was not before.
	if err := os.Chmod(filepath.Join(folder, "access.json"), 0o644); err != nil {
		t.Fatal(err)
	}
	p := start(t, folder, "demo", "--addr", "127.0.0.1:0", "--access", "access.json")
	base := "http://" + p.address()
	second := readAccess(t, filepath.Join(folder, "access.json"))
	if info, err := os.Stat(filepath.Join(folder, "access.json")); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the file has mode %v the second time, %v; want 0600", info.Mode(), err)
	}
	if second.URL != base {
		t.Errorf("access is to %q; it serves at %q", second.URL, base)
	}
	for role, way := range second.Roles {
		before := first.Roles[role]
		if way.User != before.User || way.Password == before.Password || way.Token == before.Token {
			t.Errorf("%s: first %+v, then %+v; want the same person with another password and token", role, before, way)
		}
		if signIn(t, base, before) != "" {
			t.Errorf("the %s's password of the first run still works", role)
		}
		if status, _, _ := ask(t, http.MethodGet, base+"/api/v1/seasons", nil, "Authorization", "Bearer "+
			before.Token); status != http.StatusUnauthorized {
			t.Errorf("the %s's token of the first run: %d; want 401", role, status)
		}
		if status, body, _ := ask(t, http.MethodGet, base+"/api/v1/seasons", nil, "Authorization", "Bearer "+
			way.Token); status != http.StatusOK || !strings.Contains(body, "2025-26") {
			t.Errorf("the %s's token: %d %s; want the season", role, status, body)
		}
		cookie := signIn(t, base, way)
		if cookie == "" {
			t.Errorf("the %s cannot sign in", role)
			continue
		}
		status, body, head := ask(t, http.MethodGet, base+"/", nil, "Cookie", cookie)
		if role == "player" {
			if status != http.StatusSeeOther {
				t.Errorf("the player's home: %d; want to be sent to his report", status)
			}
			status, body, _ = ask(t, http.MethodGet, base+head.Get("Location"), nil, "Cookie", cookie)
		}
		if status != http.StatusOK || !strings.Contains(body, "2025-26") {
			t.Errorf("the %s's first page: %d", role, status)
		}
	}
	p.signal(syscall.SIGTERM)
	if got := p.end(); got.code != 0 {
		t.Errorf("after SIGTERM: exit %d\n%s", got.code, got.out)
	}
}

func TestATakenPortIsSaidAtOnce(t *testing.T) {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	for _, command := range []string{"serve", "demo"} {
		folder := t.TempDir()
		got := runIn(t, folder, command, "--addr", ln.Addr().String())
		if line, _, _ := strings.Cut(got.err, "\n"); got.code != 1 || !strings.Contains(line,
			"another program is using port "+ln.Addr().String()) || !strings.Contains(line, "--addr") {
			t.Errorf("%s: exit %d: %s", command, got.code, got.err)
		}
		if made, err := os.ReadDir(folder); err != nil || len(made) > 0 {
			t.Errorf("%s: made %v, %v; want nothing before the port is known to be free", command, made, err)
		}
	}
}

func TestADemonstrationThatIsStoppedHalfwayKeepsNothingAndCanBeMadeAgain(t *testing.T) {
	folder, _, _ := demo(t)
	if got := demonstrated.stopped; got.code != 1 ||
		!strings.Contains(got.out, "throughline: stopped before the academy was complete") {
		t.Errorf("exit %d: %s", got.code, got.out)
	}
	if demonstrated.kept > 0 {
		t.Errorf("%d players were kept", demonstrated.kept)
	}
	if playersIn(t, "sqlite:"+filepath.Join(folder, "throughline-demo.db")) == 0 {
		t.Error("the next run made no players")
	}
}

func TestTheDemonstrationKeepsOutOfOtherAcademies(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		s, err := store.Open(t.Context(), url, store.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.CreateAcademy(t.Context(), "Northmoor Rugby Academy"); err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		got := run(t, "demo", "--no-serve", "--database", url)
		if got.code != 1 || !strings.Contains(got.err, `holds the academy "Northmoor Rugby Academy"`) {
			t.Errorf("exit %d: %s", got.code, got.err)
		}
	})
}

func TestTheDemonstrationRunsOnPostgreSQL(t *testing.T) {
	url := storetest.Postgres(t)
	folder := t.TempDir()
	for range 2 {
		got := runIn(t, folder, "demo", "--no-serve", "--database", url, "--access", "access.json")
		if got.code != 0 {
			t.Fatalf("exit %d: %s", got.code, got.err)
		}
	}
	p := start(t, folder, "serve", "--database", url, "--addr", "127.0.0.1:0")
	if signIn(t, "http://"+p.address(), readAccess(t, filepath.Join(folder, "access.json")).Roles["coach"]) == "" {
		t.Error("the coach cannot sign in")
	}
}

func TestReportsAreWrittenForAPlayerByNameOrID(t *testing.T) {
	folder, _, _ := demo(t)
	database := "sqlite:" + filepath.Join(folder, "throughline-demo.db")
	academy := scenario.Simulate(1)
	name := academy.Players[academy.Cast.Improver-1].Name
	report := func(player, file string) result {
		return runIn(t, folder, "report", "--player", player, "--season", "2025-26", "--out", file, "--database", database)
	}

	if got := report(name, "r.json"); got.code != 0 {
		t.Fatalf("exit %d: %s", got.code, got.err)
	}
	text, err := os.ReadFile(filepath.Join(folder, "r.json"))
	if err != nil {
		t.Fatal(err)
	}
	var content struct {
		Edition string
		Player  struct {
			ID   int64
			Name string
		}
		Matches []any
	}
	if err := json.Unmarshal(text, &content); err != nil || content.Player.Name != name || content.Edition != "staff" ||
		len(content.Matches) == 0 {
		t.Errorf("%v: %.300s; want the staff's edition of %s with matches", err, text, name)
	}
	if info, err := os.Stat(filepath.Join(folder, "r.json")); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v; want 0600", info.Mode(), err)
	}
	for _, player := range []string{name, strings.ToUpper(name), fmt.Sprint(content.Player.ID)} {
		if got := report(player, "r.html"); got.code != 0 {
			t.Errorf("%s: exit %d: %s", player, got.code, got.err)
			continue
		}
		page, err := os.ReadFile(filepath.Join(folder, "r.html"))
		if err != nil || !strings.HasPrefix(string(page), "<!doctype html>") || !strings.Contains(string(page), name) ||
			!strings.Contains(string(page), "<svg") {
			t.Errorf("%s: %v: %.200s; want a page of %s with pictures", player, err, page, name)
		}
		os.Remove(filepath.Join(folder, "r.html"))
	}

	demonstrationHasAnAccount(t, folder, database)
	got := runIn(t, folder, "report", "--player", name, "--season", "2025-26", "--as-of", "2025-12-01", "--out",
		"then.json", "--database", database)
	if then, err := os.ReadFile(filepath.Join(folder, "then.json")); got.code != 0 || err != nil ||
		!strings.Contains(string(then), `"as_of": "2025-12-01"`) || !strings.Contains(string(then), `"verdict"`) ||
		strings.Contains(string(then), `"date": "2026-`) {
		t.Errorf("as of a day: exit %d, %v: %s; want the day, trends, and nothing dated later", got.code, err, got.err)
	}
	twin := addTwins(t, database, name)
	for player, want := range map[string]struct {
		code int
		says []string
	}{
		"Nobody At All": {1, []string{`there is no player "Nobody At All"`}},
		"987654321":     {1, []string{"987654321"}},
		strings.ToUpper(twin.exact): {2, []string{"2 players are called", fmt.Sprintf("--player %d", twin.ids[0]),
			fmt.Sprintf("--player %d", twin.ids[1]), "in no squad"}},
		strings.ToLower(name): {2, []string{"2 players are called", fmt.Sprintf("--player %d", content.Player.ID),
			"Under 18"}},
		name:                          {0, nil}, // the other one is written in capitals
		fmt.Sprint(content.Player.ID): {0, nil},
		" " + name:                    {1, []string{"there is no player"}},
	} {
		got := report(player, "r.html")
		if got.code != want.code {
			t.Errorf("%s: exit %d; want %d: %s", player, got.code, want.code, got.err)
		}
		for _, w := range want.says {
			if !strings.Contains(got.err, w) {
				t.Errorf("%s: %q; want it to say %q", player, got.err, w)
			}
		}
	}
	got = runIn(t, folder, "report", "--player", name, "--season", "1999", "--out", "r.html", "--database", database)
	if got.code != 1 || !strings.Contains(got.err, `no season "1999": the seasons are 2025-26`) {
		t.Errorf("unknown season: exit %d: %s", got.code, got.err)
	}
	got = runIn(t, folder, "report", "--player", name, "--season", "2025-26", "--out", "no/such/folder/r.html",
		"--database", database)
	if got.code != 1 || !strings.Contains(got.err, "r.html") {
		t.Errorf("no such folder: exit %d: %s", got.code, got.err)
	}
	left, err := filepath.Glob(filepath.Join(folder, ".throughline-*"))
	if err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
	if got := runIn(t, folder, "recompute", "--database", database); got.code != 0 ||
		!strings.Contains(got.out, "; 0 observations were wrong") {
		t.Errorf("recompute: exit %d: %s%s", got.code, got.out, got.err)
	}
}

// demonstrationHasAnAccount wants "throughline calibration" to show something of the demonstration, by squad too, and
// nothing of a player.
func demonstrationHasAnAccount(t *testing.T, folder, database string) {
	t.Helper()
	got := runIn(t, folder, "calibration", "--season", "2025-26", "--database", database)
	for _, want := range []string{"Rates", "Proportions", "Means", "in the 80% interval", "Brier score"} {
		if got.code != 0 || !strings.Contains(got.out, want) {
			t.Fatalf("calibration: exit %d, want %q: %s%s", got.code, want, got.out, got.err)
		}
	}
	got = runIn(t, folder, "calibration", "--squad", "Under 18 boys", "--json", "--database", database)
	var account struct {
		Squad    string
		Families []struct {
			Next struct{ Settled int } `json:"next_match"`
		}
	}
	err := json.Unmarshal([]byte(got.out), &account)
	if err != nil || got.code != 0 || account.Squad != "Under 18 boys" || len(account.Families) != 4 ||
		account.Families[0].Next.Settled == 0 || strings.Contains(got.out, "player_id") {
		t.Errorf("calibration as JSON: exit %d, %v: %.300s%s", got.code, err, got.out, got.err)
	}
	if got := runIn(t, folder, "calibration", "--squad", "Nobody", "--database", database); got.code != 1 ||
		!strings.Contains(got.err, `no squad "Nobody"`) {
		t.Errorf("calibration of no squad: exit %d: %s", got.code, got.err)
	}
}

type twins struct {
	exact string
	ids   [2]int64
}

// addTwins adds two players of one name, and one called as another person in capitals.
func addTwins(t *testing.T, database, name string) twins {
	t.Helper()
	s, err := store.Open(t.Context(), database, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	academies, err := s.Academies(t.Context())
	if err != nil || len(academies) != 1 {
		t.Fatal(academies, err)
	}
	tw := twins{exact: "Col Twyford"}
	err = s.Write(t.Context(), models.Console(academies[0].ID), func(tx *store.Tx) error {
		for i := range tw.ids {
			p := models.Player{Name: tw.exact}
			if err := tx.CreatePlayer(&p); err != nil {
				return err
			}
			tw.ids[i] = p.ID
		}
		return tx.CreatePlayer(&models.Player{Name: strings.ToUpper(name)})
	})
	if err != nil {
		t.Fatal(err)
	}
	return tw
}
