package store

import (
	"fmt"
	"maps"
	"slices"

	"throughline/models"
)

func matches() *kind[models.Match] {
	return &kind[models.Match]{
		name: "match", table: "matches", area: models.AreaMatches, order: "matches.date, matches.id",
		record:   func(m *models.Match) *models.Record { return &m.Record },
		validate: (*models.Match).Validate,
		within:   ofMatch,
		check:    checkMatch,
		wrote: func(tx *Tx, old, m *models.Match) error {
			for _, as := range []*models.Match{old, m} {
				if as != nil {
					tx.moved(as.SeasonID, as.SquadID)
				}
			}
			if old == nil || m == nil {
				return nil // no one has appeared in it
			}
			if sameLength(old, m) {
				return tx.touchMatch(m.ID)
			}
			return tx.measure(*m)
		},
		holds: []hold{
			{table: "match_events", column: "match_id", own: goes(matchEvents)},
			{table: "team_totals", column: "match_id", own: goes(teamTotals)},
			{name: "appearances", table: "appearances", column: "match_id"},
			{name: "involvement logs", table: "logs", column: "match_id"},
			{name: "match totals", table: "match_totals", column: "match_id"},
			{name: "ratings", table: "ratings", column: "match_id"},
			{name: "rating rounds", table: "rating_rounds", column: "match_id"},
			{name: "review notes", table: "review_notes", column: "match_id"},
			{name: "head contacts", table: "head_contacts", column: "match_id"},
		},
	}
}

// Match returns a match.
func (tx *Tx) Match(id int64) (models.Match, error) {
	m, err := matches().get(tx, id)
	if err != nil {
		return m, err
	}
	one := []models.Match{m}
	err = tx.completeMatches(one)
	return one[0], err
}

// Matches returns matches by date, then id.
func (tx *Tx) Matches(f models.MatchFilter) ([]models.Match, error) {
	appeared, err := tx.appearedIn(f.PlayerID)
	if err != nil {
		return nil, err
	}
	all, err := matches().list(tx, is("matches.season_id", f.SeasonID), is("matches.squad_id", f.SquadID), appeared)
	if err != nil || f.Bare {
		return all, err
	}
	return all, tx.completeMatches(all)
}

// completeMatches fills in what other records say about matches: their scores, and for whom only part of them counts.
func (tx *Tx) completeMatches(all []models.Match) error {
	if err := tx.loadScores(all); err != nil {
		return err
	}
	return tx.loadMatchStops(all)
}

// loadScores fills in the scores of matches. A caller who may read a match may read its events.
func (tx *Tx) loadScores(all []models.Match) error {
	ids := make([]int64, len(all))
	for i := range all {
		ids[i] = all[i].ID
	}
	scores := map[int64]models.MatchScore{}
	for some := range slices.Chunk(ids, idsAtOnce) {
		found, err := rows[models.ScoreEvents](tx, "add up the scores of matches",
			`SELECT match_id, kind, ours, count(*) AS times FROM match_events
			WHERE academy_id = ? AND match_id IN ? AND deleted_at IS NULL
			GROUP BY match_id, kind, ours`, tx.who.AcademyID, some)
		if err != nil {
			return err
		}
		maps.Copy(scores, models.ScoresOf(found))
	}
	for i := range all {
		all[i].Score = nil
		if s, recorded := scores[all[i].ID]; recorded {
			all[i].Score = &s
		}
	}
	return nil
}

// appearedIn filters matches by a player who appeared in them, where one was asked for.
func (tx *Tx) appearedIn(player int64) (where, error) {
	if player == 0 {
		return where{}, nil
	}
	if unnamed, err := tx.unnamed(player); err != nil || unnamed {
		return that("1 = 0"), err
	}
	return that(`EXISTS (SELECT 1 FROM appearances AS was WHERE was.academy_id = matches.academy_id
		AND was.match_id = matches.id AND was.player_id = ? AND was.deleted_at IS NULL)`, player), nil
}

// unnamed says whether records of a match must not tell the caller that they name a player: another player does not
// learn it, nor a selector from whom the player is hidden. A list that is asked for the player's is empty.
func (tx *Tx) unnamed(player int64) (bool, error) {
	if tx.who.Role == models.RolePlayer {
		return player != tx.who.PlayerID, nil
	}
	return tx.hidden(player)
}

