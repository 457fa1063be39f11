package api_test

import (
	"fmt"
	"net/http"
	"regexp"
	"strconv"
	"testing"

	"throughline/api"
	"throughline/api/apitest"
)

// The fields are those of draft-ietf-httpapi-ratelimit-headers-10, §3 and §4: lists of strings with the parameters q
// and w, r and t.
func TestEveryAnswerToAProgramSaysHowManyRequestsAreLeft(t *testing.T) {
	a := apitest.OnSQLite(t, func(o *api.Options) { o.Limits.Person, o.Limits.Address = 2, 3 })
	policy := regexp.MustCompile(`^"address";q=30;w=10, "person";q=20;w=10$`)
	left := regexp.MustCompile(`^"address";r=(\d+);t=(\d+), "person";r=(\d+);t=(\d+)$`)
	c := a.Program(t, "mabyn")
	number := func(s string) int {
		n, err := strconv.Atoi(s)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	before := 20
	for i := range 25 {
		got := c.Get("/api/v1/seasons")
		if i == 20 && got.Status != http.StatusTooManyRequests {
			t.Errorf("request %d: %d; want that it is one too many", i, got.Status)
		}
		said := fmt.Sprint(joined(got.Header, "RateLimit-Policy"))
		if !policy.MatchString(said) {
			t.Fatalf("request %d: the policy is %s; want %v", i, said, policy)
		}
		m := left.FindStringSubmatch(joined(got.Header, "RateLimit"))
		if m == nil {
			t.Fatalf("request %d: what is left is %s; want %v", i, joined(got.Header, "RateLimit"), left)
		}
		now := number(m[3])
		if want := max(0, before-1); now != want || number(m[4]) != (20-want+1)/2 {
			t.Errorf("request %d: %v; want %d left, and all of them again in half as many seconds as are missing", i, m[0],
				want)
		}
		before = now
	}
	if got := apitest.OnSQLite(t).Program(t, "mabyn").Get("/api/v1/seasons"); joined(got.Header, "RateLimit") != "" {
		t.Errorf("a server without limits says %s", joined(got.Header, "RateLimit"))
	}
}

// joined are the lines of a header as one (RFC 9110 §5.3).
func joined(h http.Header, name string) string {
	all := ""
	for i, line := range h.Values(name) {
		if i > 0 {
			all += ", "
		}
		all += line
	}
	return all
}
