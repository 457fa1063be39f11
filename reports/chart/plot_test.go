package chart

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

type pt struct{ x, y float64 }

var pathPiece = regexp.MustCompile(`([MLHVZz])([^MLHVZz]*)`)

// subpaths reads the straight lines of a path.
func subpaths(t *testing.T, d string) [][]pt {
	t.Helper()
	var out [][]pt
	for _, m := range pathPiece.FindAllStringSubmatch(d, -1) {
		if strings.EqualFold(m[1], "Z") {
			continue
		}
		fields := strings.FieldsFunc(m[2], func(r rune) bool { return r == ' ' || r == ',' })
		if len(fields)%2 != 0 {
			t.Fatalf("path %q: %q is no list of pairs", d, m[2])
		}
		if m[1] == "M" {
			out = append(out, nil)
		}
		for i := 0; i < len(fields); i += 2 {
			x, err1 := strconv.ParseFloat(fields[i], 64)
			y, err2 := strconv.ParseFloat(fields[i+1], 64)
			if err1 != nil || err2 != nil {
				t.Fatalf("path %q: %q, %q", d, fields[i], fields[i+1])
			}
			out[len(out)-1] = append(out[len(out)-1], pt{x, y})
		}
	}
	return out
}

func paths(n node, colour, attr, value string) []node {
	return n.all(func(e node) bool {
		return e.XMLName.Local == "path" && (e.attr("fill") == colour || e.attr("stroke") == colour) && e.attr(attr) == value
	})
}

// engineScale is where the engine put things, read off its own axis labels: what everything else is checked against.
type engineScale struct{ left, perBand, zero, perUnit float64 }

func (e engineScale) pixel(x, y float64) pt { return pt{e.left + x*e.perBand, e.zero + y*e.perUnit} }

// readScale needs level labels under the bands (text centred at the band's middle) and two labels beside the scale.
func readScale(t *testing.T, svg node, p plot) engineScale {
	t.Helper()
	at := func(label, anchor string) pt {
		for _, e := range svg.named("text") {
			var x, y float64
			if e.Text == label && e.attr("text-anchor") == anchor {
				if _, err := fmt.Sscanf(e.attr("transform"), "translate(%g %g)", &x, &y); err == nil {
					return pt{x, y}
				}
			}
		}
		t.Fatalf("no label %q with anchor %q", label, anchor)
		return pt{}
	}
	n := len(p.bands)
	first, last := at(p.bands[0], "middle"), at(p.bands[n-1], "middle")
	var values []float64
	var heights []float64
	for i, label := range p.scale.labels {
		if label != "" {
			v, err := strconv.ParseFloat(strings.Replace(label, "−", "-", 1), 64)
			if err != nil || math.Abs(v-p.scale.ticks[i]) > 1e-9 {
				t.Fatalf("label %q for %v", label, p.scale.ticks[i])
			}
			values, heights = append(values, v), append(heights, at(label, "end").y)
		}
	}
	k := len(values) - 1
	e := engineScale{perBand: (last.x - first.x) / float64(n-1),
		perUnit: (heights[k] - heights[0]) / (values[k] - values[0])}
	e.left, e.zero = first.x-e.perBand/2, heights[0]-values[0]*e.perUnit
	return e
}

func near(a, b pt) bool { return math.Abs(a.x-b.x) < 0.11 && math.Abs(a.y-b.y) < 0.11 }

func has(points []pt, want pt) bool {
	for _, p := range points {
		if near(p, want) {
			return true
		}
	}
	return false
}

// shoelace gives the signed area of a closed polygon by the formula of that name (from memory).
func shoelace(points []pt) float64 {
	sum := 0.0
	for i, p := range points {
		q := points[(i+1)%len(points)]
		sum += p.x*q.y - q.x*p.y
	}
	return sum / 2
}

// winding counts how often a closed polygon goes round a point: what a browser fills by its default rule.
func winding(points []pt, at pt) int {
	n := 0
	for i, p := range points {
		q := points[(i+1)%len(points)]
		side := (q.x-p.x)*(at.y-p.y) - (at.x-p.x)*(q.y-p.y)
		switch {
		case p.y <= at.y && q.y > at.y && side > 0:
			n++
		case p.y > at.y && q.y <= at.y && side < 0:
			n--
		}
	}
	return n
}

