package store

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"throughline/models"
)

// Observations returns observations by the date of the match, then match, player and indicator. None is ever
// written by hand: they follow from what is recorded, in the transaction that records it.
func (tx *Tx) Observations(f models.ObservationFilter) ([]models.Observation, error) {
	const order = "indicator"
	if part := tx.turn(); part != nil {
		all, err := observedPage[models.Observation](tx, "observations", order, f, part)
		for _, o := range all {
			tx.saw("observation", o.PlayerID)
		}
		return all, err
	}
	all := []models.Observation{}
	codes := codes{}
	o := models.Observation{AcademyID: tx.who.AcademyID}
	err := tx.observed("observations", "indicator, numerator, denominator, source, differs", order, f,
		[]any{&o.PlayerID, &o.MatchID, &o.Indicator, &o.Numerator, &o.Denominator, &o.Source, &o.Differs}, func() {
			if !models.Possible(o.Numerator, o.Denominator) {
				return
			}
			o.Indicator, o.Source = codes.once(o.Indicator), models.Source(codes.once(string(o.Source)))
			all = append(all, o)
			tx.saw("observation", o.PlayerID)
		})
	return all, err
}

// CarryCells returns the cells of measured carries by the date of the match, then match, player, width, speed
// and zone.
func (tx *Tx) CarryCells(f models.ObservationFilter) ([]models.CarryCell, error) {
	const order = "width, speed, zone"
	if part := tx.turn(); part != nil {
		all, err := observedPage[models.CarryCell](tx, "carry_cells", order, f, part)
		for _, c := range all {
			tx.saw("carry cell", c.PlayerID)
		}
		return all, err
	}
	all := []models.CarryCell{}
	c := models.CarryCell{AcademyID: tx.who.AcademyID}
	err := tx.observed("carry_cells", "width, speed, zone, carries, metres", order, f,
		[]any{&c.PlayerID, &c.MatchID, &c.Width, &c.Speed, &c.Zone, &c.Carries, &c.Metres}, func() {
			if !models.Possible(c.Metres, c.Carries) {
				return
			}
			all = append(all, c)
			tx.saw("carry cell", c.PlayerID)
		})
	return all, err
}

// ofParts is what the codes of observations in parts of a match are like: see models.Part.
const ofParts = "%.%"

// observable is the condition of a table of what follows from records of one player in one match: the filter, and what
// the caller may read.
func (tx *Tx) observable(table string, f models.ObservationFilter) (where, error) {
	w := and(that(table+".academy_id = ? AND matches.deleted_at IS NULL", tx.who.AcademyID),
		is(table+".player_id", f.PlayerID), is(table+".match_id", f.MatchID), is("matches.season_id", f.SeasonID),
		is("matches.squad_id", f.SquadID))
	if f.From != nil {
		w = and(w, that("matches.date >= ?", f.From))
	}
	if f.To != nil {
		w = and(w, that("matches.date <= ?", f.To))
	}
	if table == "observations" {
		w = and(w, is(table+".indicator", f.Indicator))
		if f.Whole {
			w = and(w, that(table+".indicator NOT LIKE ?", ofParts))
		}
	}
	switch reach := tx.who.Reach(models.Read, models.AreaPerformance); reach {
	case models.ReachNone:
		return where{}, models.Errorf(models.Forbidden, "%s may not read observations", tx.role())
	case models.ReachAcademy:
		return w, nil
	default:
		shown, err := tx.shown(table + ".player_id")
		return and(w, ofPlayerInMatch(table)(tx.who, models.Read, reach), shown), err
	}
}

// observed reads the whole of such a table: the player, the match and some columns.
func (tx *Tx) observed(table, columns, order string, f models.ObservationFilter, into []any, took func()) error {
	w, err := tx.observable(table, f)
	if err != nil {
		return err
	}
	return tx.each("read observations", fmt.Sprintf("SELECT player_id, match_id, %[1]s FROM %[2]s %[3]s WHERE %[4]s "+
		"ORDER BY matches.date, matches.id, player_id, %[5]s",
		columns, table, joinMatches(table), w.sql, order), w.args, into, took)
}

// observedPage reads a page of such a table.
func observedPage[T any](tx *Tx, table, order string, f models.ObservationFilter, part *page) ([]T, error) {
	w, err := tx.observable(table, f)
	if err != nil {
		return nil, err
	}
	qualified := table + "." + strings.ReplaceAll(order, ", ", ", "+table+".")
	all, err := inOrder[T](tx.query().Model(new(T)).Joins(joinMatches(table)).Where(w.sql, w.args...), table,
		fmt.Sprintf("matches.date, matches.id, %s.player_id, %s", table, qualified), part)
	return all, tx.done("read observations", err)
}

