package store

import (
	"context"
	"encoding/hex"

	"throughline/models"
)

func links() *kind[models.Link] {
	return &kind[models.Link]{
		name: "one-time link", table: "links", area: models.AreaUsers, order: "links.academy_id, links.id",
		record:   func(l *models.Link) *models.Record { return &l.Record },
		users:    []string{"user_id", "made_by"},
		player:   func(tx *Tx, l *models.Link) (int64, error) { return tx.playerOf("users", l.UserID) },
		validate: (*models.Link).Validate,
		within:   everyone,
	}
}

// CreateLink adds a one-time link for a user to come in. The caller sets UserID and Hash, and the rest follows. It
// replaces the user's unused links. The caller must manage users and be signed in: a link made with an access token
// would be worth a password that outlasts the token.
func (tx *Tx) CreateLink(l *models.Link) error {
	u, err := users().known(tx, "user_id", l.UserID)
	if err != nil {
		return err
	}
	if err := users().mayChange(tx); err != nil {
		return err
	}
	if err := tx.inPerson(); err != nil {
		return err
	}
	if u.ID == tx.who.UserID {
		return models.Errorf(models.Forbidden, "change your own password on your account page")
	}
	made := *l
	made.Purpose, made.MadeBy, made.UsedAt = models.Reset, tx.who.UserID, nil
	if u.PasswordHash == "" {
		made.Purpose = models.Invitation
	}
	made.ExpiresAt = tx.now.Add(made.Purpose.Lasts())
	if err := links().mayChange(tx); err != nil {
		return err
	}
	if err := tx.voidLinks(u.ID); err != nil {
		return err
	}
	if err := links().create(tx, &made); err != nil {
		return err
	}
	*l = made
	return nil
}

// voidLinks takes back the links that a user has not used.
func (tx *Tx) voidLinks(user int64) error {
	return tx.exec("cancel one-time links", "UPDATE links SET deleted_at = ?, changed_at = ?, version = version + 1 "+
		"WHERE academy_id = ? AND user_id = ? AND used_at IS NULL AND deleted_at IS NULL",
		tx.now, tx.now, tx.who.AcademyID, user)
}

// linkHolder returns whose a link is, in any academy. It is NotFound if there is no such link, or it was used,
// withdrawn or has expired.
func (s *Store) linkHolder(ctx context.Context, sha256 []byte) (models.Who, error) {
	found, some, err := first(lookUp(ctx, s, func(tx *Tx) ([]signedIn, error) {
		statement := "SELECT academy_id, user_id FROM links WHERE hash = unhex(?) AND expires_at > ? AND used_at IS NULL " +
			"AND deleted_at IS NULL"
		if tx.dialect.postgres() {
			statement = "SELECT academy_id, user_id FROM link_by_hash(decode(?, 'hex'), ?)"
		}
		return rows[signedIn](tx, "look up a one-time link", statement, hex.EncodeToString(sha256), tx.now)
	}))
	if err == nil && !some {
		err = models.Errorf(models.NotFound, "this link is not valid: it was already used, has expired, or was replaced "+
			"by a newer one. Ask a manager for a new link")
	}
	if err != nil {
		return models.Who{}, err
	}
	return s.WhoByID(ctx, found.AcademyID, found.UserID)
}

// Invited returns what the holder of a one-time link may know, by the SHA-256 hash of its secret. It uses nothing up.
// A link that is not valid, or no longer, is NotFound.
func (s *Store) Invited(ctx context.Context, sha256 []byte) (i models.Invited, err error) {
	who, err := s.linkHolder(ctx, sha256)
	if err != nil {
		return i, err
	}
	err = s.Read(ctx, who, func(tx *Tx) error {
		if i.User, err = tx.Account(); err != nil {
			return err
		}
		i.Academy, err = tx.AcademyName()
		return err
	})
	return i, err
}

// UseLink uses a one-time link up: its user has the password of an encoded argon2id hash from now on, and their
// sessions, access tokens and other links end. From is where that was asked for. It returns who they are. A link that
// is not valid, or no longer, is NotFound.
func (s *Store) UseLink(ctx context.Context, sha256 []byte, hash, from string) (models.Who, error) {
	who, err := s.linkHolder(ctx, sha256)
	if err != nil {
		return models.Who{}, err
	}
	who.From = from
	err = s.Write(ctx, who, func(tx *Tx) error {
		// Another request may have used it by now.
		done := tx.query().Exec(`UPDATE links SET used_at = ?, changed_at = ?, version = version + 1
			WHERE academy_id = ? AND user_id = ? AND hash = ? AND expires_at > ? AND used_at IS NULL AND deleted_at IS NULL`,
			tx.now, tx.now, who.AcademyID, who.UserID, sha256, tx.now)
		if err := tx.done("use a one-time link", done.Error); err != nil {
			return err
		}
		if done.RowsAffected != 1 {
			return models.Errorf(models.NotFound, "this link is not valid: it was already used, has expired, or was replaced "+
				"by a newer one. Ask a manager for a new link")
		}
		tx.happened(eventLinkUsed, who.UserID)
		if err := tx.endTokens(who.UserID); err != nil { // a person who knew the old password may have made some
			return err
		}
		return tx.setPassword(who.UserID, hash)
	})
	return who, err
}
