package store

import "throughline/models"

// This file says in SQL conditions what a reach below the whole academy means for rows. The same conditions are used
// for reading and writing.
//
// A coach or selector reaches a player's records of a season when the player is or was a member of one of their squads
// in that season, and the records of a match of one of their squads. Records with only a date, such as a rating,
// belong to the season of the date; the days between two seasons belong to both.

// everyone is the reach of what the whole academy may read.
func everyone(models.Who, models.Action, models.Reach) where { return where{} }

// memberOf is the condition that a player was a member of one of who's squads in a season. The arguments are columns.
func memberOf(who models.Who, player, season string) where {
	return that(`EXISTS (SELECT 1 FROM memberships AS mine WHERE mine.academy_id = ? AND mine.player_id = `+player+
		` AND mine.season_id = `+season+` AND mine.squad_id IN ? AND mine.deleted_at IS NULL)`, who.AcademyID, who.SquadIDs)
}

// memberEver is the condition that a player was ever a member of one of who's squads.
func memberEver(who models.Who, player string) where {
	return that(`EXISTS (SELECT 1 FROM memberships AS mine WHERE mine.academy_id = ? AND mine.player_id = `+player+
		` AND mine.squad_id IN ? AND mine.deleted_at IS NULL)`, who.AcademyID, who.SquadIDs)
}

// memberThen is the condition that a player was a member of one of who's squads at the time from one date column to
// another, which may be NULL for still going on: no other season lies between their season and that time.
func memberThen(who models.Who, player, from, until string) where {
	return that(`EXISTS (SELECT 1 FROM memberships AS mine
		JOIN seasons AS theirs ON theirs.academy_id = mine.academy_id AND theirs.id = mine.season_id
		WHERE mine.academy_id = ? AND mine.player_id = `+player+` AND mine.squad_id IN ? AND mine.deleted_at IS NULL
		AND NOT EXISTS (SELECT 1 FROM seasons AS between_them WHERE between_them.academy_id = theirs.academy_id
		AND between_them.deleted_at IS NULL
			AND (between_them.starts > theirs.ends AND between_them.starts <= `+from+`
				OR between_them.ends < theirs.starts AND between_them.ends >= `+until+`)))`, who.AcademyID, who.SquadIDs)
}

// ofPlayer is the reach of what is recorded about one player at a date or from one to another.
func ofPlayer(table, from, until string) func(models.Who, models.Action, models.Reach) where {
	return func(who models.Who, _ models.Action, reach models.Reach) where {
		mine := that(table+".player_id = ?", who.PlayerID)
		if reach == models.ReachSquads || reach == models.ReachSquadsShared {
			mine = memberThen(who, table+".player_id", table+"."+from, table+"."+until)
		}
		if reach == models.ReachOwnShared || reach == models.ReachSquadsShared {
			return and(mine, that(table+".shared"))
		}
		return mine
	}
}

// ofPlayerInMatch is the reach of what is recorded about one player in one match; matches must be joined.
func ofPlayerInMatch(table string) func(models.Who, models.Action, models.Reach) where {
	return func(who models.Who, _ models.Action, reach models.Reach) where {
		if reach == models.ReachOwn {
			return that(table+".player_id = ?", who.PlayerID)
		}
		return or(that("matches.squad_id IN ?", who.SquadIDs), memberOf(who, table+".player_id", "matches.season_id"))
	}
}

// ofMatch is the reach of matches and of what belongs to a whole match. A match for another team names no player and
// may be read and written by all staff who write matches; one of another squad may be read by those whose player was
// in it.
func ofMatch(who models.Who, action models.Action, reach models.Reach) where {
	if reach == models.ReachOwn {
		return that(`EXISTS (SELECT 1 FROM appearances AS played WHERE played.academy_id = matches.academy_id
			AND played.match_id = matches.id
			AND played.player_id = ? AND played.deleted_at IS NULL)`, who.PlayerID)
	}
	squads := that("matches.squad_id IN ? OR matches.squad_id IS NULL", who.SquadIDs)
	if action == models.Write {
		return squads
	}
	return or(squads, that(`EXISTS (SELECT 1 FROM appearances AS played
		JOIN memberships AS mine ON mine.academy_id = played.academy_id AND mine.player_id = played.player_id
		AND mine.season_id = matches.season_id
		WHERE played.academy_id = matches.academy_id AND played.match_id = matches.id AND played.deleted_at IS NULL
		AND mine.squad_id IN ? AND mine.deleted_at IS NULL)`, who.SquadIDs))
}

// byAuthor narrows writing below the whole academy to the rows that who wrote themselves: a coach does not put words
// or grades into another's mouth.
func byAuthor(within func(models.Who, models.Action, models.Reach) where, column string) func(models.Who,
	models.Action, models.Reach) where {
	return func(who models.Who, action models.Action, reach models.Reach) where {
		w := within(who, action, reach)
		if action == models.Write {
			return and(w, that(column+" = ?", who.UserID))
		}
		return w
	}
}

// joinMatches joins the match of a row.
func joinMatches(table string) string {
	return "JOIN matches ON matches.academy_id = " + table + ".academy_id AND matches.id = " + table + ".match_id"
}

// staff returns the user of the academy that a field refers to. They must not be a player. Callers who may not read
// users can refer to staff too. To them a player's user does not exist: they cannot learn names by trying ids.
func (tx *Tx) staff(field string, id int64) (models.User, error) {
	u, found, err := first(users().find(tx, where{}, that("users.id = ?", id)))
	switch {
	case err != nil:
		return u, err
	case !found:
		return u, wrong(field, "there is no user %d", id)
	}
	return u, tx.asStaff(field, u)
}

// asStaff is an error if the named user is a player, not one of the staff: the same as for a missing user if the
// caller may not read users.
func (tx *Tx) asStaff(field string, u models.User) error {
	switch {
	case u.Role != models.RolePlayer:
		return nil
	case tx.who.Reach(models.Read, models.AreaUsers) != models.ReachAcademy:
		return wrong(field, "there is no user %d", u.ID)
	}
	return wrong(field, "%s is a player, not one of the staff", u.Name)
}
