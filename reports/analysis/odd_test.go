package analysis

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"throughline/reports/trend"
)

// row is a line of a file: one player in one match.
type row struct {
	player, match, group, coach string
	day                         int // of the season
	minutes, trials, value      float64
	other                       float64 // another count
}

// file is a season as an analyst keeps it.
type file []row

// drawn is a season of so many players and matches, one each week; values are as value draws them.
func drawn(players, matches int, value func(random *rand.Rand, player, match int) float64) file {
	random := rand.New(rand.NewPCG(12, 6))
	var f file
	for p := range players {
		for m := range matches {
			f = append(f, row{player: fmt.Sprintf("p%02d", p), match: fmt.Sprintf("m%02d", m),
				group: []string{"backs", "forwards"}[p%2], coach: fmt.Sprintf("c%d", (p+m)%2), day: 7 * m,
				minutes: 60 + float64(random.IntN(21)), trials: 10, value: value(random, p, m),
				other: poisson(random, 4)})
		}
	}
	return f
}

// changed is the season with something done to each row.
func (f file) changed(do func(i int, r *row)) file {
	f = slices.Clone(f)
	for i := range f {
		do(i, &f[i])
	}
	return f
}

// csv writes the columns that a family needs.
func (f file) csv(family string) string {
	text := "player,match,group,date,passes,value"
	more := map[string]string{"rate": ",minutes", "proportion": ",trials", "mean": ",trials", "rating": ",coach"}[family]
	lines := []string{text + more}
	for _, r := range f {
		day := time.Date(2025, 9, 6, 0, 0, 0, 0, time.UTC).AddDate(0, 0, r.day).Format(time.DateOnly)
		last := map[string]any{"rate": r.minutes, "proportion": r.trials, "mean": r.trials, "rating": r.coach}[family]
		lines = append(lines, fmt.Sprintf("%s,%s,%s,%s,%v,%v,%v", r.player, r.match, r.group, day, r.other, r.value, last))
	}
	return strings.ReplaceAll(strings.Join(lines, "\n"), "NaN", "NA") + "\n"
}

// poisson draws by counting arrivals.
func poisson(random *rand.Rand, mu float64) (n float64) {
	for t := random.ExpFloat64(); t < mu; t += random.ExpFloat64() {
		n++
	}
	return n
}

func fives(random *rand.Rand, _, _ int) float64 { return poisson(random, 5) }
func halves(random *rand.Rand, _, _ int) (n float64) {
	for range 10 {
		n += float64(random.IntN(2))
	}
	return n
}
func metres(random *rand.Rand, _, _ int) float64 {
	return math.Round(100*(5+random.NormFloat64())) / 100
}
func marks(random *rand.Rand, p, _ int) float64 {
	return math.Round(min(max(3+0.5*float64(p%3-1)+0.7*random.NormFloat64(), 1), 5))
}
func none(*rand.Rand, int, int) float64 { return 0 }
func all(*rand.Rand, int, int) float64  { return 10 }
func ones(*rand.Rand, int, int) float64 { return 1 }

// odd is what a careless file holds, and what must come of it: says is a part of the refusal, or of a note.
type odd struct {
	name, family string
	file         file
	request      Request
	says         string
	refused      bool
	check        func(t *testing.T, a *Answer)
}

// nothingSaid wants every player to be too little to say, with the reason and without a figure.
func nothingSaid(why string) func(t *testing.T, a *Answer) {
	return func(t *testing.T, a *Answer) {
		for _, p := range a.Players {
			if p.Verdict != trend.TooLittle || p.Now != nil || p.Change != nil || p.Next != nil || p.Standing != nil ||
				!strings.Contains(p.Note, why) {
				t.Errorf("%s: %s, now %v, next %v, note %q", p.Player, p.Verdict, p.Now, p.Next, p.Note)
			}
		}
	}
}

// levelsWithin wants every level now within a range.
func levelsWithin(lo, hi float64) func(t *testing.T, a *Answer) {
	return func(t *testing.T, a *Answer) {
		for _, p := range a.Players {
			if p.Now == nil || p.Now.Lo80 < lo || p.Now.Hi80 > hi {
				t.Errorf("%s: %+v, want within %v to %v", p.Player, p.Now, lo, hi)
			}
		}
	}
}