// touch marks the observations of a player in a match as out of date.
func (tx *Tx) touch(player, match int64) {
	tx.book = nil // it no longer says what is recorded either
	tx.mark(pair{player, match}, nil)
}

// changed marks a player's observations in a match as out of date. The facts say what they were made from.
func (tx *Tx) changed(of pair) { tx.mark(of, &tx.facts().facts[of].before) }

// mark remembers what the observations were made from, as it was before the first change of the transaction.
func (tx *Tx) mark(of pair, before *models.Play) {
	if tx.touched == nil {
		tx.touched = map[pair]*models.Play{}
	}
	if _, marked := tx.touched[of]; !marked {
		tx.touched[of] = before
	}
}

// touchMatch marks the observations of all players in a match as out of date.
func (tx *Tx) touchMatch(match int64) error {
	pairs, err := tx.pairsOf(match)
	for _, p := range pairs {
		tx.touch(p.player, p.match)
	}
	return err
}

// touchLogs marks the observations of the players of logs in their matches.
func (tx *Tx) touchLogs(logs []int64) error {
	type of struct{ PlayerID, MatchID int64 }
	all, err := rows[of](tx, "read whose logs they are",
		"SELECT DISTINCT player_id, match_id FROM logs WHERE academy_id = ? AND id IN ?",
		tx.who.AcademyID, compacted(logs))
	for _, l := range all {
		tx.touch(l.PlayerID, l.MatchID)
	}
	return err
}

// pairsOf returns who appeared in a match.
func (tx *Tx) pairsOf(match int64) ([]pair, error) {
	players, err := rows[int64](tx, "read who played",
		"SELECT player_id FROM appearances WHERE academy_id = ? AND match_id = ? AND deleted_at IS NULL", tx.who.AcademyID,
		match)
	pairs := make([]pair, len(players))
	for i, p := range players {
		pairs[i] = pair{p, match}
	}
	return pairs, err
}

// observe makes the observations that no longer follow from what is recorded.
func (tx *Tx) observe() error {
	if tx.all {
		tx.all, tx.touched = false, nil
		if _, _, err := tx.remake(0); err != nil {
			return err
		}
		return tx.movedAll()
	}
	touched := tx.touched
	tx.touched = nil
	for some := range slices.Chunk(slices.SortedFunc(maps.Keys(touched), inMatches), pairsAtOnce) {
		plays, err := tx.plays(some)
		if err != nil {
			return err
		}
		if err := tx.movedPlays(some, plays); err != nil {
			return err
		}
		if err := tx.observeAgain(some, touched, plays); err != nil {
			return err
		}
	}
	tx.book = nil // what it says to have been before no longer is
	return nil
}

// movedPlays marks the squads' seasons of plays, and of the pairs that have none any more.
func (tx *Tx) movedPlays(pairs []pair, plays []models.Play) error {
	gone := map[pair]bool{}
	for _, p := range pairs {
		gone[p] = true
	}
	for i := range plays {
		m := &plays[i].Match
		tx.moved(m.SeasonID, m.SquadID)
		delete(gone, pair{plays[i].Appearance.PlayerID, m.ID})
	}
	return tx.movedMatches(matchesOf(slices.Collect(maps.Keys(gone))))
}

// observeAgain makes the observations of pairs again from their plays. If it is known what the stored ones were made
// from, only those that differ are written.
func (tx *Tx) observeAgain(pairs []pair, before map[pair]*models.Play, plays []models.Play) error {
	indicators, err := tx.Indicators()
	if err != nil {
		return err
	}
	after := map[pair]*models.Play{}
	for i := range plays {
		after[pair{plays[i].Appearance.PlayerID, plays[i].Match.ID}] = &plays[i]
	}
	var observations renewal[models.Observation]
	var cells renewal[models.CarryCell]
	for _, p := range pairs {
		was, known := before[p], before[p] != nil
		var oldObservations, newObservations []models.Observation
		var oldCells, newCells []models.CarryCell
		if known && was.Appearance.ID != 0 {
			oldObservations, oldCells = models.Observe(was.InOrder(), indicators)
		}
		if play := after[p]; play != nil {
			newObservations, newCells = models.Observe(*play, indicators)
		}
		observations.add(p, known, oldObservations, newObservations, func(a, b models.Observation) (bool, bool) {
			same := a.Indicator == b.Indicator
			differ := (a.Differs == nil) == (b.Differs == nil) && (a.Differs == nil || *a.Differs == *b.Differs)
			a.Differs, b.Differs = nil, nil
			return same, differ && a == b
		})
		cells.add(p, known, oldCells, newCells, func(a, b models.CarryCell) (bool, bool) {
			return a.Width == b.Width && a.Speed == b.Speed && a.Zone == b.Zone, a == b
		})
	}
	if err := observations.write(tx, "observations", "indicator", "numerator", "denominator", "source",
		"differs"); err != nil {
		return err
	}
	return cells.write(tx, "carry_cells", "width, speed, zone", "carries", "metres")
}