// allShown is the condition that no player who is hidden from the caller took part in a match, by the column with its
// id: appeared in it, or is named by an event. It is always true for callers from whom no player is hidden.
func (tx *Tx) allShown(match string) (where, error) {
	w, err := tx.shown("players.id")
	if err != nil || w.sql == "" {
		return where{}, err
	}
	a := tx.who.AcademyID
	return that(`NOT EXISTS (SELECT 1 FROM players WHERE players.academy_id = ? AND players.erased_at IS NULL
		AND (players.id IN (SELECT part.player_id FROM appearances AS part
				WHERE part.academy_id = ? AND part.match_id = `+match+` AND part.deleted_at IS NULL)
			OR players.id IN (SELECT event.player_id FROM match_events AS event
				WHERE event.academy_id = ? AND event.match_id = `+match+` AND event.deleted_at IS NULL)
			OR players.id IN (SELECT event.off_id FROM match_events AS event
				WHERE event.academy_id = ? AND event.match_id = `+match+` AND event.deleted_at IS NULL))
		AND NOT (`+w.sql+`))`, append([]any{a, a, a, a}, w.args...)...), nil
}

// CreateMatch adds a match. One of a squad without the length of a half gets what is usual in the squad's age band.
func (tx *Tx) CreateMatch(m *models.Match) error {
	m.Stops, m.Score = nil, nil
	if m.HalfMinutes == 0 && m.SquadID != nil {
		squad, err := squads().known(tx, "squad_id", *m.SquadID)
		if err != nil {
			return err
		}
		m.HalfMinutes = squad.UsualHalfMinutes()
	}
	return matches().create(tx, m)
}

// UpdateMatch changes a match. A new length that something recorded about the match does not fit is a Conflict that
// says what.
func (tx *Tx) UpdateMatch(m *models.Match) error {
	m.Stops, m.Score = nil, nil
	if err := matches().update(tx, m); err != nil {
		return err
	}
	one := []models.Match{*m}
	err := tx.completeMatches(one)
	*m = one[0]
	return err
}

// DeleteMatch deletes a match in which no one appeared, with its events and team totals.
func (tx *Tx) DeleteMatch(id, version int64) error { return matches().remove(tx, id, version) }

func checkMatch(tx *Tx, old, m *models.Match) error {
	season, err := seasons().known(tx, "season_id", m.SeasonID)
	if err != nil {
		return err
	}
	if m.SquadID != nil {
		if _, err := squads().known(tx, "squad_id", *m.SquadID); err != nil {
			return err
		}
	}
	if err := m.ValidateIn(season); err != nil {
		return err
	}
	if old != nil && old.Date != m.Date {
		if err := tx.mayMove(*m); err != nil {
			return err
		}
	}
	if old == nil || sameLength(old, m) {
		return nil
	}
	return tx.fitsLength(*m)
}

func sameLength(a, b *models.Match) bool {
	return a.Halves == b.Halves && a.HalfMinutes == b.HalfMinutes
}

// measure sets the minutes of appearances anew where stints decide them: what was regular time may be added time in a
// match of another length.
func (tx *Tx) measure(m models.Match) error {
	all, err := appearances().find(tx, where{}, that("appearances.match_id = ?", m.ID))
	if err != nil {
		return err
	}
	for _, a := range all {
		tx.touch(a.PlayerID, a.MatchID)
		before := a
		if err := a.ValidateIn(m); err != nil {
			return err
		}
		if a.Minutes == before.Minutes {
			continue
		}
		err := tx.exec("change the minutes of an appearance",
			"UPDATE appearances SET minutes = ?, version = version + 1, changed_at = ? WHERE academy_id = ? AND id = ?",
			a.Minutes, tx.now, tx.who.AcademyID, a.ID)
		if err != nil {
			return err
		}
		a.Version, a.ChangedAt = a.Version+1, tx.now
		if err := appearances().noted(tx, models.AuditChange, &before, &a); err != nil {
			return err
		}
	}
	return nil
}

// fitsLength refuses a new length of a match that what is recorded about it does not fit.
func (tx *Tx) fitsLength(m models.Match) error {
	events, err := matchEvents().find(tx, where{}, that("match_events.match_id = ?", m.ID))
	if err != nil {
		return err
	}
	for _, e := range events {
		if err := e.ValidateIn(m); err != nil {
			return models.Errorf(models.Conflict, "the %s at %v does not fit the match's new length: %v", e.Kind, e.Clock, err)
		}
	}
	pairs, err := tx.pairsOf(m.ID)
	if err != nil {
		return err
	}
	plays, err := tx.plays(pairs)
	if err != nil {
		return err
	}
	for i := range plays {
		plays[i].Match = m
		if err := plays[i].Fits(); err != nil {
			return models.Errorf(models.Conflict, "the appearance of player %d does not fit the match's new length: %v",
				plays[i].Appearance.PlayerID, err)
		}
	}
	return nil
}

