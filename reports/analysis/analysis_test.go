package analysis

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
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

const threeSeasons = `season,squad,match_date,player,minutes,carries,passes,tackles,note
2023-24,A,2023-09-02,a,80,9,1,2,x
2023-24,B,2023-09-02,b,80,1,4,2,x
2024-25,A,2024-09-07,a,80,9,2,3,x
2024-25,A,2024-09-14,a,80,11,1,2,x
2024-25,B,2024-09-07,b,80,2,5,1,x
2024-25,B,2024-09-14,b,80,1,6,2,x
2025-26,A,2025-09-06,a,80,6,2,4,x
2025-26,A,2025-09-06,b,80,6,4,1,x
2025-26,A,2025-09-06,c,80,6,3,2,x
2025-26,A,2025-09-13,a,80,6,2,3,x
2025-26,A,2025-09-13,b,80,6,6,2,x
2025-26,A,2025-09-13,c,80,6,4,2,x
`

func fitThree(r Request) (*Answer, error) {
	r.Family, r.Options.FullMatch = "rate", 80
	r.Roles = map[string]string{"value": "carries", "date": "match_date"}
	return Fit(strings.NewReader(threeSeasons), r)
}

// A season before ignores the squads that --where keeps, and tells equal players apart.
func TestLevelsStartFromEarlierSeasonsOfAnySquad(t *testing.T) {
	now := map[string]float64{}
	for _, earlier := range [][]string{{"season=2024-25"}, {"season=2024-25", "season=2023-24"}} {
		a, err := fitThree(Request{Where: []string{"squad=A", "season=2025-26"}, Earlier: earlier})
		if err != nil {
			t.Fatal(err)
		}
		if a.Rows != 6 {
			t.Errorf("%v: %d rows, want the 6 of the season itself", earlier, a.Rows)
		}
		for _, p := range a.Players {
			now[p.Player] = p.Now.Mean
		}
		if !(now["a"] > now["c"]*1.05 && now["b"] < now["c"]*0.95) {
			t.Errorf("%v: levels %v; a came from a higher season, b from a lower one", earlier, now)
		}
	}
}

