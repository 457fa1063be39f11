package matchreview

import (
	"encoding/json"
	"regexp"
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
	jobs := papertest.Own{Says: regexp.MustCompile(`(\d+) involvements in the minutes watched`),
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
