package chart

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
)

// layout is the place a chart is drawn for.
type layout struct {
	class  string
	width  int
	narrow bool
}

var layouts = [2]layout{{class: "wide", width: 720}, {class: "narrow", width: 360, narrow: true}}

// drawing is one chart laid out for one place: the engine's options, and what the cleaner adds.
type drawing struct {
	width, height int
	options       []byte
	captions      []caption
	hovers        []hover
}

// caption is a text that no axis of the engine can place.
type caption struct {
	x, y   float64
	anchor string // "start", "middle" or "end"
	colour string
	text   string
}

// hover is a rectangle whose text a browser shows to a resting pointer: the only interaction an SVG has without
// script.
type hover struct {
	x, y, w, h float64
	text       string
}

const fontSize = 12

// plot is a chart's frame. One axis is cut into bands (matches, or the rows of a comparison), the other carries a
// scale.
//
// Each direction has two axes in the engine. The first is a category axis with ready-made labels: the engine's
// own number labels drop trailing zeros, write hyphens for minus signs, and cannot be formatted, because functions do
// not survive the way to it. The second is a hidden value axis from 0 to the number of bands, or over the scale, so
// that marks can stand anywhere in a band.
type plot struct {
	layout
	height                   int
	left, right, top, bottom int
	bands                    []string
	rotate                   float64
	scale                    scale
	unit                     string
	sideways                 bool // bands from top to bottom, scale from left to right
}

func (p plot) innerWidth() float64  { return float64(p.width - p.left - p.right) }
func (p plot) innerHeight() float64 { return float64(p.height - p.top - p.bottom) }

// hoverBand is the part of the plot that belongs to band i.
func (p plot) hoverBand(i int, text string) hover {
	n := float64(len(p.bands))
	if p.sideways {
		h := p.innerHeight() / n
		return hover{x: 0, y: round2(float64(p.top) + float64(i)*h), w: float64(p.width), h: round2(h), text: text}
	}
	w := p.innerWidth() / n
	return hover{x: round2(float64(p.left) + float64(i)*w), y: float64(p.top), w: round2(w), h: p.innerHeight(),
		text: text}
}

func round2(v float64) float64 { return math.Round(v*100) / 100 }

// canvas is a plot being drawn on, from the back to the front: filled shapes first, whenever they are added.
type canvas struct {
	plot
	chart  *charts.Line
	shapes []shapeElement
}

// shapeElement is one of the engine's graphic elements, which go-echarts lacks. It is placed in pixels of the picture.
// A filled outline costs the engine a tenth of what the usual pair of stacked series does, and cannot go wrong across
// zero.
type shapeElement struct {
	Type   string     `json:"type"`
	Silent bool       `json:"silent"`
	Z      int        `json:"z"`
	Shape  polygon    `json:"shape"`
	Style  shapeStyle `json:"style"`
}

type polygon struct {
	Points [][2]float64 `json:"points"`
}

type shapeStyle struct {
	Fill        string    `json:"fill"`
	FillOpacity float32   `json:"fillOpacity"`
	Stroke      string    `json:"stroke,omitempty"`
	LineWidth   float32   `json:"lineWidth,omitempty"`
	LineDash    []float32 `json:"lineDash,omitempty"`
}

