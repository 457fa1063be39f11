// Package pdf prints a paper's file as PDF, with a Chromium of this machine.
//
// Each print starts a browser of its own, without a window, in a profile that is deleted afterwards. The file is handed
// over through a pipe; it is not written to the disk. Scripts are off. The browser reaches no network: its only proxy
// is a port of this machine where nothing listens.
package pdf

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"sync"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"throughline/models"
)

// Media is the media type of what Print makes.
const Media = "application/pdf"

const (
	// limit is far above what the longest paper takes on a busy machine: about two seconds.
	limit = time.Minute
	// patience is how long a print waits for those before it. With limit it stays below what a request may take.
	patience = 30 * time.Second
)

// Printer prints papers, one at a time. A nil Printer is one without a Chromium: it prints nothing.
type Printer struct {
	program string
	turn    chan struct{}
	ended   context.Context // when the printer is closed
	end     context.CancelFunc
	running sync.WaitGroup
}

// names are what a Chromium is called on the PATH.
var names = []string{"chromium", "chromium-browser", "google-chrome", "google-chrome-stable"}

// None, in place of a program, means that nothing is printed.
const None = "none"

// missing says how to get a PDF.
const missing = "no Chromium found; install the package chromium, or name the program with --chromium"

// Find returns a printer with the program that is named, by a path or a name on the PATH. For "" it looks for Chromium
// on the PATH, and the printer is nil if it finds none; it is nil for None, too. The error says that there is no
// program of that name.
func Find(named string) (*Printer, error) {
	if named == None {
		return nil, nil
	}
	among := names
	if named != "" {
		among = []string{named}
	}
	for _, name := range among {
		if program, err := exec.LookPath(name); err == nil {
			ended, end := context.WithCancel(context.Background())
			return &Printer{program: program, turn: make(chan struct{}, 1), ended: ended, end: end}, nil
		}
	}
	if named != "" {
		return nil, fmt.Errorf("--chromium: there is no program %q; name a Chromium, or %q to print no PDF", named, None)
	}
	return nil, nil
}

// Missing is the error of a printer that has no Chromium, for the person who runs the program.
func (p *Printer) Missing() error {
	if p == nil {
		return errors.New("cannot print a PDF: " + missing)
	}
	return nil
}

// Close stops what is being printed and waits until its browser has ended. Nothing is printed afterwards.
func (p *Printer) Close() {
	if p != nil {
		p.end()
		p.running.Wait()
	}
}

// Print returns an HTML file as PDF, on the paper that its style asks for.
//
// Errors: Conflict if there is no Chromium, TooOften if other prints take too long, ctx's own, and those of the
// browser.
func (p *Printer) Print(ctx context.Context, file []byte) ([]byte, error) {
	if p == nil {
		return nil, models.Errorf(models.Conflict, "this server cannot make a PDF, because it has no Chromium. Download the "+
			"report and print it with your browser, or ask the people who run the server to install chromium")
	}
	p.running.Add(1)
	defer p.running.Done()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	defer context.AfterFunc(p.ended, cancel)()
	if err := p.take(ctx); err != nil {
		return nil, err
	}
	defer func() { <-p.turn }()
	return p.print(ctx, file)
}

// take waits for the printer's turn.
func (p *Printer) take(ctx context.Context) error {
	wait := time.NewTimer(patience)
	defer wait.Stop()
	select {
	case p.turn <- struct{}{}:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("wait for the printer: %w", ctx.Err())
	case <-wait.C:
		return &models.Error{Code: models.TooOften, After: patience,
			Message: "the server is printing other reports; try again in half a minute"}
	}
}

// print starts a browser, prints, and ends the browser.
func (p *Printer) print(ctx context.Context, file []byte) (made []byte, err error) {
	// Its profile is in another folder, which chromedp makes and deletes.
	home, err := os.MkdirTemp("", "throughline-print-*")
	if err != nil {
		return nil, fmt.Errorf("make a folder for the browser: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(home)) }()
	ctx, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	allocator, stop := chromedp.NewExecAllocator(ctx, p.options(home)...)
	defer chromedp.FromContext(allocator).Allocator.Wait()
	defer stop()
	browser, shut := chromedp.NewContext(allocator)
	defer shut()
	made, err = printed(browser, file)
	if err != nil {
		return nil, fmt.Errorf("print with %s: %w", p.program, err)
	}
	return made, nil
}

// printed prints a file in a browser.
func printed(browser context.Context, file []byte) ([]byte, error) {
	if err := chromedp.Do(browser, chromedp.Navigate("about:blank")); err != nil {
		return nil, err
	}
	_, err := chromedp.Call(browser, emulation.SetScriptExecutionDisabled,
		emulation.SetScriptExecutionDisabledParams{Value: true})
	if err != nil {
		return nil, err
	}
	tree, err := chromedp.Call(browser, page.GetFrameTree, cdp.Empty{})
	if err != nil {
		return nil, err
	}
	_, err = chromedp.Call(browser, page.SetDocumentContent,
		page.SetDocumentContentParams{FrameID: tree.FrameTree.Frame.ID, HTML: string(file)})
	if err != nil {
		return nil, err
	}
	const inch = 25.4 // mm
	made, err := chromedp.Call(browser, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: 210 / inch,
		PaperHeight: 297 / inch, PreferCSSPageSize: new(true), PrintBackground: new(true), GenerateTaggedPDF: new(true)})
	return made.Data, err
}

// options start a browser that keeps nothing, reaches nothing, and knows nothing of the user or of the environment.
func (p *Printer) options(home string) []chromedp.ExecAllocatorOption {
	environment := []string{"HOME=" + home, "TMPDIR=" + home}
	for _, name := range []string{"PATH", "LANG", "TZ", "LD_LIBRARY_PATH", "FONTCONFIG_FILE", "FONTCONFIG_PATH"} {
		if value, is := os.LookupEnv(name); is {
			environment = append(environment, name+"="+value)
		}
	}
	options := []chromedp.ExecAllocatorOption{
		chromedp.ExecPath(p.program), chromedp.Headless, chromedp.DisableGPU,
		chromedp.NoFirstRun, chromedp.NoInheritEnv, chromedp.Env(environment...),
		chromedp.ProxyServer("127.0.0.1:9"), chromedp.Flag("proxy-bypass-list", "<-loopback>"), // not even this machine
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND"),
	}
	for _, off := range strings.Fields("disable-background-networking disable-component-update disable-sync " +
		"disable-default-apps disable-extensions disable-quic disable-dev-shm-usage disable-breakpad incognito") {
		options = append(options, chromedp.Flag(off, true))
	}
	return options
}
