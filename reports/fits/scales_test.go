package fits

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"throughline/models"
)

// What other squads' fits say about the scales reaches a squad's own: where their players hardly change, a season's
// changes here are believed less. Nothing that stands on later matches does, and nothing made with players whom the
// reader is not shown.
func TestScalesAreLearnedOverTheAcademysSquads(t *testing.T) {
	b := squad(t)
	b.ratings = nil
	still := models.ScaleSketch{Slope: []float64{0, -1, -4, -12, -25, -50, -90, -150, -300}, Trend: 0, Variance: 1e-4,
		Share: 1}
	other := models.SquadScales{Until: "2025-09-06"}
	for range 40 {
		other.All = append(other.All, still)
	}
	width := func(hidden []int64, scales ...models.SquadScales) (w float64) {
		t.Helper()
		b.scales, b.leftOut = scales, hidden
		d, err := Read(b, 1, 1)
		if err != nil {
			t.Fatal(err)
		}
		if len(hidden) > 0 {
			d = d.visible
		}
		for key, f := range fitted(t, d) {
			if key.indicator == "carries" && f.Change != nil {
				w += f.Change.Range80.Hi - f.Change.Range80.Lo
			}
		}
		return w
	}
	alone, pooled := width(nil), width(nil, other)
	if !(pooled < 0.8*alone) {
		t.Errorf("changes are %v wide with 40 still indicators elsewhere, %v without", pooled, alone)
	}
	later := other
	later.Until = "2026-12-01"
	if w := width(nil, later); math.Abs(w-alone) > 1e-9 {
		t.Errorf("what stands on later matches moves the width from %v to %v", alone, w)
	}
	hidden := []int64{b.players[0].ID}
	if w := width(hidden, other); math.Abs(w-width(hidden)) > 1e-9 {
		t.Error("fits for selectors learn from fits to players whom they are not shown")
	}
}

// A squad's fits keep what they say, without a player's name, until the last day with figures.
func TestFitsKeepWhatTheySayOfTheScales(t *testing.T) {
	b := squad(t)
	fixture := b.matches[0]
	fixture.ID, fixture.Date = 999, "2026-05-01"
	b.matches = append(b.matches, fixture)
	b.leftOut = []int64{b.players[0].ID}
	d, err := Read(b, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	if d.Settled().Scales != nil {
		t.Error("scales before a fit")
	}
	if _, err := d.Fit(t.Context()); err != nil {
		t.Fatal(err)
	}
	score, err := d.Score(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	s := score.Scales
	last := slices.MaxFunc(b.matches[:len(b.matches)-1], func(a, b models.Match) int {
		return slices.Compare([]byte(a.Date), []byte(b.Date))
	}).Date
	if s == nil || len(s.All) != len(d.subjects) || s.Until != last {
		t.Fatalf("kept %+v, want %d sketches until %s", s, len(d.subjects), last)
	}
	all, err1 := json.Marshal(s.All)
	shown, err2 := json.Marshal(s.Shown)
	if err1 != nil || err2 != nil || string(all) == string(shown) {
		t.Errorf("selectors' scales are those with everybody, %v, %v", err1, err2)
	}
	if len(all) > 100*len(s.All)*4 {
		t.Errorf("%d bytes for %d indicators", len(all), len(s.All))
	}
}