// start makes the empty chart with its axes and grid.
func (p plot) start() *canvas {
	c := charts.NewLine()
	px := strconv.Itoa
	hidden := opts.Bool(false)
	label := &opts.AxisLabel{Show: opts.Bool(true), Color: colourText, FontSize: fontSize, Rotate: p.rotate, Margin: 8}
	bare := &opts.AxisLabel{Show: opts.Bool(true), Color: colourText, FontSize: fontSize, Margin: 8}
	tick := &opts.AxisTick{Show: hidden}
	line := &opts.AxisLine{Show: opts.Bool(true), OnZero: opts.Bool(false), LineStyle: &opts.LineStyle{Color: colourMuted,
		Width: 1}}
	noLine := &opts.AxisLine{Show: hidden, OnZero: opts.Bool(false)}
	none := &opts.SplitLine{Show: hidden}

	c.SetGlobalOptions(
		charts.WithAnimation(false),
		charts.WithLegendOpts(opts.Legend{Show: hidden}),
		charts.WithTooltipOpts(opts.Tooltip{Show: hidden}),
		charts.WithGridOpts(opts.Grid{Left: px(p.left), Right: px(p.right), Top: px(p.top), Bottom: px(p.bottom)}),
	)
	if p.sideways {
		c.SetXAxis(escapeAll(p.scale.labels))
		c.SetGlobalOptions(
			charts.WithXAxisOpts(opts.XAxis{Type: "category", AxisLabel: bare, AxisTick: tick, AxisLine: line,
				SplitLine: none}),
			charts.WithYAxisOpts(opts.YAxis{Type: "category", Data: escapeAll(p.bands), Inverse: opts.Bool(true),
				AxisLabel: label, AxisLine: noLine, SplitLine: none}),
		)
		c.ExtendXAxis(opts.XAxis{Type: "value", Show: hidden, Min: p.scale.lo, Max: p.scale.hi})
		c.ExtendYAxis(opts.YAxis{Type: "value", Show: hidden, Min: 0, Max: len(p.bands), Inverse: opts.Bool(true)})
		return p.grid(c)
	}
	c.SetXAxis(escapeAll(p.bands))
	c.SetGlobalOptions(
		charts.WithXAxisOpts(opts.XAxis{Type: "category", AxisLabel: label, AxisTick: tick, AxisLine: line,
			SplitLine: none}),
		charts.WithYAxisOpts(opts.YAxis{Type: "category", Data: escapeAll(p.scale.labels), AxisLabel: bare, AxisLine: noLine,
			SplitLine: none,
			Name:      escape(shorten(p.unit, float64(p.width-8))), NameLocation: "end", NameGap: 14}),
	)
	c.ExtendXAxis(opts.XAxis{Type: "value", Show: hidden, Min: 0, Max: len(p.bands)})
	c.ExtendYAxis(opts.YAxis{Type: "value", Show: hidden, Min: p.scale.lo, Max: p.scale.hi})
	return p.grid(c)
}

// grid draws a line at each labelled tick. The engine's own grid lines would stand at the unlabelled ones too.
func (p plot) grid(chart *charts.Line) *canvas {
	c := &canvas{plot: p, chart: chart}
	var lines []segment
	n := float64(len(p.bands))
	for i, at := range p.scale.ticks {
		switch {
		case p.scale.labels[i] == "":
		case p.sideways:
			lines = append(lines, segment{at, 0, at, n})
		default:
			lines = append(lines, segment{0, at, n, at})
		}
	}
	c.segments("grid", lines, strokeGrid)
	return c
}

// pixel is where a value belongs in the picture. The frame and both scales are whole pixels, as the engine's own axes
// need.
func (p plot) pixel(x, y float64) [2]float64 {
	n := float64(len(p.bands))
	across, up := x/n, (y-p.scale.lo)/(p.scale.hi-p.scale.lo)
	return [2]float64{round2(float64(p.left) + across*p.innerWidth()), round2(float64(p.top) + (1-up)*p.innerHeight())}
}

// finish writes the chart's options down, with the captions and hover texts that go over them.
func (c *canvas) finish(captions []caption, hovers []hover) (drawing, error) {
	options, err := c.encode()
	return drawing{c.width, c.height, options, captions, hovers}, err
}

