package chart

import (
	"fmt"
	"html"
	"strings"
)

// Style is the style sheet that charts and sparklines need: put it into the page's own style sheet. It holds no
// outside reference. Colours are set by the variables named in the package comment.
const Style = `.chart{container-type:inline-size;margin:0 0 1rem;break-inside:avoid}
.chart>svg{display:block;width:100%;height:auto;overflow:visible;font-family:inherit}
.chart>.chart-narrow{display:none;max-width:28rem}
@container (max-width:599px){.chart>.chart-wide{display:none}.chart>.chart-narrow{display:block}}
.chart-key{display:flex;flex-wrap:wrap;gap:.2rem 1.1rem;margin:.2rem 0 0;padding:0;list-style:none;
font-size:.8125rem;line-height:1.35}
.chart-key li{display:flex;align-items:center;gap:.4rem}
.chart-key svg{flex:none}
.sparkline{vertical-align:middle;overflow:visible}
@media print{.chart,.chart-key,.sparkline{print-color-adjust:exact;-webkit-print-color-adjust:exact}}
`

// Fallback colours are from Okabe and Ito's set, darkened where they must carry thin lines on white.
const (
	colourText    = "var(--chart-text,#2b2b2b)"
	colourMuted   = "var(--chart-muted,#595959)"
	colourGrid    = "var(--chart-grid,#dcdcdc)"
	colourPaper   = "var(--chart-paper,#ffffff)"
	colourLevel   = "var(--chart-level,#0072b2)"
	colourPoint   = "var(--chart-point,#333333)"
	colourUnusual = "var(--chart-unusual,#d55e00)"
	colourGroup   = "var(--chart-group,#007a5a)"
	colourSelf    = "var(--chart-self,#2b2b2b)"
	colourSpell   = "var(--chart-spell,#8a8a8a)"
)

const (
	outerOpacity = 0.16
	innerOpacity = 0.28 // lies over the outer band
	rangeOpacity = 0.10
)

// coachColours go with coachShapes: a coach is told by the shape, and the colour helps.
var coachColours = [...]string{
	"var(--chart-coach-1,#0072b2)",
	"var(--chart-coach-2,#d55e00)",
	"var(--chart-coach-3,#007a5a)",
	"var(--chart-coach-4,#a34a7f)",
	"var(--chart-coach-5,#7a5c00)",
	"var(--chart-coach-6,#4d4d4d)",
}

// shape is a symbol, once in the engine's words and once as an SVG path around 0,0 with radius 1 for the key.
type shape struct{ engine, path string }

var (
	circle   = shape{"circle", "M1 0A1 1 0 1 1 -1 0A1 1 0 1 1 1 0Z"}
	square   = shape{"rect", "M-1 -1H1V1H-1Z"}
	triangle = shape{"triangle", "M0 -1L1 1H-1Z"}
	diamond  = shape{"diamond", "M0 -1L1 0L0 1L-1 0Z"}
	wedge    = shape{"path://M-1 -1H1L0 1Z", "M-1 -1H1L0 1Z"}
	house    = shape{"path://M0 -1L1 0V1H-1V0Z", "M0 -1L1 0V1H-1V0Z"}
	cross    = shape{"path://M-1 -0.6L-0.6 -1L0 -0.4L0.6 -1L1 -0.6L0.4 0L1 0.6L0.6 1L0 0.4L-0.6 1L-1 0.6L-0.4 0Z",
		"M-1 -0.6L-0.6 -1L0 -0.4L0.6 -1L1 -0.6L0.4 0L1 0.6L0.6 1L0 0.4L-0.6 1L-1 0.6L-0.4 0Z"}
)

var coachShapes = [...]shape{circle, square, triangle, diamond, wedge, house}

// mark is a shape with its size in pixels and its paint.
type mark struct {
	shape     shape
	size      int
	fill      string
	edge      string
	edgeWidth float32
}

var (
	markOrdinary  = mark{circle, 7, colourPoint, colourPaper, 1}
	markUnusual   = mark{diamond, 13, colourUnusual, colourPaper, 1}
	markOtherTeam = mark{square, 7, colourPaper, colourPoint, 1.5}
	markSelf      = mark{cross, 10, colourSelf, colourPaper, 0.75}
	markLevel     = mark{circle, 11, colourLevel, colourPaper, 1.5}
)

