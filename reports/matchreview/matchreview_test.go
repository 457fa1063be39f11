package matchreview

import (
	"encoding/json"
	"regexp"
	"slices"
	"strings"
	"testing"

	"throughline/models"
	"throughline/reports/evidence"
	"throughline/reports/paper/papertest"
)

// Every choice of every detail that decides has an effect, and every kind has words for what to keep and to work on.
func TestEveryDecidingChoiceHasAnEffectAndEveryKindItsWords(t *testing.T) {
	for _, k := range models.Kinds() {
		d, known := models.DetailOf(k.Code, deciding(k.Code))
		if !known || d.Depth != models.Core {
			t.Errorf("%s: what decides is %q, which is no core detail of it", k.Code, deciding(k.Code))
		}
		for _, o := range d.Options {
			if effects[o.Code] == "" {
				t.Errorf("%s, %s: no effect", k.Code, o.Code)
			}
		}
		if s := subjects[k.Code]; !strings.Contains(s.keep, "%s") || !strings.Contains(s.work, "%s") {
			t.Errorf("%s has no words for what to keep or to work on", k.Code)
		}
	}
}

// review is a review with so many jobs gained, neither and lost of a kind.
func review(kind models.Kind, gained, even, lost int) *Report {
	r := &Report{Player: evidence.Person{KnownAs: "Tam"}, Basis: WholeLog, Cover: Cover{Minutes: 60, Watched: 60}}
	for e, n := range map[Effect]int{Gained: gained, Even: even, Lost: lost} {
		for range n {
			r.Jobs = append(r.Jobs, Job{Kind: kind, Effect: e})
		}
	}
	r.tally()
	r.choose()
	return r
}

func TestLinesToKeepAndToWorkOnNeedEnoughToStandOn(t *testing.T) {
	for about, c := range map[string]struct {
		gained, even, lost int
		keep, work         string
	}{
		"too few":               {3, 0, 0, "", ""},
		"enough, nearly all":    {5, 1, 1, "Tackling: 5 of 7 tackles won.", ""},
		"all":                   {4, 0, 0, "Tackling: all 4 tackles won.", ""},
		"neither good nor poor": {3, 2, 1, "", ""},
		"many lost":             {1, 2, 3, "", "Tackling: 3 of 6 tackles lost or missed."},
	} {
		r := review(models.KindTackle, c.gained, c.even, c.lost)
		said := func(all []Line) string {
			if len(all) == 0 {
				return ""
			}
			return all[0].Text
		}
		if keep, work := said(r.Keep), said(r.WorkOn); keep != c.keep || work != c.work {
			t.Errorf("%s: keep %q, work on %q; want %q and %q", about, keep, work, c.keep, c.work)
		}
	}
}

// A share that is good for contacts is not for passes, which usually succeed.
func TestWhatUsuallySucceedsHasALimitOfItsOwn(t *testing.T) {
	if r := review(models.KindPass, 8, 2, 0); len(r.Keep) != 0 || len(r.WorkOn) != 0 {
		t.Errorf("8 of 10 passes accurate: keep %v, work on %v; want neither", r.Keep, r.WorkOn)
	}
	if r := review(models.KindPass, 7, 0, 3); len(r.WorkOn) != 1 || r.WorkOn[0].Text != "Passing: 3 of 10 passes lost." {
		t.Errorf("3 of 10 passes lost: work on %v", r.WorkOn)
	}
}

// Totals have no clock, but they have shares. A count that is not recorded is no zero, and says nothing.
func TestTotalsAloneGiveLinesToo(t *testing.T) {
	texts := func(all []Line) (texts []string) {
		for _, l := range all {
			texts = append(texts, l.Text)
		}
		return texts
	}
	for about, c := range map[string]struct {
		counts     map[string]float64
		keep, work []string
	}{
		"most tackles made": {map[string]float64{"tackles_made": 9, "tackles_missed": 1},
			[]string{"Tackling: 9 of 10 tackles made."}, nil},
		"a quarter missed": {map[string]float64{"tackles_made": 6, "tackles_missed": 2}, nil,
			[]string{"Tackling: 2 of 8 tackles missed."}},
		"misses not recorded": {map[string]float64{"tackles_made": 9}, nil, nil},
		"too few contacts":    {map[string]float64{"contacts": 3, "contacts_won": 3}, nil, nil},
		"one error, one try": {map[string]float64{"errors": 1, "tries": 1, "contacts": 5, "contacts_won": 5},
			[]string{"1 try.", "Contact: all 5 contacts won."}, nil},
		"two penalties": {map[string]float64{"penalties_conceded": 2}, nil, []string{"2 penalties conceded."}},
	} {
		r := &Report{Basis: OnTotals}
		for code, v := range c.counts {
			r.Counts = append(r.Counts, Count{Code: code, Value: v})
		}
		r.choose()
		if keep, work := texts(r.Keep), texts(r.WorkOn); !slices.Equal(keep, c.keep) || !slices.Equal(work, c.work) {
			t.Errorf("%s: keep %q, work on %q; want %q and %q", about, keep, work, c.keep, c.work)
		}
	}
	for _, l := range slices.Concat(totalsKeep, totalsWork) {
		for _, code := range append(l.of, l.count) {
			if _, known := models.CountOf(code); !known {
				t.Errorf("%q stands on %q, which no totals count", l.words, code)
			}
		}
	}
	for result, code := range resultCounts {
		if c, known := models.CountOf(code); !known || result == "" {
			t.Errorf("%s is counted as %+v", result, c)
		}
	}
}

