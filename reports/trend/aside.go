package trend

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

const (
	asideTail  = 1e-6 // a row with less than this share further out on its side is set aside
	asideShare = 0.05 // of the rows, at most: where more are far out, it is the model that does not fit
	asideTimes = 3    // fits at most, because a row may hide another
)

// fitAside is a season fit that a slip of the pen does not move. A row that the others leave a share below a millionth
// (asideTail) is set aside: levels are fitted without it, and it stays among the player's odd matches, marked, for
// staff to check. Ten thousand rows of a season hold one such row by chance in a hundred seasons.
func fitAside(d Data, o Options) (Result, error) {
	r, err := fitSeason(d, o, nil)
	if err != nil {
		return r, err
	}
	kept := everyRow(d)
	var aside []OddMatch
	for range asideTimes {
		far := r.far(mostAside(d) - len(aside))
		if len(far) == 0 {
			break
		}
		for i := range far {
			far[i].Row = kept[far[i].Row]
		}
		aside = append(aside, far...)
		kept = slices.DeleteFunc(kept, func(i int) bool {
			return slices.ContainsFunc(aside, func(m OddMatch) bool { return m.Row == i })
		})
		if r, err = fitSeason(d.Rows(kept), o, nil); err != nil {
			return r, err
		}
	}
	if len(aside) > 0 {
		r.setAside(d, kept, aside)
	}
	r.noteLeftOut(d)
	return r, nil
}

func everyRow(d Data) []int {
	rows := make([]int, len(d.Value))
	for i := range rows {
		rows[i] = i
	}
	return rows
}

// mostAside is how many rows may be set aside.
func mostAside(d Data) int { return int(asideShare*float64(len(d.Value)) + 1) }

// far are the odd matches that are to be set aside, the furthest out first, most at most.
func (r *Result) far(most int) []OddMatch {
	var far []OddMatch
	for i := range r.Players {
		for _, m := range r.Players[i].Odd {
			if m.Tail < asideTail {
				far = append(far, m)
			}
		}
	}
	slices.SortStableFunc(far, func(a, b OddMatch) int { return cmp.Compare(a.Tail, b.Tail) })
	return far[:max(min(most, len(far)), 0)]
}

// setAside puts the rows that were set aside back among the odd matches, and numbers all rows as the data do. What was
// expected of a row is what the fit without it expects: a slip among few rows draws the fit with it towards itself. A
// player with nothing else has no level.
func (r *Result) setAside(d Data, kept []int, aside []OddMatch) {
	at := map[string]int{}
	for i := range r.Players {
		p := &r.Players[i]
		at[p.Name] = i
		for k := range p.Odd {
			p.Odd[k].Row = kept[p.Odd[k].Row]
		}
	}
	for _, rows := range r.apart {
		for k := range rows {
			rows[k].row = kept[rows[k].row]
		}
	}
	r.asides = map[string][]Expectation{}
	for k, m := range aside {
		name := d.Player[m.Row]
		if one, known := r.season.expects(d, m.Row); known {
			m.Expected = one.mean()
			r.asides[name] = append(r.asides[name], expectation(m.Row, one, r.season.opponent(d, m.Row)))
		}
		aside[k] = m
		i, ok := at[name]
		if !ok {
			i = len(r.Players)
			at[name] = i
			r.Players = append(r.Players, newPlayer(name))
			r.Players[i].Note = "the only figures are far out of the ordinary"
		}
		m.Aside = true
		p := &r.Players[i]
		p.Odd = append(p.Odd, m)
		slices.SortFunc(p.Odd, func(a, b OddMatch) int { return cmp.Compare(a.Row, b.Row) })
	}
	r.Notes = append(r.Notes, farOut(len(aside), d.Player[aside[0].Row], aside[0]))
}

// expects is what a season expects of a row; false if it does not know the player.
func (s *season) expects(d Data, row int) (one predictive, known bool) {
	if s == nil {
		return one, false
	}
	j, known := s.player[d.Player[row]]
	if !known {
		return one, false
	}
	return s.occasion(d, row, j), true
}