// shaded returns the outlines filled with a colour at an opacity.
func shaded(t *testing.T, svg node, colour string, opacity float64) (out [][]pt) {
	t.Helper()
	for _, e := range svg.named("polygon") {
		if e.attr("fill") == colour && e.attr("fill-opacity") == fmt.Sprint(opacity) {
			out = append(out, subpaths(t, "M"+e.attr("points"))...)
		}
	}
	return out
}

// Stacked series go wrong for a band from below zero to above it.
func TestBandAcrossZeroFillsExactlyItsIntervals(t *testing.T) {
	bands := []Range{{-1.5, 0.5}, {-0.75, 1.25}, {-2, -0.5}, {0.25, 1.75}, {-0.5, 0.5}}
	trend := Trend{Title: "Metres over expected", Format: Format{Decimals: 1}}
	for i, b := range bands {
		trend.Matches = append(trend.Matches, Match{Label: fmt.Sprint(i), Value: new(0.0),
			Level: &Level{Value: (b.Lower + b.Upper) / 2, Outer: &b}})
	}
	n := render(t, "f", trend)
	for _, l := range layouts {
		p := readScale(t, n.svg(t, l.class), trend.plot(l))
		pieces := shaded(t, n.svg(t, l.class), colourLevel, outerOpacity)
		if len(pieces) != 1 {
			t.Fatalf("%s: the band is in %d pieces, want 1", l.class, len(pieces))
		}
		want := 0.0
		for i, b := range bands {
			x := float64(i) + 0.5
			for _, v := range []float64{b.Lower, b.Upper} {
				if !has(pieces[0], p.pixel(x, v)) {
					t.Errorf("%s: the band misses %v at %.2f", l.class, p.pixel(x, v), v)
				}
			}
			if i > 0 {
				above := bands[i-1]
				height := ((above.Upper - above.Lower) + (b.Upper - b.Lower)) / 2
				want += (p.pixel(1, 0).x - p.pixel(0, 0).x) * height * (p.pixel(0, 0).y - p.pixel(0, 1).y)
				// Halfway between two matches: inside by a hair, outside by a hair, both ends.
				lo, hi := (above.Lower+b.Lower)/2, (above.Upper+b.Upper)/2
				for v, inside := range map[float64]bool{lo + 0.05: true, hi - 0.05: true, lo - 0.05: false, hi + 0.05: false} {
					if got := winding(pieces[0], p.pixel(float64(i), v)) != 0; got != inside {
						t.Errorf("%s: between matches %d and %d at %.2f: filled %v, want %v", l.class, i, i+1, v, got, inside)
					}
				}
			}
		}
		if got := math.Abs(shoelace(pieces[0])); math.Abs(got-want) > 0.01*want {
			t.Errorf("%s: the band covers %.0f square pixels, want %.0f", l.class, got, want)
		}
	}
}

