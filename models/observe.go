package models

import (
	"cmp"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"sync"
)

// observing is the edition of Observe. It is raised with every change after which the same records and catalogues may
// give other observations.
const observing = 2

// ObservingRules names the rules by which observations are made: the edition of Observe, and a fingerprint of the
// catalogues. A database with observations by other rules makes them again when it is migrated.
var ObservingRules = sync.OnceValue(func() string {
	h := sha256.New()
	if err := json.NewEncoder(h).Encode([]any{indicators, counts, parts}); err != nil {
		panic(err) // they are structs of texts and lists
	}
	return fmt.Sprintf("%d-%x", observing, h.Sum(nil)[:6])
})

// Observe computes, for one player in one match, the observations of the indicators given, in their order, and the
// cells of the carries that were measured, sorted by width, speed and zone. It is pure; both bear the ids of the
// play's appearance. Records are taken as valid. A match of another team gives nothing: it counts for minutes and load
// only.
//
// What is observed:
//
//   - A log counts only when it is finished, for its kinds, in the minutes that it covers and as deep as it is.
//     Several logs complete each other: each minute of each kind is counted from one of them only, full logs before
//     core ones, then by lower id.
//   - An indicator is counted where all of the kinds of its counts are covered together. The exposure of a rate is the
//     regular minutes of the player's stints there. Without stints it is Appearance.Minutes if the whole match is
//     covered; if only a part is, there is no rate, because it is not known how much of that part the player was on
//     the pitch. Where the minutes were not recorded there is no rate either; proportions and means need no minutes.
//   - Not recorded is never no. The denominator of a proportion or mean is what was recorded. What is counted over
//     everything, as a rate is, and depends on a detail is not observed if the detail is missing on any involvement
//     that would have to be looked at. Of a detail that needs full depth, full logs are looked at only.
//   - Totals give an indicator if they have its numerator and its denominator, or the counts that stand in for the
//     denominator (Count.InTotals).
//   - Logs come first where they cover all of the player's minutes, and where they say that there was nothing to
//     observe, nothing is; then totals; then logs that cover a part. Nothing is averaged. Where logs for all of the
//     minutes and totals both gave the indicator, and numerator or denominator differ, Differs holds the numerator of
//     the totals.
//   - What is counted in the last quarter of the player's own regular time, and the gaps between involvements, need
//     stints and logs of all kinds over all of the player's minutes. A rate in the last quarter is over its minutes.
//   - Nothing rewards playing on: from a head contact on, that moment included, and while the player is stood down
//     nothing counts, see Play.Counting.
//   - After an indicator come its observations in parts of the match, from logs only; see Part.
//   - MetresOverExpected is not observed here; see Expected.
func Observe(p Play, indicators []Indicator) ([]Observation, []CarryCell) {
	if p.Match.ForOtherTeam() {
		return nil, nil
	}
	p = p.Counting()
	logs := tallyOf(&p)
	if logs == nil && p.Totals == nil {
		return nil, nil
	}
	minutes := p.Appearance.MinutesIn(p.Match)
	out := make([]Observation, 0, len(indicators))
	for n := range indicators {
		if indicators[n].Code == MetresOverExpected {
			continue
		}
		f, ok := formulaOf(&indicators[n])
		if !ok {
			continue
		}
		var logged, given figure
		if logs != nil {
			logged = logs.figure(&f, minutes, wholeOf)
		}
		if p.Totals != nil {
			given = p.Totals.Counts.figure(&f, minutes)
		}
		o := Observation{AcademyID: p.Appearance.AcademyID, PlayerID: p.Appearance.PlayerID, MatchID: p.Appearance.MatchID,
			Indicator: indicators[n].Code}
		if own, ok := o.from(logged, given); ok {
			out = append(out, own)
		}
		if logs != nil {
			out = logs.parts(out, o, &indicators[n], f)
		}
	}
	if logs == nil {
		return out, nil
	}
	slices.SortFunc(logs.cells, func(a, b CarryCell) int {
		return cmp.Or(cmp.Compare(a.Width, b.Width), cmp.Compare(a.Speed, b.Speed), cmp.Compare(a.Zone, b.Zone))
	})
	return out, logs.cells
}