// farOut asks to check rows that were set aside.
func farOut(rows int, player string, first OddMatch) string {
	which := fmt.Sprintf("%d rows are so far out that levels leave them out: check them, beginning with", rows)
	if rows == 1 {
		which = "1 row is so far out that levels leave it out: check it,"
	}
	return fmt.Sprintf("%s %s: %.7g where %.3g was expected", which, player, first.Value, first.Expected)
}

// noteLeftOut says how many rows have no opportunity and so no part in the fit.
func (r *Result) noteLeftOut(d Data) {
	left := 0
	for i := range d.Value {
		if !d.HasOpportunity(i) {
			left++
		}
	}
	if left > 0 {
		r.Notes = append(r.Notes, fmt.Sprintf("%d of %d rows have no %s and are left out", left, len(d.Value),
			d.opportunity()))
	}
}

// Rows are some rows of the data, in their order.
func (d Data) Rows(rows []int) Data {
	out := d
	out.Player, out.Match, out.Coach = pickRows(d.Player, rows), pickRows(d.Match, rows), pickRows(d.Coach, rows)
	out.Group, out.Squad = pickRows(d.Group, rows), pickRows(d.Squad, rows)
	for _, c := range []struct{ to, of *[]float64 }{
		{&out.Time, &d.Time}, {&out.Difficulty, &d.Difficulty}, {&out.Home, &d.Home}, {&out.Minutes, &d.Minutes},
		{&out.Opportunity, &d.Opportunity}, {&out.Trials, &d.Trials}, {&out.Value, &d.Value},
	} {
		*c.to = pickRows(*c.of, rows)
	}
	out.Role = nil
	for _, r := range d.Role {
		out.Role = append(out.Role, pickRows(r, rows))
	}
	return out
}

func pickRows[T any](column []T, rows []int) []T {
	if column == nil {
		return nil
	}
	out := make([]T, len(rows))
	for k, i := range rows {
		out[k] = column[i]
	}
	return out
}

// nothing says why data cannot tell players apart, although they have rows: no event at all, or nothing but successes.
func (d Data) nothing(rows []int) string {
	if d.Family != Rate && d.Family != Proportion {
		return ""
	}
	var value, trials float64
	for _, i := range rows {
		value += d.Value[i]
		if d.Trials != nil {
			trials += d.Trials[i]
		}
	}
	switch {
	case value == 0:
		return fmt.Sprintf("no event in %d appearances", len(rows))
	case d.Family == Proportion && value == trials:
		return fmt.Sprintf("nothing but successes in %d appearances", len(rows))
	}
	return ""
}

// saysNothing lists the players of rows that cannot tell them apart.
func saysNothing(d Data, why string, rows int) Result {
	r := tooLittle(d, why)
	r.Rows = rows
	for i := range r.Players {
		p := &r.Players[i]
		p.Note = "too little to say: " + why
		if p.Matches == 0 {
			p.Note = "no match has " + d.opportunity()
		}
	}
	return r
}

// questions are what a reader should look at before believing a season fit of the data.
func (d Data) questions(o Options, rows []int) (notes []string) {
	add := func(note string) {
		if note != "" {
			notes = append(notes, note)
		}
	}
	add(d.minutesNote(o, rows))
	add(d.timeNote(rows))
	add(d.scaleNote(rows))
	return notes
}

// remarks are what a season fit of the data cannot tell apart. There is nothing to look up in the record.
func (d Data) remarks(rows []int) (notes []string) {
	for _, note := range []string{d.coachNote(rows), d.setsNote(rows)} {
		if note != "" {
			notes = append(notes, note)
		}
	}
	return notes
}

