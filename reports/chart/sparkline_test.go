package chart

import (
	"math"
	"testing"
)

func TestSparklineBreaksAtGapsAndMarksTheLatest(t *testing.T) {
	n := parse(t, Sparkline(Spark{
		Label:     `won <b> "x"`,
		Values:    []*float64{new(1.0), new(2.0), nil, new(5.0), new(math.NaN()), new(3.0), new(1.0), nil},
		Reference: new(3.0),
	}))
	if n.attr("role") != "img" || n.attr("aria-label") != `won <b> "x"` || n.attr("style") != "" {
		t.Errorf("attributes %v", n.Attrs)
	}
	var reference, line string
	for _, p := range n.named("path") {
		if p.attr("stroke-dasharray") != "" {
			reference = p.attr("d")
		} else {
			line = p.attr("d")
		}
	}
	// 1 to 5 over 21 down to 4; eight places from 4 to 108.
	if line != "M4.0 21.0L18.9 16.8M78.3 12.5L93.1 21.0" {
		t.Errorf("line %q", line)
	}
	if reference != "M0 12.5H112" {
		t.Errorf("reference %q", reference)
	}
	dots := n.named("circle")
	if len(dots) != 2 || dots[0].attr("cx") != "48.6" || dots[0].attr("cy") != "4.0" || dots[1].attr("cx") != "93.1" ||
		dots[1].attr("cy") != "21.0" {
		t.Errorf("dots %v", dots)
	}
}

func TestSparklineOfLittleOrNothing(t *testing.T) {
	for _, s := range []Spark{{}, {Values: []*float64{nil}}, {Values: []*float64{new(2.0)}},
		{Values: []*float64{new(2.0), new(2.0)}}, {Reference: new(math.Inf(1))}} {
		n := parse(t, Sparkline(s))
		if n.attr("aria-hidden") != "true" {
			t.Errorf("%v: a picture without a label must be hidden from screen readers", s)
		}
		n.all(func(e node) bool {
			for _, a := range e.Attrs {
				if a.Value == "NaN" || a.Value == "+Inf" {
					t.Errorf("%v: %s=%q", s, a.Name.Local, a.Value)
				}
			}
			return false
		})
	}
}

func BenchmarkSparkline(b *testing.B) {
	values := make([]*float64, 26)
	for i := range values {
		values[i] = new(float64(i % 7))
	}
	b.ReportAllocs()
	for b.Loop() {
		Sparkline(Spark{Values: values})
	}
}
