package models

import (
	"encoding/json"
	"math"
	"testing"
)

// No JSON may crash validation or what is computed from it, and what passes can be observed.
func FuzzInvolvement(f *testing.F) {
	for _, seed := range []Involvement{goodCarry(), goodTackle(), did(KindMaul, clk(2, 50, 0), "effect", "held")} {
		b, err := json.Marshal(seed)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	for _, s := range []string{`{}`, `{"kind":"carry","clock":{"half":-9,"second":99999999999}}`,
		`{"kind":"tackle","clock":{"half":1,"second":1000}}`, `{"kind":"tackle","measures":{"metres":1e308}}`,
		`{"kind":"x","details":{"":""},"results":["","try","try"]}`,
		`{"note":"\u0000\ud800","video_from":-1,"video_to":1e300,"linked_to":0}`, `null`, `[]`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var i Involvement
		if json.Unmarshal(data, &i) != nil {
			return
		}
		err := i.Validate()
		p := wholeMatch(fullLog(1, i))
		placed := i.ValidateIn(p.Match, p.Appearance, p.Logs[0].Log)
		list, _ := Observe(p, indicators)
		for _, o := range list {
			if !(o.Denominator > 0) || err == nil && !(o.Numerator >= 0) || math.IsInf(o.Numerator, 0) {
				t.Errorf("%s: %+v", data, o)
			}
		}
		if err != nil || placed != nil {
			return
		}
		// A miss, a ball not touched and a penalty are none, and of what may be one of these nothing is said.
		if o := byIndicator(list)["involvements"]; o.Numerator != 0 && o.Numerator != 1 {
			t.Errorf("%s counts as %v involvements", data, o.Numerator)
		}
		if err := p.Counted().Validate(); err != nil {
			t.Errorf("%s is valid, but counts %v", data, err)
		}
	})
}

func FuzzCounts(f *testing.F) {
	for _, s := range []string{`{"carries":8,"contacts_won":3}`, `{"metres":31.5,"carries":-1}`,
		`{"tackles_made":1e308,"tackles_missed":1e308}`, `{"":0}`, `{"carries":1e-320}`, `null`, `{"CARRIES":2}`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var c Counts
		if json.Unmarshal(data, &c) != nil {
			return
		}
		err := c.Validate()
		p := wholeMatch()
		p.Totals = &MatchTotals{Counts: c}
		list, _ := Observe(p, everyIndicator())
		for _, o := range list {
			if !(o.Denominator > 0) || !(o.Numerator >= 0) || math.IsInf(o.Numerator, 0) || math.IsInf(o.Denominator, 0) {
				t.Errorf("%s (%v): %+v", data, err, o)
			}
		}
	})
}
