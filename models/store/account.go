package store

import "throughline/models"

// event is something about a person's access that is no change of a record, or of one whose changed columns no one may
// read.
type event string

// The events.
const (
	eventSignIn          event = "sign in"
	eventRefused         event = "sign-in refused"
	eventSignOut         event = "sign out"
	eventSessionsEnded   event = "sessions ended"
	eventPassword        event = "password set"
	eventLinkUsed        event = "one-time link used"
	eventSecondFactorOn  event = "second factor turned on"
	eventSecondFactorOff event = "second factor turned off"
)

// happened adds an event about a user, 0 for a person unknown, to the audit trail, and to the log, which hears what it
// was and not whom it was about, and nothing of what a command on the machine itself did. Where the database fails
// here, nothing of the transaction is kept.
func (tx *Tx) happened(what event, user int64) {
	player, _ := tx.playerOf("users", user)
	tx.note(models.AuditAction(what), users().name, user, player, nil, nil)
	tx.logged(what)
}

// logged tells the log of an event.
func (tx *Tx) logged(what event) {
	if tx.who.From != models.Here {
		tx.log.InfoContext(tx.ctx, "access", "event", string(what))
	}
}

// signedInAs is an error unless the caller is the user, in a session: an access token is not enough. The console may
// act for any user.
func (tx *Tx) signedInAs(user int64) error {
	switch {
	case tx.who.Role == models.RoleConsole:
		return nil
	case user != tx.who.UserID || tx.who.Reach(models.Write, models.AreaAccount) != models.ReachOwn:
		return models.Errorf(models.Forbidden, "users can change only their own account")
	}
	return tx.inPerson()
}

// inPerson is an error if the caller uses an access token, which must not be worth more than it says.
func (tx *Tx) inPerson() error {
	if tx.who.TokenID != 0 {
		return models.Errorf(models.Forbidden, "sign in to do this; an access token is not enough")
	}
	return nil
}

// Account returns the user of the caller, with their second factor. Whether they have one is for the page of their
// account.
func (tx *Tx) Account() (models.User, error) {
	return tx.account(tx.who.UserID)
}

func (tx *Tx) account(user int64) (models.User, error) {
	u, found, err := first(users().find(tx, where{}, that("users.id = ?", user)))
	if err == nil && !found {
		err = users().missing(user)
	}
	return u, err
}

// change sets columns of a user that no one sets by UpdateUser.
func (tx *Tx) changeAccount(what event, user int64, set string, args ...any) error {
	done := tx.query().Exec("UPDATE users SET "+set+
		", changed_at = ?, version = version + 1 WHERE academy_id = ? AND id = ? AND deleted_at IS NULL",
		append(args, tx.now, tx.who.AcademyID, user)...)
	if err := tx.done(string(what), done.Error); err != nil {
		return err
	}
	if done.RowsAffected != 1 {
		return users().missing(user)
	}
	tx.happened(what, user)
	return nil
}

// SetPassword gives a user a password, by its encoded argon2id hash, ends all sessions and one-time links of the
// user, and forgets the browsers in which they have signed in. It is for the user, signed in, and for the console.
func (tx *Tx) SetPassword(user int64, hash string) error {
	if err := tx.signedInAs(user); err != nil {
		return err
	}
	return tx.setPassword(user, hash)
}

func (tx *Tx) setPassword(user int64, hash string) error {
	if err := (models.User{Login: "any", Name: "any", Role: models.RoleManager,
		PasswordHash: hash}).Validate(); err != nil || hash == "" {
		return models.Errorf(models.Invalid, "only the argon2id hash of a password may be stored")
	}
	if err := tx.changeAccount(eventPassword, user, "password_hash = ?", hash); err != nil {
		return err
	}
	if err := tx.voidLinks(user); err != nil {
		return err
	}
	if err := tx.forgetAllDevices(user); err != nil {
		return err
	}
	return tx.endSessions(user, "")
}

