package store

import (
	"context"
	"time"

	"throughline/models"
)

// endedKept is how long a session is kept that has ended by itself: whose it was says to whom a form belongs that was
// sent too late. It is as long as a session lasts at most.
const endedKept = 12 * time.Hour

// Session returns the session of a key, of any academy. One that does not exist, or has expired, is NotFound.
func (s *Store) Session(ctx context.Context, key string) (models.Session, error) {
	return s.sessionSince(ctx, key, 0)
}

// EndedSession returns the session of a key that ended by itself in the last hours, since it was not used or was old.
// The error of one that has not ended, was ended by its user, or ended long ago, has the code NotFound.
func (s *Store) EndedSession(ctx context.Context, key string) (models.Session, error) {
	found, err := s.sessionSince(ctx, key, endedKept)
	if err == nil && found.ExpiresAt.After(s.now()) {
		err = models.Errorf(models.NotFound, "that session has not ended")
	}
	return found, err
}

// sessionSince finds a session that has not ended, or ended no longer ago than that.
func (s *Store) sessionSince(ctx context.Context, key string, ago time.Duration) (models.Session, error) {
	found, some, err := first(lookUp(ctx, s, func(tx *Tx) ([]models.Session, error) {
		if !storable(key) {
			return nil, nil
		}
		statement := "SELECT academy_id, user_id, data, created_at, expires_at FROM sessions WHERE key = ? AND " +
			"expires_at > ?"
		if tx.dialect.postgres() {
			statement = "SELECT academy_id, user_id, data, created_at, expires_at FROM session_by_hash(?, ?)"
		}
		return rows[models.Session](tx, "look up a session", statement, key, tx.now.Add(-ago))
	}))
	if err == nil && !some {
		err = models.Errorf(models.NotFound, "there is no such session")
	}
	found.Key = key
	return found, err
}

// KeepSession keeps a new session, or new content of a kept one. A new one ends after lasts, unless ProlongSession
// moves its end. It also deletes the academy's sessions that ended long ago.
func (s *Store) KeepSession(ctx context.Context, keep models.Session, lasts time.Duration) error {
	return s.Write(ctx, models.Console(keep.AcademyID), func(tx *Tx) error {
		if err := tx.exec("delete expired sessions", "DELETE FROM sessions WHERE academy_id = ? AND expires_at <= ?",
			keep.AcademyID, tx.now.Add(-endedKept)); err != nil {
			return err
		}
		return tx.exec("save a session",
			`INSERT INTO sessions (key, academy_id, user_id, data, created_at, expires_at) VALUES (?, ?, ?, ?, ?, ?)
			ON CONFLICT (key) DO UPDATE SET data = excluded.data`,
			keep.Key, keep.AcademyID, keep.UserID, keep.Data, tx.now, tx.now.Add(lasts))
	})
}

// ProlongSession moves the end of a session that is in use to idle from now, and at most to lifetime after its
// beginning. It writes only if that moves the end by a twelfth of idle: few requests write.
func (s *Store) ProlongSession(ctx context.Context, used models.Session, idle, lifetime time.Duration) error {
	until := s.now().Add(idle)
	if last := used.CreatedAt.Add(lifetime); until.After(last) {
		until = last
	}
	if until.Sub(used.ExpiresAt) < idle/12 {
		return nil
	}
	return s.Write(ctx, models.Console(used.AcademyID), func(tx *Tx) error {
		err := tx.exec("extend a session", "UPDATE sessions SET expires_at = ? WHERE academy_id = ? AND key = ?",
			until.UTC().Truncate(time.Microsecond), used.AcademyID, used.Key)
		if err != nil {
			return err
		}
		return tx.tellRefused(where{}) // report sign-ins refused an hour ago, even if no one signs in
	})
}

// EndSession ends the session of a key, if it exists.
func (s *Store) EndSession(ctx context.Context, key string) error {
	found, err := s.Session(ctx, key)
	if models.CodeOf(err) == models.NotFound {
		return nil
	}
	if err != nil {
		return err
	}
	return s.Write(ctx, models.Console(found.AcademyID), func(tx *Tx) error {
		return tx.exec("end a session", "DELETE FROM sessions WHERE academy_id = ? AND key = ?", found.AcademyID, key)
	})
}

// Sessions returns the sessions of the caller that have not ended, the latest first.
func (tx *Tx) Sessions() ([]models.Session, error) {
	if tx.who.Reach(models.Read, models.AreaAccount) != models.ReachOwn {
		return nil, models.Errorf(models.Forbidden, "only users who sign in have sessions")
	}
	return rows[models.Session](tx, "read a user's sessions",
		`SELECT key, academy_id, user_id, data, created_at, expires_at FROM sessions
		WHERE academy_id = ? AND user_id = ? AND expires_at > ?
		ORDER BY created_at DESC, key`, tx.who.AcademyID, tx.who.UserID, tx.now)
}

// EndOtherSessions ends the sessions of the caller but that of a key.
func (tx *Tx) EndOtherSessions(but string) error {
	if err := tx.signedInAs(tx.who.UserID); err != nil {
		return err
	}
	return tx.endSessions(tx.who.UserID, but)
}

func (tx *Tx) endSessions(user int64, but string) error {
	if err := tx.exec("forget ended sessions", "DELETE FROM sessions WHERE academy_id = ? AND user_id = ? AND "+
		"key <> ? AND expires_at <= ?", tx.who.AcademyID, user, but, tx.now); err != nil {
		return err
	}
	done := tx.query().Exec("DELETE FROM sessions WHERE academy_id = ? AND user_id = ? AND key <> ?", tx.who.AcademyID,
		user, but)
	if done.RowsAffected > 0 {
		tx.happened(eventSessionsEnded, user)
	}
	return tx.done("end sessions", done.Error)
}