// renewal is the change to the rows of a table that are computed from records.
type renewal[T any] struct {
	forget []pair // all of whose rows go
	rows   []T    // that are written, in place of those that are there
}

// add notes the change to the rows of one player in one match. Compare says whether two rows are about the same thing,
// and whether they are equal. If the rows so far are unknown, or some are no longer needed, all are written anew.
func (r *renewal[T]) add(of pair, known bool, before, after []T, compare func(a, b T) (alike, same bool)) {
	has := func(all []T, b T) bool {
		return slices.ContainsFunc(all, func(a T) bool { alike, _ := compare(a, b); return alike })
	}
	if !known || slices.ContainsFunc(before, func(b T) bool { return !has(after, b) }) {
		r.forget = append(r.forget, of)
		r.rows = append(r.rows, after...)
		return
	}
	for _, a := range after {
		if !slices.ContainsFunc(before, func(b T) bool { _, same := compare(a, b); return same }) {
			r.rows = append(r.rows, a)
		}
	}
}

// write writes the renewal into its table, whose rows are of a player, a match and the key.
func (r *renewal[T]) write(tx *Tx, table, key string, columns ...string) error {
	if err := tx.forget(table, r.forget); err != nil {
		return err
	}
	set := make([]string, len(columns))
	for i, c := range columns {
		set[i] = c + " = excluded." + c
	}
	return insert(tx, r.rows, "ON CONFLICT (academy_id, player_id, match_id, "+key+") DO UPDATE SET "+
		strings.Join(set, ", "))
}

// forget deletes the rows of players in matches, all of a match in one statement.
func (tx *Tx) forget(table string, pairs []pair) error {
	of := map[int64][]int64{}
	for _, p := range pairs {
		of[p.match] = append(of[p.match], p.player)
	}
	for _, match := range slices.Sorted(maps.Keys(of)) {
		err := tx.exec("replace observations", "DELETE FROM "+table+
			" WHERE academy_id = ? AND match_id = ? AND player_id IN ?",
			tx.who.AcademyID, match, of[match])
		if err != nil {
			return err
		}
	}
	return nil
}

// Difference is an observation, or a cell of carries, that was not as it follows from what is recorded.
type Difference struct {
	PlayerID, MatchID int64
	What              string // the indicator's code, or "carries" and the cell's width, speed and zone
	Stored, Computed  string // as text; empty if there was none
}

// Recompute makes all observations of a season, or of every season for 0, again from what is recorded. It returns
// those that differed, and in checked the number of appearances it looked at. The caller must be allowed to write the
// whole academy's performance records.
func (tx *Tx) Recompute(season int64) (checked int, differences []Difference, err error) {
	if !tx.writes {
		return 0, nil, fmt.Errorf("recompute observations: the transaction is read-only")
	}
	if tx.who.Reach(models.Write, models.AreaPerformance) != models.ReachAcademy {
		return 0, nil, models.Errorf(models.Forbidden, "%s may not recompute observations", tx.role())
	}
	if season != 0 {
		if _, err := tx.Season(season); err != nil {
			return 0, nil, err
		}
	}
	if err := tx.observe(); err != nil { // what this transaction has changed itself is no difference
		return 0, nil, err
	}
	return tx.remake(season)
}