// OfferSecondFactor keeps the secret of a second factor that the caller has not confirmed yet: until they do,
// signing in asks for no code. It is for staff and operators; one that is on already is a Conflict.
func (tx *Tx) OfferSecondFactor(secret string) error {
	if err := tx.MayHaveSecondFactor(); err != nil {
		return err
	}
	u, err := tx.Account()
	if err != nil {
		return err
	}
	if u.SecondFactorSince != nil {
		return models.Errorf(models.Conflict, "two-factor sign-in is already on; turn it off before setting it up again")
	}
	return tx.exec("offer a second factor", "UPDATE users SET totp_secret = ?, totp_step = 0 WHERE academy_id = "+
		"? AND id = ?",
		secret, tx.who.AcademyID, u.ID)
}

// MayHaveSecondFactor is Forbidden for callers who may not set up two-factor sign-in: players, programs and the
// console.
func (tx *Tx) MayHaveSecondFactor() error {
	if !tx.who.Staff() && tx.who.Role != models.RoleOperator {
		return models.Errorf(models.Forbidden, "two-factor sign-in is for staff")
	}
	return tx.signedInAs(tx.who.UserID)
}

// ConfirmSecondFactor turns on the second factor that the caller was offered, by the step of a code of it,
// which is used up. Their other sessions end. Without an offer it is a Conflict.
func (tx *Tx) ConfirmSecondFactor(step int64) error {
	if err := tx.MayHaveSecondFactor(); err != nil {
		return err
	}
	u, err := tx.Account()
	if err != nil {
		return err
	}
	if u.TOTPSecret == "" || u.SecondFactorSince != nil {
		return models.Errorf(models.Conflict, "you have not started to set up two-factor sign-in; start again on your "+
			"account page")
	}
	if err := tx.changeAccount(eventSecondFactorOn, u.ID, "second_factor_since = ?, totp_step = ?", tx.now,
		step); err != nil {
		return err
	}
	return tx.endSessions(u.ID, "")
}

// UseCode uses up the code of a time step. It is Forbidden if this code or a later one was used before: a code seen
// over a shoulder opens nothing.
func (tx *Tx) UseCode(step int64) error {
	if err := tx.signedInAs(tx.who.UserID); err != nil {
		return err
	}
	done := tx.query().Exec("UPDATE users SET totp_step = ? WHERE academy_id = ? AND id = ? AND deleted_at IS NULL AND "+
		"second_factor_since IS NOT NULL AND totp_step < ?",
		step, tx.who.AcademyID, tx.who.UserID, step)
	if err := tx.done("use a one-time code", done.Error); err != nil {
		return err
	}
	if done.RowsAffected != 1 {
		return models.Errorf(models.Forbidden, "this code has already been used; wait for the next one")
	}
	return nil
}

// EndSecondFactor turns off the second factor of the caller, by the time step of a code of it, which is used up: see
// UseCode.
func (tx *Tx) EndSecondFactor(step int64) error {
	if err := tx.UseCode(step); err != nil {
		return err
	}
	return tx.endSecondFactor(tx.who.UserID)
}

// EndSecondFactorOf turns off two-factor sign-in for a user who lost the device that makes their codes, and ends their
// sessions. The caller must manage users. They cannot do it for themselves: their own is turned off with their
// password.
func (tx *Tx) EndSecondFactorOf(user int64) error {
	if _, err := tx.User(user); err != nil {
		return err
	}
	if err := users().mayChange(tx); err != nil {
		return err
	}
	if err := tx.inPerson(); err != nil {
		return err
	}
	if user == tx.who.UserID {
		return models.Errorf(models.Forbidden,
			"turn off your own two-factor sign-in on your account page; you need your password and a code")
	}
	return tx.endSecondFactor(user)
}

func (tx *Tx) endSecondFactor(user int64) error {
	if err := tx.changeAccount(eventSecondFactorOff, user,
		"totp_secret = '', second_factor_since = NULL, totp_step = 0"); err != nil {
		return err
	}
	return tx.endSessions(user, "")
}
