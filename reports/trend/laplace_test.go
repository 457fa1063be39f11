package trend

import (
	"encoding/json"
	"math"
	"testing"
	"time"
)

// The Laplace log-likelihood and its gradient at a point away from the optimum, against glmmTMB 1.1.5.
func TestLaplaceAgreesWithGlmmTMBPointwise(t *testing.T) {
	for _, c := range []struct {
		name, value, trials string
		family              Family
	}{{"rate_away", "carries", "", Rate}, {"proportion_away", "dominant", "carries", Proportion}} {
		t.Run(c.name, func(t *testing.T) {
			want := expected(t, c.name)
			d := referenceData(t, c.family, "squad_season.csv", c.value, c.trials)
			g := newDesign(d, Options{}, d.Time)
			if err := g.plainColumns(d, Options{}); err != nil {
				t.Fatal(err)
			}
			m := newLaplaceModel(g, false, nil)
			if err := json.Unmarshal(want.Fixed, &m.beta); err != nil {
				t.Fatal(err)
			}
			const corr = 0.3 // as make_reference.R sets it
			sd1, sd2 := want.SDLevel, want.SDSlope
			m.kappa = 1 / want.Dispersion
			m.lambda[0] = triangle{sd1, corr * sd2, math.Sqrt(1-corr*corr) * sd2}
			m.lambda[g.match] = triangle{want.SDMatch}
			if !m.mode() {
				t.Fatal("no mode")
			}
			if got := m.logLikelihood(); !(math.Abs(got-want.LogLik) < 1e-4) {
				t.Errorf("log-likelihood %.8f, want %.8f", got, want.LogLik)
			}
			beta, lambda := make([]float64, m.q), make([]triangle, 2)
			k := m.gradient(beta, lambda)
			// To the reference's parameters: log dispersion, log SDs, r with ρ = r/√(1+r²).
			l, p := lambda[0], m.lambda[0]
			got := append(append([]float64(nil), beta...), -k*m.kappa, l[0]*p[0], l[1]*p[1]+l[2]*p[2],
				sd2*math.Pow(1-corr*corr, 1.5)*(l[1]-l[2]*corr/math.Sqrt(1-corr*corr)), lambda[1][0]*want.SDMatch)
			norm := math.Sqrt(dot(want.Gradient, want.Gradient))
			for i, v := range want.Gradient {
				if !(math.Abs(got[i]-v) < 1e-3*norm) {
					t.Errorf("gradient %d: %.8f, want %.8f", i, got[i], v)
				}
			}
		})
	}
}

func TestLaplaceFitsAgreeWithGlmmTMB(t *testing.T) {
	for _, c := range []struct {
		name, file, value, trials, match string
		family                           Family
		limit                            bool
	}{
		{"rate", "squad_season.csv", "carries", "", "match", Rate, false},
		{"proportion", "squad_season.csv", "dominant", "carries", "match", Proportion, false},
		{"cbpp_binomial", "cbpp.csv", "value", "trials", "", Proportion, true},
		{"cbpp_betabinomial", "cbpp.csv", "value", "trials", "", Proportion, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			want := expected(t, c.name)
			d := referenceData(t, c.family, c.file, c.value, c.trials)
			start := time.Now()
			r, err := Fit(d, Options{Plain: true, Limit: c.limit})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%v, gradient %.2g", time.Since(start), r.GradientNorm)
			if !r.Converged {
				t.Errorf("not converged")
			}
			agree(t, r, want)
			if !c.limit && !(math.Abs(r.Dispersion-want.Dispersion) < 0.01*want.Dispersion) {
				t.Errorf("dispersion %.6f, want %.6f", r.Dispersion, want.Dispersion)
			}
			sd := map[string]map[string]float64{}
			if err := json.Unmarshal(want.SD, &sd); err != nil {
				t.Fatal(err)
			}
			if c.name == "cbpp_betabinomial" { // at its zero boundary: see SOURCES.md
				if !(r.SD.PlayerLevel < 0.01) {
					t.Errorf("herd SD %g, want zero", r.SD.PlayerLevel)
				}
				return
			}
			player := sd["player"]
			if player == nil {
				player = sd["herd"]
			}
			agreeSD(t, "level", r.SD.PlayerLevel, player["(Intercept)"])
			if c.match != "" {
				agreeSD(t, "slope", r.SD.PlayerSlope, player["t"])
				agreeSD(t, "match", r.SD.Match, sd["match"]["(Intercept)"])
				var corr map[string]any
				if err := json.Unmarshal(want.Corr, &corr); err != nil {
					t.Fatal(err)
				}
				near(t, "correlation", r.Corr, corr["player"].(float64), 0.01)
			}
			var modes [][]struct {
				Grp, Term       string
				CondVal, CondSD float64
			}
			if err := json.Unmarshal(want.Modes, &modes); err != nil {
				t.Fatal(err)
			}
			for f, list := range modes {
				for _, w := range list {
					if f == 1 {
						for _, m := range r.Matches {
							if m.Name == w.Grp {
								agreeMode(t, "match "+w.Grp, m.Mode, m.SD, w.CondVal, w.CondSD)
							}
						}
						continue
					}
					for _, p := range r.Players {
						switch {
						case p.Name == w.Grp && w.Term == "t":
							agreeMode(t, "slope "+w.Grp, p.SlopeMode, p.SlopeModeSD, w.CondVal, w.CondSD)
						case p.Name == w.Grp:
							agreeMode(t, "level "+w.Grp, p.LevelMode, p.LevelModeSD, w.CondVal, w.CondSD)
						}
					}
				}
			}
		})
	}
}

func agreeMode(t *testing.T, what string, mode, sd, wantMode, wantSD float64) {
	t.Helper()
	if !(math.Abs(mode-wantMode) < 0.01*wantSD) || !(math.Abs(sd-wantSD) < 0.01*wantSD) {
		t.Errorf("%s = %.6f ± %.6f, want %.6f ± %.6f", what, mode, sd, wantMode, wantSD)
	}
}