// encode writes the options as the engine reads them, with the fields that go-echarts lacks.
func (c *canvas) encode() ([]byte, error) {
	c.chart.Validate()
	plain, err := json.Marshal(c.chart.JSON())
	if err != nil {
		return nil, fmt.Errorf("encode chart options: %w", err)
	}
	var o struct {
		Animation bool             `json:"animation"`
		Legend    map[string]any   `json:"legend"`
		Tooltip   map[string]any   `json:"tooltip"`
		Grid      []map[string]any `json:"grid"`
		XAxis     []map[string]any `json:"xAxis"`
		YAxis     []map[string]any `json:"yAxis"`
		Series    []map[string]any `json:"series"`
		Graphic   []shapeElement   `json:"graphic,omitempty"`
	}
	if err := json.Unmarshal(plain, &o); err != nil {
		return nil, fmt.Errorf("read chart options back: %w", err)
	}

	// The scale's first and last tick are the ends of the axis, and every label is wanted.
	scaleAxis := o.YAxis[0]
	if c.sideways {
		scaleAxis = o.XAxis[0]
	}
	scaleAxis["boundaryGap"] = false
	for _, axis := range []map[string]any{o.XAxis[0], o.YAxis[0]} {
		axis["axisLabel"].(map[string]any)["interval"] = 0
		axis["axisTick"] = map[string]any{"show": false}
		axis["nameTextStyle"] = map[string]any{"color": colourMuted, "fontSize": fontSize}
	}
	if !c.sideways {
		// The unit reads from the picture's left edge, not from the axis.
		o.YAxis[0]["nameTextStyle"].(map[string]any)["align"] = "left"
		o.YAxis[0]["nameTextStyle"].(map[string]any)["padding"] = []int{0, 0, 0, 4 - c.left}
	}
	for i, s := range o.Series {
		s["z"] = 2 + i // later series lie above earlier ones, whatever their type
		s["clip"] = false
		s["silent"] = true
		s["emphasis"] = map[string]any{"disabled": true}
	}
	o.Graphic = c.shapes
	patched, err := json.Marshal(o)
	if err != nil {
		return nil, fmt.Errorf("encode patched chart options: %w", err)
	}
	return patched, nil
}

// onValues puts a series on the two hidden value axes.
func onValues(s *charts.SingleSeries) { s.XAxisIndex, s.YAxisIndex = 1, 1 }

// polyline is a series' data: pairs of x and y, with breaks. Plain pairs cost the engine less than opts.LineData.
type polyline [][2]any

func (l *polyline) to(x, y float64) { *l = append(*l, [2]any{x, y}) }

// lift ends a piece.
func (l *polyline) lift() {
	if n := len(*l); n > 0 {
		*l = append(*l, [2]any{(*l)[n-1][0], noValue})
	}
}

// noValue is how the engine is told that a value is missing.
const noValue = "-"

type stroke struct {
	colour string
	width  float32
	dash   string  // "solid", "dashed" or "dotted"
	fade   float32 // opacity, 0 for full
}

// line draws a polyline. Many separate lines of one stroke are far cheaper as one series with breaks than as one mark
// each.
func (c *canvas) line(name string, l polyline, s stroke) {
	if len(l) == 0 {
		return
	}
	style := opts.LineStyle{Color: s.colour, Width: s.width, Type: s.dash}
	if s.fade > 0 {
		style.Opacity = opts.Float(s.fade)
	}
	c.chart.AddSeries(name, nil, onValues, charts.WithLineStyleOpts(style), func(s *charts.SingleSeries) {
		s.Data, s.Symbol, s.ShowSymbol = l, "none", opts.Bool(false)
	})
}

// segment is a line between two points on the value axes.
type segment struct{ x1, y1, x2, y2 float64 }

func (c *canvas) segments(name string, segments []segment, s stroke) {
	var l polyline
	for _, g := range segments {
		l.to(g.x1, g.y1)
		l.to(g.x2, g.y2)
		l.lift()
	}
	c.line(name, l, s)
}

// halfLone is half the width, in bands, of a level or an interval whose neighbours are both missing: a line through it
// would have no length.
const halfLone = 0.3

// runs calls f for each unbroken run of bands that are there, with the bands and the positions at which to draw them:
// their middles, or the two ends of a short piece when the run is a single band (which f then gets twice).
func runs(n int, there func(int) bool, f func(bands []int, xs []float64)) {
	for i := 0; i < n; {
		if !there(i) {
			i++
			continue
		}
		var bands []int
		var xs []float64
		for ; i < n && there(i); i++ {
			bands, xs = append(bands, i), append(xs, float64(i)+0.5)
		}
		if k := bands[0]; len(bands) == 1 {
			bands, xs = []int{k, k}, []float64{xs[0] - halfLone, xs[0] + halfLone}
		}
		f(bands, xs)
	}
}

