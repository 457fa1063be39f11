package main

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"throughline/reports/analysis"
)

const reference = "../../testdata/reference/"

// fit runs the command and gives what it prints.
func fit(args ...string) (string, error) {
	var out bytes.Buffer
	cmd := (&program{out: &out, err: &out}).fit()
	cmd.SetOut(&out)
	cmd.SetErr(&out)
	cmd.SilenceUsage, cmd.SilenceErrors = true, true
	cmd.SetArgs(args)
	err := cmd.Execute()
	return out.String(), err
}

func answer(t *testing.T, args ...string) analysis.Answer {
	t.Helper()
	out, err := fit(args...)
	if err != nil {
		t.Fatal(err)
	}
	var a analysis.Answer
	if err := json.Unmarshal([]byte(out), &a); err != nil {
		t.Fatalf("%v in %s", err, out)
	}
	return a
}

// The command's own part is to read the columns right; with them right, log-likelihood, first fixed effect and rows
// are those of expected.json (lme4 1.1-31, glmmTMB 1.1.5; make_reference.R).
func TestFitReadsEveryReferenceFile(t *testing.T) {
	raw, err := os.ReadFile(reference + "expected.json")
	if err != nil {
		t.Fatal(err)
	}
	var expected map[string]struct {
		LogLik float64
		Fixed  map[string]json.RawMessage
	}
	var all map[string]json.RawMessage
	if err := json.Unmarshal(raw, &all); err != nil {
		t.Fatal(err)
	}
	delete(all, "rate_away")
	delete(all, "proportion_away")
	raw, _ = json.Marshal(all)
	if err := json.Unmarshal(raw, &expected); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		args string
		rows int
	}{
		"sleepstudy":        {"sleepstudy.csv --family mean", 180},
		"insteval":          {"insteval.csv.gz --family rating", 73421},
		"cbpp_binomial":     {"cbpp.csv --family proportion --limit", 56},
		"cbpp_betabinomial": {"cbpp.csv --family proportion", 56},
		"rate":              {"squad_season.csv --family rate --map value=carries", 630},
		"proportion":        {"squad_season.csv --family proportion --map value=dominant,trials=carries", 531},
		"mean":              {"squad_season.csv --family mean --map value=metres/carries,trials=carries", 531},
		"rating":            {"coach_ratings.csv --family rating --map value=score", 962},
	} {
		a := answer(t, append(strings.Fields(reference+c.args), "--plain")...)
		if !a.Converged || a.Rows != c.rows {
			t.Errorf("%s: converged %v, %d rows, want %d", name, a.Converged, a.Rows, c.rows)
		}
		if want := expected[name].LogLik; a.LogLikelihood == nil || !(math.Abs(*a.LogLikelihood-want) < 0.001) {
			t.Errorf("%s: log-likelihood %v, want %v", name, a.LogLikelihood, want)
		}
		var want float64
		if err := json.Unmarshal(expected[name].Fixed["(Intercept)"], &want); err != nil {
			t.Fatal(err)
		}
		if a.Fixed[0].Name != "(Intercept)" || !(math.Abs(a.Fixed[0].Estimate-want) < 0.01**a.Fixed[0].SE) {
			t.Errorf("%s: intercept %v, want %v", name, a.Fixed[0], want)
		}
		if len(a.Fixed) != len(expected[name].Fixed) {
			t.Errorf("%s: %d fixed effects, want %d", name, len(a.Fixed), len(expected[name].Fixed))
		}
	}
}

func TestFitPredictsFromAnOrigin(t *testing.T) {
	args := []string{reference + "contact_season_totals.csv.gz", "--map", "value=carries", "--where", `squad="squad A"`,
		"--origin", "2025-11-28"}
	a := answer(t, args...)
	if len(a.Predictions) == 0 || len(a.Totals) == 0 {
		t.Fatalf("%d predictions, %d totals", len(a.Predictions), len(a.Totals))
	}
	sums := map[string]float64{}
	for _, p := range a.Predictions {
		sums[p.Player] += p.Actual
		if p.PIT < 0 || p.PIT > 1 || p.Lo80 > p.Hi80 || p.LogScoreMean == nil || p.LogScorePredictive == nil ||
			*p.LogScorePredictive >= 0 {
			t.Errorf("prediction %+v", p)
		}
		// Poisson log-probability at the mean, by its definition.
		g, _ := math.Lgamma(p.Actual + 1)
		if want := p.Actual*math.Log(p.Mean) - p.Mean - g; math.Abs(*p.LogScoreMean-want) > 1e-9 {
			t.Errorf("log score %v, want %v", *p.LogScoreMean, want)
		}
	}
	for _, p := range a.Totals {
		if p.Actual != sums[p.Player] {
			t.Errorf("total of %s: %v, want %v", p.Player, p.Actual, sums[p.Player])
		}
	}
	first, _ := fit(args...)
	second, _ := fit(args...)
	if first != second {
		t.Error("two runs differ")
	}
	also := answer(t, append(args, "--also", "passes,errors")...)
	if len(also.Fixed) != len(a.Fixed)+2 {
		t.Errorf("%d fixed effects with two other counts, %d without", len(also.Fixed), len(a.Fixed))
	}
}

