package main_test

import (
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

// shown is the password in what the program said, which shows it once.
func shown(t *testing.T, got result) string {
	t.Helper()
	found := regexp.MustCompile(`password ([a-z2-9]{4}-[a-z2-9]{4}-[a-z2-9]{4})\n`).FindStringSubmatch(got.out)
	if got.code != 0 || found == nil || strings.Contains(got.err, found[1]) {
		t.Fatalf("exit %d: %s%s; want a password", got.code, got.out, got.err)
	}
	return found[1]
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
		passwords := map[string]string{}
		for login, args := range users {
			passwords[login] = shown(t, on(append([]string{"user", "add", "--login", login}, args...)...))
		}
		before := passwords["cole"]
		passwords["cole"] = shown(t, on("user", "password", "--login", "Cole "))

		for what, args := range map[string][]string{
			"is taken":             {"user", "add", "--login", "meg", "--name", "Other", "--role", "manager"},
			`no squad "Seniors"`:   {"user", "add", "--login", "other", "--name", "Other", "--role", "coach", "--squad", "Colts", "--squad", "Seniors"},
			`no player "Nobody"`:   {"user", "add", "--login", "other", "--name", "Other", "--role", "player", "--player", "Nobody"},
			"has a user already":   {"user", "add", "--login", "other", "--name", "Other", "--role", "player", "--player", "Bryn Calder"},
			"in lower case":        {"user", "add", "--login", "OTHER", "--name", "Other", "--role", "manager"},
			`signs in as "nobody"`: {"user", "password", "--login", "nobody"},
		} {
			if got := on(args...); got.code != 1 || !strings.Contains(got.err, what) || strings.Contains(got.out, "password") {
				t.Errorf("%v: exit %d: %s%s; want %q and no password", args, got.code, got.out, got.err, what)
			}
		}
		if got := on("user", "password", "--login", "other"); got.code != 1 {
			t.Errorf("somebody was added halfway: %s", got.out)
		}

		p := start(t, folder, "serve", "--database", url, "--addr", "127.0.0.1:0")
		base := "http://" + p.address()
		if signIn(t, base, wayIn{User: "cole", Password: before}) != "" {
			t.Error("the password from before still opens")
		}
		for login, sees := range map[string]struct{ bryn, owen bool }{"meg": {true, true}, "cole": {true, true}, "sal": {true, true}, "bryn": {true, false}} {
			cookie := signIn(t, base, wayIn{User: login, Password: passwords[login]})
			if cookie == "" {
				t.Errorf("%s cannot sign in", login)
				continue
			}
			status, body, _ := ask(t, "GET", base+"/api/v1/players", nil, "Cookie", cookie)
			if status != 200 || strings.Contains(body, "Bryn Calder") != sees.bryn || strings.Contains(body, "Owen Tarrant") != sees.owen {
				t.Errorf("%s: %d %s; want to see %+v", login, status, body, sees)
			}
		}
		p.signal(syscall.SIGTERM)
		if got := p.end(); got.code != 0 || strings.Contains(got.out, passwords["meg"]) {
			t.Errorf("exit %d\n%s", got.code, got.out)
		}
	})
}
