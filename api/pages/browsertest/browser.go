// Package browsertest drives a real browser through pages, for tests. It writes down what a page must never do:
// complain on the console, or reach another host.
package browsertest

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// Browser is one tab of a fresh profile.
type Browser struct {
	t     testing.TB
	ctx   context.Context
	host  string
	close func() error

	mu       sync.Mutex
	problems []string
	asked    int
	stays    bool
}

// patience is how long a browser may be open before the test is given up; on a busy machine all takes its time.
const patience = 6 * time.Minute

// Open starts a browser that may reach the server at base, such as "http://127.0.0.1:4711", and nothing else. Where
// there is no Chromium the test is skipped, or fails when THROUGHLINE_REQUIRE names "browser".
func Open(t testing.TB, base string) *Browser {
	t.Helper()
	return OpenIn(t, base, t.TempDir())
}

// OpenIn is Open with the profile in a folder, in which the browser keeps cookies, databases and service workers.
func OpenIn(t testing.TB, base, profile string) *Browser {
	t.Helper()
	program := find()
	if program == "" {
		const missing = "no Chromium: install chromium to run the browser tests"
		if strings.Contains(os.Getenv("THROUGHLINE_REQUIRE"), "browser") {
			t.Fatal(missing)
		}
		t.Skip(missing)
	}
	u, err := url.Parse(base)
	if err != nil {
		t.Fatal(err)
	}
	b := &Browser{t: t, host: u.Host}
	options := []chromedp.ExecAllocatorOption{
		chromedp.ExecPath(program), chromedp.UserDataDir(profile), chromedp.Headless, chromedp.NoSandbox,
		chromedp.DisableGPU,
		chromedp.NoFirstRun, chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("disable-dev-shm-usage", true),
		chromedp.Flag("disable-default-apps", true), chromedp.Flag("disable-extensions", true),
		chromedp.Flag("password-store", "basic"),
	}
	within, cancel := context.WithTimeout(context.Background(), patience)
	t.Cleanup(cancel)
	allocator, stop := chromedp.NewExecAllocator(within, options...)
	t.Cleanup(stop)
	ctx, shut := chromedp.NewContext(allocator, chromedp.WithListener(b.hear))
	t.Cleanup(shut)
	b.ctx, b.close = ctx, func() error { return chromedp.Cancel(ctx) }
	b.Do(chromedp.EmulateViewport(1280, 900))
	return b
}

// Close ends the browser as a person does who closes it.
func (b *Browser) Close() {
	b.t.Helper()
	if err := b.close(); err != nil {
		b.t.Fatalf("close the browser: %v", err)
	}
}

// find returns the path of a Chromium, or nothing.
func find() string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "google-chrome-stable"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

// hear notes what a page does wrong.
func (b *Browser) hear(event any) {
	switch e := event.(type) {
	case *runtime.EventConsoleAPICalled:
		if e.Type == "error" || e.Type == "warning" || e.Type == "assert" {
			b.note("the console says %s", e.Type)
		}
	case *runtime.EventExceptionThrown:
		b.note("a script failed: %s", e.ExceptionDetails.Text)
	case *log.EventEntryAdded:
		if e.Entry.Level == "error" || e.Entry.Level == "warning" {
			b.note("the browser says: %s (%s)", e.Entry.Text, e.Entry.URL)
		}
	case *page.EventJavascriptDialogOpening:
		b.mu.Lock()
		b.asked++
		leave := !b.stays
		b.mu.Unlock()
		go func() { // it would wait for itself here
			_, err := chromedp.Call(b.ctx, page.HandleJavaScriptDialog, page.HandleJavaScriptDialogParams{Accept: leave})
			if err != nil {
				b.note("a question of the page was not answered: %v", err)
			}
		}()
	case *network.EventRequestWillBeSent:
		u, err := url.Parse(e.Request.URL)
		if err != nil || u.Host != b.host && u.Scheme != "data" && u.Scheme != "blob" {
			b.note("a request left for %s", e.Request.URL)
		}
	}
}

func (b *Browser) note(format string, args ...any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.problems = append(b.problems, fmt.Sprintf(format, args...))
}

// Problems returns what pages have done wrong since it was last asked: complaints on the console, failed scripts,
// failed or blocked loads, requests to another host.
func (b *Browser) Problems() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	p := b.problems
	b.problems = nil
	return p
}

