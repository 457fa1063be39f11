package files

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"throughline/models"
	"throughline/models/store"
)

// write does what the plan says, in an order in which the store's own checks hold at every step.
func (p *plan) write(ctx context.Context, tx *store.Tx) error {
	for i := range p.seasons {
		if r := &p.seasons[i]; r.ID == 0 {
			if err := tx.CreateSeason(r); err != nil {
				return fmt.Errorf("create the season %s: %w", quoted(r.Name), err)
			}
		}
	}
	for i := range p.squads {
		if r := &p.squads[i]; r.ID == 0 {
			if err := tx.CreateSquad(r); err != nil {
				return fmt.Errorf("create the squad %s: %w", quoted(r.Name), err)
			}
		}
	}
	for i := range p.players {
		if r := &p.players[i]; r.ID == 0 {
			if err := tx.CreatePlayer(r); err != nil {
				return fmt.Errorf("create the player %s: %w", quoted(r.Name), err)
			}
		}
	}
	for _, i := range p.filled {
		r := &p.players[i]
		if err := tx.UpdatePlayer(r); err != nil {
			of := p.sheet.person(i)
			return fmt.Errorf("complete the player %s of line %d: %w", quoted(r.Name), cmp.Or(of.born.line, of.positions.line),
				err)
		}
	}
	for _, m := range p.members {
		season, squad, player := &p.seasons[m.season], &p.squads[m.squad], &p.players[m.player]
		err := tx.CreateMembership(&models.Membership{SeasonID: season.ID, SquadID: squad.ID, PlayerID: player.ID,
			From: season.Starts})
		if err != nil {
			return fmt.Errorf("put the player %s into the squad %s: %w", quoted(player.Name), quoted(squad.Name), err)
		}
	}
	if err := p.writeMatches(tx); err != nil {
		return err
	}
	if err := p.undress(tx); err != nil {
		return err
	}
	if err := p.writeFresh(ctx, tx); err != nil {
		return err
	}
	if err := p.writeChanges(ctx, tx); err != nil {
		return err
	}
	for _, a := range p.altered {
		if p.shorter(a) {
			if err := p.updateMatch(tx, a.match); err != nil {
				return err
			}
		}
	}
	return p.noteStops(tx)
}

// noteStops says in the summary which of the file's totals count for no figure, because of a head contact or a
// stand-down.
func (p *plan) noteStops(tx *store.Tx) error {
	s := p.sheet
	type team struct{ season, squad int64 }
	stops, read := map[pair]models.Stop{}, map[team]bool{}
	for i := range p.matches {
		at := team{p.matches[i].SeasonID, p.squads[s.matches[i].squad].ID}
		if read[at] {
			continue
		}
		read[at] = true
		matches, err := tx.Matches(models.MatchFilter{SeasonID: at.season, SquadID: at.squad})
		if err != nil {
			return fmt.Errorf("look which totals count: %w", err)
		}
		for _, m := range matches {
			for _, stop := range m.Stops {
				stops[pair{m.ID, stop.PlayerID}] = stop.Stop
			}
		}
	}
	for i, r := range s.rows {
		stop, stopped := stops[pair{p.matches[r.match].ID, p.players[r.player].ID}]
		if stopped && s.rowCounts(i) != nil {
			p.summary.withhold(Withheld{Line: int(r.line), Match: p.matchText(int(r.match)), Player: s.players.texts[r.player],
				Words: stop.Words})
		}
	}
	return nil
}

// writeMatches creates matches and changes those that do not become shorter; those wait until the minutes in them have
// been corrected.
func (p *plan) writeMatches(tx *store.Tx) error {
	for i := range p.matches {
		m, line := &p.matches[i], p.sheet.matches[i]
		if m.ID != 0 {
			continue
		}
		m.SeasonID, m.SquadID = p.seasons[line.season].ID, new(p.squads[line.squad].ID)
		if err := tx.CreateMatch(m); err != nil {
			return fmt.Errorf("create the match of line %d: %w", line.line, err)
		}
	}
	for _, a := range p.altered {
		if p.shorter(a) {
			continue
		}
		if err := p.updateMatch(tx, a.match); err != nil {
			return err
		}
	}
	return nil
}