func matchEvents() *kind[models.MatchEvent] {
	return &kind[models.MatchEvent]{
		name: "match event", table: "match_events", area: models.AreaMatches, joins: joinMatches("match_events"),
		order:    "matches.date, matches.id, match_events.half, match_events.second, match_events.id",
		record:   func(e *models.MatchEvent) *models.Record { return &e.Record },
		whose:    nobodys,
		validate: (*models.MatchEvent).Validate,
		within:   ofMatch,
		naming:   (*Tx).eventsNaming,
		load: func(tx *Tx, all []models.MatchEvent) error {
			if tx.who.Reach(models.Read, models.AreaMatches) == models.ReachOwn {
				for i := range all {
					all[i].PlayerID, all[i].OffID = ownOnly(tx.who, all[i].PlayerID), ownOnly(tx.who, all[i].OffID)
				}
			}
			if err := tx.hideInEvents(all); err != nil {
				return err
			}
			return askForEvents(tx, all)
		},
		check: checkMatchEvent,
		said: func(e models.MatchEvent) any {
			e.PlayerID, e.OffID = nil, nil
			return e
		},
		wrote: func(tx *Tx, old, e *models.MatchEvent) error {
			tx.noteNamed(old, e)
			if e == nil || e.Kind != models.EventHeadContact {
				return nil
			}
			m, _, err := first(matches().find(tx, where{}, that("matches.id = ?", e.MatchID)))
			if err != nil {
				return err
			}
			err = tx.marked(models.HeadContact{PlayerID: *e.PlayerID, Date: m.Date, MatchID: &m.ID, Clock: &e.Clock,
				MatchEventID: &e.ID, StandDown: e.StandDown})
			if err != nil {
				return err
			}
			e.StandDown = false
			one := []models.MatchEvent{*e}
			err = askForEvents(tx, one)
			e.Ask, e.Proposal = one[0].Ask, one[0].Proposal
			return err
		},
		holds: []hold{{table: "head_contacts", column: "match_event_id",
			stays: "a head contact stays after its mark is removed"}},
	}
}

// noteNamed adds to the audit trail whom an event names, so that what it says about one player is in entries about
// them alone.
func (tx *Tx) noteNamed(old, e *models.MatchEvent) {
	type named struct {
		MatchID int64  `json:"match_id"`
		As      string `json:"as"`
	}
	of := e
	if of == nil {
		of = old
	}
	for _, as := range []struct {
		name   string
		player func(*models.MatchEvent) *int64
	}{
		{"player", func(e *models.MatchEvent) *int64 { return e.PlayerID }},
		{"off", func(e *models.MatchEvent) *int64 { return e.OffID }},
	} {
		var before, after int64
		if old != nil {
			before = orZero(as.player(old))
		}
		if e != nil {
			after = orZero(as.player(e))
		}
		if before == after {
			continue
		}
		if before != 0 {
			tx.note(models.AuditDelete, "player of a match event", of.ID, before, named{of.MatchID, as.name}, nil)
		}
		if after != 0 {
			tx.note(models.AuditCreate, "player of a match event", of.ID, after, nil, named{of.MatchID, as.name})
		}
	}
}

func askForEvents(tx *Tx, all []models.MatchEvent) error {
	return askFor(tx, `SELECT h.*, e.id AS mark_id FROM match_events AS e
		JOIN head_contacts AS h ON h.academy_id = e.academy_id AND h.player_id = e.player_id AND h.match_id = e.match_id
		WHERE e.academy_id = ? AND e.id IN ? AND h.deleted_at IS NULL`, all,
		func(h *headed) *int64 { return h.MatchEventID },
		func(e *models.MatchEvent) mark {
			return mark{e.ID, e.Kind == models.EventHeadContact && e.PlayerID != nil, e.Clock, &e.Ask, &e.Proposal}
		})
}

