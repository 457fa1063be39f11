package pages_test

import (
	"context"
	"fmt"
	"net"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"throughline/api/apitest"
	"throughline/api/pages/browsertest"
	"throughline/models"
	"throughline/models/store"
)

// logging is a coach at a browser, who logs Bryn's first match, and a server that can go away and come back.
type logging struct {
	*apitest.Academy
	t     *testing.T
	b     *browsertest.Browser
	match models.Match
	path  string
	keys  models.KeyTable
	stop  func()
	typed int // keys pressed
}

// newLogging opens the log in a browser as a user.
func newLogging(t *testing.T, login string) *logging {
	t.Helper()
	l := &logging{Academy: apitest.OnSQLite(t), t: t, keys: models.LogKeys()}
	l.stop = l.Stop
	err := l.Store.Read(t.Context(), models.Console(l.ID), func(tx *store.Tx) error {
		all, err := tx.Matches(models.MatchFilter{PlayerID: l.Bryn.ID})
		l.match = all[0]
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	l.path = fmt.Sprintf("/log/%d/%d", l.match.ID, l.Bryn.ID)
	l.b = browsertest.Open(t, l.URL)
	l.signIn(login)
	l.open()
	return l
}

func (l *logging) signIn(login string) {
	l.t.Helper()
	l.b.Open(l.URL + "/sign-in")
	browsertest.Eval[bool](l.b, `document.querySelector("[name=user]").focus(), true`)
	l.b.Type(login + kb.Tab + apitest.Password)
	l.b.Leave(kb.Enter)
}

// open opens the log and waits until it takes keys.
func (l *logging) open() {
	l.t.Helper()
	l.b.Open(l.URL + l.path)
	l.until(`document.activeElement?.id === "stage"`)
}

// until waits for an expression to be true.
func (l *logging) until(expression string) {
	l.t.Helper()
	browsertest.Await[bool](l.b, `new Promise((done) => { const look = () => (`+expression+
		`) ? done(true) : requestAnimationFrame(look); look(); })`)
}

// away stops the server, and back serves again at the same address.
func (l *logging) away() { l.stop() }

func (l *logging) back() {
	l.t.Helper()
	server := apitest.NewServer(l.t, l.Store, l.Log)
	ln, err := net.Listen("tcp", strings.TrimPrefix(l.URL, "http://"))
	if err != nil {
		l.t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	stopped := make(chan error, 1)
	go func() { stopped <- server.Serve(ctx, ln) }()
	l.stop = sync.OnceFunc(func() {
		stop()
		if err := <-stopped; err != nil {
			l.t.Errorf("the server did not stop well: %v", err)
		}
	})
	l.t.Cleanup(l.stop)
}

// press presses keys one by one and counts them.
func (l *logging) press(keys string) {
	l.t.Helper()
	l.typed += len([]rune(keys))
	l.b.Type(keys)
}

// kind is the key of a kind.
func (l *logging) kind(k models.Kind) models.KindKeys {
	i := slices.IndexFunc(l.keys.Kinds, func(keys models.KindKeys) bool { return keys.Kind == k })
	return l.keys.Kinds[i]
}

// command is the key of a command.
func (l *logging) command(code string) string {
	i := slices.IndexFunc(l.keys.Commands, func(k models.LogKey) bool { return k.Code == code })
	return l.keys.Commands[i].Key
}

// mark is the key of a mark, with Shift.
func (l *logging) mark(code string) string {
	i := slices.IndexFunc(l.keys.Marks, func(k models.LogKey) bool { return k.Code == code })
	return strings.ToUpper(l.keys.Marks[i].Key)
}

// set chooses what the page offers below the stage, and goes back to it.
func (l *logging) set(script string) {
	l.t.Helper()
	browsertest.Eval[bool](l.b, script+`; document.getElementById("stage").focus(), true`)
}

const typedTimes = `document.getElementById("from-typed").click()`

const fullDepth = `{ const d = document.getElementById("depth"); d.value = "full"; d.dispatchEvent(new ` +
	`Event("change")) }`

// sent waits until the server has everything.
func (l *logging) sent() {
	l.t.Helper()
	l.until(`document.getElementById("sending").textContent === "Everything is sent"`)
}

// kept is what the browser's database holds.
func (l *logging) kept() string {
	l.t.Helper()
	return browsertest.Await[string](l.b, `new Promise((done) => { const r = indexedDB.open("throughline-log"); `+
		`r.onsuccess = `+
		`() => { const all = {}; const db = r.result; let n = 0; for (const s of db.objectStoreNames) `+
		`db.transaction(s).objectStore(s).getAll().onsuccess = (e) => { all[s] = e.target.result; `+
		`if (++n === db.objectStoreNames.length) { db.close(); done(JSON.stringify(all)) } } } })`)
}

// logged is what the server has.
func (l *logging) logged() (logs []models.Log, all []models.Involvement) {
	l.t.Helper()
	err := l.Store.Read(l.t.Context(), models.Console(l.ID), func(tx *store.Tx) (err error) {
		if logs, err = tx.Logs(models.LogFilter{MatchID: l.match.ID, PlayerID: l.Bryn.ID}); err != nil {
			return err
		}
		all, err = tx.Involvements(models.InvolvementFilter{MatchID: l.match.ID, PlayerID: l.Bryn.ID})
		return err
	})
	if err != nil {
		l.t.Fatal(err)
	}
	return logs, all
}

// A coach logs while the connection comes and goes: everything typed arrives, once.
func TestSixtyInvolvementsSurviveTwoRestartsOfTheServerAndAReloadWithoutIt(t *testing.T) {
	l := newLogging(t, "ansel")
	l.set(typedTimes)
	tackle, carry := l.kind(models.KindTackle), l.kind(models.KindCarry)
	one := func(n int) {
		kind := tackle
		if n%3 == 0 {
			kind = carry
		}
		l.press(fmt.Sprintf("%02d%02d", n/2, n%2*30))
		before := l.typed
		l.press(kind.Key + "1")
		if used := l.typed - before; used > 4 {
			t.Errorf("a core %s took %d keys; want 4 at the most", kind.Kind, used)
		}
	}
	rows := func(n int) {
		t.Helper()
		l.until(fmt.Sprintf(`document.querySelectorAll("#rows li").length === %d`, n))
	}
	for n := range 15 {
		one(n)
	}
	rows(15)
	l.away()
	for n := 15; n < 25; n++ {
		one(n)
	}
	rows(25)
	l.back()
	l.sent()
	for n := 25; n < 35; n++ {
		one(n)
	}
	l.sent()
	l.away()
	for n := 35; n < 45; n++ {
		one(n)
	}
	l.until(`document.getElementById("sending").textContent.includes("10 not sent")`)
	l.press(tackle.Key) // open, and not kept, when the page is loaded again
	l.until(`document.querySelector("#step table") !== null`)
	for !strings.Contains(l.kept(), `"draft":{`) {
		t.Log("the database does not have the open involvement yet")
	}
	l.open()
	if names := browsertest.Eval[string](l.b, `document.body.textContent`); strings.Contains(names, "Bryn") {
		t.Error("the page names the player while no one can check who is signed in")
	}
	l.press("1")
	rows(11)
	for n := 46; n < 60; n++ {
		one(n)
	}
	rows(25)
	l.back()
	l.sent()
	rows(60)
	logs, all := l.logged()
	if len(logs) != 1 || len(all) != 60 {
		t.Errorf("the server has %d logs and %d involvements; want 1 and 60", len(logs), len(all))
	}
	keys := map[string]int{}
	for _, i := range all {
		keys[i.Key]++
	}
	if len(keys) != 60 {
		t.Errorf("%d different involvements; want 60, none twice", len(keys))
	}
	if kept := l.kept(); strings.Contains(kept, `"kind":`) {
		t.Errorf("the browser keeps what the server has acknowledged: %.300s", kept)
	}
	l.t.Log(browsertest.Eval[string](l.b, `document.getElementById("pace").textContent`))
}