func (p *plan) shorter(a alteredMatch) bool {
	return p.matches[a.match].FullMatch() < a.before.FullMatch()
}

func (p *plan) updateMatch(tx *store.Tx, i int) error {
	if err := tx.UpdateMatch(&p.matches[i]); err != nil {
		return fmt.Errorf("change the match of line %d: %w", p.sheet.matches[i].line, err)
	}
	return nil
}

// writeFresh writes the appearances that are new, with their counts.
func (p *plan) writeFresh(ctx context.Context, tx *store.Tx) error {
	s, done := p.sheet, 0
	for chunk := range slices.Chunk(p.fresh, playsAtOnce) {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("write appearances: %w", err)
		}
		plays := make([]models.Play, len(chunk))
		for k, i := range chunk {
			match, player := p.matches[s.rows[i].match], p.players[s.rows[i].player].ID
			a := models.Appearance{MatchID: match.ID, PlayerID: player}
			p.fill(&a, i)
			plays[k] = models.Play{Match: match, Appearance: a}
			if counts := s.rowCounts(i); counts != nil {
				plays[k].Totals = &models.MatchTotals{MatchID: match.ID, PlayerID: player, Source: p.options.Source,
					Counts: counts}
			}
		}
		if err := tx.AddPlays(plays); err != nil {
			return p.refused(chunk, err)
		}
		done += len(chunk)
		if p.options.Progress != nil {
			p.options.Progress(done, len(p.fresh))
		}
	}
	return nil
}

// refused names the lines that the store refuses although the file itself is good: players who are stood down, and
// records that lack a consent.
func (p *plan) refused(chunk []int, err error) error {
	var e *models.Error
	if !errors.As(err, &e) || len(e.Fields) == 0 {
		return fmt.Errorf("write appearances from line %d: %w", p.sheet.rows[chunk[0]].line, err)
	}
	var f findings
	for _, field := range e.Fields {
		place, _, _ := strings.Cut(strings.TrimPrefix(field.Where, "plays["), "]")
		n, err := strconv.Atoi(place)
		if err != nil || n >= len(chunk) {
			return fmt.Errorf("write appearances from line %d: %w", p.sheet.rows[chunk[0]].line, e)
		}
		f.line(int(p.sheet.rows[chunk[n]].line), "%s", field.Message)
	}
	return f.err()
}

// undress takes the shirts off recorded players who are to wear another or none, so that shirts can move between
// players: at every step the store refuses two players in one.
func (p *plan) undress(tx *store.Tx) error {
	for i := range p.changes {
		a := p.changes[i].appearance
		if worn := p.changes[i].shirt; a == nil || worn == nil || a.Shirt != nil && *a.Shirt == *worn {
			continue
		}
		bare := *a
		bare.Shirt = nil
		if err := tx.UpdateAppearance(&bare); err != nil {
			return p.changing(i, err)
		}
		bare.Shirt = a.Shirt
		*a = bare
	}
	return nil
}

// writeChanges corrects appearances and totals.
func (p *plan) writeChanges(ctx context.Context, tx *store.Tx) error {
	for i, c := range p.changes {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("change appearances: %w", err)
		}
		if c.appearance != nil {
			if err := tx.UpdateAppearance(c.appearance); err != nil {
				return p.changing(i, err)
			}
		}
		if c.totals == nil {
			continue
		}
		var err error
		switch t := c.totals; {
		case t.ID == 0:
			err = tx.CreateMatchTotals(t)
		case len(t.Counts) == 0: // the file takes back all that there was
			err = tx.DeleteMatchTotals(t.ID, t.Version)
		default:
			err = tx.UpdateMatchTotals(t)
		}
		if err != nil {
			return p.changing(i, err)
		}
	}
	return nil
}

func (p *plan) changing(i int, err error) error {
	return fmt.Errorf("change what is recorded of line %d: %w", p.sheet.rows[p.changes[i].row].line, err)
}
