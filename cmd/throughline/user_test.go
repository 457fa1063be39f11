package main_test

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"

	"throughline/models/store/storetest"
)

// little is a season's file of one squad and two players.
const little = `season,squad,match_date,opponent,player,minutes,carries
2025-26,Colts,2025-10-04,Oakford,Bryn Calder,70,8
2025-26,Colts,2025-10-04,Oakford,Owen Tarrant,60,3
`

// shown is the path of the one-time link in what the program said, which shows it once.
func shown(t *testing.T, got result) string {
	t.Helper()
	if !strings.Contains(got.out, "Put your server's address in front of it, such as http://127.0.0.1:8080/join/…") {
		t.Errorf("a path alone is printed, and not what goes in front: %s", got.out)
	}
	found := regexp.MustCompile(`(?m)^  (/join/[A-Za-z0-9_-]{43})$`).FindStringSubmatch(got.out)
	if got.code != 0 || found == nil || strings.Contains(got.err, found[1]) {
		t.Fatalf("exit %d: %s%s; want a link", got.code, got.out, got.err)
	}
	return found[1]
}

// joins chooses a password on the page of a one-time link, and returns the session's cookie, or nothing if it is
// refused.
func joins(t *testing.T, base, link, password string) string {
	t.Helper()
	status, _, head := ask(t, "POST", base+link, url.Values{"password": {password}})
	if status != 303 {
		return ""
	}
	cookie := sessionOf(head)
	return cookie
}

func TestAnImportedAcademyLetsPeopleIn(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		folder := t.TempDir()
		if err := os.WriteFile(filepath.Join(folder, "season.csv"), []byte(little), 0o600); err != nil {
			t.Fatal(err)
		}
		on := func(args ...string) result { return runIn(t, folder, append(args, "--database", url)...) }
		if got := on("import", "totals", "season.csv", "--academy", "Harbour Academy"); got.code != 0 {
			t.Fatalf("%s%s", got.out, got.err)
		}
		users := map[string][]string{
			"meg":  {"--name", "Meg Orrell", "--role", "manager"},
			"cole": {"--name", "Cole Brock", "--role", "coach", "--squad", "Colts"},
			"sal":  {"--name", "Sal Dane", "--role", "selector", "--squad", "Colts"},
			"bryn": {"--name", "Bryn Calder", "--role", "player", "--player", "Bryn Calder"},
		}
		links := map[string]string{}
		for login, args := range users {
			links[login] = shown(t, on(append([]string{"user", "add", "--login", login}, args...)...))
		}
		before := links["cole"]
		links["cole"] = shown(t, on("user", "link", "--login", "Cole "))
		if got := on("user", "link", "--login", "sal", "--public-url", "https://academy.example/"); got.code != 0 ||
			!strings.Contains(got.out, "\n  https://academy.example/join/") || strings.Contains(got.out, "Put the address") {
			t.Errorf("exit %d: %s%s; want a whole address", got.code, got.out, got.err)
		}
		links["sal"] = shown(t, on("user", "link", "--login", "sal", "--academy", "Harbour Academy"))
		links["orla"] = shown(t, on("operator", "add", "--login", "orla", "--name", "Orla Finch"))
		links["orla"] = shown(t, on("user", "link", "--login", "orla"))
		if got := on("user", "second-factor-off", "--login", "cole"); got.code != 0 ||
			!strings.Contains(got.out, "Cole Brock now signs in with only a password") {
			t.Errorf("exit %d: %s%s", got.code, got.out, got.err)
		}

		for what, args := range map[string][]string{
			"is taken":               {"user", "add", "--login", "meg", "--name", "Other", "--role", "manager"},
			"username orla is taken": {"user", "add", "--login", "orla", "--name", "Other", "--role", "manager"},
			`no squad "Seniors"`: {"user", "add", "--login", "other", "--name", "Other", "--role", "coach", "--squad",
				"Colts", "--squad", "Seniors"},
			`no player "Nobody"`: {"user", "add", "--login", "other", "--name", "Other", "--role", "player", "--player",
				"Nobody"},
			"already has a user": {"user", "add", "--login", "other", "--name", "Other", "--role", "player", "--player",
				"Bryn Calder"},
			"in lower case":          {"user", "add", "--login", "OTHER", "--name", "Other", "--role", "manager"},
			`no user "unknown"`:      {"user", "link", "--login", "unknown"},
			`no user "orla"`:         {"user", "link", "--login", "orla", "--academy", "Harbour Academy"},
			"username cole is taken": {"operator", "add", "--login", "cole", "--name", "Other"},
		} {
			if got := on(args...); got.code != 1 || !strings.Contains(got.err, what) || strings.Contains(got.out, "/join/") {
				t.Errorf("%v: exit %d: %s%s; want %q and no link", args, got.code, got.out, got.err, what)
			}
		}
		if got := on("user", "link", "--login", "other"); got.code != 1 {
			t.Errorf("somebody was added halfway: %s", got.out)
		}

		p := start(t, folder, "serve", "--database", url, "--addr", "127.0.0.1:0")
		base := "http://" + p.address()
		const password = "lantern gravel otter spindle"
		if joins(t, base, before, password) != "" {
			t.Error("the link from before still opens")
		}
		if joins(t, base, links["cole"], "colebrock123") != "" {
			t.Error("a password of his own name was taken")
		}
		for login, sees := range map[string]struct{ bryn, owen bool }{"meg": {true, true}, "cole": {true, true},
			"sal": {true, true}, "bryn": {true, false}} {
			if joins(t, base, links[login], password) == "" || joins(t, base, links[login], password) != "" {
				t.Errorf("%s does not come in by his link, or twice", login)
				continue
			}
			cookie := signIn(t, base, wayIn{User: login, Password: password})
			if !strings.HasPrefix(cookie, "__Host-throughline=") {
				t.Errorf("%s cannot sign in, or with the cookie %q", login, cookie)
				continue
			}
			status, body, _ := ask(t, "GET", base+"/api/v1/players", nil, "Cookie", cookie)
			if status != 200 || strings.Contains(body, "Bryn Calder") != sees.bryn ||
				strings.Contains(body, "Owen Tarrant") != sees.owen {
				t.Errorf("%s: %d %s; want to see %+v", login, status, body, sees)
			}
		}
		cookie := joins(t, base, links["orla"], password)
		if status, body, _ := ask(t, "GET", base+"/api/v1/academies", nil, "Cookie", cookie); status != 200 ||
			!strings.Contains(body, "Harbour Academy") {
			t.Errorf("the operator sees %d %s", status, body)
		}
		if status, body, _ := ask(t, "GET", base+"/api/v1/players", nil, "Cookie", cookie); status != 403 {
			t.Errorf("the operator sees players: %d %s", status, body)
		}
		p.signal(syscall.SIGTERM)
		got := p.end()
		if got.code != 0 || strings.Contains(got.out, password) || strings.Contains(got.out, links["meg"]) ||
			strings.Contains(got.out, "Orrell") {
			t.Errorf("exit %d\n%s", got.code, got.out)
		}
		if !strings.Contains(got.out, `event="one-time link used"`) {
			t.Errorf("the log does not say that links were used:\n%s", got.out)
		}
		// Who was signed in stays so over a restart.
		p = start(t, folder, "serve", "--database", url, "--addr", "127.0.0.1:0")
		if status, _, _ := ask(t, "GET", "http://"+p.address()+"/api/v1/academies", nil, "Cookie", cookie); status != 200 {
			t.Errorf("after a restart the session is answered with %d", status)
		}
	})
}

