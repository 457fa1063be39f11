package store

import (
	"context"
	"crypto/aes"
	"crypto/cipher"
	"crypto/hkdf"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
)

// sealingKey is a key that the database keeps for all servers of it. The migration makes one for cursors.
type sealingKey struct {
	Name string `gorm:"primaryKey" texts:"-"`
	Key  []byte
}

// sealer seals short texts that the program hands out and gets back. A holder can neither read nor change a sealed
// text. Only the database that sealed it opens it, and only for the same purpose. The same text always gives the same
// seal: answers stay the same byte for byte.
//
//	sealed = nonce ‖ AES-256-GCM(key, nonce, text, additional data = purpose)
//	nonce  = the first 12 bytes of HMAC-SHA-256(other key, purpose ‖ 0 ‖ text)
//
// Both keys are derived from the database's by HKDF (RFC 5869). The nonce follows from the text, as in RFC 5297: it is
// only used again for the same text.
type sealer struct {
	box    cipher.AEAD
	nonces []byte
}

func newSealer(key []byte) (*sealer, error) {
	boxKey, err := hkdf.Expand(sha256.New, key, "seal", 32)
	if err != nil {
		return nil, err
	}
	nonces, err := hkdf.Expand(sha256.New, key, "nonce", sha256.Size)
	if err != nil {
		return nil, err
	}
	block, err := aes.NewCipher(boxKey)
	if err != nil {
		return nil, err
	}
	box, err := cipher.NewGCM(block)
	return &sealer{box, nonces}, err
}

func (s *sealer) seal(purpose string, text []byte) string {
	mac := hmac.New(sha256.New, s.nonces)
	mac.Write([]byte(purpose)) // never fails: see its documentation
	mac.Write([]byte{0})
	mac.Write(text)
	nonce := mac.Sum(nil)[:s.box.NonceSize()]
	return base64.RawURLEncoding.EncodeToString(s.box.Seal(nonce, nonce, text, []byte(purpose)))
}

// open returns what was sealed for a purpose, and false for anything else.
func (s *sealer) open(purpose, sealed string) ([]byte, bool) {
	all, err := base64.RawURLEncoding.Strict().DecodeString(sealed)
	if err != nil || len(all) < s.box.NonceSize() {
		return nil, false
	}
	nonce, rest := all[:s.box.NonceSize()], all[s.box.NonceSize():]
	text, err := s.box.Open(nil, nonce, rest, []byte(purpose))
	return text, err == nil
}

// readKeys reads the keys that the database keeps.
func (s *Store) readKeys(ctx context.Context) error {
	var keys []sealingKey
	if err := s.readers.WithContext(ctx).Where("name = ?", "cursor").Find(&keys).Error; err != nil {
		return fmt.Errorf("read the key of cursors: %w", lost(err))
	}
	if len(keys) != 1 {
		return fmt.Errorf("the table sealing_keys has no key named cursor: add one of 32 random bytes, and list cursors " +
			"will work again")
	}
	var err error
	if s.seal, err = newSealer(keys[0].Key); err != nil {
		return fmt.Errorf("read the key of cursors: %w", err)
	}
	return nil
}
