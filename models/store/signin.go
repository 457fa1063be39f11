package store

import (
	"context"
	"errors"
	"time"

	"throughline/models"
)

// toldEvery is how often the audit trail reports refused sign-ins of one account. Anyone can cause these.
const toldEvery = time.Hour

// SignInTry is one attempt to sign in.
type SignInTry struct {
	AcademyID int64
	UserID    int64 // 0: the name is no user's, and AcademyID that of the deployment
	Part      models.SignInPart
	Place     int64    // for user 0: 1 to models.UnknownNames, by the name
	Devices   [][]byte // the hashes of what the browser's cookie holds
}

// TryToSignIn uses up one attempt: one of the browser's own if the user has signed in there before. If none is left,
// it returns how long to wait.
func (s *Store) TryToSignIn(ctx context.Context, try SignInTry) (wait time.Duration, err error) {
	err = s.Write(ctx, models.Console(try.AcademyID), func(tx *Tx) error {
		wait, err = tx.tryToSignIn(try)
		return err
	})
	return wait, err
}

func (tx *Tx) tryToSignIn(try SignInTry) (wait time.Duration, err error) {
	device := try.Place
	known, err := tx.devicesOf(try.UserID, try.Devices)
	if err != nil {
		return 0, err
	}
	if len(known) > 0 {
		device = known[0]
	}
	// A row in the past says no more than none.
	err = tx.exec("delete old attempts", "DELETE FROM sign_in_attempts WHERE academy_id = ? AND full_at <= ?",
		tx.who.AcademyID, tx.now)
	if err != nil {
		return 0, err
	}
	full := tx.now
	at, some, err := first(rows[models.SignInAttempts](tx, "count attempts",
		"SELECT full_at FROM sign_in_attempts WHERE academy_id = ? AND user_id = ? AND part = ? AND device_id = ?",
		tx.who.AcademyID, try.UserID, try.Part, device))
	if err != nil {
		return 0, err
	}
	if some {
		full = at.FullAt
	}
	// The generic cell rate algorithm (ITU-T I.371): each attempt moves the time at which all are there again by one
	// interval.
	allowed := try.Part.Allowed()
	full = full.Add(allowed.Every)
	if wait = full.Sub(tx.now) - time.Duration(allowed.AtOnce)*allowed.Every; wait > 0 {
		return wait, nil
	}
	return 0, tx.exec("use up an attempt",
		`INSERT INTO sign_in_attempts (academy_id, user_id, part, device_id, full_at) VALUES (?, ?, ?, ?, ?)
		ON CONFLICT (academy_id, user_id, part, device_id) DO UPDATE SET full_at = excluded.full_at`,
		tx.who.AcademyID, try.UserID, try.Part, device, full)
}

// devicesOf are the ids of a user's browsers that have one of the hashes.
func (tx *Tx) devicesOf(user int64, hashes [][]byte) ([]int64, error) {
	if len(hashes) == 0 {
		return nil, nil
	}
	return rows[int64](tx, "find a browser",
		`SELECT id FROM devices WHERE academy_id = ? AND user_id = ? AND hash IN ? AND used_at > ? ORDER BY id`,
		tx.who.AcademyID, user, hashes, tx.now.Add(-models.LongestDevice))
}

// SignedIn tells that a user has signed in, and gives back the attempts that were used in this browser. Devices are
// the hashes of what its cookie holds; fresh, another one, takes the place of those that are the user's.
func (s *Store) SignedIn(ctx context.Context, who models.Who, devices [][]byte, fresh []byte) error {
	return s.access(ctx, who, func(tx *Tx) error {
		if err := tx.tellRefused(that("r.user_id = ?", who.UserID)); err != nil {
			return err
		}
		tx.happened(eventSignIn, who.UserID)
		known, err := tx.devicesOf(who.UserID, devices)
		if err != nil {
			return err
		}
		if err := tx.giveBack(who.UserID, known); err != nil {
			return err
		}
		if err := tx.forgetDevices(who.UserID, known); err != nil {
			return err
		}
		return tx.rememberDevice(who.UserID, fresh)
	})
}

// giveBack gives back the attempts of a user that were used in some browsers, or in unknown ones where there are none.
func (tx *Tx) giveBack(user int64, devices []int64) error {
	if len(devices) == 0 {
		devices = []int64{0}
	}
	return tx.exec("give attempts back",
		"DELETE FROM sign_in_attempts WHERE academy_id = ? AND user_id = ? AND device_id IN ?",
		tx.who.AcademyID, user, devices)
}

// forgetDevices forgets some browsers of a user, and those that were not used for long.
func (tx *Tx) forgetDevices(user int64, ids []int64) error {
	return tx.exec("delete old browsers",
		"DELETE FROM devices WHERE academy_id = ? AND user_id = ? AND (id IN ? OR used_at <= ?)",
		tx.who.AcademyID, user, append([]int64{0}, ids...), tx.now.Add(-models.LongestDevice))
}

