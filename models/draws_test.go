package models

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"
)

func TestPackedDrawsAreRoundedToA510thOfTheirWidthAndFitAQuarterOfAPage(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	d := make(Draws, DrawsKept)
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range d {
		d[i] = 40 + 3*random.NormFloat64()
		lo, hi = min(lo, d[i]), max(hi, d[i])
	}
	packed := d.Pack()
	const onPage = 1002 // SQLite keeps so much of a row without its id on a page of 4,096 bytes
	if len(packed)+90 > onPage {
		t.Errorf("%d bytes and the row's key take more than a quarter of a page", len(packed))
	}
	got := UnpackDraws(packed)
	if len(got) != len(d) {
		t.Fatalf("%d draws, want %d", len(got), len(d))
	}
	for i := range d {
		if off := math.Abs(got[i] - d[i]); off > (hi-lo)/510+1e-5 {
			t.Fatalf("draw %d is %v off", i, off)
		}
	}
	if alike := UnpackDraws(Draws{2.5, 2.5}.Pack()); len(alike) != 2 || alike[0] != 2.5 || alike[1] != 2.5 {
		t.Errorf("two that are alike: %v", alike)
	}
	if none := UnpackDraws(Draws(nil).Pack()); none != nil {
		t.Errorf("none: %v", none)
	}
}

// Evidence that an older program kept for a meeting stays readable: 1,000 draws of two bytes.
func TestDrawsPackedByAnOlderProgramAreRead(t *testing.T) {
	old := make([]byte, 16+2*1000)
	binary.LittleEndian.PutUint64(old, math.Float64bits(-1))
	binary.LittleEndian.PutUint64(old[8:], math.Float64bits(3))
	binary.LittleEndian.PutUint16(old[16+2*7:], math.MaxUint16)
	binary.LittleEndian.PutUint16(old[16+2*8:], math.MaxUint16/2)
	d := UnpackDraws(old)
	if len(d) != DrawsKept || d[0] != -1 || d[7] != 3 || math.Abs(d[8]-1) > 1e-4 {
		t.Errorf("%d draws, %v", len(d), d[:min(len(d), 9)])
	}
}
