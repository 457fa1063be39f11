package auth

import (
	"context"
	"crypto/aes"
	"crypto/cipher"
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"net/http"

	"github.com/alexedwards/scs/v2"

	"throughline/models"
)

// sealUse is what the keys of seals are for.
const sealUse = "throughline: a form that was sent after its session had ended"

// Seal encrypts what the browser of ctx sent after its session had ended, for the user of that session alone. The key
// comes from the ended session's token, which only that browser has. It is not ok where no such session is known: it
// was ended by its user or a manager, or it ended long ago.
func (a *Auth) Seal(ctx context.Context, plain []byte) (sealed string, ok bool, err error) {
	key, _, err := a.ended(ctx)
	if err != nil || key == nil {
		return "", false, err
	}
	box, err := boxOf(key)
	if err != nil {
		return "", false, err
	}
	nonce := make([]byte, box.NonceSize())
	if _, err := rand.Read(nonce); err != nil {
		return "", false, fmt.Errorf("seal a form: %w", err)
	}
	return base64.RawURLEncoding.EncodeToString(box.Seal(nonce, nonce, plain, nil)), true, nil
}

// Unseal opens what Seal sealed, once the same user has signed in with the same browser. It is not ok for another
// user, another browser, or text that is not a seal.
func (a *Auth) Unseal(ctx context.Context, sealed string) (plain []byte, ok bool) {
	key := a.sessions.GetBytes(ctx, sealKey)
	text, err := base64.RawURLEncoding.DecodeString(sealed)
	if err != nil || key == nil || a.sessions.GetBool(ctx, pendingKey) {
		return nil, false
	}
	box, err := boxOf(key)
	if err != nil || len(text) < box.NonceSize() {
		return nil, false
	}
	plain, err = box.Open(nil, text[:box.NonceSize()], text[box.NonceSize():], nil)
	return plain, err == nil
}

func boxOf(key []byte) (cipher.AEAD, error) {
	block, err := aes.NewCipher(key)
	if err != nil {
		return nil, fmt.Errorf("seal a form: %w", err)
	}
	return cipher.NewGCM(block)
}

// ended returns the key of what the browser of ctx seals, and whose session it was that ended there; nil if none did.
func (a *Auth) ended(ctx context.Context) (key []byte, of models.Session, err error) {
	b := browserOf(ctx)
	if b == nil || b.token == "" {
		return nil, of, nil
	}
	of, err = a.store.EndedSession(ctx, keyOf(b.token))
	if models.CodeOf(err) == models.NotFound {
		return nil, of, nil
	}
	if err != nil {
		return nil, of, err
	}
	_, values, err := scs.GobCodec{}.Decode(of.Data)
	if err != nil {
		return nil, of, fmt.Errorf("read a session: %w", err)
	}
	if values[pendingKey] == true { // the code came too late: what was sealed before its password stays sealed
		key, _ = values[sealKey].([]byte)
		return key, of, nil
	}
	key, err = hkdf.Key(sha256.New, []byte(b.token), nil, sealUse, 32)
	if err != nil {
		return nil, of, fmt.Errorf("seal a form: %w", err)
	}
	return key, of, nil
}

// passOn gives the session of ctx, which is about to be that of who, the key of the session that ended in the same
// browser, if that was theirs too. The key of another user's goes.
func (a *Auth) passOn(ctx context.Context, who models.Who) error {
	key, of, err := a.ended(ctx)
	if err != nil {
		return err
	}
	if key != nil && of.UserID == who.UserID && of.AcademyID == who.AcademyID {
		a.sessions.Put(ctx, sealKey, key)
		return nil
	}
	if a.sessions.GetInt64(ctx, userKey) != who.UserID || a.sessions.GetInt64(ctx, academyKey) != who.AcademyID {
		a.sessions.Remove(ctx, sealKey)
	}
	return nil
}

// SentSession says whether the browser of a request has had a session.
func (a *Auth) SentSession(r *http.Request) bool {
	c, err := r.Cookie(SessionCookie(a.secure))
	return err == nil && c.Value != ""
}

// Again returns the request as that of the user who has signed in with it.
func (a *Auth) Again(r *http.Request) (*http.Request, error) {
	who, err := a.bySession(r)
	if err != nil || who.Role == "" {
		return r, err
	}
	who.From = from(r.Context())
	return r.WithContext(context.WithValue(r.Context(), whoKey{}, who)), nil
}