// fill shades an outline, below all lines and marks.
func (c *canvas) fill(points [][2]float64, style shapeStyle) {
	c.shapes = append(c.shapes, shapeElement{Type: "polygon", Silent: true, Z: 1, Shape: polygon{points}, Style: style})
}

// rectangle shades x1 to x2 and y1 to y2.
func (c *canvas) rectangle(x1, y1, x2, y2 float64, style shapeStyle) {
	c.fill([][2]float64{c.pixel(x1, y1), c.pixel(x2, y1), c.pixel(x2, y2), c.pixel(x1, y2)}, style)
}

// band shades the ranges from band to band; a missing range breaks the shading.
func (c *canvas) band(ranges []*Range, opacity float32) {
	runs(len(ranges), func(i int) bool { return ranges[i] != nil }, func(bands []int, xs []float64) {
		var there, back [][2]float64
		for k, i := range bands {
			there = append(there, c.pixel(xs[k], ranges[i].Upper))
			back = append(back, c.pixel(xs[k], ranges[i].Lower))
		}
		slices.Reverse(back)
		c.fill(append(there, back...), shapeStyle{Fill: colourLevel, FillOpacity: opacity})
	})
}

// levels draws the two bands and the line of a running level.
func (c *canvas) levels(levels []*Level) {
	outer, inner := make([]*Range, len(levels)), make([]*Range, len(levels))
	for i, l := range levels {
		if l != nil {
			outer[i], inner[i] = l.Outer, l.Inner
		}
	}
	c.band(outer, outerOpacity)
	c.band(inner, innerOpacity)
	var line polyline
	runs(len(levels), func(i int) bool { return levels[i] != nil }, func(bands []int, xs []float64) {
		for k, i := range bands {
			line.to(xs[k], levels[i].Value)
		}
		line.lift()
	})
	c.line("level", line, strokeLevel)
}

// marks draws one shape at each point of the value axes.
func (c *canvas) marks(name string, points [][2]float64, m mark) {
	if len(points) == 0 {
		return
	}
	s := charts.NewScatter()
	s.AddSeries(name, nil,
		charts.WithScatterChartOpts(opts.ScatterChart{Symbol: m.shape.engine, SymbolSize: m.size}),
		charts.WithItemStyleOpts(opts.ItemStyle{Color: m.fill, BorderColor: m.edge, BorderWidth: m.edgeWidth,
			Opacity: opts.Float(1)}),
		onValues,
		func(s *charts.SingleSeries) {
			s.Data = points
			if !strings.HasPrefix(m.shape.engine, "path:") {
				// All marks as one path: a third of the time. The engine cannot do it for shapes of ours.
				s.Large, s.LargeThreshold = opts.Bool(true), 1
			}
		})
	c.chart.Overlap(s)
}

// spells shades the spells over the whole height of the plot and returns their letters, to stand at the top.
func (c *canvas) spells(spells []Spell) []caption {
	const strip = 0.15 // half the width, in bands, of a spell that fell between two matches
	var letters []caption
	for _, s := range spells {
		from, to := float64(s.From), float64(s.To)
		if s.From == s.To {
			from, to = math.Max(0, from-strip), math.Min(float64(len(c.bands)), to+strip)
		}
		look := spellStyles[s.Kind]
		c.rectangle(from, c.scale.lo, to, c.scale.hi, shapeStyle{colourSpell, look.opacity, colourSpell, 1, look.dash})
		top := c.pixel((from+to)/2, c.scale.hi)
		letters = append(letters, caption{x: top[0], y: top[1] + 15, anchor: "middle", colour: colourText,
			text: look.letter})
	}
	return letters
}

