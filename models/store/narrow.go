package store

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"throughline/models"
)

// Narrow returns what list finds, narrowed by what all lists can be narrowed by. List calls one function of tx that
// lists records.
func Narrow[T any](tx *Tx, by models.Narrow, list func() ([]T, error)) ([]T, error) {
	tx.narrow = &by
	defer func() { tx.narrow = nil }()
	return list()
}

// narrowed are the conditions of the list that begins to read. They follow from the kind: from the day that its order
// begins with, the match that it is joined with, its own columns, and the player whom it is about.
func (k *kind[T]) narrowed(tx *Tx) ([]where, error) {
	by := tx.narrow
	tx.narrow = nil
	if by == nil {
		return nil, nil
	}
	statement := &gorm.Statement{DB: tx.db}
	if err := statement.Parse(new(T)); err != nil {
		return nil, tx.done("find what "+k.name+" can be narrowed by", err)
	}
	own := func(column string) string {
		if statement.Schema.LookUpField(column) == nil {
			return ""
		}
		return k.table + "." + column
	}
	day, _, _ := strings.Cut(k.order, ",")
	days := []string{"date", "from_date", "on_date", "set_on", "since"}
	if _, column, _ := strings.Cut(day, "."); !slices.Contains(days, column) {
		day = ""
	}
	player := k.subject()
	if player == "" {
		player = own("player_id")
	}
	season, squad, match := own("season_id"), own("squad_id"), own("match_id")
	if day == "matches.date" {
		season, squad, match = "matches.season_id", "matches.squad_id", "matches.id"
	}
	if day == "training_sessions.date" {
		squad = "training_sessions.squad_id"
	}
	var all []where
	add := func(wanted bool, column string, w func() where) error {
		if !wanted {
			return nil
		}
		if column == "" {
			return fmt.Errorf("%s records cannot be filtered by %+v", k.name, *by)
		}
		all = append(all, w())
		return nil
	}
	inSeason, inSquad := season, squad
	if inSeason == "" {
		inSeason = day
	}
	if inSquad == "" {
		inSquad = player
	}
	isPlayers, err := is(player, by.PlayerID), error(nil)
	if k.naming != nil && by.PlayerID != 0 {
		isPlayers, err = k.naming(tx, by.PlayerID)
	}
	err = cmp.Or(
		err,
		add(by.From != nil, day, func() where { return that(day+" >= ?", by.From) }),
		add(by.To != nil, day, func() where { return that(day+" <= ?", by.To) }),
		add(by.PlayerID != 0, player, func() where { return isPlayers }),
		add(by.MatchID != 0, match, func() where { return is(match, by.MatchID) }),
		add(by.GoalID != 0, own("goal_id"), func() where { return is(own("goal_id"), by.GoalID) }),
		add(by.Indicator != "", own("indicator"), func() where { return that(own("indicator")+" = ?", by.Indicator) }),
		add(by.Skill != "", own("skill"), func() where { return that(own("skill")+" = ?", by.Skill) }),
		add(by.SeasonID != 0, inSeason, func() where {
			if season != "" {
				return is(season, by.SeasonID)
			}
			return that(`EXISTS (SELECT 1 FROM seasons AS asked WHERE asked.academy_id = ? AND asked.id = ?
				AND asked.deleted_at IS NULL
				AND `+day+` BETWEEN asked.starts AND asked.ends)`, tx.who.AcademyID, by.SeasonID)
		}),
		add(by.SquadID != 0, inSquad, func() where {
			if squad != "" {
				return is(squad, by.SquadID)
			}
			return that(player+` IN (SELECT member.player_id FROM memberships AS member
				WHERE member.academy_id = ? AND member.squad_id = ? AND member.deleted_at IS NULL)`, tx.who.AcademyID, by.SquadID)
		}),
	)
	return all, err
}
