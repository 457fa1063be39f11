package trend

import (
	"math"
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
	if s := learnScales(alike); s.Alike < 3 || math.Abs(s.Slope-0.3) > 0.06 {
		t.Errorf("slopes of SD 0.3 in all: %+v", s)
	}
	if s := learnScales(still[:1]); s.Slope < 0.5*startSlope {
		t.Errorf("one fit with slopes of none: %+v", s)
	}
	if s := learnScales(still); s.Slope > 0.4*startSlope {
		t.Errorf("sixty fits with slopes of none: %+v", s)
	}
}
