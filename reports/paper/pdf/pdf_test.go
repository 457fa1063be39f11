package pdf_test

import (
	"bytes"
	"context"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync/atomic"
	"testing"

	"throughline/models"
	"throughline/reports/paper/pdf"
	"throughline/reports/paper/pdf/pdftest"
)

// A page of our own with two sheets, which also tries what no paper does: to load from a server and to run a script.
func TestAPrintHasThePagesAndTheTextAndReachesNothing(t *testing.T) {
	var asked atomic.Int32
	server := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { asked.Add(1) }))
	t.Cleanup(server.Close)
	printer := pdftest.Printer(t)
	file := `<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>Two sheets</title>
		<link rel="stylesheet" href="` + server.URL + `/style.css">
		<style>@page { size: A5 } p + p { break-before: page }</style></head>
		<body><p>Wren Tólley, £5</p><p>Second sheet</p><p>Third</p><img src="` + server.URL + `/picture.png" alt="">
		<script>document.body.textContent = "a script ran"; fetch("` + server.URL + `")</script></body></html>`
	made, err := printer.Print(t.Context(), []byte(file))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.HasPrefix(made, []byte("%PDF-")) || pdftest.Pages(made) != 3 {
		t.Errorf("%d pages in %q", pdftest.Pages(made), made[:min(20, len(made))])
	}
	if text := pdftest.Text(t, made); !strings.Contains(text, "Wren Tólley, £5") || !strings.Contains(text, "Third") {
		t.Errorf("its text is %q", text)
	}
	// A5 is 148 mm by 210 mm (ISO 216), here in points of 1/72 inch.
	if !bytes.Contains(made, []byte("/MediaBox [0 0 420 594.9")) {
		t.Errorf("the paper is not the A5 that the style asks for: %q", regexp.MustCompile(`/MediaBox.*`).Find(made))
	}
	if n := asked.Load(); n > 0 {
		t.Errorf("the browser asked a server for %d things", n)
	}
}

func TestAClosedPrinterEndsWhatItPrintsAndLeavesNothing(t *testing.T) {
	temporary := t.TempDir()
	t.Setenv("TMPDIR", temporary)
	printer := pdftest.Printer(t)
	ended := make(chan error)
	go func() {
		_, err := printer.Print(context.Background(), []byte(strings.Repeat("<p>Tam Okell</p>", 200_000)))
		ended <- err
	}()
	for { // until a browser has been started
		if there, err := filepath.Glob(filepath.Join(temporary, "*", "*")); err != nil {
			t.Fatal(err)
		} else if len(there) > 0 {
			break
		}
	}
	printer.Close()
	if err := <-ended; err == nil {
		t.Error("a print went on after its printer was closed")
	}
	if left, err := os.ReadDir(temporary); err != nil || len(left) > 0 {
		t.Errorf("it leaves %v, %v", left, err)
	}
	if _, err := printer.Print(t.Context(), nil); err == nil {
		t.Error("a closed printer prints")
	}
}

func TestAPrinterThatHasNoChromiumSaysWhatToInstall(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	for _, named := range []string{"", pdf.None} {
		printer, err := pdf.Find(named)
		if printer != nil || err != nil {
			t.Errorf("Find(%q) = %v, %v; want none and no error", named, printer, err)
		}
		_, err = printer.Print(t.Context(), nil)
		if models.CodeOf(err) != models.Conflict || !strings.Contains(err.Error(), "install chromium") {
			t.Errorf("%v", err)
		}
		if err := printer.Missing(); err == nil || !strings.Contains(err.Error(), "--chromium") {
			t.Errorf("%v", err)
		}
	}
	if _, err := pdf.Find("no-such-browser"); err == nil || !strings.Contains(err.Error(), `"no-such-browser"`) {
		t.Errorf("%v", err)
	}
}
