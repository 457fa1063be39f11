package auth_test

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"strings"
	"testing"

	"throughline/api/auth"
	"throughline/models"
)

// people is one academy in memory.
type people struct {
	users  map[string]models.User
	tokens map[string]int64 // by hexadecimal hash
	broken error
}

func (p *people) who(u models.User) models.Who {
	return models.Who{AcademyID: u.AcademyID, UserID: u.ID, Name: u.Name, Role: u.Role}
}

func (p *people) UserByLogin(_ context.Context, login string) (models.User, models.Who, error) {
	u, ok := p.users[login]
	if !ok {
		return models.User{}, models.Who{}, errors.Join(models.Errorf(models.NotFound, "no such user"), p.broken)
	}
	return u, p.who(u), nil
}

func (p *people) WhoByID(_ context.Context, academy, user int64) (models.Who, error) {
	for _, u := range p.users {
		if u.ID == user && u.AcademyID == academy {
			return p.who(u), p.broken
		}
	}
	return models.Who{}, models.Errorf(models.NotFound, "no such user")
}

func (p *people) WhoByToken(ctx context.Context, hash []byte) (models.Who, error) {
	id, ok := p.tokens[hex.EncodeToString(hash)]
	if !ok {
		return models.Who{}, models.Errorf(models.NotFound, "no such token")
	}
	return p.WhoByID(ctx, 7, id)
}

const password = "k7mr-w2xp-h9qd"

// newPeople returns Ansel, a coach, and his token.
func newPeople(t *testing.T) (*people, string) {
	t.Helper()
	hash, err := auth.HashPassword(password)
	if err != nil {
		t.Fatal(err)
	}
	token, sum, err := auth.NewToken(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	ansel := models.User{Record: models.Record{ID: 3, AcademyID: 7}, Login: "ansel", Name: "Ansel Brock", Role: models.RoleCoach, PasswordHash: hash}
	return &people{
		users:  map[string]models.User{"ansel": ansel, "nohash": {Record: models.Record{ID: 4, AcademyID: 7}, Login: "nohash", Role: models.RoleCoach}},
		tokens: map[string]int64{hex.EncodeToString(sum): 3},
	}, token
}

// newServer serves /in?user=&password=, /out, and / with the name of who is asking.
func newServer(t *testing.T, p *people, secure bool) (string, *http.Client) {
	t.Helper()
	a := auth.New(p, secure, func(w http.ResponseWriter, _ *http.Request, status int, err error) {
		w.WriteHeader(status)
		if err != nil {
			io.WriteString(w, err.Error())
		}
	})
	mux := http.NewServeMux()
	mux.HandleFunc("/in", func(w http.ResponseWriter, r *http.Request) {
		if err := a.SignIn(r.Context(), r.FormValue("user"), r.FormValue("password")); err != nil {
			w.WriteHeader(http.StatusTeapot)
			io.WriteString(w, err.Error())
		}
	})
	mux.HandleFunc("/out", func(w http.ResponseWriter, r *http.Request) {
		if err := a.SignOut(r.Context()); err != nil {
			t.Error(err)
		}
	})
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		if who, ok := auth.Who(r.Context()); ok {
			io.WriteString(w, who.Name)
		} else {
			io.WriteString(w, "stranger")
		}
	})
	s := httptest.NewServer(a.Handler(mux))
	t.Cleanup(s.Close)
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	client := s.Client()
	client.Jar = jar
	return s.URL, client
}

