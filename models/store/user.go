package store

import (
	"context"
	"encoding/hex"

	"gorm.io/gorm/clause"

	"throughline/models"
)

func users() *kind[models.User] {
	return &kind[models.User]{
		name: "user", table: "users", area: models.AreaUsers, order: "users.name, users.id",
		record: func(u *models.User) *models.Record { return &u.Record },
		player: about(func(u *models.User) int64 {
			if u.PlayerID == nil {
				return 0
			}
			return *u.PlayerID
		}),
		validate: (*models.User).Validate,
		within:   everyone,
		check:    checkUser,
		wrote: func(tx *Tx, old, u *models.User) error {
			if u != nil && (old == nil || worksWithSquads(u.Role)) {
				return nil
			}
			return tx.exec("take a user off his squads", "DELETE FROM squad_staff WHERE academy_id = ? AND user_id = ?", tx.who.AcademyID, old.ID)
		},
		holds: []hold{{table: "access_tokens", column: "user_id", own: true}},
	}
}

// User returns a user.
func (tx *Tx) User(id int64) (models.User, error) { return users().get(tx, id) }

// Users returns users by name.
func (tx *Tx) Users(f models.UserFilter) ([]models.User, error) {
	return users().list(tx, is("users.login", f.Login), is("users.role", f.Role))
}

// CreateUser adds a user. A login that is taken in the deployment, or a second user of a player, is a Conflict.
func (tx *Tx) CreateUser(u *models.User) error { return users().create(tx, u) }

// UpdateUser changes a user.
func (tx *Tx) UpdateUser(u *models.User) error { return users().update(tx, u) }

// DeleteUser deletes a user, who can no longer sign in; his tokens and squads go with him, what he wrote and his name stay.
func (tx *Tx) DeleteUser(id, version int64) error { return users().remove(tx, id, version) }

// UserNames returns the names of the academy's staff by the id of their user, and that of who is asking: of raters, authors and owners,
// also of those who have left. Anybody may read them.
func (tx *Tx) UserNames() (map[int64]string, error) {
	type named struct {
		ID   int64
		Name string
	}
	all, err := rows[named](tx, "read the names of users",
		"SELECT id, name FROM users WHERE academy_id = ? AND (role <> ? OR id = ?)", tx.who.AcademyID, models.RolePlayer, tx.who.UserID)
	if err != nil {
		return nil, err
	}
	names := make(map[int64]string, len(all))
	for _, u := range all {
		names[u.ID] = u.Name
	}
	return names, nil
}

func checkUser(tx *Tx, old, u *models.User) error {
	if u.PlayerID != nil {
		p, err := players().known(tx, "player_id", *u.PlayerID)
		if err != nil {
			return err
		}
		if err := users().only(tx, u.ID, p.Name+" has a user already", that("users.player_id = ?", p.ID)); err != nil {
			return err
		}
	}
	if old != nil && old.Login == u.Login {
		return nil
	}
	found, err := tx.signIn("login", u.Login) // in every academy
	if err != nil {
		return err
	}
	if len(found) > 0 && found[0].UserID != u.ID {
		return models.Errorf(models.Conflict, "the login %s is taken", u.Login)
	}
	return nil
}

// worksWithSquads says whether a role is for single squads.
func worksWithSquads(role models.Role) bool {
	return role == models.RoleCoach || role == models.RoleSelector
}

// SquadStaff returns the squads that a user works with, or of everybody for user 0, by user and squad.
func (tx *Tx) SquadStaff(user int64) ([]models.SquadStaff, error) {
	if tx.who.Reach(models.Read, models.AreaUsers) != models.ReachAcademy && (user == 0 || user != tx.who.UserID) {
		return nil, models.Errorf(models.Forbidden, "a %s may not read who works with a squad", tx.who.Role)
	}
	w := and(that("academy_id = ?", tx.who.AcademyID), is("user_id", user))
	all := []models.SquadStaff{}
	err := tx.query().Where(w.sql, w.args...).Order("user_id, squad_id").Find(&all).Error
	return all, tx.done("read the staff of squads", err)
}

// AddSquadStaff makes a coach or selector work with a squad. Doing it again changes nothing.
func (tx *Tx) AddSquadStaff(user, squad int64) error {
	if err := users().mayChange(tx); err != nil {
		return err
	}
	u, err := tx.staff("user_id", user)
	if err != nil {
		return err
	}
	if !worksWithSquads(u.Role) {
		return wrong("user_id", "%s is a %s: only coaches and selectors work with single squads", u.Name, u.Role)
	}
	if _, err := squads().known(tx, "squad_id", squad); err != nil {
		return err
	}
	row := models.SquadStaff{AcademyID: tx.who.AcademyID, UserID: user, SquadID: squad}
	done := tx.query().Clauses(clause.OnConflict{DoNothing: true}).Create(&row)
	if done.Error == nil && done.RowsAffected > 0 {
		tx.note(models.AuditCreate, "squad's staff", squad, 0, nil, row)
	}
	return tx.done("add to the staff of a squad", done.Error)
}

