package chart_test

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"throughline/reports/chart"
)

// small is a picture with everything in it, whose level and others are at given values.
func small(own, others float64) chart.Small {
	level := chart.Level{Value: own, Inner: &chart.Range{Lower: own - 0.05, Upper: own + 0.05}}
	return chart.Small{Title: "Contact won", Format: chart.Format{Percent: true}, Scale: chart.Range{Lower: 0, Upper: 1},
		Span: chart.Range{Lower: 100, Upper: 200}, Ticks: []chart.Tick{{Day: 110, Label: "Sep"}, {Day: 140, Label: "Oct"},
			{Day: 171, Label: "Nov"}},
		Points: []chart.Point{{Day: 100, Value: 0}, {Day: 150, Value: 1, Mark: chart.Unusual}, {Day: 200, Value: 0.5,
			Mark: chart.OtherTeam}},
		Levels: []chart.DayLevel{{Day: 100, Level: level}, {Day: 200, Level: level}},
		Before: []chart.NamedLevel{{Label: "23-24", Level: level}, {Label: "24-25", Level: level,
			Span: chart.Range{Lower: 0, Upper: 50}, Course: []chart.DayLevel{{Day: 5, Level: chart.Level{Value: own - 0.1}},
				{Day: 45, Level: chart.Level{Value: own}}}}},
		Group: &chart.Range{Lower: others - 0.1, Upper: others + 0.1}, Mean: &others, Others: "others",
		Spells: []chart.DaySpell{{From: 120, To: 130, Kind: chart.Unavailable}}}
}

var smallText = regexp.MustCompile(
	`<text x="([\d.]+)" y="([\d.]+)" text-anchor="(\w+)" font-size="13"[^>]*>([^<]*)</text>`)

// box is where a text stands: letters of a sans-serif face are about 0.6 of its size wide (*common practice*).
type box struct {
	words                    string
	left, right, top, bottom float64
}

func boxes(t *testing.T, picture string) (all []box) {
	t.Helper()
	for _, m := range smallText.FindAllStringSubmatch(picture, -1) {
		x, _ := strconv.ParseFloat(m[1], 64)
		y, _ := strconv.ParseFloat(m[2], 64)
		wide := 0.6 * 13 * float64(len([]rune(m[4])))
		left := map[string]float64{"start": x, "middle": x - wide/2, "end": x - wide}[m[3]]
		all = append(all, box{m[4], left, left + wide, y - 10, y + 2})
	}
	return all
}

// Wherever the level and the others are, no two texts overlap and none leaves the picture.
func TestNoTextOfASmallPictureOverlapsOrIsCutOff(t *testing.T) {
	for _, own := range []float64{0, 0.02, 0.5, 0.97, 1} {
		for _, others := range []float64{0, 0.04, 0.49, 0.5, 0.53, 1} {
			picture, err := small(own, others).Draw()
			if err != nil {
				t.Fatal(err)
			}
			all := boxes(t, string(picture))
			if len(all) != 12 { // two ends of the scale, three months, two seasons and their ends, a spell, two labels
				t.Fatalf("%d texts", len(all))
			}
			for i, a := range all {
				if a.left < 0 || a.right > 300 || a.top < -1 || a.bottom > 140 {
					t.Errorf("own %v, others %v: %+v leaves the picture", own, others, a)
				}
				for _, b := range all[i+1:] {
					if a.left < b.right && b.left < a.right && a.top+1 < b.bottom && b.top+1 < a.bottom {
						t.Errorf("own %v, others %v: %q lies over %q", own, others, a.words, b.words)
					}
				}
			}
		}
	}
}

// The picture says the level and who the others are in words, and tells kinds of match by shape, so that it reads
// without colour.
func TestASmallPictureReadsWithoutColour(t *testing.T) {
	picture, err := small(0.63, 0.5).Draw()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{">63%<", ">others<", ">U<", ">24-25<", "stroke-dasharray", "M-1 -1H1V1H-1Z",
		"M0 -1L1 0L0 1L-1 0Z", `aria-label="Contact won"`} {
		if !strings.Contains(string(picture), want) {
			t.Errorf("no %q in it", want)
		}
	}
}

func TestASmallPictureOfNumbersThatCannotBeDrawnIsRefused(t *testing.T) {
	s := small(0.5, 0.5)
	s.Title, s.Points[0].Value, s.Span = "", math.NaN(), chart.Range{Lower: 1, Upper: 1}
	_, err := s.Draw()
	for _, want := range []string{"title", "point 1", "span: 1 to 1 has no width"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v does not name the %s", err, want)
		}
	}
}
