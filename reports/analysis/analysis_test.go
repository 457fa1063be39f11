package analysis

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"throughline/reports/trend"
)

// A file of any content is answered, or refused with what is wrong; an answer never holds a number that is none.
func FuzzFit(f *testing.F) {
	f.Add([]byte("player,match,minutes,value\na,1,80,3\na,2,70,4\nb,1,80,1\nb,2,,2\n"), "rate")
	f.Add([]byte("player,date,opponent,trials,value\na,2025-09-06,3,5,2\nb,2025-09-13,2,4,4\n"), "proportion")
	f.Add([]byte("player,coach,t,value\na,x,1,3\na,y,2,4\nb,x,1,2\n"), "rating")
	f.Add([]byte("player,value\r\n\"a\nb\",1e999\r\n"), "mean")
	f.Add([]byte{0x1f, 0x8b, 0x08}, "rate")
	f.Fuzz(func(t *testing.T, text []byte, family string) {
		if len(text) > 4096 {
			return // a long file adds nothing but time
		}
		answer, err := Fit(bytes.NewReader(text), Request{Family: family, Options: trend.Options{FullMatch: 80}})
		if err != nil {
			return
		}
		if _, err := json.Marshal(answer); err != nil {
			t.Errorf("the answer is no JSON: %v", err)
		}
	})
}

func TestTwoValuesOfOneColumnAreNoCondition(t *testing.T) {
	_, _, err := readTable(strings.NewReader("player,squad,value\np,A,1\n"), []string{"squad=A", "squad=B"}, nil)
	if err == nil || !strings.Contains(err.Error(), `column squad cannot also be "A"`) {
		t.Errorf("got %v", err)
	}
}