// setAside wants the levels within a range and the row with a value marked, once.
func setAside(value, lo, hi float64) func(t *testing.T, a *Answer) {
	return func(t *testing.T, a *Answer) {
		levelsWithin(lo, hi)(t, a)
		var aside []OddMatch
		for _, p := range a.Players {
			for _, o := range p.Odd {
				if o.SetAside {
					aside = append(aside, o)
				}
			}
		}
		if len(aside) != 1 || aside[0].Row != 34 || aside[0].Value != value {
			t.Errorf("set aside %+v, want %v of row 34", aside, value)
		}
	}
}

// expectsFive wants about five where a slip stands: what the other rows tell of it.
func expectsFive(t *testing.T, a *Answer) {
	for _, p := range a.Players {
		for _, o := range p.Odd {
			if o.SetAside && (o.Expected < 3 || o.Expected > 9) {
				t.Errorf("%s: %+v where about 5 was expected", p.Player, o)
			}
		}
	}
}

// onTheScale wants every figure of a grade from 1 to 5.
func onTheScale(t *testing.T, a *Answer) {
	for _, p := range a.Players {
		for _, e := range []*Estimate{p.Start, p.Now, p.Next} {
			if e == nil || e.Lo95 < 1 || e.Lo80 < e.Lo95 || e.Mean < e.Lo80 || e.Mean > e.Hi80 || e.Hi80 > e.Hi95 ||
				e.Hi95 > 5 {
				t.Errorf("%s: %+v is no grade", p.Player, e)
			}
		}
	}
}

// noChange wants a level, and no word on a change.
func noChange(t *testing.T, a *Answer) {
	for _, p := range a.Players {
		if p.Now == nil || p.Change != nil || p.Improved != nil || p.Verdict != trend.TooLittle {
			t.Errorf("%s: now %v, change %v, %s", p.Player, p.Now, p.Change, p.Verdict)
		}
	}
}

func noRank(t *testing.T, a *Answer) {
	for _, p := range a.Players {
		if p.Standing != nil || p.Now == nil {
			t.Errorf("%s: standing %+v, now %v", p.Player, p.Standing, p.Now)
		}
	}
}

// likeOf wants the levels of another file: what was added has no part in them.
func likeOf(of file, family string) func(t *testing.T, a *Answer) {
	return func(t *testing.T, a *Answer) {
		want, err := fitOf(of, family, Request{})
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range a.Players {
			q := want.Players[i]
			for _, e := range [][2]*Estimate{{p.Start, q.Start}, {p.Now, q.Now}, {p.Change, q.Change}, {p.Next, q.Next}} {
				if e[0] == nil || math.Abs(e[0].Mean-e[1].Mean)+math.Abs(e[0].Hi95-e[1].Hi95) > 1e-9 {
					t.Errorf("%s: %+v, want %+v", p.Player, e[0], e[1])
				}
			}
		}
	}
}

func fitOf(f file, family string, r Request) (*Answer, error) {
	r.Family, r.Options.FullMatch = family, 80
	return Fit(strings.NewReader(f.csv(family)), r)
}

