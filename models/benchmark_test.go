package models

import "testing"

// BenchmarkObserveTotals is one appearance of a file of totals.
func BenchmarkObserveTotals(b *testing.B) {
	p := wholeMatch()
	p.Totals = &MatchTotals{Source: "round 1", Counts: Counts{"carries": 8, "passes": 4, "kicks": 9, "catches": 4,
		"tackles_made": 4, "errors": 0, "ruck_arrivals": 7}}
	inds := IndicatorCatalogue()
	b.ReportAllocs()
	for b.Loop() {
		Observe(p, inds)
	}
}

// BenchmarkObserveLog is one full log of 80 involvements with nine in ten of their details.
func BenchmarkObserveLog(b *testing.B) {
	p := benchmarkPlay()
	inds := IndicatorCatalogue()
	b.ReportAllocs()
	for b.Loop() {
		Observe(p, inds)
	}
}

// BenchmarkValidateLog is the validation of the same 80 involvements.
func BenchmarkValidateLog(b *testing.B) {
	p := benchmarkPlay()
	b.ReportAllocs()
	for b.Loop() {
		for i := range p.Logs[0].Involvements {
			if err := p.Logs[0].Involvements[i].Validate(); err != nil {
				b.Fatal(err)
			}
		}
	}
}

func BenchmarkAgree(b *testing.B) {
	p := benchmarkPlay()
	b.ReportAllocs()
	for b.Loop() {
		Agree(p.Match, p.Logs[0], p.Logs[0])
	}
}

func benchmarkPlay() Play {
	d, p := newDice(6), wholeMatch(fullLog(1))
	for n := range 80 {
		p.Logs[0].Involvements = append(p.Logs[0].Involvements, d.involvement(kinds[n%len(kinds)].Code, d.clockIn(&p.Match),
			0.9))
	}
	return p
}