func TestMissingLevelsBreakLineAndBand(t *testing.T) {
	trend := Trend{Title: "x"}
	level := func(v float64) *Level { return &Level{v, &Range{v - 1, v + 1}, &Range{v - 2, v + 2}} }
	for i, l := range []*Level{nil, level(3), level(4), nil, level(5), nil, nil, level(4), level(5), level(6)} {
		trend.Matches = append(trend.Matches, Match{Label: fmt.Sprint(i), Level: l})
	}
	svg := render(t, "f", trend).svg(t, "wide")
	p := readScale(t, svg, trend.plot(layouts[0]))
	line := paths(svg, colourLevel, "stroke-width", "2.5")
	if len(line) != 1 {
		t.Fatalf("%d level lines, want 1", len(line))
	}
	ends := func(xs ...float64) (out []float64) {
		for _, x := range xs {
			out = append(out, p.pixel(x, 0).x)
		}
		return out
	}
	// Two matches, one alone (widened by halfLone on both sides), three matches.
	want := [][]float64{ends(1.5, 2.5), ends(4.5-halfLone, 4.5+halfLone), ends(7.5, 8.5, 9.5)}
	pieces := subpaths(t, line[0].attr("d"))
	if len(pieces) != len(want) {
		t.Fatalf("the line is in %d pieces, want %d: %v", len(pieces), len(want), pieces)
	}
	for i := range want {
		if len(pieces[i]) != len(want[i]) {
			t.Fatalf("piece %d has %d points, want %d", i, len(pieces[i]), len(want[i]))
		}
		for k, x := range want[i] {
			if math.Abs(pieces[i][k].x-x) > 0.11 {
				t.Errorf("piece %d, point %d: x %.1f, want %.1f", i, k, pieces[i][k].x, x)
			}
		}
	}
	for opacity, half := range map[float64]float64{outerOpacity: 2, innerOpacity: 1} {
		bands := shaded(t, svg, colourLevel, opacity)
		if len(bands) != len(want) {
			t.Fatalf("the band of opacity %g is in %d pieces, want %d", opacity, len(bands), len(want))
		}
		for i, xs := range want {
			if len(bands[i]) != 2*len(xs) {
				t.Errorf("piece %d has %d corners, want %d", i, len(bands[i]), 2*len(xs))
			}
		}
		for _, x := range []float64{4.5 - halfLone, 4.5 + halfLone} {
			for _, v := range []float64{5 - half, 5 + half} {
				if !has(bands[1], p.pixel(x, v)) {
					t.Errorf("the match alone: %v misses %v", bands[1], p.pixel(x, v))
				}
			}
		}
	}
}

func TestWhiskersStandAtTheirIntervalsAndOnlyWhereThereIsAValue(t *testing.T) {
	trend := Trend{Title: "x", Matches: []Match{
		{Label: "a", Value: new(4.0), Whisker: &Range{3, 6}},
		{Label: "b", Whisker: &Range{1, 9}}, // no value: nothing is drawn
		{Label: "c", Value: new(5.0), Whisker: &Range{4, 900}},
		{Label: "d", Value: new(2.0)},
	}}
	frame := trend.plot(layouts[0])
	if frame.scale.hi > 10 {
		t.Fatalf("one wide whisker stretches the scale to %v", frame.scale.hi)
	}
	svg := render(t, "f", trend).svg(t, "wide")
	p := readScale(t, svg, frame)
	found := paths(svg, colourMuted, "fill", "none")
	var pieces [][]pt
	for _, f := range found {
		for _, piece := range subpaths(t, f.attr("d")) {
			if len(piece) > 2 {
				pieces = append(pieces, piece)
			}
		}
	}
	// The first in one stroke: lower cap, stem, upper cap. The other ends at the plot's edge, without a cap.
	caps := 0.18
	want := [][]pt{
		{p.pixel(0.5-caps, 3), p.pixel(0.5+caps, 3), p.pixel(0.5, 3), p.pixel(0.5, 6), p.pixel(0.5-caps, 6),
			p.pixel(0.5+caps, 6)},
		{p.pixel(2.5-caps, 4), p.pixel(2.5+caps, 4), p.pixel(2.5, 4), p.pixel(2.5, frame.scale.hi)},
	}
	if len(pieces) != len(want) {
		t.Fatalf("%d whiskers, want %d: %v", len(pieces), len(want), pieces)
	}
	for i, w := range want {
		if len(pieces[i]) != len(w) {
			t.Fatalf("whisker %d: %v, want %v", i, pieces[i], w)
		}
		stem := len(w) - 1
		if i == 0 {
			stem = 3
		}
		for k := range w {
			wide := k != 2 && k != stem // caps are a few pixels whatever the band's width
			if math.Abs(pieces[i][k].y-w[k].y) > 0.11 || !wide && math.Abs(pieces[i][k].x-w[k].x) > 0.11 {
				t.Errorf("whisker %d, point %d: %v, want %v", i, k, pieces[i][k], w[k])
			}
		}
	}
}

