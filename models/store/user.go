package store

import (
	"context"
	"encoding/hex"
	"slices"

	"gorm.io/gorm/clause"

	"throughline/models"
)

func users() *kind[models.User] {
	return &kind[models.User]{
		name: "user", table: "users", area: models.AreaUsers, order: "users.name, users.id",
		record: func(u *models.User) *models.Record { return &u.Record },
		whose:  nobodys, // nor are selectors shown users
		player: about(func(u *models.User) int64 {
			if u.PlayerID == nil {
				return 0
			}
			return *u.PlayerID
		}),
		validate: (*models.User).Validate,
		within:   everyone,
		check:    checkUser,
		wrote:    userWrote,
		barred: func(tx *Tx, old *models.User, deleting bool) error {
			if deleting && old.ID == tx.who.UserID {
				return models.Errorf(models.Forbidden, "you cannot delete your own account; ask another manager")
			}
			return nil
		},
		needed: func(tx *Tx, u *models.User) error { return tx.managed(u) },
		holds: []hold{
			{table: "access_tokens", column: "user_id", own: func(tx *Tx, column string, id int64) error {
				return goes(func() *kind[models.AccessToken] { return accessTokens(tx) })(tx, column, id)
			}},
			{table: "links", column: "user_id", own: goes(links)},
		},
	}
}

// userWrote does what follows from a change of a user. What a user may do is read anew at each request, but a user
// whose role or player changes must sign in again.
func userWrote(tx *Tx, old, u *models.User) error {
	selects := func(u *models.User) bool { return u != nil && u.Role == models.RoleSelector }
	tx.shows = tx.shows || selects(old) != selects(u)
	if old == nil {
		return nil
	}
	same := func(a, b *int64) bool { return a == b || a != nil && b != nil && *a == *b }
	if u == nil || u.Role != old.Role || !same(u.PlayerID, old.PlayerID) {
		if err := tx.endSessions(old.ID, ""); err != nil {
			return err
		}
	}
	if u == nil {
		if err := tx.forgetAllDevices(old.ID); err != nil {
			return err
		}
	}
	if u != nil && u.Role == models.RoleCoach {
		return nil
	}
	if u != nil && worksWithSquads(u.Role) {
		return tx.exec("take the lead of squads from a user", // the entry about their role says why
			"UPDATE squad_staff SET leads = ? WHERE academy_id = ? AND user_id = ? AND leads", false, tx.who.AcademyID, old.ID)
	}
	return tx.exec("take a user off their squads", "DELETE FROM squad_staff WHERE academy_id = ? AND user_id = ?",
		tx.who.AcademyID, old.ID)
}

// managed is an error if an academy would lose its last manager: only the machine's owner could let users in then.
func (tx *Tx) managed(u *models.User) error {
	if u.Role != models.RoleManager {
		return nil
	}
	others, err := tx.count("find another manager",
		"SELECT count(*) FROM users WHERE academy_id = ? AND role = ? AND id <> ? AND deleted_at IS NULL",
		tx.who.AcademyID, models.RoleManager, u.ID)
	if err == nil && others == 0 {
		err = models.Errorf(models.Conflict, "%s is the last manager of the academy; add another manager first", u.Name)
	}
	return err
}

// User returns a user.
func (tx *Tx) User(id int64) (models.User, error) { return users().get(tx, id) }

// Users returns users by name.
func (tx *Tx) Users(f models.UserFilter) ([]models.User, error) {
	return users().list(tx, is("users.login", f.Login), is("users.role", f.Role))
}

// CreateUser adds a user. A login that is taken in the deployment, or a second user of a player, is a Conflict.
func (tx *Tx) CreateUser(u *models.User) error { return users().create(tx, u) }

// UpdateUser changes a user: their login, name, role and player. Their password and second factor stay as they are;
// see SetPassword. Another role ends their sessions. No one changes their own (Forbidden), and the last manager stays
// one (Conflict).
func (tx *Tx) UpdateUser(u *models.User) error { return users().update(tx, u) }

// DeleteUser deletes a user, who can no longer sign in; their sessions, tokens, links and squads go with them, what
// they wrote and their name stay. No one deletes themselves (Forbidden), and the last manager stays (Conflict).
func (tx *Tx) DeleteUser(id, version int64) error { return users().remove(tx, id, version) }

