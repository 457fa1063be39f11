package browsertest

import (
	"encoding/hex"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// Heading is a heading as it lies on paper.
type Heading struct {
	Title string
	Page  int     // from 1
	Above float64 // how many points its top is above the bottom margin of its page
}

// bottomMargin is the lowest margin of the paper that the page asks for, in CSS pixels.
const bottomMargin = `(() => {
	const name = getComputedStyle(document.querySelector(".sheet") || document.body).page
	let margin = "0px"
	for (const sheet of document.styleSheets) for (const rule of sheet.cssRules)
		if (rule instanceof CSSPageRule && ["", name].includes(rule.selectorText) && rule.style.marginBottom)
			margin = rule.style.marginBottom
	const probe = document.createElement("div")
	probe.style.height = margin
	document.body.append(probe)
	const high = parseFloat(getComputedStyle(probe).height)
	probe.remove()
	return high
})()`

var (
	// an entry of the outline of a PDF that Chromium writes: a heading, the object of its page, and its top
	outlined = regexp.MustCompile(`/Title (\((?:[^\\)]|\\.)*\)|<[0-9A-F]+>)\n/Dest \[(\d+) 0 R /XYZ [-\d.]+ ([-\d.]+) `)
	pageTree = regexp.MustCompile(`/Kids \[([^\]]*)\]`)
	object   = regexp.MustCompile(`(\d+) 0 R`)
)

// shownHeadings are the words of headings that are seen on paper.
const shownHeadings = `[...document.querySelectorAll("h1, h2, h3, h4, h5, h6")].filter(h => h.checkVisibility() &&
	h.getBoundingClientRect().height > 2).map(h => h.textContent.trim().split(/\s+/).join(" "))`

// PrintedHeadings returns the headings that are seen, as they lie on the paper that the page's style asks for, and the
// number of pages.
func (b *Browser) PrintedHeadings() (all []Heading, pages int) {
	b.t.Helper()
	b.Medium("print")
	const pixel = 0.75 // points
	margin := pixel * Eval[float64](b, bottomMargin)
	shown := Eval[[]string](b, shownHeadings)
	b.Medium("") // what is printed then is made for print
	yes := true
	pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(func(p *page.PrintToPDFParams) {
		p.PreferCSSPageSize, p.GenerateDocumentOutline, p.GenerateTaggedPDF = &yes, &yes, &yes
	}))
	if err != nil {
		b.t.Fatalf("in the browser: print: %v", err)
	}
	var order []string // of the objects of pages
	for _, kids := range pageTree.FindAllSubmatch(pdf, -1) {
		for _, of := range object.FindAllSubmatch(kids[1], -1) {
			order = append(order, string(of[1]))
		}
	}
	for _, entry := range outlined.FindAllSubmatch(pdf, -1) {
		top, err := strconv.ParseFloat(string(entry[3]), 64)
		if err != nil {
			b.t.Fatal(err)
		}
		title := strings.Join(strings.Fields(pdfText(string(entry[1]))), " ")
		if slices.Contains(shown, title) {
			all = append(all, Heading{title, slices.Index(order, string(entry[2])) + 1, top - margin})
		}
	}
	return all, len(pdfPage.FindAll(pdf, -1))
}

// pdfText reads a string of a PDF: in brackets with escapes, or as the hexadecimal digits of UTF-16.
func pdfText(s string) string {
	if inside, is := strings.CutPrefix(s, "("); is {
		return regexp.MustCompile(`\\(.)`).ReplaceAllString(strings.TrimSuffix(inside, ")"), "$1")
	}
	bytes, err := hex.DecodeString(strings.Trim(s, "<>"))
	if err != nil {
		return s
	}
	var units []uint16
	for i := 2; i+1 < len(bytes); i += 2 { // after the mark of the byte order
		units = append(units, uint16(bytes[i])<<8|uint16(bytes[i+1]))
	}
	return string(utf16.Decode(units))
}