// hideInEvents takes the players out of the events of matches in which one took part who is hidden from the caller: an
// event that alone named no one would tell whose it is.
func (tx *Tx) hideInEvents(all []models.MatchEvent) error {
	shown, err := tx.allShown("matches.id")
	if err != nil || shown.sql == "" {
		return err
	}
	ids := make([]int64, len(all))
	for i := range all {
		ids[i] = all[i].MatchID
	}
	slices.Sort(ids)
	named := map[int64]bool{}
	for some := range slices.Chunk(slices.Compact(ids), idsAtOnce) {
		found, err := rows[int64](tx, "find matches in which no one is hidden",
			"SELECT matches.id FROM matches WHERE matches.academy_id = ? AND matches.id IN ? AND "+shown.sql,
			append([]any{tx.who.AcademyID, some}, shown.args...)...)
		if err != nil {
			return err
		}
		for _, id := range found {
			named[id] = true
		}
	}
	for i := range all {
		if !named[all[i].MatchID] {
			all[i].PlayerID, all[i].OffID = nil, nil
		}
	}
	return nil
}

// eventsNaming narrows events to those that name the player, as far as the caller may know.
func (tx *Tx) eventsNaming(player int64) (where, error) {
	if unnamed, err := tx.unnamed(player); err != nil || unnamed {
		return that("1 = 0"), err
	}
	shown, err := tx.allShown("match_events.match_id")
	return and(that("match_events.player_id = ?", player), shown), err
}

// ownOnly hides who another player is from a player.
func ownOnly(who models.Who, player *int64) *int64 {
	if player != nil && *player == who.PlayerID {
		return player
	}
	return nil
}

// MatchEvent returns a match event. A player is not told which other player it names.
func (tx *Tx) MatchEvent(id int64) (models.MatchEvent, error) { return matchEvents().get(tx, id) }

// MatchEvents returns the events of a match by clock, or of all matches, by the date of the match, where match is 0. A
// player is not told which other players they name.
func (tx *Tx) MatchEvents(match int64) ([]models.MatchEvent, error) {
	return matchEvents().list(tx, is("match_events.match_id", match))
}

// Scores returns the scores of the matches of a season that a player appeared in, by match.
func (tx *Tx) Scores(player, season int64) (map[int64]models.MatchScore, error) {
	if _, err := tx.Player(player); err != nil {
		return nil, err
	}
	found, err := rows[models.ScoreEvents](tx, "add up scores", `SELECT e.match_id, e.kind, e.ours, count(*) AS times
		FROM appearances AS a
		JOIN matches AS m ON m.academy_id = a.academy_id AND m.id = a.match_id AND m.deleted_at IS NULL
		JOIN match_events AS e ON e.academy_id = a.academy_id AND e.match_id = a.match_id AND e.deleted_at IS NULL
		WHERE a.academy_id = ? AND a.player_id = ? AND m.season_id = ? AND a.deleted_at IS NULL
		GROUP BY e.match_id, e.kind, e.ours`, tx.who.AcademyID, player, season)
	return models.ScoresOf(found), err
}

// CreateMatchEvent adds an event to a match.
func (tx *Tx) CreateMatchEvent(e *models.MatchEvent) error { return matchEvents().create(tx, e) }

// UpdateMatchEvent changes an event of a match; it stays with its match.
func (tx *Tx) UpdateMatchEvent(e *models.MatchEvent) error { return matchEvents().update(tx, e) }

// DeleteMatchEvent deletes an event of a match.
func (tx *Tx) DeleteMatchEvent(id, version int64) error { return matchEvents().remove(tx, id, version) }

func checkMatchEvent(tx *Tx, old, e *models.MatchEvent) error {
	if old != nil && e.MatchID != old.MatchID {
		return stays("match_id", "a match event", "its match")
	}
	m, err := matches().known(tx, "match_id", e.MatchID)
	if err != nil {
		return err
	}
	if e.PlayerID != nil {
		if _, err := players().known(tx, "player_id", *e.PlayerID); err != nil {
			return err
		}
	}
	if e.OffID != nil {
		if _, err := players().known(tx, "off_id", *e.OffID); err != nil {
			return err
		}
	}
	e.Ask, e.Proposal = "", nil
	if old != nil && e.Kind == models.EventHeadContact {
		if err := tx.sameHead(old, e); err != nil {
			return err
		}
	}
	// Who came on and off is who appeared, and a head contact is never kept back; the rest is a record of play.
	if e.PlayerID != nil && e.Kind != models.EventSubstitution && e.Kind != models.EventHeadContact {
		if err := tx.Consented(*e.PlayerID, m.Date, models.PurposeRecords); err != nil {
			return err
		}
	}
	return e.ValidateIn(m)
}