// Stay has the browser stay on a page that asks before it is left. Otherwise it goes.
func (b *Browser) Stay(stay bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.stays = stay
}

// Asked returns how often pages have asked before they were left.
func (b *Browser) Asked() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.asked
}

// Do runs steps, and ends the test where one fails.
func (b *Browser) Do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.t.Fatalf("in the browser: %v", err)
	}
}

// Open goes to an address.
func (b *Browser) Open(address string) {
	b.t.Helper()
	b.Do(chromedp.Navigate(address))
}

// Type presses keys one after the other on whatever has the focus; kb has names for those that are not signs.
func (b *Browser) Type(keys string) {
	b.t.Helper()
	b.Do(chromedp.KeyEvent(keys))
}

// Leave presses keys that lead to another page, and returns when that one has loaded.
func (b *Browser) Leave(keys string) {
	b.t.Helper()
	if _, err := chromedp.Run(b.ctx, chromedp.WaitEvent(page.LoadEventFired, nil, chromedp.KeyEvent(keys))); err != nil {
		b.t.Fatalf("in the browser: leave by the keyboard: %v", err)
	}
}

// Width makes the window so many CSS pixels wide.
func (b *Browser) Width(pixels int64) {
	b.t.Helper()
	b.Do(chromedp.EmulateViewport(pixels, 800))
}

// Scheme shows pages as a reader who prefers "light" or "dark" sees them.
func (b *Browser) Scheme(scheme string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
	if err != nil {
		b.t.Fatalf("in the browser: prefer %s: %v", scheme, err)
	}
}

// Medium shows pages as they are on "screen" or in "print".
func (b *Browser) Medium(medium string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: medium})
	if err != nil {
		b.t.Fatalf("in the browser: show the %s: %v", medium, err)
	}
}

// Overflow returns by how many pixels the page is wider than its window: 0 if no one has to scroll sideways.
func (b *Browser) Overflow() int {
	b.t.Helper()
	return Eval[int](b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`)
}

// Screenshot writes the whole page to a PNG file, for a person to look at.
func (b *Browser) Screenshot(file string) {
	b.t.Helper()
	picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		b.t.Fatalf("in the browser: %v", err)
	}
	if err := os.WriteFile(file, picture, 0o600); err != nil {
		b.t.Fatal(err)
	}
}

// pdfPage begins a page of a PDF that Chromium writes.
var pdfPage = regexp.MustCompile(`/Type /Page\n`)

// PrintedPages returns how many pages the page takes in print, on the paper that its style asks for.
func (b *Browser) PrintedPages() int {
	b.t.Helper()
	asked := true
	pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(func(p *page.PrintToPDFParams) { p.PreferCSSPageSize = &asked }))
	if err != nil {
		b.t.Fatalf("in the browser: print: %v", err)
	}
	return len(pdfPage.FindAll(pdf, -1))
}

// Eval returns the value of a JavaScript expression on the page.
func Eval[T any](b *Browser, expression string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		b.t.Fatalf("in the browser: evaluate %s: %v", expression, err)
	}
	return v
}

// Await returns what a JavaScript promise on the page comes to.
func Await[T any](b *Browser, expression string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("in the browser: await %s: %v", expression, err)
	}
	return v
}

// PDF prints the page on paper of a width and a height in millimetres, as a person does who chooses that paper, and
// returns the file and its number of pages. The page's style decides how the paper lies.
func (b *Browser) PDF(width, height float64) (file []byte, pages int) {
	b.t.Helper()
	const inch = 25.4
	printed, err := chromedp.Call(b.ctx, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: width / inch,
		PaperHeight: height / inch, PreferCSSPageSize: new(true), PrintBackground: new(true)})
	if err != nil {
		b.t.Fatalf("in the browser: print: %v", err)
	}
	return printed.Data, len(pageOfPDF.FindAll(printed.Data, -1))
}

// pageOfPDF is the object of one page.
var pageOfPDF = regexp.MustCompile(`/Type\s*/Page\b`)

// Media shows the page as it is in "print", or again as it is on the screen, for "".
func (b *Browser) Media(medium string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: medium})
	if err != nil {
		b.t.Fatalf("in the browser: show as %s: %v", medium, err)
	}
}
