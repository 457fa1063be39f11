package trend

import (
	"compress/gzip"
	"encoding/csv"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
)

// near fails unless got is within tol of want, relative to want where that is larger than 1.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*max(1, math.Abs(want))) {
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

// table reads a reference file: rows of named cells.
func table(tb testing.TB, name string) []map[string]string {
	tb.Helper()
	f, err := os.Open("../../testdata/reference/" + name)
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	var r io.Reader = f
	if strings.HasSuffix(name, ".gz") {
		if r, err = gzip.NewReader(f); err != nil {
			tb.Fatal(err)
		}
	}
	rows, err := csv.NewReader(r).ReadAll()
	if err != nil {
		tb.Fatal(err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, c := range row {
			m[rows[0][i]] = c
		}
		out = append(out, m)
	}
	return out
}

func number(tb testing.TB, s string) float64 {
	tb.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		tb.Fatal(err)
	}
	return v
}

// squadSeason groups the matches of squad_season.csv by player, players in the order of their names.
func squadSeason(tb testing.TB, numerator, denominator string) [][]Match {
	at := map[string]int{}
	var out [][]Match
	rows := table(tb, "squad_season.csv")
	for i := range 40 {
		at["p"+strconv.Itoa(101 + i)[1:]] = i
		out = append(out, nil)
	}
	for _, r := range rows {
		i := at[r["player"]]
		out[i] = append(out[i], Match{number(tb, r[numerator]), number(tb, r[denominator])})
	}
	return out
}

// contactSquad groups one squad's matches of contact_season_totals.csv.gz by player.
func contactSquad(tb testing.TB, squad, count string) (names []string, players [][]Match) {
	at := map[string]int{}
	for _, r := range table(tb, "contact_season_totals.csv.gz") {
		if r["squad"] != squad {
			continue
		}
		i, ok := at[r["player"]]
		if !ok {
			i = len(players)
			at[r["player"]] = i
			names, players = append(names, r["player"]), append(players, nil)
		}
		players[i] = append(players[i], Match{number(tb, r[count]), number(tb, r["minutes"]) / 80})
	}
	return names, players
}

func totals(f Family, players [][]Match) []Match {
	var out []Match
	for _, ms := range players {
		if t, n := sum(f, ms); n > 0 {
			out = append(out, t)
		}
	}
	return out
}

// day counts days since the epoch.
func day(tb testing.TB, date string) int {
	tb.Helper()
	d, err := time.Parse(time.DateOnly, date)
	if err != nil {
		tb.Fatal(err)
	}
	return int(d.Unix() / 86400)
}
