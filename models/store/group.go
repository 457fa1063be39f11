package store

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"hash"
	"math"
	"slices"

	"throughline/models"
)

// GroupObservations returns the observations of a squad's members in a season, in matches of that squad, without their
// names: by match and mate, and metres over expected among them. Staff who may read a player of the squad in that
// season may read them; for others the squad is NotFound. Players hidden from the caller are left out, also from the
// metres that others are expected to make.
//
// A player may not read them: matches, counts and positions would tell whose figures they are. They are shown what is
// published, see Publications.
//
// Mates are numbered by a digest of their own figures. The same figures give the same order, which reveals nothing
// beyond them.
func (tx *Tx) GroupObservations(f models.GroupFilter) ([]models.GroupObservation, error) {
	g, err := tx.group(f)
	if err != nil {
		return nil, err
	}
	mates := map[int64]mate{}
	for _, id := range g.order {
		if len(f.Groups) == 0 || slices.Contains(f.Groups, g.positions[id]) {
			mates[id] = mate{number: len(mates) + 1, group: g.positions[id], position: g.places[id]}
		}
	}
	all := make([]models.GroupObservation, 0, len(g.observations))
	for i := range g.observations {
		o := &g.observations[i]
		if m, wanted := mates[o.PlayerID]; wanted {
			all = append(all, models.GroupObservation{Mate: m.number, Group: m.group, Position: m.position, MatchID: o.MatchID,
				FullMatch: g.lengths[o.MatchID],
				Indicator: o.Indicator, Numerator: o.Numerator, Denominator: o.Denominator})
		}
	}
	return all, nil
}

// OverExpected returns the metres over expected of a player's carries in a season, against those of the others of a
// squad. A player gets what is published: the expectation of one carry would tell what the others made, and a second
// reading after a correction what one did.
func (tx *Tx) OverExpected(player, season, squad int64) ([]models.Observation, error) {
	if tx.who.Reach(models.Read, models.AreaPerformance) == models.ReachOwn {
		return tx.publishedOverExpected(player, season, squad)
	}
	own, err := tx.CarryCells(models.ObservationFilter{PlayerID: player, SeasonID: season})
	if err != nil || len(own) == 0 {
		return nil, err
	}
	g, err := tx.group(models.GroupFilter{SeasonID: season, SquadID: squad})
	if err != nil {
		return nil, err
	}
	return g.expected.Observations(own), nil
}

func order(matchA, matchB int64, mateA, mateB int) int {
	if matchA != matchB {
		return int(min(1, max(-1, matchA-matchB)))
	}
	return mateA - mateB
}

// group is what is observed of a squad's members in a season, by match and then in the order of the players.
type group struct {
	observations []figure // metres over expected among them
	cells        []models.CarryCell
	expected     models.Expectation     // by those cells
	lengths      map[int64]int          // full match in minutes, by match
	order        []int64                // players, in the order that their figures give
	positions    map[int64]models.Group // by player
	places       map[int64]models.Position
}

// figure is what a group needs of an observation: there are thousands of them.
type figure struct {
	PlayerID, MatchID      int64
	Indicator              string
	Numerator, Denominator float64
}

// squadSeason names a squad in a season.
type squadSeason struct{ season, squad int64 }

type mate struct {
	number   int
	group    models.Group
	position models.Position
}

// group returns what is observed of a squad in a season, without those whom the caller is not shown. A report asks
// more than once: a transaction that only reads sees the same each time, and reads it once.
func (tx *Tx) group(f models.GroupFilter) (*group, error) {
	key := squadSeason{f.SeasonID, f.SquadID}
	if g := tx.groups[key]; g != nil && f.Until == "" {
		return g, nil
	}
	if err := tx.mayReadGroup(f); err != nil {
		return nil, err
	}
	var g *group
	var err error
	if f.Until == "" {
		g, err = tx.heldGroup(key)
	} else {
		g, err = tx.readGroup(key, f.Until)
	}
	if err != nil {
		return nil, err
	}
	hidden, err := tx.hiddenAmong(g.order)
	if err != nil {
		return nil, err
	}
	if len(hidden) > 0 {
		g = g.without(hidden)
	}
	if !tx.writes && f.Until == "" {
		if tx.groups == nil {
			tx.groups = map[squadSeason]*group{}
		}
		tx.groups[key] = g
	}
	return g, nil
}

