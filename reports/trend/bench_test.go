package trend

import "testing"

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
	}{{"rate", "carries", "", Rate}, {"proportion", "dominant", "carries", Proportion}, {"mean", "metres", "carries", Mean}} {
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