// from is the observation from the source that comes first; false where neither has it.
func (o Observation) from(logged, given figure) (Observation, bool) {
	switch {
	case logged.ok && (logged.whole || !given.ok):
		o.Source, o.Numerator, o.Denominator = FromLog, logged.numerator, logged.denominator
		if given.ok && (!same(given.numerator, logged.numerator) || !same(given.denominator, logged.denominator)) {
			o.Differs = new(given.numerator)
		}
		return o, true
	case given.ok && !(logged.whole && logged.none):
		o.Source, o.Numerator, o.Denominator = FromTotals, given.numerator, given.denominator
		return o, true
	}
	return o, false
}

// same says whether two counts or sums differ only by rounding.
func same(a, b float64) bool { return math.Abs(a-b) <= 1e-9*max(1, math.Abs(a), math.Abs(b)) }

// figure is an indicator's numbers from one source.
type figure struct {
	numerator, denominator float64
	whole                  bool // for all of the player's minutes
	ok                     bool // observed at all
	none                   bool // not observed, because there was certainly nothing to divide by
}

// formula is an indicator with its counts looked up.
type formula struct {
	family      Family
	numerator   int // places in counts
	denominator int // -1: minutes
	kinds       kindSet
	depth       Depth
	stints      bool  // needs stints and all of the player's minutes
	quarter     bool  // of the last quarter of them
	complete    []int // what says how much was recorded, and must be complete
	trials      []int // what says how much of the denominator was recorded
}

// countSets holds the kinds that a log must cover for each count.
var countSets = func() []kindSet {
	out := make([]kindSet, len(counts))
	for i := range counts {
		out[i] = setOf(counts[i].watched())
	}
	return out
}()

// needs holds, for each count, the count that must be complete for it, whatever its denominator.
var needs = func() [][]int {
	out := make([][]int, len(counts))
	for i := range counts {
		if counts[i].Needs != "" {
			out[i] = []int{countNumber[counts[i].Needs]}
		}
	}
	return out
}()

// incompletes holds, for each count, the counts up its chain that say how much was recorded, itself included, the
// nearest first.
var incompletes = func() [][]int {
	out := make([][]int, len(counts))
	for i := range counts {
		for n := i; ; n = countNumber[counts[n].Of] {
			if counts[n].Recorded {
				out[i] = append(out[i], n)
			}
			if counts[n].Of == "" {
				break
			}
		}
	}
	return out
}()

// formulaOf looks up what an indicator counts. It is not ok if a count is unknown.
func formulaOf(ind *Indicator) (formula, bool) {
	num, ok := countNumber[ind.Numerator]
	if !ok {
		return formula{}, false
	}
	f := formula{family: ind.Family, numerator: num, denominator: -1, kinds: countSets[num], depth: Core,
		stints: counts[num].wholeTime(), quarter: counts[num].LastQuarter, complete: incompletes[num]}
	if ind.Family != Rate {
		den, ok := countNumber[ind.Denominator]
		if !ok {
			return formula{}, false
		}
		f.denominator = den
		f.kinds |= countSets[den]
		f.stints = f.stints || counts[den].wholeTime()
		f.complete = f.complete[:recordedBefore(num, den)]
		f.trials = incompletes[den]
	}
	f.complete = slices.Concat(f.complete, needs[num])
	if ind.Depth == Full || counts[num].Depth == Full || f.denominator >= 0 && counts[f.denominator].Depth == Full {
		f.depth = Full
	}
	return f, true
}

// recordedBefore returns how many of the counts that say how much was recorded lie between a count and one that it is
// found among, the latter left out: those are what has to be complete for a share or mean of it.
func recordedBefore(num, den int) int {
	passed := 0
	for n := num; n != den; n = countNumber[counts[n].Of] {
		if counts[n].Recorded {
			passed++
		}
		if counts[n].Of == "" {
			break
		}
	}
	return passed
}

