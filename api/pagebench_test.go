package api_test

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"testing"
	"time"
)

// BenchmarkPages is what a reader waits for: a page of each kind of the demonstration, as the manager, a coach, a
// selector and a player come to it by links, each asked for 15 times. ms is the median of the page that takes longest,
// with its way to a reader on the same machine; the ten that take longest are listed.
func BenchmarkPages(b *testing.B) {
	a, demo := demoServed(b)
	type page struct {
		who, path string
		took      []time.Duration
	}
	var pages []*page
	readers := readersOf(b, a, demo)
	for _, who := range []string{"manager", "coach", "selector", "player"} {
		for _, path := range linkedPaths(b, a, readers[who], map[string]bool{}) {
			pages = append(pages, &page{who: who, path: path})
		}
	}
	for _, who := range []string{"manager", "coach", "selector", "player"} {
		c := a.SignIn(b, readers[who])
		for _, p := range pages {
			if p.who != who {
				continue
			}
			for range 15 {
				began := time.Now()
				if got := c.Get(p.path); got.Status != http.StatusOK {
					b.Fatalf("%s as %s: %d", p.path, who, got.Status)
				}
				p.took = append(p.took, time.Since(began))
			}
			slices.Sort(p.took)
		}
	}
	median := func(p *page) time.Duration { return p.took[len(p.took)/2] }
	slices.SortFunc(pages, func(x, y *page) int { return cmp.Compare(median(y), median(x)) })
	for _, p := range pages[:10] {
		fmt.Printf("%8.1f ms %s as %s\n", float64(median(p))/1e6, p.path, p.who)
	}
	for b.Loop() {
	}
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(float64(median(pages[0]))/1e6, "ms")
}