// without returns the group as it is without some players: nothing in it comes from them.
func (g *group) without(hidden map[int64]bool) *group {
	left := &group{lengths: g.lengths, positions: g.positions, places: g.places}
	for _, o := range g.observations {
		if !hidden[o.PlayerID] && o.Indicator != models.MetresOverExpected {
			left.observations = append(left.observations, o)
		}
	}
	for _, c := range g.cells {
		if !hidden[c.PlayerID] {
			left.cells = append(left.cells, c)
		}
	}
	for _, id := range g.order {
		if !hidden[id] {
			left.order = append(left.order, id)
		}
	}
	left.arrange()
	return left
}

// arrange adds the metres over expected, and puts everything in the order of the players.
func (g *group) arrange() {
	g.expected = models.Expected(g.cells)
	for _, o := range g.expected.Observations(g.cells) {
		g.observations = append(g.observations, figure{o.PlayerID, o.MatchID, o.Indicator, o.Numerator, o.Denominator})
	}
	place := make(map[int64]int, len(g.order))
	for i, id := range g.order {
		place[id] = i
	}
	slices.SortStableFunc(g.observations, func(a, b figure) int {
		return order(a.MatchID, b.MatchID, place[a.PlayerID], place[b.PlayerID])
	})
	slices.SortStableFunc(g.cells, func(a, b models.CarryCell) int {
		return order(a.MatchID, b.MatchID, place[a.PlayerID], place[b.PlayerID])
	})
}

// heldGroup returns what is observed of a squad in a season: as it was read at the same revision of the data before,
// or as it is. A transaction that writes may have changed it itself, and reads.
func (tx *Tx) heldGroup(of squadSeason) (*group, error) {
	if tx.writes {
		return tx.readGroup(of, "")
	}
	stands, err := tx.recorded(of)
	if err != nil {
		return nil, err
	}
	if g := tx.held.get(tx.who.AcademyID, of, stands.Revision); g != nil {
		return g, nil
	}
	g, err := tx.readGroup(of, "")
	if err == nil && stands.Revision > 0 {
		tx.held.put(heldGroup{tx.who.AcademyID, of, stands.Revision, g})
	}
	return g, err
}

// readGroup reads the squad's matches and members first and then goes to their figures by match: it never walks
// through another squad's. With a day it reads matches and members up to and with it.
func (tx *Tx) readGroup(of squadSeason, until models.Date) (*group, error) {
	until = cmp.Or(until, "9999-12-31")
	games, err := matches().find(tx, where{}, that("matches.season_id = ? AND matches.squad_id = ? AND matches.date <= ?",
		of.season, of.squad, until))
	if err != nil {
		return nil, err
	}
	members, err := rows[int64](tx, "read a squad's members", `SELECT DISTINCT player_id FROM memberships
		WHERE academy_id = ? AND season_id = ? AND squad_id = ? AND from_date <= ?
		AND deleted_at IS NULL`, tx.who.AcademyID, of.season, of.squad, until)
	if err != nil {
		return nil, err
	}
	slices.Sort(members)
	member := func(player int64) bool { _, found := slices.BinarySearch(members, player); return found }
	g := &group{lengths: make(map[int64]int, len(games))}
	ids := make([]int64, len(games))
	for i, m := range games {
		g.lengths[m.ID], ids[i] = m.FullMatch(), m.ID
	}
	for some := range slices.Chunk(ids, idsAtOnce) {
		if err := tx.readFigures(g, some, member); err != nil {
			return nil, err
		}
	}
	return g, tx.orderMates(g)
}

// readFigures adds the figures of members in some matches to a group, by match and player.
func (tx *Tx) readFigures(g *group, matches []int64, member func(player int64) bool) error {
	const of = " WHERE academy_id = ? AND match_id IN ?"
	const order = " ORDER BY match_id, player_id, "
	codes := codes{}
	var o figure
	err := tx.each("read a group's observations", `SELECT player_id, match_id, indicator, numerator, denominator
		FROM observations`+of+" AND indicator NOT LIKE ?"+order+"indicator", []any{tx.who.AcademyID, matches, ofParts},
		[]any{&o.PlayerID, &o.MatchID, &o.Indicator, &o.Numerator, &o.Denominator}, func() {
			if member(o.PlayerID) && models.Possible(o.Numerator, o.Denominator) {
				o.Indicator = codes.once(o.Indicator)
				g.observations = append(g.observations, o)
			}
		})
	if err != nil {
		return err
	}
	var c models.CarryCell
	return tx.each("read a group's carries", `SELECT player_id, match_id, width, speed, zone, carries, metres
		FROM carry_cells`+of+order+"width, speed, zone", []any{tx.who.AcademyID, matches},
		[]any{&c.PlayerID, &c.MatchID, &c.Width, &c.Speed, &c.Zone, &c.Carries, &c.Metres}, func() {
			if member(c.PlayerID) && models.Possible(c.Metres, c.Carries) {
				c.Width, c.Speed, c.Zone = codes.once(c.Width), codes.once(c.Speed), codes.once(c.Zone)
				g.cells = append(g.cells, c)
			}
		})
}