func TestEverythingDrawnStaysInsideThePicture(t *testing.T) {
	wild := season(40)
	wild.Matches[3].Whisker = &Range{-80, 90}
	bars := standingBars()
	bars.Rows[0].Value, bars.Rows[0].Interval = new(30.0), &Range{-25, 60}
	bars.Rows[1].Group = &Range{-9, 9}
	rating := footwork()
	rating.Occasions[5].Mean = &Level{4.9, &Range{4.2, 6.4}, &Range{-3, 9}}
	for name, c := range map[string]Chart{"trend": wild, "bars": bars, "rating": rating} {
		for _, class := range []string{"wide", "narrow"} {
			svg := render(t, name, c).svg(t, class)
			var x, y, w, h float64
			fmt.Sscanf(svg.attr("viewBox"), "%g %g %g %g", &x, &y, &w, &h)
			for _, e := range svg.named("path") {
				if e.attr("transform") != "" || strings.ContainsAny(e.attr("d"), "Aachvl") {
					continue
				}
				for _, piece := range subpaths(t, e.attr("d")) {
					for _, at := range piece {
						if at.x < -0.1 || at.x > w+0.1 || at.y < -0.1 || at.y > h+0.1 {
							t.Errorf("%s %s: a line reaches %v outside %g by %g", name, class, at, w, h)
						}
					}
				}
			}
		}
	}
}

// Steps of 1, 2 or 5 times a power of ten with ends on half steps; expected by hand.
func TestScaleTicks(t *testing.T) {
	cases := []struct {
		lo, hi float64
		want   int
		format Format
		labels string
		ends   [2]float64
	}{
		{0, 1, 5, Format{Percent: true}, "0% 20% 40% 60% 80% 100%", [2]float64{0, 1}},
		{0, 1, 4, Format{Percent: true}, "0% 25% 50% 75% 100%", [2]float64{0, 1}},
		{-0.3, 1.4, 5, Format{Percent: true}, "0% 20% 40% 60% 80% 100%", [2]float64{0, 1}},
		{-4.4, 4.6, 5, Format{}, "−4 −2 0 2 4", [2]float64{-5, 5}},
		{0, 11, 5, Format{}, "0 2 4 6 8 10", [2]float64{0, 11}},
		{0.12, 0.57, 5, Format{}, "0.1 0.2 0.3 0.4 0.5 0.6", [2]float64{0.1, 0.6}},
		{7, 7, 5, Format{}, "6.8 6.9 7.0 7.1 7.2", [2]float64{6.8, 7.2}},
		{0, 0, 4, Format{Decimals: 1}, "−0.02 −0.01 0.00 0.01 0.02", [2]float64{-0.02, 0.02}},
		{1200, 3900, 5, Format{}, "1000 1500 2000 2500 3000 3500 4000", [2]float64{1000, 4000}},
		{0, 0.004, 4, Format{Percent: true}, "0.0% 0.5% 1.0% 1.5% 2.0%", [2]float64{0, 0.02}},
	}
	for _, c := range cases {
		s := newScale(c.lo, c.hi, c.want, c.format)
		if got := strings.Join(strings.Fields(strings.Join(s.labels, " ")), " "); got != c.labels {
			t.Errorf("%v to %v: labels %q, want %q", c.lo, c.hi, got, c.labels)
		}
		if math.Abs(s.lo-c.ends[0]) > 1e-5 || math.Abs(s.hi-c.ends[1]) > 1e-5 {
			t.Errorf("%v to %v: ends %v and %v, want %v", c.lo, c.hi, s.lo, s.hi, c.ends)
		}
	}
}

func TestScaleHoldsItsDataInEvenTicks(t *testing.T) {
	for _, f := range []Format{{}, {Decimals: 2}} {
		for e := -8; e <= 8; e++ {
			for k := range 200 {
				lo := (float64(k) - 100) * math.Pow10(e) * 0.37
				hi := lo + (1+float64(k*k%97))*math.Pow10(e)*0.11
				for _, want := range []int{4, 5} {
					s := newScale(lo, hi, want, f)
					slack := 1e-6 * (hi - lo)
					if s.lo > lo+slack || s.hi < hi-slack {
						t.Fatalf("%v to %v: axis from %v to %v", lo, hi, s.lo, s.hi)
					}
					labelled := 0
					for i, l := range s.labels {
						if l != "" {
							labelled++
						}
						if i > 0 && math.Abs((s.ticks[i]-s.ticks[i-1])-(s.hi-s.lo)/float64(len(s.ticks)-1)) > slack {
							t.Fatalf("%v to %v: uneven ticks %v", lo, hi, s.ticks)
						}
					}
					if labelled < 2 || labelled > 9 {
						t.Fatalf("%v to %v: %d labels %q", lo, hi, labelled, s.labels)
					}
				}
			}
		}
	}
}