// What is said of a part names the part: minutes, kinds or both. So does the note that a coach begins from.
func TestNothingOfAPartOfALogIsSaidOfTheMatch(t *testing.T) {
	r := review(models.KindTackle, 6, 0, 0)
	r.Basis = PartLog
	for _, c := range []struct {
		cover Cover
		want  string
	}{
		{Cover{Minutes: 70, Watched: 20, Share: 0.29}, "in the minutes watched"},
		{Cover{Minutes: 70, Watched: 70, Share: 1, Unwatched: []string{"maul"}}, "of the kinds watched"},
		{Cover{Minutes: 70, Watched: 20, Share: 0.29, Unwatched: []string{"maul"}}, "of what was watched"},
		{Cover{Minutes: 70, Watched: 70, Share: 1}, "of what was watched"},
		{Cover{Minutes: 70, Watched: 35}, "in the minutes watched"},
	} {
		r.Cover = c.cover
		for what, words := range map[string]string{"how it went": r.effectWords(), "a caption": r.tables()[0].Caption,
			"the note": r.Proposal(), "where lines come from": r.proposedFrom()} {
			if !strings.Contains(words, c.want) {
				t.Errorf("%+v: %s is %q; want %q in it", c.cover, what, words, c.want)
			}
		}
	}
	if got := r.basisWords(); !strings.Contains(got, "It is not recorded when Tam was on the pitch") {
		t.Errorf("without the times on the pitch: %q", got)
	}
	r.Cover = Cover{Minutes: 70, Watched: 70, Share: 1}
	if got := r.basisWords(); !strings.Contains(got, "not every kind of involvement all of the time") ||
		strings.Contains(got, "not recorded when") {
		t.Errorf("with other kinds at other times: %q", got)
	}
	r.Basis = WholeLog
	if got := r.effectWords() + r.Proposal() + r.tables()[0].Caption; strings.Contains(got, "watched") {
		t.Errorf("of a whole log: %q", got)
	}
}

// Counts of one table from two sources say which is which: totals count all minutes, a log of a part those watched.
func TestSharesSayWhereTheyAreFrom(t *testing.T) {
	logged := ShareLine{"Carries", 3, 30, 0.1, models.FromLog}
	counted := ShareLine{"Errors", 1, 7, 1. / 7, models.FromTotals}
	for _, c := range []struct {
		basis   Basis
		all     []ShareLine
		columns int
		want    string
	}{
		{PartLog, []ShareLine{logged, counted}, 5, "from totals of all minutes on the pitch"},
		{PartLog, []ShareLine{logged}, 4, "in the minutes watched"},
		{WholeLog, []ShareLine{logged}, 4, "in the minutes on the pitch"},
		{OnTotals, []ShareLine{counted}, 4, "in the minutes on the pitch"},
	} {
		r := Report{Basis: c.basis, Shares: c.all, Cover: Cover{Minutes: 70, Watched: 20, Share: 0.3}}
		if got := r.shareTable(); len(got.Columns) != c.columns || len(got.Rows[0]) != c.columns ||
			!strings.Contains(got.Caption, c.want) {
			t.Errorf("%s: %d columns, %q; want %d, %q", c.basis, len(got.Columns), got.Caption, c.columns, c.want)
		}
	}
}

func TestTheFirstAndLastQuarterDifferOnlyWhereChanceDoesNotExplainIt(t *testing.T) {
	for _, c := range []struct {
		first, last int
		minutes     float64
		want        string
	}{
		{22, 32, 17.5, "no clear difference"}, // 10 apart, 2·√54 = 14.7
		{20, 6, 17.5, "clearly fewer late on"},
		{5, 20, 17.5, "clearly more late on"},
		{20, 6, 3, ""}, // too short
	} {
		r := review(models.KindPass, c.first+c.last, 0, 0)
		r.Work.Quarters = []Quarter{{Quarter: 1, Jobs: c.first, Minutes: c.minutes}, {}, {}, {Quarter: 4, Jobs: c.last}}
		if got := r.quarterWords(); c.want == "" && got != "" || !strings.Contains(got, c.want) {
			t.Errorf("%d and %d: %q; want %q", c.first, c.last, got, c.want)
		}
	}
}