// sameHead refuses that the event of a head contact becomes another player's: it has made its head contact, and makes
// no second one, also where it was something else meanwhile. The player may be no one any more, where their data were
// erased.
func (tx *Tx) sameHead(old, e *models.MatchEvent) error {
	stayed := old.Kind != models.EventHeadContact || orZero(old.PlayerID) == orZero(e.PlayerID)
	others, err := tx.count("find the head contact",
		"SELECT count(*) FROM head_contacts WHERE academy_id = ? AND match_event_id = ? AND player_id <> ?",
		tx.who.AcademyID, old.ID, orZero(e.PlayerID))
	if err == nil && (!stayed || others > 0) {
		err = stays("player_id", "the event of a head contact", "its player")
	}
	return err
}

// stays refuses to move a record away from what it belongs to.
func stays(field, record, with string) error {
	return wrong(field, "%s must keep %s: delete it and create a new one", record, with)
}

func teamTotals() *kind[models.TeamTotals] {
	return &kind[models.TeamTotals]{
		name: "team total", table: "team_totals", area: models.AreaMatches, joins: joinMatches("team_totals"),
		order:    "matches.date, matches.id, team_totals.scope, team_totals.id",
		record:   func(t *models.TeamTotals) *models.Record { return &t.Record },
		validate: (*models.TeamTotals).Validate,
		within:   ofMatch,
		besides: func(tx *Tx, _ models.Action) where { // what a team did, minus those who are shown, is what the hidden did
			shown, err := tx.allShown("team_totals.match_id")
			if err != nil {
				return that("1 = 0") // the transaction has failed, and its next query says so
			}
			return shown
		},
		check: func(tx *Tx, old, t *models.TeamTotals) error {
			if old != nil && t.MatchID != old.MatchID {
				return stays("match_id", "a team total", "its match")
			}
			if _, err := matches().known(tx, "match_id", t.MatchID); err != nil {
				return err
			}
			return teamTotals().only(tx, t.ID, fmt.Sprintf("the match already has totals for its %s: change those", t.Scope),
				that("team_totals.match_id = ? AND team_totals.scope = ?", t.MatchID, t.Scope))
		},
		wrote: func(tx *Tx, old, t *models.TeamTotals) error { // what a match offered is part of every rate
			if t == nil {
				t = old
			}
			return tx.touchMatch(t.MatchID)
		},
	}
}

// Opportunities says what the matches of a squad's season offered. It tells nothing of any player, so every reader of
// the squad gets the same.
func (tx *Tx) Opportunities(season, squad int64) (models.Opportunities, error) {
	return tx.OpportunitiesUntil(season, squad, "9999-12-31")
}

// OpportunitiesUntil is Opportunities as the matches up to and with a day make it.
func (tx *Tx) OpportunitiesUntil(season, squad int64, until models.Date) (models.Opportunities, error) {
	if _, err := tx.Squad(squad); err != nil {
		return nil, err
	}
	found, err := rows[models.TeamTotals](tx, "read the matches' opportunities", `SELECT t.match_id, t.scope, t.counts
		FROM matches AS m JOIN team_totals AS t ON t.academy_id = m.academy_id AND t.match_id = m.id
		WHERE m.academy_id = ? AND m.season_id = ? AND m.squad_id = ? AND t.scope = ?
		AND m.date <= ? AND m.deleted_at IS NULL AND t.deleted_at IS NULL`, tx.who.AcademyID, season, squad,
		models.WholeTeam, until)
	return models.OpportunitiesOf(found), err
}

// TeamTotal returns the totals of a team, its forwards or its backs in a match.
func (tx *Tx) TeamTotal(id int64) (models.TeamTotals, error) { return teamTotals().get(tx, id) }

// TeamTotals returns team totals by the date of their match, then scope.
func (tx *Tx) TeamTotals(f models.TeamTotalsFilter) ([]models.TeamTotals, error) {
	appeared, err := tx.appearedIn(f.PlayerID)
	if err != nil {
		return nil, err
	}
	return teamTotals().list(tx, is("matches.season_id", f.SeasonID), is("matches.squad_id", f.SquadID),
		is("team_totals.match_id", f.MatchID),
		is("team_totals.scope", f.Scope), appeared)
}

// CreateTeamTotals adds totals of a team in a match. A second row of the same scope is a Conflict.
func (tx *Tx) CreateTeamTotals(t *models.TeamTotals) error { return teamTotals().create(tx, t) }

// UpdateTeamTotals changes totals of a team; they stay with their match.
func (tx *Tx) UpdateTeamTotals(t *models.TeamTotals) error { return teamTotals().update(tx, t) }

// DeleteTeamTotals deletes totals of a team.
func (tx *Tx) DeleteTeamTotals(id, version int64) error { return teamTotals().remove(tx, id, version) }