func TestAcademiesAreAddedListedAndRenamed(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		on := func(args ...string) result { return run(t, append(args, "--database", url)...) }
		for _, name := range []string{"Harbour Academy", "Fell Academy"} {
			if got := on("academy", "add", name); got.code != 0 || !strings.Contains(got.out, "added the academy "+name) {
				t.Fatalf("exit %d: %s%s", got.code, got.out, got.err)
			}
		}
		if got := on("academy", "rename", "Fell Academy", "Adder Fell Academy"); got.code != 0 {
			t.Errorf("exit %d: %s%s", got.code, got.out, got.err)
		}
		if got := on("academy", "list"); got.code != 0 || got.out != "Adder Fell Academy\nHarbour Academy\n" {
			t.Errorf("exit %d: %q; want the two, and nothing else", got.code, got.out)
		}
		for what, args := range map[string][]string{
			"already an academy Harbour Academy": {"academy", "rename", "Adder Fell Academy", "Harbour Academy"},
			`no academy "Fell Academy"`:          {"academy", "rename", "Fell Academy", "Other"},
			`no academy "@deployment"`:           {"academy", "rename", "@deployment", "Other"},
			"already an academy Adder":           {"academy", "add", "Adder Fell Academy"},
			"starts with":                        {"academy", "add", "@deployment"},
		} {
			if got := on(args...); got.code != 1 || !strings.Contains(got.err, what) {
				t.Errorf("%v: exit %d: %s%s; want %q", args, got.code, got.out, got.err, what)
			}
		}
	})
}

// A file that is not there yet is made by anyone who adds an academy, and by no one who only asks.
func TestAnAcademyIsAddedToAFileOfItsOwn(t *testing.T) {
	folder := t.TempDir()
	if got := runIn(t, folder, "academy", "list"); got.code != 1 ||
		!strings.Contains(got.err, "no database file") {
		t.Errorf("exit %d: %s%s", got.code, got.out, got.err)
	}
	if got := runIn(t, folder, "academy", "add", "Harbour Academy"); got.code != 0 {
		t.Fatalf("exit %d: %s%s", got.code, got.out, got.err)
	}
	shown(t, runIn(t, folder, "user", "add", "--login", "meg", "--name", "Meg Orrell", "--role", "manager"))
}

// sessionOf is the cookie of the session that an answer begins, as a browser sends it back.
func sessionOf(head http.Header) string {
	for _, set := range head.Values("Set-Cookie") {
		pair, _, _ := strings.Cut(set, ";")
		if name, _, _ := strings.Cut(pair, "="); strings.HasSuffix(name, "throughline") {
			return pair
		}
	}
	return ""
}
