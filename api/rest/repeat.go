package rest

import (
	"bytes"
	"crypto/sha256"
	"net/http"
	"slices"
	"strings"
	"sync"

	"github.com/danielgtaylor/huma/v2"
	"github.com/go-json-experiment/json/jsontext"

	"throughline/models"
	"throughline/models/store"
)

// A program that could not see whether its request arrived sends it again, with the Idempotency-Key that it gave it
// (draft-ietf-httpapi-idempotency-key-header-07): nothing is made twice. For a day only hashes and the ids of what was
// made are kept, in the transaction that makes it; a repeat reads the records afresh. A key is the caller's own: two
// callers may choose the same one.

// keyHeader is the header that carries the key, a string as RFC 9651 §3.3.3 has it.
const keyHeader = "Idempotency-Key"

const longestKey = 200

// The types of problem that a key brings about, beside those of their statuses.
var (
	keyInUse = refusal{status: http.StatusConflict, slug: "key-in-use", name: "InTheWay",
		headers: []string{"Retry-After"},
		when:    "A request with the same Idempotency-Key is still running.",
		remedy:  "Wait as many seconds as the Retry-After header says, then send it again."}
	keyOfSecret = refusal{status: http.StatusConflict, slug: "secret-not-repeated", name: "InTheWay",
		when: "An earlier request with the same Idempotency-Key created a secret, such as a token or a link. Secrets are " +
			"shown only once.",
		remedy: "If you lost the answer, delete what it created and send the request again with another key."}
	keyReused = refusal{status: http.StatusUnprocessableEntity, slug: "key-reused", name: "NotValid",
		when:   "The Idempotency-Key was already used for a different request.",
		remedy: "Choose a new key for each request. Use the same key again only to repeat the same request.",
		errors: []*huma.ErrorDetail{{Location: "header." + keyHeader,
			Message: "was already used for a different request; choose a new key"}}}
	keyRefusals = []refusal{keyInUse, keyOfSecret, keyReused}
)

// keyParam describes the header.
func keyParam() *huma.Param {
	least, most := 3, longestKey+2
	return &huma.Param{
		Name: keyHeader, In: "header", Example: `"9d0c1a52-6d2c-4d8e-8f0a-2f6d7c1b5a10"`,
		Description: "A key that you choose for this request, in double quotes. If you send the same request again with " +
			"the same key within a day, nothing new is created and you get the same answer. A secret is never shown " +
			"again (409).",
		Schema: &huma.Schema{Type: huma.TypeString, MinLength: &least, MaxLength: &most,
			Pattern: `^"([ !#-\[\]-~]|\\["\\])+"$`},
	}
}

// keyOf returns the key of a request, "" where it has none. A header that is not a string in quotes is Invalid.
func keyOf(h http.Header) (string, error) {
	lines := h.Values(keyHeader)
	if len(lines) == 0 {
		return "", nil
	}
	wrong := func(message string) (string, error) {
		return "", &models.Error{Code: models.Invalid, Message: "the Idempotency-Key cannot be read",
			Fields: []models.FieldError{{Where: "header." + keyHeader, Message: message}}}
	}
	if len(lines) > 1 {
		return wrong("appears twice; send one key")
	}
	s := strings.Trim(lines[0], " ")
	if len(s) < 2 || s[0] != '"' || s[len(s)-1] != '"' {
		return wrong(`is not in double quotes; write it like "9d0c1a52"`)
	}
	var key strings.Builder
	for i, inside := 0, s[1:len(s)-1]; i < len(inside); i++ {
		c := inside[i]
		if c == '\\' && i+1 < len(inside) && (inside[i+1] == '"' || inside[i+1] == '\\') {
			i++
			c = inside[i]
		} else if c == '"' || c == '\\' || c < ' ' || c > '~' {
			return wrong("has a character that is not allowed; use letters, digits and hyphens")
		}
		key.WriteByte(c)
	}
	switch n := key.Len(); {
	case n == 0:
		return wrong("is empty; choose a key for each request")
	case n > longestKey:
		return wrong("is too long; write at most 200 characters")
	}
	return key.String(), nil
}

// inWork are the keys of requests that this process is working on.
type inWork struct {
	mu   sync.Mutex
	keys map[workKey]bool
}

type workKey struct {
	academy, user int64
	hash          [sha256.Size]byte
}

// begin says whether no one works on a key yet, and takes it if so.
func (w *inWork) begin(k workKey) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.keys[k] {
		return false
	}
	if w.keys == nil {
		w.keys = map[workKey]bool{}
	}
	w.keys[k] = true
	return true
}

func (w *inWork) end(k workKey) {
	w.mu.Lock()
	defer w.mu.Unlock()
	delete(w.keys, k)
}

// making creates records in one transaction: write makes them and returns their ids. If the request has a key, making
// remembers it. If the request was done before, again is called with the ids instead. Without again the answer has a
// secret and is not given twice.
func (s *Service) making(r *request, write func(*store.Tx) ([]int64, error),
	again func(*store.Tx, []int64) error) error {
	key, err := keyOf(r.header)
	if err != nil {
		return err
	}
	if key == "" {
		return s.store.Write(r, r.who, func(tx *store.Tx) error {
			_, err := write(tx)
			return err
		})
	}
	hash, contents := sha256.Sum256([]byte(key)), r.contents()
	working := workKey{r.who.AcademyID, r.who.UserID, hash}
	if !s.working.begin(working) {
		r.writer.Header().Set("Retry-After", "1")
		return keyInUse.example()
	}
	defer s.working.end(working)
	return s.store.Write(r, r.who, func(tx *store.Tx) error {
		before, sent, err := tx.Repeated(hash[:])
		switch {
		case err != nil:
			return err
		case sent && !bytes.Equal(before.Contents, contents):
			return keyReused.example()
		case sent && again == nil:
			return keyOfSecret.example()
		case sent:
			return gone410(again(tx, before.Made))
		}
		made, err := write(tx)
		if err != nil {
			return err
		}
		if again == nil {
			made = []int64{}
		}
		return tx.Remember(models.Repeat{KeyHash: hash[:], Contents: contents, Made: made})
	})
}

// gone410 says of what was made by a request that is sent again, and is not there any more, that it was deleted.
func gone410(err error) error {
	if models.CodeOf(err) == models.NotFound {
		return models.Errorf(models.Gone, "the record that this request created was deleted and does not come back; "+
			"choose another key to create it again")
	}
	return err
}

// contents is the hash of what a request asks for: the same JSON in another order, or with other white space, is the
// same (RFC 8785).
func (r *request) contents() []byte {
	body := jsontext.Value(bytes.Clone(r.body))
	if err := body.Canonicalize(); err != nil {
		body = r.body // it was read as JSON before; without any there is nothing to put in order
	}
	sum := sha256.Sum256(append([]byte(r.raw.Method+" "+r.raw.URL.RequestURI()+"\n"), body...))
	return sum[:]
}

// stillThere returns the records that a request made, in its order. It is NotFound where one of them is no more.
func stillThere[T any](all []T, ids []int64, name string, idOf func(T) int64) ([]T, error) {
	made := make([]T, len(ids))
	for n, id := range ids {
		i := slices.IndexFunc(all, func(one T) bool { return idOf(one) == id })
		if i < 0 {
			return nil, models.Errorf(models.NotFound, "there is no %s %d", name, id)
		}
		made[n] = all[i]
	}
	return made, nil
}