func TestTwentySixMatchesStayReadable(t *testing.T) {
	trend := season(26)
	for _, l := range layouts {
		p := trend.plot(l)
		band := p.innerWidth() / 26
		last, shown := -1, 0
		for i, label := range p.bands {
			if label == "" {
				continue
			}
			shown++
			if last >= 0 {
				if gap := float64(i-last) * band; gap < 17 {
					t.Errorf("%s: labels %d and %d are %.1f pixels apart", l.class, last, i, gap)
				}
			}
			last = i
			// A label ends under its match and slopes down to the left.
			sin, cos := math.Sincos(p.rotate * math.Pi / 180)
			start := float64(p.left) + (float64(i)+0.5)*band - textWidth(label)*cos
			depth := textWidth(label) * sin
			if start < 0 || depth > float64(p.bottom) {
				t.Errorf("%s: %q starts at %.1f and needs %.1f of %d below", l.class, label, start, depth, p.bottom)
			}
		}
		if shown < 12 {
			t.Errorf("%s: only %d of 26 matches are named", l.class, shown)
		}
		if got := len(render(t, "f", trend).svg(t, l.class).named("title")); got != 1+26 {
			t.Errorf("%s: %d titles, want the chart's and one for each match", l.class, got)
		}
	}
}

func TestFewMatchesHaveLevelLabelsOnOneLineOrTwo(t *testing.T) {
	trend := season(8)
	p := trend.plot(layouts[0])
	if p.rotate != 0 || p.bands[2] != "19 Oct\nMarlow Vale" {
		t.Errorf("slope %v, label %q", p.rotate, p.bands[2])
	}
	for i := range trend.Matches {
		trend.Matches[i].Label = fmt.Sprint(i + 1)
	}
	if p := trend.plot(layouts[1]); p.rotate != 0 || p.bands[2] != "3" {
		t.Errorf("slope %v, label %q", p.rotate, p.bands[2])
	}
}

func TestEqualGradesStandSideBySide(t *testing.T) {
	p := footwork().plot(layouts[1])
	o := Occasion{Grades: []Grade{{"a", 3}, {"b", 4}, {"c", 3}, {"d", 3}}, Self: new(4.0)}
	xs := p.abreast(2, o)
	band := p.innerWidth() / float64(len(p.bands))
	for _, pair := range [][2]int{{0, 2}, {2, 3}, {1, 4}} {
		if gap := (xs[pair[1]] - xs[pair[0]]) * band; gap < 7 {
			t.Errorf("marks %d and %d are %.1f pixels apart", pair[0], pair[1], gap)
		}
	}
	for i, x := range xs {
		if x < 2 || x > 3 {
			t.Errorf("mark %d at %.2f leaves its band", i, x)
		}
	}
	if alone := p.abreast(2, Occasion{Grades: []Grade{{"a", 2}, {"b", 5}}}); alone[0] != 2.5 || alone[1] != 2.5 {
		t.Errorf("grades that differ stand at %v, want the middle", alone)
	}
}

func TestFormatWritesMinusPercentAndNoMinusZero(t *testing.T) {
	cases := []struct {
		f    Format
		v    float64
		want string
	}{
		{Format{Percent: true}, 0.634, "63%"},
		{Format{Percent: true, Decimals: 1}, 0.634, "63.4%"},
		{Format{Decimals: 1}, -0.55, "−0.6"},
		{Format{Decimals: 1}, -0.04, "0.0"},
		{Format{}, 12, "12"},
		{Format{Decimals: 2}, -1234.5, "−1234.50"},
	}
	for _, c := range cases {
		if got := c.f.Value(c.v); got != c.want {
			t.Errorf("%+v of %v: %q, want %q", c.f, c.v, got, c.want)
		}
	}
}

