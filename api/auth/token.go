package auth

import (
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"io"
	"net/http"
	"strings"

	"throughline/models"
)

// tokenPrefix tells people and scanners that a text found in the wrong place is a token.
const tokenPrefix = "throughline_"

// NewToken makes an access token with 256 bits from random, and the SHA-256 of it, which is all that is kept.
func NewToken(random io.Reader) (token string, hash []byte, err error) {
	chance := make([]byte, 32)
	if _, err := io.ReadFull(random, chance); err != nil {
		return "", nil, fmt.Errorf("create an access token: %w", err)
	}
	token = tokenPrefix + base64.RawURLEncoding.EncodeToString(chance)
	sum := sha256.Sum256([]byte(token))
	return token, sum[:], nil
}

// byToken returns who holds the token of the Authorization header. Its error has the code NotFound where that is
// no one, or the header is not one bearer token (RFC 6750 §2.1).
func (a *Auth) byToken(r *http.Request) (models.Who, error) {
	headers := r.Header.Values("Authorization")
	scheme, token, _ := strings.Cut(headers[0], " ")
	token = strings.TrimLeft(token, " ")
	if len(headers) != 1 || !strings.EqualFold(scheme, "Bearer") || token == "" {
		return models.Who{}, models.Errorf(models.NotFound, "the Authorization header is wrong; send the word Bearer, a "+
			"space and one access token")
	}
	sum := sha256.Sum256([]byte(token))
	who, err := a.store.WhoByToken(r.Context(), sum[:])
	if err != nil {
		return models.Who{}, fmt.Errorf("find who holds an access token: %w", err)
	}
	return who, nil
}