// UserNames returns the names of the academy's staff by the id of their user, and that of the caller: of raters,
// authors and owners, also of those who have left. Any caller may read them.
func (tx *Tx) UserNames() (map[int64]string, error) {
	type named struct {
		ID   int64
		Name string
	}
	all, err := rows[named](tx, "read the names of users",
		"SELECT id, name FROM users WHERE academy_id = ? AND (role <> ? OR id = ?)", tx.who.AcademyID, models.RolePlayer,
		tx.who.UserID)
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
	if old == nil {
		u.TOTPSecret, u.SecondFactorSince, u.TOTPStep = "", nil, 0
	} else {
		u.PasswordHash, u.TOTPSecret, u.SecondFactorSince, u.TOTPStep = old.PasswordHash, old.TOTPSecret,
			old.SecondFactorSince, old.TOTPStep
		if u.Role != old.Role {
			if err := tx.inPerson(); err != nil {
				return err
			}
			if u.ID == tx.who.UserID {
				return models.Errorf(models.Forbidden, "you cannot change your own role; ask another manager")
			}
			if err := tx.managed(old); err != nil {
				return err
			}
		}
	}
	switch at := tx.who.AcademyID == models.Deployment; {
	case at && u.Role != models.RoleOperator:
		return wrong("role", "only operators can belong to the deployment; a %s belongs to an academy", u.Role)
	case !at && u.Role == models.RoleOperator:
		return wrong("role", "an operator belongs to the deployment, not to an academy; only another operator can add one")
	}
	if u.PlayerID != nil {
		p, err := players().known(tx, "player_id", *u.PlayerID)
		if err != nil {
			return err
		}
		if err := users().only(tx, u.ID, p.Name+" already has a user", that("users.player_id = ?", p.ID)); err != nil {
			return err
		}
	}
	if old != nil && old.Login == u.Login {
		return nil
	}
	found, err := tx.signIn(u.Login) // in every academy
	if err != nil {
		return err
	}
	if len(found) > 0 && found[0].UserID != u.ID {
		return models.Errorf(models.Conflict, "the username %s is taken", u.Login)
	}
	return nil
}

// worksWithSquads says whether a role is for single squads.
func worksWithSquads(role models.Role) bool {
	return role == models.RoleCoach || role == models.RoleSelector
}

// SquadStaff returns the squads that a user works with, or for user 0 those of all users, by user and squad.
func (tx *Tx) SquadStaff(user int64) ([]models.SquadStaff, error) {
	if tx.who.Reach(models.Read, models.AreaUsers) != models.ReachAcademy && (user == 0 || user != tx.who.UserID) {
		return nil, models.Errorf(models.Forbidden, "%s may not read who works with a squad", tx.role())
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
		return wrong("user_id", "%s is a %s: only coaches and selectors can be assigned to squads", u.Name, u.Role)
	}
	if _, err := squads().known(tx, "squad_id", squad); err != nil {
		return err
	}
	row := models.SquadStaff{AcademyID: tx.who.AcademyID, UserID: user, SquadID: squad}
	done := tx.query().Clauses(clause.OnConflict{DoNothing: true}).Create(&row)
	if done.Error == nil && done.RowsAffected > 0 {
		tx.note(models.AuditCreate, "squad's staff", squad, 0, nil, row)
	}
	return tx.done("add staff to a squad", done.Error)
}

// RemoveSquadStaff ends that a user works with a squad. Where they do not, nothing changes.
func (tx *Tx) RemoveSquadStaff(user, squad int64) error {
	if err := users().mayChange(tx); err != nil {
		return err
	}
	old, works, err := first(tx.staffIn(squad, that("user_id = ?", user)))
	if err != nil || !works {
		return err
	}
	tx.note(models.AuditDelete, "squad's staff", squad, 0, old, nil)
	return tx.exec("remove staff from a squad",
		"DELETE FROM squad_staff WHERE academy_id = ? AND user_id = ? AND squad_id = ?", tx.who.AcademyID, user, squad)
}

// staffIn returns the staff of a squad that a condition holds for, whatever the caller may read.
func (tx *Tx) staffIn(squad int64, also where) ([]models.SquadStaff, error) {
	w := and(that("academy_id = ? AND squad_id = ?", tx.who.AcademyID, squad), also)
	var all []models.SquadStaff
	err := tx.query().Where(w.sql, w.args...).Order("user_id").Find(&all).Error
	return all, tx.done("read the staff of a squad", err)
}

// LeadCoach returns the user who leads a squad, 0 for none. Callers who may read users may ask.
func (tx *Tx) LeadCoach(squad int64) (int64, error) {
	if tx.who.Reach(models.Read, models.AreaUsers) != models.ReachAcademy {
		return 0, models.Errorf(models.Forbidden, "%s may not read who works with a squad", tx.role())
	}
	lead, _, err := first(tx.staffIn(squad, that("leads")))
	return lead.UserID, err
}