// codes keeps one copy of each of the few texts that thousands of rows repeat.
type codes map[string]string

func (c codes) once(text string) string {
	kept, found := c[text]
	if !found {
		c[text], kept = text, text
	}
	return kept
}

// mayReadGroup is NotFound if the caller may read no player of the squad in that season.
func (tx *Tx) mayReadGroup(f models.GroupFilter) error {
	if f.SeasonID == 0 || f.SquadID == 0 {
		return models.Errorf(models.Invalid, "a group needs a season and a squad")
	}
	if _, err := tx.Season(f.SeasonID); err != nil {
		return err
	}
	if _, err := tx.Squad(f.SquadID); err != nil {
		return err
	}
	var mine where
	switch tx.who.Reach(models.Read, models.AreaPerformance) {
	case models.ReachAcademy:
		return nil
	case models.ReachOwn:
		return models.Errorf(models.Forbidden,
			"players may not read other players' figures; they see only what is published")
	case models.ReachSquads:
		mine = memberOf(tx.who, "who.player_id", "who.season_id")
	default:
		return squads().missing(f.SquadID)
	}
	w := and(that("who.academy_id = ? AND who.season_id = ? AND who.squad_id = ? AND who.deleted_at IS NULL",
		tx.who.AcademyID, f.SeasonID, f.SquadID), mine)
	n, err := tx.count("find who is in the squad", "SELECT count(*) FROM memberships AS who WHERE "+w.sql, w.args...)
	if err != nil {
		return err
	}
	if n == 0 {
		return squads().missing(f.SquadID)
	}
	return nil
}

// orderMates puts the players of a group in order of a digest of their figures, and reads their positions.
func (tx *Tx) orderMates(g *group) error {
	sums := map[int64]hash.Hash{}
	line := []byte{}
	add := func(player, match int64, a, b float64, what ...string) {
		sum := sums[player]
		if sum == nil {
			sum = sha256.New()
			sums[player] = sum
		}
		line = binary.BigEndian.AppendUint64(line[:0], uint64(match))
		line = binary.BigEndian.AppendUint64(line, math.Float64bits(a))
		line = binary.BigEndian.AppendUint64(line, math.Float64bits(b))
		for _, w := range what {
			line = append(append(line, w...), '\n')
		}
		sum.Write(line)
	}
	for i := range g.observations {
		o := &g.observations[i]
		add(o.PlayerID, o.MatchID, o.Numerator, o.Denominator, o.Indicator)
	}
	for i := range g.cells {
		c := &g.cells[i]
		add(c.PlayerID, c.MatchID, c.Carries, c.Metres, c.Width, c.Speed, c.Zone)
	}
	digests := make(map[int64][]byte, len(sums))
	for id, s := range sums {
		g.order, digests[id] = append(g.order, id), s.Sum(nil)
	}
	slices.SortFunc(g.order, func(a, b int64) int { return bytes.Compare(digests[a], digests[b]) })
	g.arrange()
	g.positions = make(map[int64]models.Group, len(g.order))
	g.places = make(map[int64]models.Position, len(g.order))
	for some := range slices.Chunk(g.order, idsAtOnce) {
		var found []models.Player // also those whose data were erased: their positions are left
		if err := tx.query().Select("id", "positions").Where("academy_id = ? AND id IN ?", tx.who.AcademyID,
			some).Find(&found).Error; err != nil {
			return tx.done("read a group's positions", err)
		}
		for _, p := range found {
			g.positions[p.ID], g.places[p.ID] = p.Group(), p.Position()
		}
	}
	return nil
}
