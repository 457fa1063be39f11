package trend

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Slopes' SDs that are alike are learned as such, and few fits hardly move the scale from where it starts.
func TestScalesLearnHowAlikeSlopesVary(t *testing.T) {
	at := func(sd float64) (l []float64) {
		for _, s := range sketchSD {
			z := math.Log(s/sd) / 0.3
			l = append(l, -z*z/2)
		}
		return l
	}
	var alike, still []Sketch
	for range 60 {
		alike, still = append(alike, Sketch{Slope: at(0.3)}), append(still, Sketch{Slope: at(0.01)})
	}
	if s := learnScales(alike, nil); s.Alike < 3 || math.Abs(s.Slope-0.3) > 0.06 {
		t.Errorf("slopes of SD 0.3 in all: %+v", s)
	}
	if s := learnScales(still[:1], nil); s.Slope < 0.15*startSlope {
		t.Errorf("one fit with slopes of none: %+v", s)
	}
	if s := learnScales(still, nil); s.Slope > 0.4*startSlope {
		t.Errorf("sixty fits with slopes of none: %+v", s)
	}
}

// What moves all squads of an academy is believed of each of them, of rates alone; what is left over is their own.
func TestScalesLearnHowAnAcademysSquadsMoveTogether(t *testing.T) {
	var rise, others []Sketch
	for k := range 40 {
		one := Sketch{Trend: 0.2 + 0.05*math.Sin(float64(k)), Variance: 0.01, Share: 0.64, Rate: true}
		rise = append(rise, one)
		one.Rate = false
		others = append(others, one)
	}
	// A share of 0.64 of a season shows √0.64 of what a whole one makes.
	if s := learnScales(rise, nil); math.Abs(s.Rise-0.25) > 0.02 || s.Trend > startTrend {
		t.Errorf("rates that rise by 0.2: %+v", s)
	}
	still := slices.Clone(rise)
	for k := range still { // their mean is 1.1 standard errors off 0
		still[k].Trend = 0.1*math.Sin(float64(k)) + 0.02
	}
	if s := learnScales(still, nil); math.Abs(s.Rise) > 0.01 {
		t.Errorf("rates that chance moves: %+v", s)
	}
	if s := learnScales(others, nil); s.Rise != 0 || s.Trend < 0.2 {
		t.Errorf("what are no rates: %+v", s)
	}
	if s := learnScales(nil, rise); s.Rise != 0 || s.Trend < 0.2 {
		t.Errorf("rates of an earlier season: %+v", s)
	}
}

// A fit's own data enter once: alone it has the scales where learning starts, and among others those of the others.
func TestAFitsScalesAreLearnedFromTheOthers(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 1))
	still, moving := course{still: true}, course{slope: 0.6}
	draw := func(c course) Indicator { return Indicator{Data: simulateCourse(random, c).all} }
	one := draw(moving)
	for what, among := range map[string][]Indicator{
		"alone": nil, "among steady": {draw(still), draw(still)}, "among moving": {draw(moving), draw(moving)},
	} {
		_, others, _, err := scalesOf(t.Context(), among, nil)
		if err != nil {
			t.Fatal(err)
		}
		scales, _, _, err := scalesOf(t.Context(), append(among, one), nil)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := scales[len(among)], learnScales(others, nil); got != want {
			t.Errorf("%s: %+v, want %+v", what, got, want)
		}
	}
}
