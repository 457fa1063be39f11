package pages_test

import (
	"context"
	"fmt"
	"net"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"

	"throughline/api/apitest"
	"throughline/api/pages/browsertest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
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

	profile string // the folder of the browser's profile
}

// newLogging opens the log in a browser as a user.
func newLogging(t *testing.T, login string) *logging {
	t.Helper()
	storetest.OneByOne(t)
	l := &logging{Academy: apitest.OnSQLite(t), t: t, keys: models.LogKeys(), profile: t.TempDir()}
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
	l.b = browsertest.OpenIn(t, l.URL, l.profile)
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
	var ln net.Listener
	var err error
	for range 50 { // a connection of another program may have the port for a while
		if ln, err = net.Listen("tcp", strings.TrimPrefix(l.URL, "http://")); err == nil {
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
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

// asks answers a request as a user's program, apart from the browser.
func (l *logging) asks(login, method, path, body string, headers ...string) apitest.Answer {
	l.t.Helper()
	got := l.Program(l.t, login).Do(method, "/api/v1"+path, strings.NewReader(body),
		append([]string{"Content-Type", "application/json"}, headers...)...)
	if got.Status >= 300 {
		l.t.Fatalf("%s %s: %d %s", method, path, got.Status, got.Body)
	}
	return got
}

func (l *logging) text(id string) string {
	l.t.Helper()
	return browsertest.Eval[string](l.b, `document.getElementById("`+id+`").innerText`)
}

// A connection can break after the server took a request and before it answered. What the coach changes or deletes
// meanwhile still arrives, and nothing comes back.
func TestWhatIsChangedAfterALostAnswerStillArrives(t *testing.T) {
	l := newLogging(t, "ansel")
	l.set(typedTimes)
	browsertest.Eval[bool](l.b, `{ const real = fetch; globalThis.lose = true; const deleted = new Promise((done) => `+
		`globalThis.go = done); globalThis.fetch = async (path, o) => { `+
		`const r = await real(path, o); if (globalThis.lose && String(path).endsWith("/batch")) throw new TypeError(); `+
		`if (String(path).endsWith("/about")) { globalThis.held = true; await deleted } return r } } true`)
	tackle := l.kind(models.KindTackle).Key
	l.press("0100" + tackle + "1")
	l.press("0200" + tackle + "1")
	l.until(`document.getElementById("sending").textContent.` +
		`startsWith("The server is away. It keeps what you sent. 2 not sent")`)
	if _, all := l.logged(); len(all) == 0 {
		t.Fatal("the server did not get the request whose answer is lost")
	}
	l.b.Type(kb.ArrowUp + kb.Enter) // the first
	l.press("4")
	l.until(`globalThis.held`)         // what the server has of the first is asked for
	l.b.Type(kb.ArrowDown + kb.Delete) // the second
	browsertest.Eval[bool](l.b, `globalThis.lose = false, globalThis.go(), true`)
	l.sent()
	_, all := l.logged()
	if len(all) != 1 || all[0].Details["result"] != "missed" {
		t.Errorf("the server has %+v; want the first, changed to missed", all)
	}
}

// The running clock stands for a video that is elsewhere. A browser that is closed and opened again while the server is
// away keeps what was logged, shows none of it, and sends it once the coach has signed in again.
func TestWhatIsLoggedByTheClockSurvivesARestartOfTheBrowserWithoutTheServer(t *testing.T) {
	l := newLogging(t, "ansel")
	l.set(`document.getElementById("from-running").click()`)
	tackle := l.kind(models.KindTackle)
	l.press(l.command("play"))
	l.until(`document.getElementById("clock").textContent.includes("0:02")`)
	l.press(l.command("play"))
	l.press(tackle.Key + "1")
	l.sent()
	l.away()
	l.press(kb.ArrowRight + tackle.Key + "1")
	l.press(kb.ArrowRight + tackle.Key + "2")
	l.until(`document.getElementById("sending").textContent.includes("2 not sent, kept")`)
	l.b.Close()
	l.b = browsertest.OpenIn(t, l.URL, l.profile)
	l.b.Open(l.URL + l.path)
	l.until(`document.body.innerText.includes("What you logged and did not send is still in this browser")`)
	l.back()
	l.signIn("ansel")
	l.open()
	l.sent()
	_, all := l.logged()
	var seconds []int
	for _, i := range all {
		seconds = append(seconds, i.Clock.Second)
	}
	if len(all) != 3 || seconds[0] < 2 || seconds[1] != seconds[0]+5 || seconds[2] != seconds[1]+5 {
		t.Errorf("the server has involvements at %v; want three, 5 seconds apart", seconds)
	}
}

// Each of a carry's details and measures, the place and what the possession carries forward: twelve keys in all.
func TestAFullCarryTakesTwelveKeys(t *testing.T) {
	l := newLogging(t, "ansel")
	l.set(typedTimes + ";" + fullDepth)
	l.press("0712" + l.command("possession") + "1" + l.command("quick"))
	before := l.typed
	carry := l.kind(models.KindCarry)
	l.press(carry.Key)
	for n := 1; ; n++ {
		var key string
		if open := browsertest.Eval[bool](l.b, `document.querySelector("#step h2") !== null`); !open {
			break
		}
		for _, definition := range browsertest.Eval[[]string](l.b,
			`[...document.querySelectorAll("#meanings dd")].map(e => e.textContent)`) {
			if definition == "" {
				t.Errorf("step %d shows a code without its definition", n)
			}
		}
		if key = "1"; n == 6 { // finish and presentation: the first column leaves the presentation out
			key = "2"
		}
		switch title := browsertest.Eval[string](l.b, `document.querySelector("#step h2").textContent`); {
		case strings.Contains(title, "Presentation"):
			key = "2"
		case strings.Contains(title, "Tacklers"):
			key = "q"
		}
		l.press(key)
	}
	if used := l.typed - before; used > 12 {
		t.Errorf("a full carry took %d keys; want 12 at the most", used)
	}
	l.sent()
	_, all := l.logged()
	if len(all) != 1 {
		t.Fatalf("%d involvements; want the carry", len(all))
	}
	got := all[0]
	for _, d := range models.DetailsOf(models.KindCarry) {
		_, chosen := got.Details[d.Code]
		_, measured := got.Measures[d.Code]
		if !chosen && !measured && d.Code != "possession_end" { // which is not over yet
			t.Errorf("the carry has no %s", d.Code)
		}
	}
	if got.Clock != (models.Clock{Half: 1, Second: 432}) || *got.Possession != 1 || *got.Phase != 2 ||
		got.Details["source"] != "ruck" || got.Details["speed"] != "quick" || got.Details["possession_start"] != "scrum" {
		t.Errorf("logged %v in possession %v, %v", got.Clock, got.Possession, got.Details)
	}
}

func TestAnotherUserOfTheBrowserSeesNoRowsAndSigningOutWarnsOfThem(t *testing.T) {
	l := newLogging(t, "ansel")
	l.set(typedTimes)
	l.away()
	l.press("0100" + l.kind(models.KindTackle).Key + "1")
	l.until(`document.getElementById("sending").textContent.includes("1 not sent")`)
	for !strings.Contains(l.kept(), `"kind":"tackle"`) {
		t.Log("the database does not have it yet")
	}
	// The row is refused while the match is shorter than the logger thinks: it stays in the browser.
	l.back()
	l.sent()
	l.press("9900" + l.kind(models.KindTackle).Key + "1")
	l.until(`document.querySelector("#rows [data-state=refused]") !== null`)
	browsertest.Eval[bool](l.b, `document.querySelector(".loghead button").focus(), true`)
	l.b.Leave(kb.Enter)
	if said := browsertest.Eval[string](l.b, `document.body.innerText`); !strings.Contains(said,
		"1 involvement in this") {
		t.Errorf("signing out says %q; want a warning of what is not sent", said)
	}
	browsertest.Eval[bool](l.b, `document.querySelector("main form button").focus(), true`)
	l.b.Leave(kb.Enter)
	l.signIn("mabyn")
	l.open()
	if rows := l.text("rows"); rows != "" && !strings.Contains(rows, "Tackle: won") || strings.Contains(rows, "99:00") {
		t.Errorf("another user sees %q", rows)
	}
	if n := browsertest.Eval[int](l.b, `document.querySelectorAll("#rows li").length`); n != 0 {
		t.Errorf("another user sees %d rows", n)
	}
	browsertest.Eval[bool](l.b, `document.querySelector(".loghead button").focus(), true`)
	l.b.Leave(kb.Enter)
	if at := browsertest.Eval[string](l.b, `location.pathname`); at != "/sign-in" {
		t.Errorf("the other user, who has nothing unsent, is at %s", at)
	}
	l.away()
	l.b.Open(l.URL + l.path)
	l.until(`!document.getElementById("locked").hidden`) // no one is signed in, and the server cannot say who was
	if rows := l.text("rows"); rows != "" {
		t.Errorf("signed out, the page shows %q", rows)
	}
	l.back()
	l.signIn("ansel")
	l.open()
	l.until(`document.querySelector("#rows [data-state=refused]") !== null`)
	browsertest.Eval[bool](l.b, `document.getElementById("discard").click(), `+
		`document.getElementById("discard").click(), true`)
	l.until(`document.querySelectorAll("#rows li").length === 1`)
	if kept := l.kept(); strings.Contains(kept, `"kind":`) {
		t.Errorf("discarded rows are still in the browser: %s", kept)
	}
}

func TestWhatAnotherUserChangedIsShownAndNeverOverwritten(t *testing.T) {
	l := newLogging(t, "ansel")
	l.asks("mabyn", "POST", "/logs", fmt.Sprintf(`{"match_id":%d,"player_id":%d,"depth":"core","kinds":["tackle"]}`,
		l.match.ID, l.Bryn.ID))
	l.open()
	if notices := l.text("notices"); !strings.Contains(notices, "Mabyn Orrell") {
		t.Errorf("the page says %q; want that Mabyn logs the same player", notices)
	}
	l.set(typedTimes)
	l.press("0100" + l.kind(models.KindTackle).Key + "1")
	l.sent()
	_, all := l.logged()
	one := all[0]
	theirs := fmt.Sprintf(`{"clock":{"half":1,"second":60},"kind":"tackle","details":{"result":"missed"},`+
		`"note":"late","key":%q}`, one.Key)
	path := fmt.Sprintf("/involvements/%d", one.ID)
	l.asks("mabyn", "PUT", path, theirs, "If-Match", `"1"`)
	edit := func() {
		l.b.Type(kb.ArrowDown + kb.Enter)
		l.press("2")
		l.until(`document.querySelector("[data-conflict]") !== null`)
	}
	edit()
	if said := l.text("notices"); !strings.Contains(said, "missed") || !strings.Contains(said, "even") {
		t.Errorf("the conflict says %q; want both", said)
	}
	now := func() models.Involvement { _, all := l.logged(); return all[0] }
	if got := now(); got.Details["result"] != "missed" {
		t.Errorf("the change was overwritten with %v", got.Details)
	}
	if kept := l.kept(); strings.Contains(kept, "late") {
		t.Error("the browser keeps free text of another user")
	}
	browsertest.Eval[bool](l.b, `document.querySelector("[data-conflict] button").click(), true`)
	l.sent()
	if got := now(); got.Details["result"] != "even" || got.Note != "late" {
		t.Errorf("after keeping mine the server has %v and the note %q", got.Details, got.Note)
	}
}

func TestTheBrowserKeepsNoNames(t *testing.T) {
	l := newLogging(t, "ansel")
	l.set(typedTimes)
	l.away()
	l.press("0100" + l.kind(models.KindCarry).Key + "1")
	l.until(`document.getElementById("sending").textContent.includes("1 not sent")`)
	kept := l.kept() + browsertest.Await[string](l.b, `(async () => { let all = ""; for (const n of await `+
		`caches.keys()) { `+
		`const c = await caches.open(n); for (const r of await c.keys()) all += r.url + await (await c.match(r)).text() } `+
		`return all })()`)
	if !strings.Contains(kept, "Involvement log") || !strings.Contains(kept, "tackle") {
		t.Fatal("the shell is not kept")
	}
	for _, name := range []string{"Bryn", "Calder", "Ansel", "Brock", "Oakford", "Northmoor"} {
		if strings.Contains(kept, name) {
			t.Errorf("the browser keeps the name %s", name)
		}
	}
	if scopes := browsertest.Await[[]string](l.b, `navigator.serviceWorker.getRegistrations().then(all => `+
		`all.map(r => new URL(r.scope).pathname))`); !slices.Equal(scopes, []string{"/log/"}) {
		t.Errorf("service workers for %q; want one for the log alone", scopes)
	}
}

// The definitions follow Laws 14 and 16: a carrier in a maul is not tackled. The log asks, and the coach decides.
func TestTheLogAsksWhenATackleAndAMaulAreMixedUpAndSaysWhatAHeadContactNeeds(t *testing.T) {
	l := newLogging(t, "ansel")
	l.set(typedTimes + ";" + fullDepth)
	l.press("0100" + l.kind(models.KindCarry).Key + "1")
	for !strings.Contains(l.text("step"), "Presentation") {
		l.b.Type(kb.ArrowDown)
	}
	l.press("s") // a maul, and a ball that was presented long
	if asked := l.text("step"); !strings.Contains(asked, "Law 16") || !strings.Contains(asked, "Law 14") {
		t.Fatalf("the log says %q; want the question of Laws 14 and 16", asked)
	}
	l.press("n") // no: choose again
	l.press("a") // a maul, with no presentation
	l.b.Type(l.mark(models.MarkHeadContact))
	l.b.Type(kb.Enter)
	if said := l.text("notices"); !strings.Contains(said, "Recognise and remove") ||
		!strings.Contains(said, "medical lead") {
		t.Errorf("after a head contact the page says %q", said)
	}
	l.sent()
	_, all := l.logged()
	if got := all[0]; got.Details["finish"] != "maul" || got.Details["presentation"] != "" || !got.HeadContact ||
		got.Confirmed {
		t.Errorf("logged %v, head contact %v, confirmed %v", got.Details, got.HeadContact, got.Confirmed)
	}
}

func TestUndoEditDeleteHalvesAndWhatTheLogCovers(t *testing.T) {
	l := newLogging(t, "ansel")
	l.set(typedTimes)
	l.b.Type("@")
	if said := l.text("said"); said != "@ does nothing here." {
		t.Errorf("after a key without a meaning the page says %q", said)
	}
	tackle, pass, carry := l.kind(models.KindTackle).Key, l.kind(models.KindPass).Key, l.kind(models.KindCarry).Key
	l.press("0100" + tackle + "1")
	l.press("0200" + tackle + "1")
	l.b.Type(kb.Backspace) // takes back the second
	l.until(`document.querySelectorAll("#rows li").length === 1`)
	l.b.Type(kb.ArrowDown + kb.Enter)
	l.press("4") // missed, after all
	l.press("0300" + carry + "1")
	l.press("0301" + pass)
	l.b.Type(l.mark(models.MarkLinked))
	l.press("1")
	l.b.Type(l.mark(models.MarkMoment))
	l.press(l.command("half"))
	l.press("3600" + tackle + "2")
	l.press("3700" + tackle + "2")
	l.b.Type(kb.Delete)
	l.sent()
	_, all := l.logged()
	if len(all) != 4 {
		t.Fatalf("%d involvements; want 4", len(all))
	}
	first, run, given, second := all[0], all[1], all[2], all[3]
	if first.Details["result"] != "missed" || run.Kind != models.KindCarry || given.LinkedTo == nil ||
		*given.LinkedTo != run.ID ||
		!given.Moment || second.Clock != (models.Clock{Half: 2, Second: 2160}) {
		t.Errorf("logged %+v", all)
	}
	if counts := l.text("counts"); !strings.Contains(counts, "4 involvements") || !strings.Contains(counts, "Tackle 2") ||
		!strings.Contains(counts, "1 moment") || !strings.Contains(counts, "minutes of work per minute of match") {
		t.Errorf("the counts are %q", counts)
	}
	l.press(l.command("finish"))
	browsertest.Eval[bool](l.b,
		`{ const set = (id, v) => document.getElementById(id).value = v; set("from-1", "00:00"); `+
			`set("to-1", "35:00"); set("from-2", "35:00"); set("to-2", "40:00"); `+
			`document.getElementById("covers-scrum").click(); `+
			`document.querySelector("#finish button").click() } true`)
	l.until(`document.getElementById("notices").textContent.includes("finished")`)
	logs, _ := l.logged()
	if got := logs[0]; !got.Finished || len(got.Covers) != 2 || got.Covers[1].To.Second != 2400 ||
		slices.Contains(got.Kinds, models.KindScrum) || len(got.Kinds) != 12 {
		t.Errorf("the log says that it covers %+v, %v", got.Covers, got.Kinds)
	}
}

// The page says that minutes are missing, and does not ask the server for what it must refuse. What was typed is sent
// once there are minutes.
func TestALogWaitsForThePlayersMinutes(t *testing.T) {
	l := newLogging(t, "mabyn")
	l.path = fmt.Sprintf("/log/%d/%d", l.match.ID, l.Tam.ID)
	l.open()
	l.set(typedTimes)
	l.press("0100" + l.kind(models.KindTackle).Key + "1")
	l.until(`document.getElementById("sending").textContent.includes("1 not sent")`)
	if said := l.text("notices"); said != "The player has no minutes in this match yet. Add them; then the log is sent." {
		t.Errorf("without minutes the page says %q", said)
	}
	err := l.Store.Write(t.Context(), models.Console(l.ID), func(tx *store.Tx) error {
		return tx.CreateAppearance(&models.Appearance{MatchID: l.match.ID, PlayerID: l.Tam.ID, Minutes: 70})
	})
	if err != nil {
		t.Fatal(err)
	}
	l.sent()
	if said := l.text("notices"); said != "" {
		t.Errorf("once it is sent the page says %q", said)
	}
	if problems := l.b.Problems(); len(problems) > 0 {
		t.Errorf("the browser had problems: %q", problems)
	}
}

// All script of the page: what people wait for on a slow line before the first key counts.
func TestTheLogsScriptIsSmall(t *testing.T) {
	total := 0
	entries, err := os.ReadDir("static/log")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		info, err := e.Info()
		if err != nil {
			t.Fatal(err)
		}
		total += int(info.Size())
	}
	if total >= 60_000 {
		t.Errorf("the scripts have %d bytes; want less than 60,000", total)
	}
}

// The video is made by the browser itself and opened as a file, which no request ever carries.
func TestAVideoIsOpenedHereAndDrivenFromTheKeyboard(t *testing.T) {
	l := newLogging(t, "ansel")
	browsertest.Await[bool](l.b, `(async () => { const canvas = document.createElement("canvas"); canvas.width = `+
		`canvas.height = 64; `+
		`const ink = canvas.getContext("2d"); const film = new MediaRecorder(canvas.captureStream(25)); const parts = []; `+
		`film.ondataavailable = (e) => parts.push(e.data); film.start(); const until = performance.now() + 3000; `+
		`await new Promise((done) => { const paint = () => { ink.fillStyle = "#" + String(performance.now() | 0).slice(-3); `+
		`ink.fillRect(0, 0, 64, 64); performance.now() < until ? requestAnimationFrame(paint) : done() }; paint() }); `+
		`await new Promise((done) => { film.onstop = done; film.stop() }); const file = new File(parts, `+
		`"bryn-calder.webm"); `+
		`const all = new DataTransfer(); all.items.add(file); const input = document.getElementById("file"); `+
		`input.files = all.files; input.dispatchEvent(new Event("change")); return true })()`)
	l.until(`document.getElementById("video").readyState >= 2 && document.activeElement.id === "stage"`)
	at := func() float64 { return browsertest.Eval[float64](l.b, `document.getElementById("video").currentTime`) }
	l.press(l.command("play"))
	l.until(`document.getElementById("video").currentTime > 0.5`)
	l.press(l.command("play"))
	l.until(`document.getElementById("video").paused`)
	before := at()
	l.press(l.command("step_back"))
	if after := at(); before-after < 0.03 || before-after > 0.05 { // a frame of 25 a second
		t.Errorf("a step moves the video from %v to %v", before, after)
	}
	l.press(l.command("half"))
	kickoff := at()
	l.press(l.command("faster"))
	if speed := browsertest.Eval[float64](l.b, `document.getElementById("video").playbackRate`); speed != 1.25 {
		t.Errorf("the speed is %v; want 1.25", speed)
	}
	browsertest.Eval[bool](l.b, fmt.Sprintf(`document.getElementById("video").currentTime = %v, true`, kickoff+1.2))
	l.press(l.kind(models.KindTackle).Key + "1")
	l.b.Type(kb.ArrowLeft)
	if now := at(); now != 0 {
		t.Errorf("a jump back of 5 seconds from %v is at %v; want the beginning", kickoff+1.2, now)
	}
	l.press(l.command("view"))
	if now := at(); now < kickoff+1.1 || now > kickoff+1.3 {
		t.Errorf("the involvement at %v is shown at %v", kickoff+1.2, now)
	}
	// Without consent to filming the server refuses the place in the video. The coach leaves it out, or gets the consent.
	l.until(`document.querySelector("#rows [data-state=refused] .wrong") !== null`)
	if kept := l.kept(); strings.Contains(strings.ToLower(kept), "calder") {
		t.Error("the browser keeps the name of the file, or of the player")
	}
	l.asks("mabyn", "POST", "/consents", fmt.Sprintf(`{"player_id":%d,"purpose":"filming","given_by":"a guardian",`+
		`"relation":"guardian","on":"2025-08-01"}`, l.Bryn.ID))
	l.open()
	l.sent()
	_, all := l.logged()
	got := all[0]
	if got.Clock != (models.Clock{Half: 1, Second: 1}) || got.VideoFrom == nil ||
		!strings.HasPrefix(got.VideoFile, "video of 2") {
		t.Errorf("logged %v from %v of %q", got.Clock, got.VideoFrom, got.VideoFile)
	}
	for _, problem := range l.b.Problems() {
		if !strings.Contains(problem, "409") { // the refusal
			t.Errorf("the browser had a problem: %q", problem)
		}
	}
}

func TestAClickOnThePitchSaysZoneSideAndWidth(t *testing.T) {
	l := newLogging(t, "ansel")
	l.set(typedTimes + ";" + fullDepth)
	l.press("0100" + l.kind(models.KindTackle).Key + "1")
	// metres across from the left touchline and up from the own goal line
	click := func(across, up float64, shift bool) {
		browsertest.Eval[bool](l.b, fmt.Sprintf(`{ const svg = document.getElementById("pitch"); `+
			`const at = new DOMPoint(%v, %v).matrixTransform(svg.getScreenCTM()); svg.dispatchEvent(new MouseEvent("click", `+
			`{ clientX: at.x, clientY: at.y, shiftKey: %v, bubbles: true })) } true`, across,
			float64(models.LawInGoal+models.LawPitchLength)-up, shift))
	}
	click(40, 80, true)
	for _, c := range []struct {
		across, up        float64
		zone, side, width string
	}{
		{35.5, 22.5, "own_22_to_half", "right", "close"}, {34, 21.5, "own_22", "left", "close"},
		{60, 50.5, "half_to_their_22", "right", "wide"},
		{29, 78.5, "their_22", "left", "midfield"}, {14.5, 77.5, "half_to_their_22", "left", "wide"},
	} {
		click(c.across, c.up, false)
		got := browsertest.Eval[string](l.b, `document.querySelector("#step .filled").textContent`)
		for code, value := range map[string]string{"zone": c.zone, "side": c.side, "width": c.width} {
			d, _ := models.DetailOf(models.KindTackle, code)
			o, _ := d.Option(value)
			if want := d.Label + " " + strings.ToLower(o.Label); !strings.Contains(got, want+",") &&
				!strings.HasSuffix(got, want) {
				t.Errorf("%v metres across, %v up: %q; want %q", c.across, c.up, got, want)
			}
		}
	}
}