func TestValidateSaysWhatAndWhere(t *testing.T) {
	nan := math.NaN()
	cases := []struct {
		chart Chart
		want  []string
	}{
		{Trend{}, []string{"title: empty", "0 matches: give 1 to 200"}},
		{Trend{Title: "x", Matches: make([]Match, 201)}, []string{"201 matches"}},
		{Trend{Title: "x", Format: Format{Decimals: 9}, Matches: []Match{
			{Label: "12 Sep Oakley", Value: &nan, Whisker: &Range{2, 1}, Mark: 7},
			{Label: "b", Level: &Level{1, &Range{0, 3}, &Range{0.5, 2}}},
		}, Group: &Reference{Value: new(math.Inf(1))}, Spells: []Spell{{1, 3, Modified}, {2, 1, Modified}, {0, 1, 5}}},
			[]string{"9 decimals", "match 1 (12 Sep Oakley): NaN is not a number",
				"match 1 (12 Sep Oakley), whisker: lower end 2 is above upper end 1",
				"mark 7", "match 2 (b), level: the 80 % interval reaches outside", "group: +Inf",
				"spell 1: from 1 to 3: give 0 ≤ from ≤ to ≤ 2", "spell 2", "availability 5"}},
		{Rating{Title: "x", Coaches: []string{"a", "a"},
			Occasions: []Occasion{{Label: "o", Grades: []Grade{{"b", 6}}, Self: new(0.5)}}},
			[]string{`coach "a" is named twice`, "grade 6: give 1 to 5", `coach "b" is not among`,
				"self-rating 0.5: give 1 to 5"}},
		{Rating{Title: "x", Coaches: strings.Split("abcdefghijklm", ""), Occasions: make([]Occasion, 1)},
			[]string{"13 coaches: there are shapes for 12"}},
		{Bars{Title: "x", Rows: []Row{{Label: "r", Value: &nan, Interval: &Range{nan, 1}, Group: &Range{1, 0}}}},
			[]string{"row 1 (r): NaN", "row 1 (r), interval", "row 1 (r), group's range: lower end 1"}},
	}
	for _, c := range cases {
		err := c.chart.Validate()
		if err == nil {
			t.Errorf("%T validates, want %q", c.chart, c.want)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%v\ndoes not say %q", err, w)
			}
		}
	}
	for _, good := range []Chart{season(26), footwork(), standingBars()} {
		if err := good.Validate(); err != nil {
			t.Error(err)
		}
	}
}

func TestChartsWithoutAnyValueAreDrawn(t *testing.T) {
	for name, c := range map[string]Chart{
		"trend":  Trend{Title: "x", Matches: make([]Match, 3)},
		"rating": Rating{Title: "x", Occasions: make([]Occasion, 3)},
		"bars":   Bars{Title: "x", Rows: make([]Row, 3)},
	} {
		if got := len(render(t, name, c).svg(t, "wide").named("text")); got == 0 {
			t.Errorf("%s: an empty picture", name)
		}
	}
}

func TestTheNoteBesideARowIsWrittenInFull(t *testing.T) {
	bars := standingBars()
	for _, note := range []string{"66%, back row mostly 52% to 70%", "12.4 m, whole squad mostly −103.5 to +110.8 m",
		"85.1, half backs mostly 80.2 to 93.7"} {
		bars.Rows[0].Note = note
		svg := render(t, "bars", bars).svg(t, "wide")
		var x, y, w, h float64
		fmt.Sscanf(svg.attr("viewBox"), "%g %g %g %g", &x, &y, &w, &h)
		var beside []string
		for _, e := range svg.named("text") {
			var at float64
			fmt.Sscanf(e.attr("x"), "%g", &at)
			if words := e.Text; e.attr("text-anchor") == "start" && strings.Contains(note, words) && words != "0" {
				beside = append(beside, words)
				if at+textWidth(words) > w {
					t.Errorf("%q reaches %g, outside %g", words, at+textWidth(words), w)
				}
			}
		}
		if got := strings.Join(beside, " "); got != note {
			t.Errorf("beside the row is %q, want %q", got, note)
		}
	}
}

func TestTheWordsOverTheHalvesAreWrittenInFull(t *testing.T) {
	for _, class := range []string{"wide", "narrow"} {
		var words []string
		for _, e := range render(t, "bars", standingBars()).svg(t, class).named("text") {
			words = append(words, e.Text)
		}
		for _, want := range []string{"◂ below the group", "above the group ▸"} {
			if !slices.Contains(words, want) {
				t.Errorf("%s: %q is not among %q", class, want, words)
			}
		}
	}
}