// minutesNote questions minutes that no match lasts: more than two full ones.
func (d Data) minutesNote(o Options, rows []int) string {
	if d.Minutes == nil {
		return ""
	}
	long, longest := 0, 0.0
	for _, i := range rows {
		if d.Minutes[i] > 2*o.fullMatch() {
			long++
			longest = max(longest, d.Minutes[i])
		}
	}
	if long == 0 {
		return ""
	}
	return fmt.Sprintf("%d of %d rows have minutes longer than two full matches, up to %v, where a full match has %v: "+
		"are they seconds?", long, len(rows), longest, o.fullMatch())
}

// timeNote questions times that no season lasts. Only days tell how long they are, and only whole numbers are days.
func (d Data) timeNote(rows []int) string {
	const years = 2 * 366
	if d.Time == nil {
		return ""
	}
	times := make([]float64, 0, len(rows))
	for _, i := range rows {
		if d.Time[i] != math.Trunc(d.Time[i]) {
			return ""
		}
		times = append(times, d.Time[i])
	}
	slices.Sort(times)
	if n := len(times); n > 1 && times[n-1]-times[0] > years {
		return fmt.Sprintf("the rows span %v days, but one season is fitted at a time: is a date wrong?",
			times[n-1]-times[0])
	}
	return ""
}

// scaleNote questions a few grades off the scale of all others: with one of them, no range is kept within the scale.
func (d Data) scaleNote(rows []int) string {
	if d.Family != Rating {
		return ""
	}
	off, first := 0, 0.0
	for _, i := range rows {
		if v := d.Value[i]; v < leastGrade || v > mostGrade {
			if off == 0 {
				first = v
			}
			off++
		}
	}
	if off == 0 || float64(off) > asideShare*float64(len(rows))+1 {
		return "" // all are grades, or the scale is another
	}
	return fmt.Sprintf("grades outside %v to %v: %d of %d, the first is %v, and ranges are not kept within the scale: is "+
		"that a slip?", leastGrade, mostGrade, off, len(rows), first)
}

// coachNote says that severity cannot be told apart where no player is graded by two coaches.
func (d Data) coachNote(rows []int) string {
	if d.Coach == nil {
		return ""
	}
	by := map[string]string{}
	for _, i := range rows {
		if coach, graded := by[d.Player[i]]; graded && coach != d.Coach[i] {
			return ""
		}
		by[d.Player[i]] = d.Coach[i]
	}
	return OneCoachEach
}

// OneCoachEach is the note of a fit of grades in which no player is graded by two coaches.
const OneCoachEach = "each player is graded by one coach only: a strict coach and a weak player cannot be told apart"

// setsNote says that some players share no match, coach or anything else that both could be measured by with others.
func (d Data) setsNote(rows []int) string {
	if d.Match == nil && d.Coach == nil {
		return ""
	}
	parent := map[string]string{}
	var root func(x string) string
	root = func(x string) string {
		p, ok := parent[x]
		if !ok || p == x {
			parent[x] = x
			return x
		}
		parent[x] = root(p)
		return parent[x]
	}
	for _, i := range rows {
		player := "player " + d.Player[i]
		root(player)
		if d.Match != nil {
			parent[root("match "+d.Match[i])] = root(player)
		}
		if d.Coach != nil {
			parent[root("coach "+d.Coach[i])] = root(player)
		}
	}
	sets := map[string]map[string]bool{}
	for _, i := range rows {
		at := root("player " + d.Player[i])
		if sets[at] == nil {
			sets[at] = map[string]bool{}
		}
		sets[at][d.Player[i]] = true
	}
	several := 0
	for _, players := range sets {
		if len(players) > 1 {
			several++
		}
	}
	if several < 2 {
		return ""
	}
	shared, causes := "match", "matches"
	if d.Coach != nil {
		shared, causes = "match or coach", "matches and coaches"
	}
	if d.Match == nil {
		shared, causes = "coach", "coaches"
	}
	return fmt.Sprintf("the players fall into %d sets that share no %s, so differences between sets may come from the %s",
		len(sets), shared, causes)
}