// forgetAllDevices forgets every browser of a user and gives all attempts back: another password is for the person to
// try anew, wherever they are.
func (tx *Tx) forgetAllDevices(user int64) error {
	if err := tx.exec("delete old browsers", "DELETE FROM devices WHERE academy_id = ? AND user_id = ?", tx.who.AcademyID,
		user); err != nil {
		return err
	}
	return tx.exec("give attempts back", "DELETE FROM sign_in_attempts WHERE academy_id = ? AND user_id = ?",
		tx.who.AcademyID, user)
}

// rememberDevice remembers a browser of a user, in place of the one that was not used for longest where there are
// many.
func (tx *Tx) rememberDevice(user int64, hash []byte) error {
	err := tx.exec("remember a browser", "INSERT INTO devices (academy_id, user_id, hash, used_at) VALUES (?, ?, ?, ?)",
		tx.who.AcademyID, user, hash, tx.now)
	if err != nil {
		return err
	}
	return tx.exec("delete old browsers", `DELETE FROM devices WHERE academy_id = ? AND user_id = ? AND id NOT IN
		(SELECT id FROM devices WHERE academy_id = ? AND user_id = ? ORDER BY used_at DESC, id DESC LIMIT ?)`,
		tx.who.AcademyID, user, tx.who.AcademyID, user, models.MostDevices)
}

// RememberDevice remembers the browser of the caller, by the hash of what its cookie holds.
func (tx *Tx) RememberDevice(hash []byte) error {
	if err := tx.signedInAs(tx.who.UserID); err != nil {
		return err
	}
	return tx.rememberDevice(tx.who.UserID, hash)
}

// SignedOut tells that a user has signed out.
func (s *Store) SignedOut(ctx context.Context, who models.Who) error {
	return s.access(ctx, who, func(tx *Tx) error {
		tx.happened(eventSignOut, who.UserID)
		return tx.tellRefused(where{})
	})
}

// SignInRefused counts that a user was not let in, or, in the deployment, a name that no user has: both take the same
// work. The audit trail tells of the first within an hour, and of the others together.
func (s *Store) SignInRefused(ctx context.Context, who models.Who) error {
	return s.access(ctx, who, func(tx *Tx) error {
		tx.logged(eventRefused)
		err := tx.exec("count a refused sign-in",
			`INSERT INTO refused_sign_ins AS r (academy_id, user_id, told_at, untold, last_at, last_from)
			VALUES (?, ?, ?, 1, ?, ?) ON CONFLICT (academy_id, user_id)
			DO UPDATE SET untold = r.untold + 1, last_at = excluded.last_at, last_from = excluded.last_from`,
			tx.who.AcademyID, who.UserID, tx.now.Add(-toldEvery), tx.now, who.From)
		if err != nil {
			return err
		}
		return tx.tellRefused(where{})
	})
}

// tellRefused writes to the audit trail how many sign-ins of an account were refused since the last such entry. It
// does so for accounts whose last entry is an hour old, and for those that a condition names.
func (tx *Tx) tellRefused(also where) error {
	type refused struct {
		models.RefusedSignIns
		Role     models.Role
		PlayerID int64
	}
	due := that("r.told_at <= ?", tx.now.Add(-toldEvery))
	if also.sql != "" {
		due = or(due, also)
	}
	all, err := rows[refused](tx, "read refused sign-ins",
		`SELECT r.*, users.role, users.player_id FROM refused_sign_ins AS r
		LEFT JOIN users ON users.academy_id = r.academy_id AND users.id = r.user_id
		WHERE r.academy_id = ? AND r.untold > 0 AND (`+due.sql+") ORDER BY r.user_id",
		append([]any{tx.who.AcademyID}, due.args...)...)
	if err != nil {
		return err
	}
	for _, r := range all {
		who := models.Who{AcademyID: r.AcademyID, UserID: r.UserID, Role: r.Role, From: r.LastFrom}
		if r.UserID == 0 {
			who.Role = models.RoleConsole
		}
		tx.trail = append(tx.trail, entry{
			who: who, at: tx.now, action: models.AuditAction(eventRefused), kind: users().name, id: r.UserID,
			player: r.PlayerID, after: models.Refusals{Count: r.Untold, LastAt: r.LastAt},
		})
		err := tx.exec("report refused sign-ins",
			"UPDATE refused_sign_ins SET untold = 0, told_at = ? WHERE academy_id = ? AND user_id = ?",
			tx.now, tx.who.AcademyID, r.UserID)
		if err != nil {
			return err
		}
	}
	return nil
}

// access is a write about the caller's own access, which no program has.
func (s *Store) access(ctx context.Context, who models.Who, fn func(*Tx) error) error {
	if who.ReadOnly || who.TokenID != 0 {
		return errors.New("only people sign in and out")
	}
	return s.Write(ctx, who, fn)
}