// coachMark gives coach i a shape: six filled ones, then the same six hollow.
func coachMark(i int) mark {
	k := i % len(coachShapes)
	m := mark{coachShapes[k], 9, coachColours[k], colourPaper, 1}
	if i >= len(coachShapes) {
		m.fill, m.edge, m.edgeWidth = colourPaper, coachColours[k], 2
	}
	return m
}

const maxCoaches = 2 * len(coachShapes)

var (
	strokeLevel    = stroke{colour: colourLevel, width: 2.5, dash: "solid"}
	strokeInterval = stroke{colour: colourLevel, width: 3, dash: "solid"}
	strokeThin     = stroke{colour: colourMuted, width: 1, dash: "solid"}
	strokeGroup    = stroke{colour: colourGroup, width: 2, dash: "dashed"}
	strokeRange    = stroke{colour: colourGroup, width: 1, dash: "dotted"}
	strokeGrid     = stroke{colour: colourGrid, width: 1, dash: "solid"}
)

// spellStyles tell kinds of availability apart by letter and edge as well as by depth, indexed by Availability.
var spellStyles = [...]struct {
	opacity         float32
	dash            []float32
	letter, meaning string
}{
	Modified:    {0.16, []float32{4, 3}, "M", "modified availability"},
	Unavailable: {0.34, nil, "U", "unavailable"},
}

// keyItem is one entry of the key under a chart: a picture, 28 by 14, and what it means.
type keyItem struct{ swatch, text string }

func keyMark(m mark, text string) keyItem {
	r := float64(m.size) / 2
	return keyItem{fmt.Sprintf(`<path d="%s" transform="translate(14 7) scale(%g)" fill="%s" stroke="%s" `+
		`stroke-width="%.3g"/>`,
		m.shape.path, r, m.fill, m.edge, float64(m.edgeWidth)/r), text}
}

func keyLine(s stroke, text string) keyItem {
	dash := ""
	switch s.dash {
	case "dashed":
		dash = ` stroke-dasharray="8 4"`
	case "dotted":
		dash = ` stroke-dasharray="2 2"`
	}
	return keyItem{fmt.Sprintf(`<path d="M0 7H28" fill="none" stroke="%s" stroke-width="%g"%s/>`, s.colour, s.width,
		dash), text}
}

func keyWhisker(text string) keyItem {
	return keyItem{fmt.Sprintf(`<path d="M14 1V13M11 1H17M11 13H17" fill="none" stroke="%s" stroke-width="1"/>`,
		colourMuted), text}
}

func keyBand(outer, inner bool, text string) keyItem {
	var s strings.Builder
	if outer {
		fmt.Fprintf(&s, `<rect width="28" height="14" fill="%s" fill-opacity="%g"/>`, colourLevel, outerOpacity)
	}
	if inner {
		fmt.Fprintf(&s, `<rect y="3.5" width="28" height="7" fill="%s" fill-opacity="%g"/>`, colourLevel, innerOpacity)
	}
	return keyItem{s.String(), text}
}

func keyRange(text string) keyItem {
	return keyItem{fmt.Sprintf(`<rect y="1" width="28" height="12" fill="%s" fill-opacity="%g"/><path d="M0 1H28M0 `+
		`13H28" fill="none" stroke="%[1]s" stroke-dasharray="2 2"/>`,
		colourGroup, rangeOpacity), text}
}

func keySpells(spells []Spell) []keyItem {
	var seen [len(spellStyles)]bool
	for _, s := range spells {
		seen[s.Kind] = true
	}
	var items []keyItem
	for kind, style := range spellStyles {
		if !seen[kind] {
			continue
		}
		dash := ""
		if len(style.dash) > 0 {
			dash = ` stroke-dasharray="3 2"`
		}
		items = append(items, keyItem{fmt.Sprintf(`<rect x="4.5" y="0.5" width="19" height="13" fill="%s" `+
			`fill-opacity="%g" stroke="%s"%s/><text x="14" y="11" text-anchor="middle" font-size="11" fill="%s">%s</text>`,
			colourSpell, style.opacity, colourSpell, dash, colourText, style.letter), style.meaning})
	}
	return items
}

func writeKey(b *strings.Builder, items []keyItem) {
	if len(items) == 0 {
		return
	}
	b.WriteString("<ul class=\"chart-key\">\n")
	for _, k := range items {
		fmt.Fprintf(b, "<li><svg width=\"28\" height=\"14\" viewBox=\"0 0 28 14\" aria-hidden=\"true\">%s</svg>%s</li>\n",
			k.swatch, html.EscapeString(tidy(k.text)))
	}
	b.WriteString("</ul>\n")
}