// A log of a part says so first, and what little there is is not worded as much.
func TestTheFirstSentenceSaysWhatTheReviewStandsOn(t *testing.T) {
	r := review(models.KindPass, 2, 0, 0)
	for _, c := range []struct {
		basis Basis
		cover Cover
		want  string
	}{
		{PartLog, Cover{Minutes: 70, Watched: 35, Share: 0.5}, "Tam played 70 minutes. A log covers 35 of them, 50%. " +
			"What follows is about those minutes alone."},
		{PartLog, Cover{Minutes: 70, Watched: 70, Share: 1, Unwatched: []string{"scrum", "maul"}}, "Tam played 70 minutes. " +
			"A log covers some kinds of involvement only. It has no scrum or maul, so their absence says nothing."},
		{OnTotals, Cover{Minutes: 70}, "There are totals and no log"},
		{Bare, Cover{}, "The minutes are not recorded. There is no log"},
		{Absent, Cover{}, "Tam has no minutes in this match."},
	} {
		r.Basis, r.Cover = c.basis, c.cover
		if got := r.basisWords(); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q; want %q", c.basis, got, c.want)
		}
	}
	r.away = true
	if got := r.basisWords(); got != "Tam has no minutes in this match, and was not available on the day." {
		t.Errorf("away: %q", got)
	}
	if got := r.effectWords(); got != "2 involvements. That is too few to say how it went." {
		t.Errorf("two involvements: %q", got)
	}
}

// Every number of the example's sheet stands in its JSON, and the player's edition has no level of a trend.
func TestTheSheetSaysWhatTheJSONSays(t *testing.T) {
	page, err := NewPage()
	if err != nil {
		t.Fatal(err)
	}
	r := example()
	sheet, err := page.Sheet(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	asJSON, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	jobs := papertest.Own{Says: regexp.MustCompile(`(\d+) involvements of what was watched`),
		Values: func(map[string]any) []float64 { return []float64{float64(len(r.Jobs))} }}
	for _, odd := range papertest.UnknownNumbers(t, asJSON, string(sheet.Body), jobs) {
		t.Error(odd)
	}
	if !strings.Contains(string(sheet.Body), "Level then") {
		t.Error("the staff's edition has no levels")
	}
	r.Edition = PlayerEdition
	if sheet, err = page.Sheet(t.Context(), r); err != nil || strings.Contains(string(sheet.Body), "Level then") {
		t.Errorf("the player's edition has levels of the trend: %v", err)
	}
}

// Worked by hand: gaps of 15, 10 and 30 seconds have the median 15. The first three jobs follow each other within 20
// seconds; the tackle at 00:35 does not count as followed, because its next job came after 30.
func TestTheWorkBetweenJobsIsCountedAsByHand(t *testing.T) {
	job := func(second int, kind models.Kind, effect Effect, gap int, details map[string]string) Job {
		j := Job{Clock: models.Clock{Half: 1, Second: second}, Kind: kind, Label: kind.Label(), Effect: effect,
			Possession: new(1), of: models.Involvement{Details: details, Measures: map[string]float64{}}}
		if gap > 0 {
			j.Gap = &gap
		}
		return j
	}
	r := &Report{Basis: PartLog, Jobs: []Job{
		job(10, models.KindTackle, Gained, 15, nil),
		job(25, models.KindReposition, Gained, 10, map[string]string{"in_place": "yes"}),
		job(35, models.KindTackle, Gained, 30, nil),
		job(65, models.KindCarry, Gained, 0, map[string]string{"contact": "won", "zone": "own_22", "width": "close"}),
		job(300, models.KindCarry, Lost, 0, map[string]string{"contact": "lost", "zone": "own_22", "width": "close"}),
		job(310, models.KindAttackRuck, Gained, 0, map[string]string{"arrival": "first"}),
		job(400, models.KindAttackRuck, Even, 0, nil),
	}}
	r.Jobs[3].of.Measures["metres"] = 6
	r.between(&models.Watched{})
	r.possessions()
	r.carries()
	r.arrivals()
	w := r.Work
	if w.Gaps != 3 || *w.MedianGap != 15 || *w.LongestGap != 30 || w.LongestFrom.Second != 35 {
		t.Errorf("the gaps are %+v", w)
	}
	if w.PlacesOwed != 1 || w.PlacesTaken != 1 || w.TacklesTimed != 1 || w.TacklesNext != 1 {
		t.Errorf("places and tackles are %+v", w)
	}
	if w.ChainsOfThree != 1 || w.Chains[0].Jobs != 3 || w.Chains[0].To.Second != 35 || len(w.Quarters) != 0 {
		t.Errorf("the chains are %+v, the quarters %+v; want one chain, and no quarter of a part of a log", w.Chains,
			w.Quarters)
	}
	if len(r.Possessions) != 1 || len(r.Possessions[0].Jobs) != 7 {
		t.Errorf("the possessions are %+v", r.Possessions)
	}
	if len(r.Carries) != 1 || r.Carries[0].Carries != 2 || r.Carries[0].Gained != 1 || r.Carries[0].Measured != 1 ||
		r.Carries[0].Metres != 6 {
		t.Errorf("the carries are %+v", r.Carries)
	}
	if len(r.Arrivals) != 1 || r.Arrivals[0].First != 1 || r.Arrivals[0].NotRecorded != 1 || r.Arrivals[0].Gained != 1 {
		t.Errorf("the arrivals are %+v", r.Arrivals)
	}
}
