package trend

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

func BenchmarkPlainFit(b *testing.B) {
	for _, c := range []struct {
		name, file, value, trials string
		family                    Family
	}{
		{"rate", "squad_season.csv", "carries", "", Rate},
		{"proportion", "squad_season.csv", "dominant", "carries", Proportion},
		{"mean", "squad_season.csv", "metres", "carries", Mean},
		{"rating", "coach_ratings.csv", "score", "", Rating},
		{"insteval", "insteval.csv.gz", "value", "", Rating},
	} {
		d := referenceData(b, c.family, c.file, c.value, c.trials)
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				plain(b, d)
			}
		})
	}
}

func BenchmarkSeasonFit(b *testing.B) {
	for _, c := range []struct {
		name, value, trials string
		family              Family
	}{{"rate", "carries", "", Rate}, {"proportion", "dominant", "carries", Proportion},
		{"mean", "metres", "carries", Mean}} {
		d := referenceData(b, c.family, "squad_season.csv", c.value, c.trials)
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Fit(d, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// A whole squad season: 40 players, 26 matches, 30 indicators, on all cores; and how it grows with the squad.
func BenchmarkFitSquad(b *testing.B) {
	var indicators []Indicator
	for i := range 30 {
		c := squadSeasons[i%3]
		indicators = append(indicators,
			Indicator{Name: fmt.Sprint(c.name, i), Data: referenceData(b, c.family, c.file, c.value, c.trials)})
	}
	for b.Loop() {
		if _, err := FitSquad(b.Context(), indicators); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSeasonFitByPlayers(b *testing.B) {
	for _, players := range []int{40, 400} {
		d, _ := simulateSquad(rand.New(rand.NewPCG(1, 1)), squadTruth{level: 0.4, slope: 0.3, theta: 12, rate: 8,
			match: 0.1}, players, 26)
		b.Run(fmt.Sprint(players), func(b *testing.B) {
			for b.Loop() {
				if _, err := Fit(d, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// A squad's season of 30 indicators with two earlier seasons of three squads each: at most two seconds on two cores.
func BenchmarkFitSquadWithEarlierSeasons(b *testing.B) {
	var indicators []Indicator
	for i := range 30 {
		c := squadSeasons[i%3]
		now := referenceData(b, c.family, c.file, c.value, c.trials)
		season := func() (d Data) { // the same season, played by three squads
			for k := range 3 {
				own := take(now, func(int) bool { return true })
				for r := range own.Player {
					if k > 0 {
						own.Player[r] += fmt.Sprint(k)
					}
					own.Match[r] += fmt.Sprint(k)
					d.Squad = append(d.Squad, fmt.Sprint(k))
				}
				d = joined(d, own)
			}
			return d
		}
		before := []Data{season(), season()}
		indicators = append(indicators, Indicator{Name: fmt.Sprint(c.name, i), Data: now, Before: before})
	}
	for b.Loop() {
		if _, err := FitSquad(b.Context(), indicators); err != nil {
			b.Fatal(err)
		}
	}
}

// joined appends rows to d.
func joined(d, more Data) Data {
	d.Family = more.Family
	d.Player, d.Match = append(d.Player, more.Player...), append(d.Match, more.Match...)
	d.Group, d.Coach = append(d.Group, more.Group...), append(d.Coach, more.Coach...)
	d.Time, d.Value = append(d.Time, more.Time...), append(d.Value, more.Value...)
	d.Difficulty, d.Home = append(d.Difficulty, more.Difficulty...), append(d.Home, more.Home...)
	d.Minutes, d.Trials = append(d.Minutes, more.Minutes...), append(d.Trials, more.Trials...)
	return d
}
