package overview_test

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"

	"throughline/api/pages/browsertest"
)

// cutOrCovered names the text of cells and sentences that leaves its box or lies over that of another.
const cutOrCovered = `(() => {
	const boxes = [...document.querySelectorAll('.overview td, .overview th, .overview li, .overview dd, .overview dt')]
	const bad = []
	const last = new Map()
	for (const b of boxes) {
		if (!b.offsetParent || b.closest('details')) continue
		const range = document.createRange()
		range.selectNodeContents(b)
		const own = b.getBoundingClientRect()
		for (const r of range.getClientRects()) {
			if (r.width && (r.right > own.right + 1 || r.left < own.left - 1 || r.bottom > own.bottom + 3)) {
				bad.push('cut: ' + b.textContent.trim().slice(0, 40)); break
			}
		}
		const row = b.parentElement
		if (/^T[DH]$/.test(b.tagName)) {
			const before = last.get(row)
			if (before && before.right > own.left + 1 && before.bottom > own.top + 1) {
				bad.push('covered: ' + b.textContent.trim().slice(0, 40))
			}
			last.set(row, own)
		}
	}
	return bad.slice(0, 5).join('; ')
})()`

// 40 players with a level in every column, and the longest words in every row: on two sides of A4 or one of A3, in
// letters that a person can read.
func TestFortyPlayersFitOnTwoSidesOfA4OrOneOfA3(t *testing.T) {
	_, file, _ := drawn(t, filled(40, restless))
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = w.Write([]byte(file))
	}))
	t.Cleanup(server.Close)
	b := browsertest.Open(t, server.URL)
	b.Open(server.URL)
	pictures := os.Getenv("THROUGHLINE_PICTURES")
	keep := func(name string, data []byte) {
		if pictures == "" {
			return
		}
		if err := os.WriteFile(filepath.Join(pictures, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, width := range []int64{360, 1280} {
		b.Width(width)
		if over := b.Overflow(); over > 0 {
			t.Errorf("at %d pixels it is %d pixels too wide", width, over)
		}
		if bad := browsertest.Eval[string](b, cutOrCovered); bad != "" {
			t.Errorf("at %d pixels: %s", width, bad)
		}
		if pictures != "" {
			b.Screenshot(filepath.Join(pictures, map[int64]string{360: "overview-phone.png", 1280: "overview-desk.png"}[width]))
		}
	}
	for _, sheet := range []struct {
		name          string
		width, height float64 // mm, as the paper lies in its box
		inside        int64   // pixels between the margins, 96 to the inch
		pages         int
	}{{"A4", 210, 297, 1054, 2}, {"A3", 297, 420, 1519, 1}} {
		b.Open(server.URL)
		b.Width(sheet.inside)
		b.Media("print")
		if bad := browsertest.Eval[string](b, cutOrCovered); bad != "" {
			t.Errorf("on %s: %s", sheet.name, bad)
		}
		if small := browsertest.Eval[float64](b, `Math.min(...[...document.querySelectorAll('.overview small')]
			.map(e => parseFloat(getComputedStyle(e).fontSize)))`); small < 8 { // 6 points
			t.Errorf("on %s letters are as small as %.1f px", sheet.name, small)
		}
		b.Media("")
		printed, pages := b.PDF(sheet.width, sheet.height)
		keep("overview-"+sheet.name+".pdf", printed)
		if pages > sheet.pages {
			t.Errorf("40 players take %d pages of %s, want at most %d", pages, sheet.name, sheet.pages)
		}
	}
	if problems := b.Problems(); len(problems) > 0 {
		t.Errorf("the browser had problems: %q", problems)
	}
}