// SetLeadCoach makes a coach who works with a squad its lead coach, in place of the one before. Who does not work with
// it as a coach is Invalid. Doing it again changes nothing. The coach who leaves the squad no longer leads it.
func (tx *Tx) SetLeadCoach(user, squad int64) error {
	if err := users().mayChange(tx); err != nil {
		return err
	}
	u, err := tx.staff("user_id", user)
	if err != nil {
		return err
	}
	s, err := squads().known(tx, "squad_id", squad)
	if err != nil {
		return err
	}
	if u.Role != models.RoleCoach {
		return wrong("user_id", "%s is a %s; only a coach can lead a squad", u.Name, u.Role)
	}
	staff, err := tx.staffIn(squad, where{})
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(staff, func(w models.SquadStaff) bool { return w.UserID == user }) {
		return wrong("user_id", "%s does not work with %s; add the squad to the coach first", u.Name, s.Name)
	}
	// The one before is taken off first: never do two lead.
	for _, leads := range []bool{false, true} {
		for _, w := range staff {
			if is := w.UserID == user; is == leads {
				if err := tx.lead(w, is); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// EndLeadCoach ends that a coach leads a squad. Where they do not, nothing changes.
func (tx *Tx) EndLeadCoach(user, squad int64) error {
	if err := users().mayChange(tx); err != nil {
		return err
	}
	staff, err := tx.staffIn(squad, that("user_id = ?", user))
	for _, w := range staff {
		if err := tx.lead(w, false); err != nil {
			return err
		}
	}
	return err
}

// lead writes whether one of a squad's staff leads it.
func (tx *Tx) lead(was models.SquadStaff, leads bool) error {
	if was.Leads == leads {
		return nil
	}
	now := was
	now.Leads = leads
	tx.note(models.AuditChange, "squad's staff", was.SquadID, 0, was, now)
	return tx.exec("write who leads a squad",
		"UPDATE squad_staff SET leads = ? WHERE academy_id = ? AND user_id = ? AND squad_id = ?", leads,
		tx.who.AcademyID, was.UserID, was.SquadID)
}

// signIn says whose a login is in any academy. On PostgreSQL row-level security hides other academies' users, and a
// function of the owner answers with ids only.
func (tx *Tx) signIn(login string) ([]signedIn, error) {
	if !storable(login) {
		return nil, nil
	}
	statement := "SELECT academy_id, id AS user_id FROM users WHERE login = ? AND deleted_at IS NULL"
	if tx.dialect.postgres() {
		statement = "SELECT academy_id, user_id FROM user_by_login(?)"
	}
	return rows[signedIn](tx, "find who is signing in", statement, login)
}

type signedIn struct{ AcademyID, UserID int64 }

// UserByLogin returns the user with a login, in any academy, and who they are to the store. An unknown login is
// NotFound, after as many queries as a known one takes.
func (s *Store) UserByLogin(ctx context.Context, login string) (models.User, models.Who, error) {
	found, _, err := first(lookUp(ctx, s, func(tx *Tx) ([]signedIn, error) { return tx.signIn(login) }))
	if err != nil {
		return models.User{}, models.Who{}, err
	}
	return s.User(ctx, found.AcademyID, found.UserID)
}

// lookUp reads what must be known before the academy is: without any, so that on PostgreSQL nothing is visible but
// what the owner's functions answer.
func lookUp[T any](ctx context.Context, s *Store, read func(*Tx) ([]T, error)) (all []T, err error) {
	err = s.Read(ctx, models.Who{}, func(tx *Tx) error {
		all, err = read(tx)
		return err
	})
	return all, err
}

// WhoByToken returns who a program with an access token acts for, by the SHA-256 hash of the token. An unknown hash,
// and that of a token that has expired, is NotFound.
func (s *Store) WhoByToken(ctx context.Context, sha256 []byte) (models.Who, error) {
	type holder struct {
		AcademyID, UserID, TokenID int64
		Scope                      models.TokenScope
	}
	held, found, err := first(lookUp(ctx, s, func(tx *Tx) ([]holder, error) {
		statement := `SELECT academy_id, user_id, id AS token_id, scope FROM access_tokens WHERE hash = unhex(?) AND ` +
			`expires_at > ? AND deleted_at IS NULL`
		if tx.dialect.postgres() {
			statement = "SELECT academy_id, user_id, token_id, scope FROM user_by_token(decode(?, 'hex'), ?)"
		}
		return rows[holder](tx, "look up an access token", statement, hex.EncodeToString(sha256), tx.now)
	}))
	if err != nil {
		return models.Who{}, err
	}
	if !found {
		return models.Who{}, models.Errorf(models.NotFound, "there is no such access token")
	}
	who, err := s.WhoByID(ctx, held.AcademyID, held.UserID)
	if err != nil {
		return models.Who{}, err
	}
	who.TokenID, who.ReadOnly = held.TokenID, held.Scope != models.ScopeWrite
	return who, nil
}

// WhoByID returns who a user of an academy is to the store: their role, their squads and, for a player, their record.
// A user who does not exist or no longer does is NotFound.
func (s *Store) WhoByID(ctx context.Context, academy, user int64) (models.Who, error) {
	_, who, err := s.User(ctx, academy, user)
	return who, err
}

// User returns a user of an academy with their password and second factor, and who they are to the store. It is for
// finding out who the caller is.
func (s *Store) User(ctx context.Context, academy, user int64) (u models.User, who models.Who, err error) {
	err = s.Read(ctx, models.Console(academy), func(tx *Tx) error {
		staff, err := tx.SquadStaff(max(user, 1)) // also for no one, whose looking up takes as long
		if err != nil {
			return err
		}
		all, err := users().find(tx, where{}, that("users.id = ?", user))
		if err != nil {
			return err
		}
		if len(all) == 0 {
			return users().missing(user)
		}
		u = all[0]
		who = models.Who{AcademyID: academy, UserID: u.ID, Name: u.Name, Role: u.Role, Zone: tx.zone()}
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