func TestFitTakesADateForAnOriginEvenWhereTTellsTheTime(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.csv")
	var b strings.Builder
	b.WriteString("player,date,t,value\n")
	for _, p := range []string{"p1", "p2", "p3"} {
		for m, day := range []string{"2025-09-06", "2025-09-13", "2025-09-20", "2025-09-27", "2025-10-04"} {
			fmt.Fprintf(&b, "%s,%s,%v,%d\n", p, day, 0.25*float64(m), 3+m)
		}
	}
	if err := os.WriteFile(path, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	byDate, byT := answer(t, path, "--origin", "2025-09-20"), answer(t, path, "--origin", "0.5")
	if byDate.Rows != 9 || len(byDate.Predictions) != 6 || len(byT.Predictions) != 6 {
		t.Errorf("%d rows and %d predictions by date, %d by t", byDate.Rows, len(byDate.Predictions), len(byT.Predictions))
	}
	for i, p := range byDate.Predictions {
		if p.Mean != byT.Predictions[i].Mean || p.Row != byT.Predictions[i].Row {
			t.Errorf("prediction %d differs", i)
		}
	}
}

func TestFitTableIsForPeople(t *testing.T) {
	out, err := fit(reference+"squad_season.csv", "--map", "value=carries", "--table")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"rate by season, 630 rows, converged", "p01", "verdict", "improving", "unclear"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in the table", want)
		}
	}
	if strings.Contains(out, "NaN") {
		t.Error("NaN in the table")
	}
}

func TestFitSaysWhatIsWrongAndWhere(t *testing.T) {
	dir := t.TempDir()
	file := func(name, content string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	plain := file("a.csv", "player,minutes,carries,home\np1,80,3,1\np2,x,4,1\n")
	for _, c := range []struct{ args, want string }{
		{plain + " --map value=carries", `line 3, column minutes: "x" is not a number`},
		{plain, "no column value"},
		{plain + " --map value=metres", "map value=metres: the columns are player, minutes"},
		{plain + " --map worth=carries", "the roles are player"},
		{plain + " --map value=carries --family ratio", "choose rate, proportion, mean or rating"},
		{plain + " --map value=carries --where squad=A", "write column=value"},
		{plain + " --map value=carries --full-match 0", "want more than 0"},
		{plain + " --map value=carries --plain --origin 3", "leave --plain out"},
		{file("b.csv", "player,t,value\np1,0,2\np1,1,-3\n"),
			"line 3, column value: -3 is not a whole number from 0 to 10 million"},
		{file("c.csv", "player,t,value,minutes\np1,0,2,0\n"),
			"line 2, column minutes: 0 is not possible with a count of 2"},
		{file("d.csv", "player,value,trials\np1,4,3\n") + " --family proportion",
			"line 2, column trials: 3 is not a whole number of at least the 4 successes"},
		{file("e.csv", "player,date,value\np1,1/2/2025,4\n"), `"1/2/2025" is not a date`},
		{file("f.csv", ""), "the file is empty"},
		{file("g.csv", "player,value\n"), "no row is left"},
		{file("h.csv", "player,t,value\np1,0,2\np1,1,3\n") + " --origin -1", "no row up to the origin"},
		{file("k.csv", "player,date,value\np1,2025-09-01,2\np1,2025-09-08,3\n") + " --origin 4", "write a date such as"},
		{file("l.csv", "player,value\np1,2\np1,3\n") + " --origin 4", "needs a date or t column"},
		{file("i.csv", "player,t,value\np1,0,2\np1,1,3\n") + " --plain", "too little to say"},
		{file("j.csv", "player,value\np1,2\np1,3,4\n"), "wrong number of fields"},
		{filepath.Join(dir, "none.csv"), "no such file"},
	} {
		_, err := fit(strings.Fields(c.args)...)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s\n gives %v\n want %s", c.args, err, c.want)
		}
	}
}

func TestFitOfLittleSaysSo(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "little.csv.gz")
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if _, err := z.Write([]byte(
		"\ufeffplayer,match,t,minutes,home,value\np1,m1,0,80,1,0\np2,m1,0,40,,0\np3,m1,0,0,1,0\n")); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	a := answer(t, path)
	if len(a.Players) != 3 || a.Rows != 2 {
		t.Fatalf("%d players of %d rows", len(a.Players), a.Rows)
	}
	for _, p := range a.Players {
		if p.Verdict != "too little to say" {
			t.Errorf("%s: %s", p.Player, p.Verdict)
		}
	}
	if a.Players[2].Now != nil || a.Players[2].Note == "" {
		t.Errorf("the player without a minute: %+v", a.Players[2])
	}
}

func TestFitSaysHowLongItTookOnlyWhenAsked(t *testing.T) {
	args := []string{reference + "sleepstudy.csv", "--family", "mean", "--plain"}
	if a := answer(t, args...); a.Seconds != nil {
		t.Error("an answer that should be the same at each run says how long it took")
	}
	if a := answer(t, append(args, "--seconds")...); a.Seconds == nil || *a.Seconds <= 0 {
		t.Errorf("asked how long it took, the answer is %v", a.Seconds)
	}
}