// bandLabels decides how the labels under the bands are written: level if they fit, on one line or two; otherwise
// sloping, and every second, third… when even that is too tight. It returns what to write under each band, the slope
// in degrees and the height taken.
func (p plot) bandLabels(labels []string) (written []string, rotate float64, height int) {
	const (
		slope    = 55.0
		pitch    = 17.0 // least distance between sloping labels
		toMargin = 12.0
	)
	longest := 132.0
	if p.narrow {
		longest = 108
	}
	bandWidth := p.innerWidth() / float64(len(labels))
	written = make([]string, len(labels))
	widest := 0.0
	for i, l := range labels {
		written[i] = tidy(l)
		widest = math.Max(widest, textWidth(written[i]))
	}
	if widest+8 <= bandWidth {
		return written, 0, 30
	}
	if folded, ok := fold(written, bandWidth-6); ok {
		return folded, 0, 44
	}
	sin, cos := math.Sincos(slope * math.Pi / 180)
	every := int(math.Ceil(pitch / bandWidth))
	widest = 0
	for i := range written {
		if i%every != 0 {
			written[i] = ""
			continue
		}
		// The first labels slope towards the picture's left edge.
		toEdge := (float64(p.left) + (float64(i)+0.5)*bandWidth) / cos
		written[i] = shorten(written[i], math.Min(longest, toEdge))
		widest = math.Max(widest, textWidth(written[i]))
	}
	return written, slope, int(math.Ceil(widest*sin+fontSize*cos)) + toMargin
}

// textWidth guesses the width of a text in pixels at fontSize, on the generous side: fonts differ.
func textWidth(s string) float64 {
	w := 0.0
	for _, r := range s {
		switch {
		case strings.ContainsRune("iljtfrI.,:;'|!()[] ", r):
			w += 0.36
		case strings.ContainsRune("mwMW@%—", r):
			w += 0.92
		case unicode.IsUpper(r):
			w += 0.70
		case r > 0x2E80: // ideographs and the like are square
			w += 1.0
		default:
			w += 0.59
		}
	}
	return w * fontSize
}

// shorten cuts a text to a width, with an ellipsis.
func shorten(s string, width float64) string {
	s = tidy(s)
	if textWidth(s) <= width {
		return s
	}
	runes := []rune(s)
	for len(runes) > 1 && textWidth(string(runes)+"…") > width {
		runes = runes[:len(runes)-1]
	}
	return strings.TrimRight(string(runes), " ") + "…"
}

// wrap breaks a text into at most `lines` lines of a width; what does not fit is cut.
func wrap(s string, width float64, lines int) []string {
	var out []string
	words := strings.Fields(tidy(s))
	for len(words) > 0 && len(out) < lines-1 {
		n := 1
		for n < len(words) && textWidth(strings.Join(words[:n+1], " ")) <= width {
			n++
		}
		out = append(out, shorten(strings.Join(words[:n], " "), width))
		words = words[n:]
	}
	if len(words) > 0 {
		out = append(out, shorten(strings.Join(words, " "), width))
	}
	return out
}

// fold writes each label on two lines of a width, when all of them fit uncut.
func fold(labels []string, width float64) ([]string, bool) {
	out := make([]string, len(labels))
	for i, l := range labels {
		lines := wrap(l, width, 2)
		if strings.Join(lines, " ") != l {
			return nil, false
		}
		out[i] = strings.Join(lines, "\n")
	}
	return out, true
}

// tidy makes a text safe for the engine and for XML: one line, valid UTF-8, no control characters.
func tidy(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n' || r == '\r':
			return ' '
		case unicode.IsControl(r), r == openBrace, r == closeBrace, r == 0xFFFE, r == 0xFFFF:
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
	return strings.Join(strings.Fields(s), " ")
}

// The engine reads {name} and {b|text} in a label as its own template. Braces travel as two private characters, and
// the cleaner turns them back.
const (
	openBrace  = '\uE07B'
	closeBrace = '\uE07D'
)

var (
	toEngine   = strings.NewReplacer("{", string(openBrace), "}", string(closeBrace))
	fromEngine = strings.NewReplacer(string(openBrace), "{", string(closeBrace), "}")
)

func escape(s string) string { return toEngine.Replace(s) }

func escapeAll(in []string) []string {
	out := make([]string, len(in))
	for i, s := range in {
		out[i] = escape(s)
	}
	return out
}
