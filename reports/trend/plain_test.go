package trend

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"testing"
	"time"
)

// reference is one fit of expected.json: lme4 1.1-31 and glmmTMB 1.1.5 by make_reference.R.
type reference struct {
	LogLik     float64         `json:"logLik"`
	Fixed      json.RawMessage `json:"fixed"`
	SE         json.RawMessage `json:"se"`
	SD         json.RawMessage `json:"sd"`
	Corr       json.RawMessage `json:"corr"`
	Dispersion float64         `json:"dispersion"`
	Modes      json.RawMessage `json:"modes"`
	Gradient   []float64       `json:"gradient"`
	SDLevel    float64         `json:"sd_level"`
	SDSlope    float64         `json:"sd_slope"`
	SDMatch    float64         `json:"sd_match"`
}

func expected(tb testing.TB, name string) reference {
	tb.Helper()
	b, err := os.ReadFile("../../testdata/reference/expected.json")
	if err != nil {
		tb.Fatal(err)
	}
	var all map[string]reference
	if err := json.Unmarshal(b, &all); err != nil {
		tb.Fatal(err)
	}
	return all[name]
}

// pairs reads a JSON object in its own order.
func pairs(tb testing.TB, raw json.RawMessage) (names []string, values []float64) {
	tb.Helper()
	d := json.NewDecoder(bytes.NewReader(raw))
	if _, err := d.Token(); err != nil {
		tb.Fatal(err)
	}
	for d.More() {
		k, err := d.Token()
		if err != nil {
			tb.Fatal(err)
		}
		var v float64
		if err := d.Decode(&v); err != nil {
			tb.Fatal(err)
		}
		names, values = append(names, k.(string)), append(values, v)
	}
	return names, values
}

// referenceData reads a reference file as the family's data; column names as in the file.
func referenceData(tb testing.TB, f Family, file, value, trials string) Data {
	tb.Helper()
	d := Data{Family: f}
	for _, r := range table(tb, file) {
		cell := func(c string, to *[]float64) {
			if s, ok := r[c]; ok {
				*to = append(*to, number(tb, s))
			}
		}
		text := func(c string, to *[]string) {
			if s, ok := r[c]; ok {
				*to = append(*to, s)
			}
		}
		text("player", &d.Player)
		text("match", &d.Match)
		text("coach", &d.Coach)
		if f != Rating {
			text("group", &d.Group)
		}
		cell("t", &d.Time)
		cell("opponent", &d.Difficulty)
		cell("home", &d.Home)
		if f == Rate {
			cell("minutes", &d.Minutes)
		}
		cell(value, &d.Value)
		cell(trials, &d.Trials)
	}
	if f == Mean && file == "squad_season.csv" { // metres per carry
		for i, n := range d.Trials {
			d.Value[i] /= max(n, 1)
		}
	}
	return d
}

func plain(tb testing.TB, d Data) Result {
	tb.Helper()
	r, err := Fit(d, Options{Plain: true})
	if err != nil {
		tb.Fatal(err)
	}
	if !r.Converged {
		tb.Errorf("not converged: gradient %g", r.GradientNorm)
	}
	return r
}

// agree checks log-likelihood 0.001, fixed effects 0.01 SE, standard errors 1 %.
func agree(t *testing.T, r Result, want reference) {
	t.Helper()
	if !(math.Abs(r.LogLikelihood-want.LogLik) < 0.001) {
		t.Errorf("log-likelihood %.6f, want %.6f", r.LogLikelihood, want.LogLik)
	}
	names, fixed := pairs(t, want.Fixed)
	_, se := pairs(t, want.SE)
	if len(fixed) != len(r.Fixed) {
		t.Fatalf("%d fixed effects, want %d", len(r.Fixed), len(fixed))
	}
	for i, e := range r.Fixed {
		if !(math.Abs(e.Estimate-fixed[i]) < 0.01*se[i]) {
			t.Errorf("%s (%s) = %.6f, want %.6f", e.Name, names[i], e.Estimate, fixed[i])
		}
		if !(math.Abs(e.SE-se[i]) < 0.01*se[i]) {
			t.Errorf("SE of %s = %.6f, want %.6f", e.Name, e.SE, se[i])
		}
	}
}

func agreeSD(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) < 0.005*want) {
		t.Errorf("SD of %s = %.6f, want %.6f", what, got, want)
	}
}

func TestNormalFitsAgreeWithLme4(t *testing.T) {
	for _, c := range []struct {
		name, file, value, trials string
		family                    Family
		player, match, coach      string // names of the reference's factors
		slope                     string
	}{
		{"sleepstudy", "sleepstudy.csv", "value", "", Rating, "Subject", "", "", "Days"},
		{"mean", "squad_season.csv", "metres", "carries", Mean, "player", "match", "", "t"},
		{"rating", "coach_ratings.csv", "score", "", Rating, "player", "match", "coach", "t"},
		{"insteval", "insteval.csv.gz", "value", "", Rating, "d", "", "s", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			want := expected(t, c.name)
			d := referenceData(t, c.family, c.file, c.value, c.trials)
			start := time.Now()
			r := plain(t, d)
			t.Logf("%v, gradient %.2g", time.Since(start), r.GradientNorm)
			agree(t, r, want)
			sd := map[string]float64{}
			if err := json.Unmarshal(want.SD, &sd); err != nil {
				t.Fatal(err)
			}
			agreeSD(t, "level", r.SD.PlayerLevel, sd[c.player+".(Intercept)"])
			agreeSD(t, "residual", r.SD.Residual, sd["Residual.NA"])
			if c.slope != "" {
				agreeSD(t, "slope", r.SD.PlayerSlope, sd[c.player+"."+c.slope])
				var corr float64
				if err := json.Unmarshal(want.Corr, &corr); err != nil {
					t.Fatal(err)
				}
				near(t, "correlation", r.Corr, corr, 0.01)
			}
			if c.match != "" {
				agreeSD(t, "match", r.SD.Match, sd[c.match+".(Intercept)"])
			}
			if c.coach != "" {
				agreeSD(t, "coach", r.SD.Coach, sd[c.coach+".(Intercept)"])
			}
			var modes map[string][]map[string]any
			if err := json.Unmarshal(want.Modes, &modes); err != nil {
				t.Fatal(err)
			}
			for _, m := range modes[c.player] {
				for _, p := range r.Players {
					if p.Name != m["level"] {
						continue
					}
					if !(math.Abs(p.LevelMode-m["(Intercept)"].(float64)) < 0.01*p.LevelModeSD) {
						t.Errorf("level of %s = %.6f, want %.6f", p.Name, p.LevelMode, m["(Intercept)"])
					}
					if c.slope != "" && !(math.Abs(p.SlopeMode-m[c.slope].(float64)) < 0.01*p.SlopeModeSD) {
						t.Errorf("slope of %s = %.6f, want %.6f", p.Name, p.SlopeMode, m[c.slope])
					}
				}
			}
			for _, g := range []struct {
				name string
				got  []Mode
			}{{c.match, r.Matches}, {c.coach, r.Coaches}} {
				for _, m := range modes[g.name] {
					for _, p := range g.got {
						if p.Name == m["level"] && !(math.Abs(p.Mode-m["(Intercept)"].(float64)) < 0.01*p.SD) {
							t.Errorf("%s %s = %.6f, want %.6f", g.name, p.Name, p.Mode, m["(Intercept)"])
						}
					}
				}
			}
		})
	}
}
