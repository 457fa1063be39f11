package auth

import (
	"context"
	"errors"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/pquerna/otp"

	"throughline/models"
)

const ownPassword = "k7mr-w2xp-h9qd"

// How long a check takes follows from its cost alone, so that equal costs mean equal work.
func TestAStrangersAttemptCostsAsMuchAsAnybodys(t *testing.T) {
	hash, err := HashPassword(ownPassword)
	if err != nil {
		t.Fatal(err)
	}
	ours, ourSalt, ourKey, err := argon2id.DecodeHash(hash)
	if err != nil {
		t.Fatal(err)
	}
	nobodys, salt, key, err := argon2id.DecodeHash(nobodysHash)
	if err != nil {
		t.Fatal(err)
	}
	if *ours != *nobodys || len(ourSalt) != len(salt) || len(ourKey) != len(key) {
		t.Errorf("a user's hash costs %+v, nobody's %+v; want the same", *ours, *nobodys)
	}
}

// The least that the OWASP Password Storage Cheat Sheet recommends for argon2id: 19 MiB, two passes, one lane.
func TestPasswordsAreHashedAtTheRecommendedCost(t *testing.T) {
	if cost.Memory < 19*1024 || cost.Iterations < 2 || cost.Parallelism < 1 {
		t.Errorf("the cost is %+v; want at least 19 MiB, two passes, one lane", cost)
	}
}

func TestAPasswordThatIsSoonGuessedIsRefused(t *testing.T) {
	about := []string{"meg.orrell", "Meg Orrell", "Northmoor Rugby Academy"}
	for password, says := range map[string]string{
		"":                             "is too short; choose at least 12 characters",
		"h9qd-k7mr-w":                  "is too short; choose at least 12 characters",
		"é9qd-k7mr-w":                  "is too short; choose at least 12 characters", // not bytes
		strings.Repeat("é4-x", 251):    "has 1004 characters; choose at most 1000",
		"passwordpassword":             "too easy to guess",
		"password1234":                 "too easy to guess",
		"qwertyuiop123":                "too easy to guess",
		"123456789012":                 "too easy to guess",
		"aaaaaaaaaaaa":                 "too easy to guess",
		"abcabcabcabcabc":              "too easy to guess",
		"megorrell2024":                "too easy to guess",
		"Meg Orrell 1":                 "too easy to guess",
		"northmoorrugby":               "too easy to guess",
		"meg.orrellmeg":                "too easy to guess",
		strings.Repeat("a", 1000):      "too easy to guess",
		"k7mr-w2xp-h9qd\xff":           "unreadable characters",
		strings.Repeat("abc123 ", 100): "too easy to guess",
	} {
		err := CheckPassword(password, about...)
		if models.CodeOf(err) != models.Invalid || !strings.Contains(err.Error(), says) ||
			!strings.Contains(err.Error(), "password: ") {
			t.Errorf("%.40q: %v; want it refused at password: %s", password, err, says)
			continue
		}
		if len(password) > 3 && strings.Contains(err.Error(), password) {
			t.Errorf("%.40q is repeated: %v", password, err)
		}
		if hash, err := HashPassword(password, about...); err == nil {
			t.Errorf("%.40q has the hash %s", password, hash)
		}
	}
	for _, password := range []string{
		ownPassword, "tawny-owl-29-fence", "correct horse battery staple", "lantern gravel otter spindle",
		"zebra–kiosk–mantel–ωmega", strings.Repeat("k7mr-w2xp ", 100),
	} {
		if err := CheckPassword(password, about...); err != nil {
			t.Errorf("%.40q: %v; want it taken", password, err)
		}
	}
}

// The test vectors of RFC 6238, Appendix B (https://www.rfc-editor.org/rfc/rfc6238#appendix-B), for SHA-1: the secret
// is the ASCII string "12345678901234567890", here in base32, the step is 30 seconds from 0, and the codes have eight
// digits.
func TestCodesAreThoseOfRFC6238(t *testing.T) {
	const secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
	for at, want := range map[int64]string{
		59: "94287082", 1111111109: "07081804", 1111111111: "14050471", 1234567890: "89005924", 2000000000: "69279037",
		20000000000: "65353130",
	} {
		step := at / stepSeconds
		if got, err := codeAt(secret, step, otp.DigitsEight); err != nil || got != want {
			t.Errorf("at %d s: %s, %v; want %s", at, got, err, want)
		}
		// Ours have six digits: the last six of the eight, since both are the same number modulo a power of ten (RFC 4226
		// §5.3).
		if got, right := stepOf(secret, want[2:], time.Unix(at, 0)); !right || got != step {
			t.Errorf("at %d s %s is of step %d, %v; want %d", at, want[2:], got, right, step)
		}
	}
}

func TestACodeMayBeOneStepOff(t *testing.T) {
	const secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
	now := time.Unix(1111111111, 0)
	middle := now.Unix() / stepSeconds
	for off := int64(-3); off <= 3; off++ {
		code, err := codeAt(secret, middle+off, codeDigits)
		if err != nil {
			t.Fatal(err)
		}
		step, right := stepOf(secret, code[:3]+" "+code[3:], now)
		if want := off >= -1 && off <= 1; right != want || right && step != middle+off {
			t.Errorf("%d steps off: %v at step %d; want %v", off, right, step-middle, want)
		}
	}
	for _, code := range []string{"", "12345", "1234567", "abcdef", "      ", strings.Repeat("1", 10_000)} {
		if _, right := stepOf(secret, code, now); right {
			t.Errorf("%.20q is a code", code)
		}
	}
	if _, right := stepOf("", "328482", now); right { // anyone who has no second factor has no code
		t.Error("there is a code of no secret")
	}
}

func TestOnlySoManyPasswordsWaitToBeChecked(t *testing.T) {
	if got, want := cap(New(Options{}).hashing.working), max(1, runtime.GOMAXPROCS(0)-1); got != want {
		t.Errorf("%d are checked at once; want %d, and a core for everything else", got, want)
	}
	h := newHashing(1)
	back, err := h.place(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	patient, leave := context.WithCancel(t.Context())
	left := make(chan error, queue)
	for range queue {
		go func() {
			_, err := h.place(patient)
			left <- err
		}()
	}
	for len(h.there) < cap(h.there) { // until all wait
		runtime.Gosched()
	}
	if _, err := h.place(t.Context()); !errors.Is(err, ErrBusy) {
		t.Errorf("one more than may wait: %v; want ErrBusy", err)
	}
	leave()
	for range queue {
		if err := <-left; !errors.Is(err, context.Canceled) {
			t.Errorf("one who does not wait any longer: %v; want that of the context", err)
		}
	}
	back()
	if back, err = h.place(t.Context()); err != nil {
		t.Errorf("when all have gone: %v; want a place", err)
	}
	back()
	if len(h.there) != 0 || len(h.working) != 0 {
		t.Errorf("%d and %d places are taken in the end", len(h.there), len(h.working))
	}
}
