package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"hash"
	"math"
	"slices"

	"throughline/models"
)

// GroupObservations returns the observations of a squad's members in a season, in matches of that squad, without their names: by match,
// mate and indicator. Whoever may read a player of the squad in that season may read them; for others the squad is NotFound.
//
// Mates are numbered by a digest of their own figures. The order is the same whenever the figures are, and tells nothing that the figures
// do not.
func (tx *Tx) GroupObservations(f models.GroupFilter) ([]models.GroupObservation, error) {
	g, err := tx.group(f)
	if err != nil {
		return nil, err
	}
	all := []models.GroupObservation{}
	for _, o := range g.observations {
		if m, wanted := g.mates[o.PlayerID]; wanted {
			all = append(all, models.GroupObservation{Mate: m.number, Group: m.group, MatchID: o.MatchID, FullMatch: g.lengths[o.MatchID],
				Indicator: o.Indicator, Numerator: o.Numerator, Denominator: o.Denominator})
		}
	}
	slices.SortStableFunc(all, func(a, b models.GroupObservation) int { return order(a.MatchID, b.MatchID, a.Mate, b.Mate) })
	return all, nil
}

// SquadCarryCells returns the cells of measured carries of a squad's members, without their names: by match and mate. Mates are those of
// GroupObservations for the same filter.
func (tx *Tx) SquadCarryCells(f models.GroupFilter) ([]models.GroupCell, error) {
	g, err := tx.group(f)
	if err != nil {
		return nil, err
	}
	all := []models.GroupCell{}
	for _, c := range g.cells {
		if m, wanted := g.mates[c.PlayerID]; wanted {
			c.PlayerID, c.AcademyID = 0, 0
			all = append(all, models.GroupCell{Mate: m.number, Group: m.group, CarryCell: c})
		}
	}
	slices.SortStableFunc(all, func(a, b models.GroupCell) int { return order(a.MatchID, b.MatchID, a.Mate, b.Mate) })
	return all, nil
}

func order(matchA, matchB int64, mateA, mateB int) int {
	if matchA != matchB {
		return int(min(1, max(-1, matchA-matchB)))
	}
	return mateA - mateB
}

// group is what is observed of a squad's members in a season.
type group struct {
	observations []models.Observation
	cells        []models.CarryCell
	lengths      map[int64]int  // full match in minutes, by match
	mates        map[int64]mate // by player; those asked for
}

type mate struct {
	number int
	group  models.Group
}

// group reads the squad's matches and members first and then goes to their figures by match: it never walks through another squad's.
func (tx *Tx) group(f models.GroupFilter) (*group, error) {
	if err := tx.mayReadGroup(f); err != nil {
		return nil, err
	}
	games, err := matches().find(tx, where{}, that("matches.season_id = ? AND matches.squad_id = ?", f.SeasonID, f.SquadID))
	if err != nil {
		return nil, err
	}
	members, err := rows[int64](tx, "read a squad's members", `SELECT DISTINCT player_id FROM memberships
		WHERE academy_id = ? AND season_id = ? AND squad_id = ? AND deleted_at IS NULL`, tx.who.AcademyID, f.SeasonID, f.SquadID)
	if err != nil {
		return nil, err
	}
	slices.Sort(members)
	stranger := func(player int64) bool { _, member := slices.BinarySearch(members, player); return !member }
	g := group{lengths: map[int64]int{}}
	var ids []int64
	for _, m := range games {
		g.lengths[m.ID], ids = m.FullMatch(), append(ids, m.ID)
	}
	for some := range slices.Chunk(ids, idsAtOnce) {
		var observations []models.Observation
		err := tx.query().Where("academy_id = ? AND match_id IN ?", tx.who.AcademyID, some).Order("match_id, player_id, indicator").Find(&observations).Error
		if err != nil {
			return nil, tx.done("read a group's observations", err)
		}
		var cells []models.CarryCell
		err = tx.query().Where("academy_id = ? AND match_id IN ?", tx.who.AcademyID, some).Order("match_id, player_id, width, speed, zone").Find(&cells).Error
		if err != nil {
			return nil, tx.done("read a group's carries", err)
		}
		g.observations = append(g.observations, slices.DeleteFunc(observations, func(o models.Observation) bool { return stranger(o.PlayerID) })...)
		g.cells = append(g.cells, slices.DeleteFunc(cells, func(c models.CarryCell) bool { return stranger(c.PlayerID) })...)
	}
	g.mates, err = tx.mates(&g, f.Groups)
	return &g, err
}

// mayReadGroup refuses a squad of which who may read no player of that season.
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
		mine = that("who.player_id = ?", tx.who.PlayerID)
	case models.ReachSquads:
		mine = memberOf(tx.who, "who.player_id", "who.season_id")
	default:
		return squads().missing(f.SquadID)
	}
	w := and(that("who.academy_id = ? AND who.season_id = ? AND who.squad_id = ? AND who.deleted_at IS NULL", tx.who.AcademyID, f.SeasonID, f.SquadID), mine)
	n, err := tx.count("look who is in the squad", "SELECT count(*) FROM memberships AS who WHERE "+w.sql, w.args...)
	if err != nil {
		return err
	}
	if n == 0 {
		return squads().missing(f.SquadID)
	}
	return nil
}

// mates numbers the players of a group whose main position is in one of the groups asked for.
func (tx *Tx) mates(g *group, groups []models.Group) (map[int64]mate, error) {
	sums := map[int64]hash.Hash{}
	line := []byte{}
	add := func(player, match int64, what string, a, b float64) {
		if sums[player] == nil {
			sums[player] = sha256.New()
		}
		line = binary.BigEndian.AppendUint64(line[:0], uint64(match))
		line = binary.BigEndian.AppendUint64(line, math.Float64bits(a))
		line = binary.BigEndian.AppendUint64(line, math.Float64bits(b))
		line = append(append(line, what...), '\n')
		sums[player].Write(line)
	}
	for _, o := range g.observations {
		add(o.PlayerID, o.MatchID, o.Indicator, o.Numerator, o.Denominator)
	}
	for _, c := range g.cells {
		add(c.PlayerID, c.MatchID, c.Width+" "+c.Speed+" "+c.Zone, c.Carries, c.Metres)
	}
	ids := make([]int64, 0, len(sums))
	digests := make(map[int64][]byte, len(sums))
	for id, s := range sums {
		ids, digests[id] = append(ids, id), s.Sum(nil)
	}
	slices.SortFunc(ids, func(a, b int64) int { return bytes.Compare(digests[a], digests[b]) })
	positions := map[int64]models.Group{}
	for some := range slices.Chunk(ids, idsAtOnce) {
		found, err := players().find(tx, where{}, that("players.id IN ?", some))
		if err != nil {
			return nil, err
		}
		for _, p := range found {
			positions[p.ID] = p.Group()
		}
	}
	all := map[int64]mate{}
	for _, id := range ids {
		if len(groups) == 0 || slices.Contains(groups, positions[id]) {
			all[id] = mate{number: len(all) + 1, group: positions[id]}
		}
	}
	return all, nil
}