// figure forms an indicator from the pieces that cover it.
func (t *tally) figure(f *formula, minutes float64, part int) figure {
	var num, den float64
	absent, unknown := 0.0, 0.0
	regular, played, covered := 0, 0, false
	for n := range t.pieces {
		p := &t.pieces[n]
		if p.covers(f.depth)&f.kinds != f.kinds {
			continue
		}
		covered = true
		regular += p.regular
		played += p.played
		counted := p.of(part)
		num += counted[f.numerator]
		if f.denominator >= 0 {
			den += counted[f.denominator]
		}
		absent += missing(counted, f.complete)
		unknown += missing(counted, f.trials)
	}
	if !covered {
		return figure{}
	}
	whole := regular == 60*t.match.FullMatch()
	if t.played > 0 {
		whole = played == t.played
	}
	if f.stints && (!whole || t.played == 0) {
		return figure{}
	}
	if absent > 0 {
		return figure{}
	}
	if f.denominator < 0 {
		switch {
		case t.played > 0:
			den = float64(played) / 60
		case whole:
			den = minutes
		}
		if f.quarter {
			den /= quarters
		}
	}
	fig := figureOf(f, num, den, whole)
	fig.whole, fig.none = whole, !fig.ok && den == 0 && unknown == 0
	return fig
}

// missing returns how many involvements lack what some counts say was recorded.
func missing(counted []float64, recorded []int) float64 {
	n := 0.0
	for _, c := range recorded {
		n += counted[countNumber[counts[c].Of]] - counted[c]
	}
	return n
}

// figureOf is an error if there is nothing to divide by, or more successes than trials.
func figureOf(f *formula, num, den float64, whole bool) figure {
	if !Possible(num, den) || num < 0 || f.family == Proportion && num > den {
		return figure{}
	}
	return figure{numerator: num, denominator: den, whole: whole, ok: true}
}

// figure forms an indicator from totals.
func (c Counts) figure(f *formula, minutes float64) figure {
	num, ok := c[counts[f.numerator].Code]
	if !ok {
		return figure{}
	}
	for _, n := range f.complete {
		part, given := c[counts[n].Code]
		if of, ok := c.standIn(countNumber[counts[n].Of]); given && ok && part < of {
			return figure{}
		}
	}
	den := minutes
	if f.quarter {
		den /= quarters
	}
	if f.denominator >= 0 {
		if den, ok = c.standIn(f.denominator); !ok {
			return figure{}
		}
	}
	return figureOf(f, num, den, true)
}

// standIn returns a count, or the sum of the counts that stand in for it if it is not given. It is not ok if one of
// those is missing as well.
func (c Counts) standIn(n int) (float64, bool) {
	if v, ok := c[counts[n].Code]; ok {
		return v, true
	}
	if len(counts[n].InTotals) == 0 {
		return 0, false
	}
	sum := 0.0
	for _, code := range counts[n].InTotals {
		v, ok := c.standIn(countNumber[code])
		if !ok {
			return 0, false
		}
		sum += v
	}
	return sum, true
}

// Counted returns the counts that the play's logs give for all of the player's minutes, in the form of totals. A count
// is absent if the logs do not cover its kinds over all of them, or not deeply enough; nil if no count is left.
func (p Play) Counted() Counts {
	t := tallyOf(&p)
	if t == nil {
		return nil
	}
	minutes := p.Appearance.MinutesIn(p.Match)
	if p.Appearance.MinutesNotRecorded {
		minutes = float64(p.Match.FullMatch()) // any will do: a count is no rate
	}
	var out Counts
	for n := range counts {
		f := formula{family: Rate, numerator: n, denominator: -1, kinds: countSets[n], depth: counts[n].Depth,
			stints: counts[n].wholeTime(), complete: needs[n]}
		fig := t.figure(&f, minutes, wholeOf)
		if !fig.ok || !fig.whole {
			continue
		}
		if out == nil {
			out = Counts{}
		}
		out[counts[n].Code] = fig.numerator
	}
	return out
}