// RemoveSquadStaff ends that a user works with a squad. Where he does not, nothing changes.
func (tx *Tx) RemoveSquadStaff(user, squad int64) error {
	if err := users().mayChange(tx); err != nil {
		return err
	}
	done := tx.query().Exec("DELETE FROM squad_staff WHERE academy_id = ? AND user_id = ? AND squad_id = ?", tx.who.AcademyID, user, squad)
	if done.Error == nil && done.RowsAffected > 0 {
		tx.note(models.AuditDelete, "squad's staff", squad, 0, models.SquadStaff{UserID: user, SquadID: squad}, nil)
	}
	return tx.done("take off the staff of a squad", done.Error)
}

func accessTokens() *kind[models.AccessToken] {
	return &kind[models.AccessToken]{
		name: "access token", table: "access_tokens", area: models.AreaUsers, order: "access_tokens.created_at, access_tokens.id",
		record:   func(t *models.AccessToken) *models.Record { return &t.Record },
		player:   func(tx *Tx, t *models.AccessToken) (int64, error) { return tx.playerOf("users", t.UserID) },
		validate: (*models.AccessToken).Validate,
		within:   everyone,
		check: func(tx *Tx, old, t *models.AccessToken) error {
			if old != nil && old.UserID != t.UserID {
				return stays("user_id", "an access token", "its user")
			}
			_, err := users().known(tx, "user_id", t.UserID)
			return err
		},
	}
}

// AccessToken returns an access token.
func (tx *Tx) AccessToken(id int64) (models.AccessToken, error) { return accessTokens().get(tx, id) }

// AccessTokens returns the access tokens of a user, or of everybody for user 0, by the time they were made.
func (tx *Tx) AccessTokens(user int64) ([]models.AccessToken, error) {
	return accessTokens().list(tx, is("access_tokens.user_id", user))
}

// CreateAccessToken adds an access token.
func (tx *Tx) CreateAccessToken(t *models.AccessToken) error { return accessTokens().create(tx, t) }

// UpdateAccessToken changes an access token; it stays with its user.
func (tx *Tx) UpdateAccessToken(t *models.AccessToken) error { return accessTokens().update(tx, t) }

// DeleteAccessToken ends an access token: it opens nothing any more.
func (tx *Tx) DeleteAccessToken(id, version int64) error {
	return accessTokens().remove(tx, id, version)
}

// signIn says whose a login, or the hash of a token in hexadecimal, is in any academy. On PostgreSQL row-level security hides other
// academies' users, and two functions of the owner answer with ids only.
func (tx *Tx) signIn(by, value string) ([]signedIn, error) {
	if !storable(value) {
		return nil, nil
	}
	statement := map[string]string{
		"login": "SELECT academy_id, id AS user_id FROM users WHERE login = ? AND deleted_at IS NULL",
		"token": "SELECT academy_id, user_id FROM access_tokens WHERE hash = unhex(?) AND deleted_at IS NULL",
	}
	if tx.dialect.postgres() {
		statement = map[string]string{
			"login": "SELECT academy_id, user_id FROM user_by_login(?)",
			"token": "SELECT academy_id, user_id FROM user_by_token(decode(?, 'hex'))",
		}
	}
	return rows[signedIn](tx, "look up who signs in", statement[by], value)
}

type signedIn struct{ AcademyID, UserID int64 }

// UserByLogin returns the user with a login, in any academy, and who he is to the store. An unknown login is NotFound.
func (s *Store) UserByLogin(ctx context.Context, login string) (models.User, models.Who, error) {
	return s.userBy(ctx, "login", login)
}

// WhoByToken returns who a program with an access token acts for, by the SHA-256 hash of the token. An unknown hash is NotFound.
func (s *Store) WhoByToken(ctx context.Context, sha256 []byte) (models.Who, error) {
	_, who, err := s.userBy(ctx, "token", hex.EncodeToString(sha256))
	return who, err
}

func (s *Store) userBy(ctx context.Context, by, value string) (models.User, models.Who, error) {
	var found []signedIn
	err := s.Read(ctx, models.Who{}, func(tx *Tx) (err error) {
		found, err = tx.signIn(by, value)
		return err
	})
	if err != nil {
		return models.User{}, models.Who{}, err
	}
	if len(found) == 0 {
		return models.User{}, models.Who{}, models.Errorf(models.NotFound, "there is no such user")
	}
	return s.user(ctx, found[0].AcademyID, found[0].UserID)
}

// WhoByID returns who a user of an academy is to the store: his role, his squads and, for a player, his record. A user who does not
// exist or no longer does is NotFound.
func (s *Store) WhoByID(ctx context.Context, academy, user int64) (models.Who, error) {
	_, who, err := s.user(ctx, academy, user)
	return who, err
}

func (s *Store) user(ctx context.Context, academy, user int64) (u models.User, who models.Who, err error) {
	err = s.Read(ctx, models.Console(academy), func(tx *Tx) error {
		if u, err = tx.User(user); err != nil {
			return err
		}
		staff, err := tx.SquadStaff(user)
		if err != nil {
			return err
		}
		who = models.Who{AcademyID: academy, UserID: u.ID, Name: u.Name, Role: u.Role}
		if u.PlayerID != nil {
			who.PlayerID = *u.PlayerID
		}
		for _, s := range staff {
			who.SquadIDs = append(who.SquadIDs, s.SquadID)
		}
		return nil
	})
	return u, who, err
}