func (tx *Tx) remake(season int64) (checked int, differences []Difference, err error) {
	type appeared struct{ PlayerID, MatchID int64 }
	w := and(that("m.academy_id = ?", tx.who.AcademyID), is("m.season_id", season))
	// Players with observations but without an appearance are in it too: those observations must go.
	all, err := rows[appeared](tx, "read who played", `SELECT a.player_id, a.match_id FROM matches AS m
		JOIN appearances AS a ON a.academy_id = m.academy_id AND a.match_id = m.id WHERE a.deleted_at IS NULL AND `+w.sql+`
		UNION SELECT o.player_id, o.match_id FROM matches AS m
		JOIN observations AS o ON o.academy_id = m.academy_id AND o.match_id = m.id WHERE `+w.sql+`
		UNION SELECT c.player_id, c.match_id FROM matches AS m
		JOIN carry_cells AS c ON c.academy_id = m.academy_id AND c.match_id = m.id WHERE `+w.sql+`
		ORDER BY match_id, player_id`, slices.Repeat(w.args, 3)...)
	if err != nil {
		return 0, nil, err
	}
	indicators, err := tx.Indicators()
	if err != nil {
		return 0, nil, err
	}
	pairs := make([]pair, len(all))
	for i, a := range all {
		pairs[i] = pair{a.PlayerID, a.MatchID}
	}
	for some := range slices.Chunk(pairs, pairsAtOnce) {
		stored, err := tx.storedFigures(some)
		if err != nil {
			return 0, nil, err
		}
		tx.book = nil // of the pairs before these
		plays, err := tx.plays(some)
		if err != nil {
			return 0, nil, err
		}
		computed := figures{}
		for _, p := range plays {
			observations, cells := models.Observe(p, indicators)
			computed.add(observations, cells)
		}
		found := stored.against(computed)
		if len(found) == 0 {
			continue
		}
		differences = append(differences, found...)
		changed := map[pair]bool{}
		for _, d := range found {
			changed[pair{d.PlayerID, d.MatchID}] = true
		}
		if err := tx.observeAgain(slices.Collect(maps.Keys(changed)), nil, plays); err != nil {
			return 0, nil, err
		}
	}
	return len(pairs), differences, nil
}

// figures are observations and cells as text, by player, match and what they are.
type figures map[figureKey]string

type figureKey struct {
	pair
	what string
}

func (f figures) add(observations []models.Observation, cells []models.CarryCell) {
	for _, o := range observations {
		text := fmt.Sprintf("%v / %v from %s", o.Numerator, o.Denominator, o.Source)
		if o.Differs != nil {
			text += fmt.Sprintf(", the other source has %v", *o.Differs)
		}
		f[figureKey{pair{o.PlayerID, o.MatchID}, o.Indicator}] = text
	}
	for _, c := range cells {
		what := fmt.Sprintf("carries %q %q %q", c.Width, c.Speed, c.Zone)
		f[figureKey{pair{c.PlayerID, c.MatchID}, what}] = fmt.Sprintf("%v m in %v", c.Metres, c.Carries)
	}
}

// against lists what differs from what was computed, by match, player and what it is.
func (f figures) against(computed figures) []Difference {
	var all []Difference
	for key, was := range f {
		if is := computed[key]; is != was {
			all = append(all, Difference{key.player, key.match, key.what, was, is})
		}
	}
	for key, is := range computed {
		if _, stored := f[key]; !stored {
			all = append(all, Difference{key.player, key.match, key.what, "", is})
		}
	}
	slices.SortFunc(all, func(a, b Difference) int {
		return cmp.Or(cmp.Compare(a.MatchID, b.MatchID), cmp.Compare(a.PlayerID, b.PlayerID), cmp.Compare(a.What, b.What))
	})
	return all
}

// storedFigures reads the observations of players in matches.
func (tx *Tx) storedFigures(pairs []pair) (figures, error) {
	f := figures{}
	matches, wanted := matchesOf(pairs), map[pair]bool{}
	for _, p := range pairs {
		wanted[p] = true
	}
	var observations []models.Observation
	if err := tx.query().Where("academy_id = ? AND match_id IN ?", tx.who.AcademyID,
		matches).Find(&observations).Error; err != nil {
		return nil, tx.done("read observations", err)
	}
	var cells []models.CarryCell
	if err := tx.query().Where("academy_id = ? AND match_id IN ?", tx.who.AcademyID,
		matches).Find(&cells).Error; err != nil {
		return nil, tx.done("read observations", err)
	}
	f.add(slices.DeleteFunc(observations, func(o models.Observation) bool {
		return !wanted[pair{o.PlayerID, o.MatchID}]
	}),
		slices.DeleteFunc(cells, func(c models.CarryCell) bool { return !wanted[pair{c.PlayerID, c.MatchID}] }))
	return f, nil
}
