package store

import (
	"throughline/models"
)

// Repeated returns what is kept about a request of the caller under the hash of its key, and whether there is any that
// is less than a day old.
func (tx *Tx) Repeated(keyHash []byte) (models.Repeat, bool, error) {
	var found []models.Repeat
	err := tx.query().Where("academy_id = ? AND user_id = ? AND key_hash = ? AND sent_at > ?", tx.who.AcademyID,
		tx.who.UserID, keyHash, tx.now.Add(-models.RepeatsFor)).
		Find(&found).Error
	return first(found, tx.done("find the same request", err))
}

// Remember keeps this transaction's request under the hash of its key: r has the hashes and what was made, the rest
// follows. It also forgets the academy's requests that are more than a day old.
func (tx *Tx) Remember(r models.Repeat) error {
	err := tx.exec("forget old requests", "DELETE FROM repeats WHERE academy_id = ? AND sent_at <= ?", tx.who.AcademyID,
		tx.now.Add(-models.RepeatsFor))
	if err != nil {
		return err
	}
	r.AcademyID, r.UserID, r.SentAt, r.PlayerID = tx.who.AcademyID, tx.who.UserID, tx.now, tx.aboutOne()
	return tx.done("remember a request", tx.query().Create(&r).Error)
}

// aboutOne returns the one player that all writes of this transaction are about, or nil if they are about none or
// several.
func (tx *Tx) aboutOne() *int64 {
	var player int64
	for _, e := range tx.trail {
		if e.player == 0 || player != 0 && e.player != player {
			return nil
		}
		player = e.player
	}
	if player == 0 {
		return nil
	}
	return &player
}