func oddFiles() []odd {
	fine := drawn(12, 10, fives)
	at := func(f file, i int, value float64) file {
		return f.changed(func(k int, r *row) {
			if k == i {
				r.value = value
			}
		})
	}
	top := drawn(8, 8, marks).changed(func(_ int, r *row) {
		if r.player == "p00" || r.player == "p04" {
			r.value = 5
		}
	})
	bottom := drawn(8, 8, marks).changed(func(i int, r *row) { r.value = 1 + float64(i%7/6) })
	seconds := func(_ int, r *row) { r.minutes *= 60 }
	notYet := drawn(12, 5, fives).changed(func(_ int, r *row) {
		r.match, r.day, r.minutes, r.value = "later "+r.match, r.day+300, 0, 0
	})
	late := drawn(12, 20, halves)
	var last file
	for _, r := range late {
		if r.day >= 105 {
			last = append(last, r)
		}
	}
	clusters := drawn(12, 10, func(random *rand.Rand, p, _ int) float64 {
		return poisson(random, 5+25*float64(p/6))
	}).changed(func(i int, r *row) { r.match += fmt.Sprint(i >= 60) })
	return []odd{
		{name: "no event in 200 appearances", family: "rate", file: drawn(20, 10, none),
			says: "too little to say: no event in 200 appearances", check: nothingSaid("no event in 200 appearances")},
		{name: "no success", family: "proportion", file: drawn(12, 10, none),
			says: "too little to say: no event in 120", check: nothingSaid("no event in 120 appearances")},
		{name: "all successes", family: "proportion", file: drawn(12, 10, all), says: "nothing but successes in 120",
			check: nothingSaid("nothing but successes in 120 appearances")},
		{name: "also with the own column", family: "rate", file: fine, request: Request{Also: []string{"value"}},
			refused: true, says: "also value: this is the value itself; name counts of other indicators"},
		{name: "also with the own column under another name", family: "rate", file: fine, refused: true,
			request: Request{Also: []string{"passes"}, Roles: map[string]string{"value": "passes"}},
			says:    "also passes: this is the value itself"},
		{name: "also with minutes", family: "rate", file: fine, request: Request{Also: []string{"minutes"}},
			refused: true, says: "also minutes: minutes are not a count"},
		{name: "also with a column twice", family: "rate", file: fine, refused: true,
			request: Request{Also: []string{"passes", "passes"}}, says: "also passes: the column is named twice"},
		{name: "a 500 among fives", family: "rate", file: at(fine, 33, 500),
			says: "1 row is so far out that levels leave it out: check it, p03: 500 where", check: setAside(500, 3, 9)},
		{name: "a mean of a million", family: "mean", file: at(drawn(12, 10, metres), 33, 1e6),
			says: "check it, p03: 1000000 where", check: setAside(1e6, 4, 6)},
		{name: "grades at the upper end", family: "rating", file: top, check: onTheScale},
		{name: "grades at the lower end", family: "rating", file: bottom, check: onTheScale},
		{name: "grades of one, but for two", family: "rating", check: onTheScale, file: drawn(12, 10, ones).changed(
			func(i int, r *row) { r.value += float64(i % 60 / 59) })},
		{name: "a grade off the scale", family: "rating", file: at(drawn(12, 10, marks), 33, 0),
			says: "grades outside 1 to 5: 1 of 120, the first is 0, and ranges are not kept within the scale"},
		{name: "a slip among few rows", family: "rate", file: at(drawn(1, 6, fives), 3, 500), check: expectsFive,
			says: "1 row is so far out that levels leave it out"},
		{name: "a row without a player", family: "rate", refused: true,
			file: fine.changed(func(i int, r *row) {
				if i == 5 {
					r.player = ""
				}
			}),
			says: "line 7, column player: the cell is empty; write the player's name, or leave the row out"},
		{name: "a grade without a coach", family: "rating", refused: true,
			file: drawn(12, 10, marks).changed(func(i int, r *row) {
				if i == 5 {
					r.coach = ""
				}
			}),
			says: "line 7, column coach: the cell is empty; write the coach's name, or leave the row out"},
		{name: "minutes in seconds", family: "rate", file: fine.changed(seconds),
			says: "120 of 120 rows have minutes longer than two full matches, up to 4800, where a full match has 80: " +
				"are they seconds?"},
		{name: "minutes of one match in seconds", family: "rate", says: "12 of 120 rows have minutes longer",
			file: fine.changed(func(i int, r *row) {
				if r.match == "m04" {
					seconds(i, r)
				}
			})},
		{name: "a match twice", family: "rate", refused: true,
			file: fine.changed(func(i int, r *row) {
				if i == 5 {
					r.match = "m04"
				}
			}),
			says: `line 7, column match: player "p00" has match "m04" already; give one row for each (line 6)`},
		{name: "a day twice where no column names matches", family: "rate", refused: true,
			request: Request{Roles: map[string]string{"match": ""}},
			file: fine.changed(func(i int, r *row) {
				if i == 5 {
					r.day -= 7
				}
			}),
			says: `line 7: player "p00" has match "2025-10-04" already; give one row for each (line 6); without a column`},
		{name: "an empty cell", family: "rate", refused: true,
			file: fine.changed(func(i int, r *row) {
				if i == 5 {
					r.value = math.NaN()
				}
			}),
			says: "line 7, column value: the cell is empty; leave out rows where it was not recorded"},
		{name: "a grade by a coach twice", family: "rating", refused: true,
			file: drawn(12, 10, marks).changed(func(i int, r *row) {
				if i == 6 {
					r.match = "m04"
				}
			}),
			says: `line 8, column match: player "p00" has match "m04" by coach "c0" already; give one row for each (line 6)`},
		{name: "a grade by each of two coaches", family: "rating", check: onTheScale,
			file: drawn(12, 10, marks).changed(func(i int, r *row) { r.match = fmt.Sprintf("m%02d", i%10/2) })},
		{name: "each player graded by one coach", family: "rating", check: onTheScale,
			file: drawn(8, 8, marks).changed(func(_ int, r *row) { r.coach = "of " + r.player }),
			says: "each player is graded by one coach only: a strict coach and a weak player cannot be told apart"},
		{name: "a standing of 1 of 1", family: "rate", file: fine.changed(func(_ int, r *row) { r.group = r.player }),
			says: "no rank for 12 of 12 players: it takes 5 others in the group", check: noRank},
		{name: "one match", family: "rate", file: drawn(12, 1, fives), says: "changes are not judged", check: noChange},
		{name: "one player", family: "rate", file: drawn(1, 10, fives), says: "changes are not judged", check: noRank},
		{name: "two players", family: "rate", file: drawn(2, 10, fives), says: "no rank for 2 of 2 players", check: noRank},
		{name: "one row", family: "rate", file: drawn(1, 1, fives), says: "changes are not judged", check: noChange},
		{name: "one row of a mean", family: "mean", file: drawn(1, 1, metres), says: "the values do not vary",
			check: nothingSaid("the values do not vary")},
		{name: "counts in millions", family: "rate", check: levelsWithin(2e6, 6e6),
			file: drawn(12, 10, func(random *rand.Rand, _, _ int) float64 {
				return 3e6 + math.Round(1e5*random.NormFloat64())
			})},
		{name: "counts in tens of millions", family: "rate", refused: true,
			file: drawn(12, 10, func(*rand.Rand, int, int) float64 { return 3e7 }),
			says: "line 2, column value: 3e+07 is not a whole number from 0 to 10 million"},
		{name: "a gap of 5,000 days", family: "rate", check: levelsWithin(3, 10),
			file: fine.changed(func(i int, r *row) {
				if i%10 == 9 {
					r.day += 5000
				}
			}),
			says: "the rows span 5063 days, but one season is fitted at a time: is a date wrong?"},
		{name: "one date for all", family: "rate", file: fine.changed(func(_ int, r *row) { r.day = 0 }),
			says: "changes are not judged", check: noChange},
		{name: "two clusters of players", family: "rate", file: clusters,
			says: "the players fall into 2 sets that share no match, so differences between sets may come from the matches"},
		{name: "recorded in the last five of twenty matches", family: "proportion", check: likeOf(last, "proportion"),
			file: late.changed(func(_ int, r *row) {
				if r.day < 105 {
					r.trials, r.value = 0, 0
				}
			}),
			says: "180 of 240 rows have no trials and are left out"},
		{name: "fixtures not yet played", family: "rate", file: append(slices.Clone(fine), notYet...),
			says: "60 of 180 rows have no minutes and are left out", check: likeOf(fine, "rate")},
	}
}

// Each odd input is refused with what is wrong and where, or answered with a note and figures that can be.
func TestOddFilesAreRefusedOrAnsweredWithANote(t *testing.T) {
	for _, c := range oddFiles() {
		t.Run(c.name, func(t *testing.T) {
			a, err := fitOf(c.file, c.family, c.request)
			if err != nil {
				if !c.refused || !strings.Contains(err.Error(), c.says) {
					t.Errorf("refused with %q, want %q", err, c.says)
				}
				return
			}
			if said := strings.Join(a.Notes, "; "); c.refused || !strings.Contains(said, c.says) {
				t.Errorf("answered with %q, want %q (a refusal: %v)", said, c.says, c.refused)
			}
			if _, err := json.Marshal(a); err != nil {
				t.Error(err)
			}
			for _, p := range a.Players {
				if s := p.Standing; s != nil && (s.Of < 6 || s.Lo80 < 1 || s.Lo80 > s.Hi80 || s.Hi80 > float64(s.Of)) {
					t.Errorf("%s: standing %+v", p.Player, *s)
				}
			}
			if c.check != nil {
				c.check(t, a)
			}
		})
	}
}
