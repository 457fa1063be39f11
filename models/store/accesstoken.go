package store

import "throughline/models"

// accessTokens are all tokens for callers who manage users, and their own for others.
func accessTokens(tx *Tx) *kind[models.AccessToken] {
	area := models.AreaAccount
	if tx.who.Reach(models.Read, models.AreaUsers) == models.ReachAcademy {
		area = models.AreaUsers
	}
	return &kind[models.AccessToken]{
		name: "access token", table: "access_tokens", area: area, order: "access_tokens.user_id, access_tokens.id",
		record:   func(t *models.AccessToken) *models.Record { return &t.Record },
		users:    []string{"user_id"},
		player:   func(tx *Tx, t *models.AccessToken) (int64, error) { return tx.playerOf("users", t.UserID) },
		validate: (*models.AccessToken).Validate,
		within: func(who models.Who, _ models.Action, _ models.Reach) where {
			return that("access_tokens.user_id = ?", who.UserID)
		},
		check: checkAccessToken,
	}
}

// checkAccessToken makes sure that a token is made by the person whom it acts as, in a session: a program that holds
// one must not make itself others, and no one acts as another person.
func checkAccessToken(tx *Tx, old, t *models.AccessToken) error {
	switch {
	case old != nil && old.UserID != t.UserID:
		return stays("user_id", "an access token", "its user")
	case old != nil:
		t.Hash, t.Scope, t.ExpiresAt = old.Hash, old.Scope, old.ExpiresAt
		return nil
	}
	if err := tx.fewTokens(t.UserID); err != nil {
		return err
	}
	if tx.who.Role == models.RoleConsole {
		_, err := users().known(tx, "user_id", t.UserID)
		return err
	}
	if t.UserID != tx.who.UserID {
		return models.Errorf(models.Forbidden, "you can create access tokens only for yourself")
	}
	return tx.signedInAs(t.UserID)
}

// fewTokens refuses a token of a user who has as many as are allowed. Those that have expired do not count.
func (tx *Tx) fewTokens(user int64) error {
	valid, err := tx.count("count access tokens",
		"SELECT count(*) FROM access_tokens WHERE academy_id = ? AND user_id = ? AND expires_at > ? AND deleted_at IS NULL",
		tx.who.AcademyID, user, tx.now)
	if err == nil && valid >= models.MostTokens {
		err = models.Errorf(models.Conflict,
			"you have %d access tokens, the maximum; delete one you no longer use", valid)
	}
	return err
}

// EndAccessTokens ends every access token of the caller, who must be signed in.
func (tx *Tx) EndAccessTokens() error {
	if err := tx.signedInAs(tx.who.UserID); err != nil {
		return err
	}
	return tx.endTokens(tx.who.UserID)
}

// endTokens ends every access token of a user.
func (tx *Tx) endTokens(user int64) error {
	all, err := rows[models.AccessToken](tx, "read access tokens",
		"SELECT * FROM access_tokens WHERE academy_id = ? AND user_id = ? AND deleted_at IS NULL ORDER BY id",
		tx.who.AcademyID, user)
	if err != nil {
		return err
	}
	for _, t := range all {
		if err := accessTokens(tx).remove(tx, t.ID, t.Version); err != nil {
			return err
		}
	}
	return nil
}

// AccessToken returns an access token.
func (tx *Tx) AccessToken(id int64) (models.AccessToken, error) { return accessTokens(tx).get(tx, id) }

// AccessTokens returns the access tokens of a user, or for user 0 all that the caller may see, by user and in the
// order in which they were made.
func (tx *Tx) AccessTokens(user int64) ([]models.AccessToken, error) {
	return accessTokens(tx).list(tx, is("access_tokens.user_id", user))
}

// CreateAccessToken adds an access token of the caller, who must be signed in. The console may add one for any user.
func (tx *Tx) CreateAccessToken(t *models.AccessToken) error { return accessTokens(tx).create(tx, t) }

// UpdateAccessToken changes what an access token is called. Whose it is, what it opens and for how long stay.
func (tx *Tx) UpdateAccessToken(t *models.AccessToken) error { return accessTokens(tx).update(tx, t) }

// DeleteAccessToken ends an access token: it opens nothing any more.
func (tx *Tx) DeleteAccessToken(id, version int64) error {
	return accessTokens(tx).remove(tx, id, version)
}