func TestEarlierSeasonsAndLentCountsThatCannotBeAreRefused(t *testing.T) {
	for want, r := range map[string]Request{
		`earlier "season=2020-21": no row`:        {Earlier: []string{"season=2020-21"}},
		`earlier "year=2024": write column=value`: {Earlier: []string{"year=2024"}},
		"named twice": {Earlier: []string{"season=2024-25", "season=2024-25"}},
		"earlier season=2025-26: it does not begin before the season that is fitted": {
			Where: []string{"season=2024-25"}, Earlier: []string{"season=2025-26"},
		},
		"earlier season=2024-25: it does not begin before season=2023-24": {
			Where: []string{"season=2025-26"}, Earlier: []string{"season=2023-24", "season=2024-25"},
		},
		"also carries: this is the value itself": {Also: []string{"carries"}},
		"also minutes: minutes are not a count":  {Also: []string{"minutes"}},
		"also passes: the column is named twice": {Also: []string{"passes", "passes"}},
		"also all: it stands for every count":    {Also: []string{"passes", "all"}},
		`no column "kicks"`:                      {Also: []string{"kicks"}},
		"an origin, earlier seasons and other counts ne": {
			Earlier: []string{"season=2024-25"}, Options: trend.Options{Plain: true},
		},
	} {
		if _, err := fitThree(r); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
}

func TestAllCountsAreThoseWithoutARole(t *testing.T) {
	a, err := fitThree(Request{Where: []string{"season=2025-26"}, Also: []string{"all"}})
	if err != nil {
		t.Fatal(err)
	}
	named, err := fitThree(Request{Where: []string{"season=2025-26"}, Also: []string{"passes", "tackles"}})
	if err != nil {
		t.Fatal(err)
	}
	one, _ := json.Marshal(a)
	two, _ := json.Marshal(named)
	if !bytes.Equal(one, two) {
		t.Error("all is not passes and tackles")
	}
}

// All of a file's counts are lent as trend.Lend lends the other rates of a squad's season, which is what the product
// does (TestASquadsRatesAreLentAsLendSays of package trend): each standardised, three principal components where many.
func TestAllCountsAreLentAsTheProductLendsThem(t *testing.T) {
	for _, counts := range []int{4, 15} {
		random := rand.New(rand.NewPCG(6, uint64(counts)))
		header := "player,date,minutes,value"
		names := []string{}
		for c := range counts {
			names = append(names, fmt.Sprintf("n%02d", c))
		}
		lines := []string{header + "," + strings.Join(names, ",")}
		squad := make([]trend.Data, counts+1) // the value, and each count
		for p := range 9 {
			for m := range 8 {
				player, minutes := fmt.Sprintf("p%d", p), float64(50+random.IntN(30))
				line := fmt.Sprintf("%s,2025-09-%02d,%v", player, m+1, minutes)
				for k := range squad {
					value := poisson(random, 2+float64((p*(k+1))%5))
					line += fmt.Sprintf(",%v", value)
					d := &squad[k]
					d.Family = trend.Rate
					d.Player, d.Match = append(d.Player, player), append(d.Match, fmt.Sprint(m))
					d.Time = append(d.Time, float64(m))
					d.Minutes, d.Value = append(d.Minutes, minutes), append(d.Value, value)
				}
				lines = append(lines, line)
			}
		}
		tab, _, err := readTable(strings.NewReader(strings.Join(lines, "\n")), nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		r := Request{Family: "rate", Also: []string{AllCounts}, Options: trend.Options{FullMatch: 80}}
		d, err := tab.data(trend.Rate, r)
		if err != nil {
			t.Fatal(err)
		}
		learn, _, err := tab.split(d, "")
		if err != nil {
			t.Fatal(err)
		}
		got, err := tab.lend(d, learn, r)
		if err != nil {
			t.Fatal(err)
		}
		lent, err := trend.Lend(squad[1:], r.Options)
		if err != nil {
			t.Fatal(err)
		}
		want := lent.Columns(squad[0].Player)
		if columns := map[int]int{4: 4, 15: 3}[counts]; len(got) != columns || len(want) != columns {
			t.Fatalf("%d counts: %d columns by the command, %d by the product, want %d", counts, len(got), len(want), columns)
		}
		for k := range got {
			for i := range got[k] {
				if math.Abs(got[k][i]-want[k][i]) > 1e-9 {
					t.Fatalf("%d counts: row %d, column %d is %v by the command, %v by the product", counts, i, k, got[k][i],
						want[k][i])
				}
			}
		}
	}
}

// What the answer says of a file's grades is what the reference says: lme4 1.1-31, lmer(score ~ 1 + (1 | player:match)
// + (1 | coach)), and Spearman and Brown's formula from it.
func TestAFitOfGradesSaysHowFarTheyCanBeReliedOn(t *testing.T) {
	file, err := os.Open("../../testdata/reference/coach_ratings.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	r := Request{Family: "rating", Roles: map[string]string{"value": "score"}, Reliability: true}
	r.Options.FullMatch = 80
	answer, err := Fit(file, r)
	if err != nil {
		t.Fatal(err)
	}
	got := answer.Reliability
	if math.Abs(got.OneCoach-0.3728) > 0.0005 || math.Abs(got.TwoCoaches-2*0.3728/1.3728) > 0.0005 || got.Needed == nil ||
		*got.Needed != 7 || got.Graded != 527 || got.ByTwo != 435 {
		t.Errorf("%+v", got)
	}
	if !(got.Alpha95.Lo < got.Alpha && got.Alpha < got.Alpha95.Hi) {
		t.Errorf("alpha %.3f, interval %+v", got.Alpha, got.Alpha95)
	}
	var printed strings.Builder
	if err := answer.Print(&printed); err != nil {
		t.Fatal(err)
	}
	if want := "one coach's grade 0.37, of two coaches' mean 0.54; the mean of 7 would reach 0.8"; !strings.Contains(
		printed.String(), want) {
		t.Errorf("%s\nwant %s", printed.String(), want)
	}
	for _, c := range []struct{ family, rows, want string }{
		{"rate", "player,date,value\na,2026-01-01,3\n", "--reliability is for grades"},
		{"rating", "player,match,value\na,m,3\nb,m,4\na,n,4\nb,n,5\n", "want a column coach"},
		{"rating", "player,match,coach,value\na,m,x,3\nb,m,x,4\na,n,x,4\nb,n,x,5\n", "no player has grades of two coaches"},
	} {
		r := Request{Family: c.family, Reliability: true}
		r.Options.FullMatch = 80
		if _, err := Fit(strings.NewReader(c.rows), r); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %s", c.rows, err, c.want)
		}
	}
}