func get(t *testing.T, c *http.Client, url string, headers ...string) (int, string, http.Header) {
	t.Helper()
	r, err := http.NewRequest(http.MethodGet, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(headers); i += 2 {
		r.Header.Add(headers[i], headers[i+1])
	}
	res, err := c.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(body), res.Header
}

func TestASessionLastsFromSignInToSignOut(t *testing.T) {
	p, _ := newPeople(t)
	base, c := newServer(t, p, false)
	if _, who, _ := get(t, c, base+"/"); who != "stranger" {
		t.Fatalf("before signing in it is %q; want a stranger", who)
	}
	status, said, head := get(t, c, base+"/in?user=+ANSEL+&password="+password)
	if status != http.StatusOK {
		t.Fatalf("signing in: %d %s", status, said)
	}
	cookie := head.Get("Set-Cookie")
	for _, want := range []string{"throughline=", "HttpOnly", "SameSite=Lax", "Path=/"} {
		if !strings.Contains(cookie, want) {
			t.Errorf("the cookie is %q; want it to have %s", cookie, want)
		}
	}
	for _, not := range []string{"Secure", "Expires", "Max-Age"} {
		if strings.Contains(cookie, not) {
			t.Errorf("the cookie is %q; want it without %s over plain HTTP and for the time of one browser", cookie, not)
		}
	}
	if _, who, _ := get(t, c, base+"/"); who != "Ansel Brock" {
		t.Errorf("after signing in it is %q; want Ansel Brock", who)
	}
	get(t, c, base+"/out")
	if _, who, _ := get(t, c, base+"/"); who != "stranger" {
		t.Errorf("after signing out it is %q; want a stranger", who)
	}
	stolen, _, _ := strings.Cut(cookie, ";")
	if _, who, _ := get(t, &http.Client{}, base+"/", "Cookie", stolen); who != "stranger" {
		t.Errorf("with the cookie of a session that has ended it is %q; want a stranger", who)
	}
}

func TestByHTTPSTheCookieNeverTravelsInTheClear(t *testing.T) {
	p, _ := newPeople(t)
	base, c := newServer(t, p, true)
	_, _, head := get(t, c, base+"/in?user=ansel&password="+password)
	if cookie := head.Get("Set-Cookie"); !strings.HasPrefix(cookie, "__Host-throughline=") || !strings.Contains(cookie, "Secure") || strings.Contains(cookie, "Domain") {
		t.Errorf("the cookie is %q; want a Secure one named __Host-throughline without a domain", cookie)
	}
}

func TestWrongNamesAndPasswordsAreRefusedAlike(t *testing.T) {
	p, _ := newPeople(t)
	base, c := newServer(t, p, false)
	for _, query := range []string{
		"user=ansel&password=k7mr-w2xp-h9qe", "user=ansel&password=", "user=nobody&password=" + password, "user=&password=",
		"user=nohash&password=", "user=nohash&password=" + password, "user=ansel&password=" + password + strings.Repeat("x", 2000),
	} {
		status, said, head := get(t, c, base+"/in?"+query)
		if status != http.StatusTeapot || said != auth.ErrRefused.Error() || head.Get("Set-Cookie") != "" {
			t.Errorf("%.40s: %d %q, cookie %q; want refused in the same words and without a cookie", query, status, said, head.Get("Set-Cookie"))
		}
	}
}

func TestSigningInChangesTheSessionsToken(t *testing.T) {
	p, _ := newPeople(t)
	base, c := newServer(t, p, false)
	_, _, first := get(t, c, base+"/in?user=ansel&password="+password)
	_, _, second := get(t, c, base+"/in?user=ansel&password="+password)
	if first.Get("Set-Cookie") == second.Get("Set-Cookie") {
		t.Error("the cookie stays the same over a sign-in; want another, so that one planted before is worth nothing")
	}
	old, _, _ := strings.Cut(first.Get("Set-Cookie"), ";")
	if _, who, _ := get(t, &http.Client{}, base+"/", "Cookie", old); who != "stranger" {
		t.Errorf("with the cookie from before the sign-in it is %q; want a stranger", who)
	}
}

func TestATokenSaysWhoIsAskingAndDecidesAlone(t *testing.T) {
	p, token := newPeople(t)
	base, c := newServer(t, p, false)
	for _, scheme := range []string{"Bearer ", "bearer "} {
		if status, who, head := get(t, c, base+"/", "Authorization", scheme+token); who != "Ansel Brock" || head.Get("Set-Cookie") != "" {
			t.Errorf("with a token it is %d %q, cookie %q; want Ansel Brock and no session", status, who, head.Get("Set-Cookie"))
		}
	}
	get(t, c, base+"/in?user=ansel&password="+password)
	for name, headers := range map[string][]string{
		"unknown":      {"Authorization", "Bearer " + token + "x"},
		"empty":        {"Authorization", ""},
		"no token":     {"Authorization", "Bearer "},
		"other scheme": {"Authorization", "Basic YW5zZWw6eA=="},
		"bare":         {"Authorization", token},
		"two":          {"Authorization", "Bearer " + token, "Authorization", "Bearer " + token},
	} {
		if status, who, _ := get(t, c, base+"/", headers...); status != http.StatusUnauthorized {
			t.Errorf("%s: %d %q; want 401, whatever the session says", name, status, who)
		}
	}
}

func TestASessionEndsWithItsUser(t *testing.T) {
	p, _ := newPeople(t)
	base, c := newServer(t, p, false)
	get(t, c, base+"/in?user=ansel&password="+password)
	delete(p.users, "ansel")
	status, who, head := get(t, c, base+"/")
	if status != http.StatusOK || who != "stranger" || !strings.Contains(head.Get("Set-Cookie"), "Max-Age=0") {
		t.Errorf("%d %q, cookie %q; want a stranger whose cookie is taken away", status, who, head.Get("Set-Cookie"))
	}
}

func TestWhoIsAskingIsNeverGuessedWhenTheDatabaseFails(t *testing.T) {
	p, token := newPeople(t)
	base, c := newServer(t, p, false)
	get(t, c, base+"/in?user=ansel&password="+password)
	p.broken = errors.New("the disk is gone")
	if status, said, _ := get(t, c, base+"/"); status != http.StatusInternalServerError {
		t.Errorf("by session: %d %q; want 500", status, said)
	}
	if status, said, _ := get(t, &http.Client{}, base+"/", "Authorization", "Bearer "+token); status != http.StatusInternalServerError {
		t.Errorf("by token: %d %q; want 500", status, said)
	}
}

func TestPasswordsAndTokensAreMadeOfChance(t *testing.T) {
	seen := map[string]bool{}
	for range 200 {
		p, err := auth.NewPassword(rand.Reader)
		if err != nil || len(p) < 12 || strings.ContainsAny(p, "01lo") || seen[p] {
			t.Fatalf("password %q, %v; want a new one of at least 12 signs that cannot be misread", p, err)
		}
		token, sum, err := auth.NewToken(rand.Reader)
		if err != nil || len(token) < 43 || len(sum) != 32 || seen[token] {
			t.Fatalf("token %q with a hash of %d bytes, %v; want a new one of at least 256 bits", token, len(sum), err)
		}
		seen[p], seen[token] = true, true
	}
	if _, err := auth.NewPassword(strings.NewReader("short")); err == nil {
		t.Error("a password was made although the source of chance ran dry")
	}
	if _, _, err := auth.NewToken(strings.NewReader("short")); err == nil {
		t.Error("a token was made although the source of chance ran dry")
	}
}
