package api_test

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

var (
	seed     = flag.Uint64("seed", 20260314, "what the requests of TestNoRequestBreaksTheServer begin from")
	requests = flag.Int("requests", 0, "how many requests TestNoRequestBreaksTheServer sends to each database; 0: "+
		"20,000, or 400 with -short")
)

// signIns is how many of the requests are attempts to sign in: each takes a core for as long as many others together.
const signIns = 200

// sent is a request as it goes out.
type sent struct {
	by      person
	method  string
	target  string // as in the first line of a request
	headers http.Header
	body    []byte
	// of is the operation that it is for, or nil where something was changed that decides which it is.
	of *operation
	// kind of record that it makes, where it does.
	kind *kindOf
}

// String writes a request so that it can be sent again.
func (s sent) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "as %s: %s %q\n", s.by.title, s.method, s.target)
	for _, name := range slices.Sorted(maps.Keys(s.headers)) {
		fmt.Fprintf(&b, "%s: %.300q\n", name, s.headers[name])
	}
	fmt.Fprintf(&b, "body of %d bytes: %.4000q", len(s.body), s.body)
	return b.String()
}

// fuzzer makes up requests. What it makes up follows from its seed and from what the server answered before.
type fuzzer struct {
	*rand.Rand
	c       *cast
	all     []operation
	made    map[string][]int64 // ids of records that it has made, by kind and academy
	ids     []int64            // of everything that the cast made
	cursors []string
}

func pick[T any](f *fuzzer, all ...T) T { return all[f.IntN(len(all))] }

// chance says yes once in n times.
func (f *fuzzer) chance(n int) bool { return f.IntN(n) == 0 }

// TestNoRequestBreaksTheServer sends what the description allows and what it does not, as everybody. Nothing may be
// answered 5xx, no one may see a text of another academy, and an operation answers only with what it is described to.
func TestNoRequestBreaksTheServer(t *testing.T) {
	if *requests == 0 {
		*requests = 20_000
		if testing.Short() {
			*requests = 400
		}
	}
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := newCast(t, apitest.Serve(t, s))
		f := &fuzzer{Rand: rand.New(rand.NewPCG(*seed, 0)), c: c, all: c.spec.operations(), made: map[string][]int64{}}
		for _, r := range c.records {
			f.ids = append(f.ids, r.id)
		}
		t.Logf("-seed %d", *seed)
		statuses, broken := map[int]int{}, 0
		for n, answered := 0, 0; answered < *requests; n++ {
			q := f.request()
			if n%(*requests/signIns+1) == 0 {
				q = f.signIn()
			}
			got, parsed := f.send(q)
			if !parsed {
				continue // the network's side of the server refuses it
			}
			answered++
			statuses[got.Status]++
			bad := f.wrong(q, got)
			if bad != "" {
				t.Errorf("request %d of -seed %d %s\n%v\nwas answered %d %.600s", n, *seed, bad, q, got.Status, got.Body)
			}
			f.learn(q, got)
			if bad != "" {
				if broken++; broken == 10 {
					t.Fatal("that is enough")
				}
			}
		}
		t.Logf("answered: %v", statuses)
		for _, status := range []int{200, 201, 204, 304, 400, 401, 403, 404, 405, 409, 412, 413, 415, 422, 428} {
			if statuses[status] == 0 && *requests >= 20_000 {
				t.Errorf("nothing was answered %d: the requests are not as different as they should be", status)
			}
		}
	})
}

func TestOnlyAMarkerThatStandsInARecordIsALeak(t *testing.T) {
	c := newCast(t, apitest.OnSQLite(t))
	f := &fuzzer{Rand: rand.New(rand.NewPCG(*seed, 0)), c: c}
	by := c.person("manager")
	for told, leak := range map[string]bool{
		marker("academy", "theirs"): true, marker("seasons", "theirs"): true, marker("academy", "theirs") + "17": true,
		marker("academy", "ours"): false, marker("academy", "oers"): false, marker("acadely", "theirs"): false,
	} {
		if got := f.wrong(sent{by: by}, apitest.Answer{Status: http.StatusOK, Body: told}); (got != "") != leak {
			t.Errorf("%s is shown to our manager: %q; want a leak %v", told, got, leak)
		}
		if got := c.leaks(by, told); (len(got) > 0) != leak {
			t.Errorf("%s is shown to our manager: %v; want a leak %v", told, got, leak)
		}
	}
}

// librarys is what Go's packages, GORM, the drivers, huma and gin say about an error in words of their own.
var librarys = regexp.MustCompile(`strconv\.|invalid syntax|value out of range|cannot unmarshal|invalid character '|` +
	`unexpected end of JSON|unexpected EOF|parsing time|time: (invalid|unknown)|sql: |record not found|SQLSTATE|` +
	`UNIQUE constraint|constraint failed|violates .* constraint|duplicate key value|no such (table|column)|` +
	`expected (number|string|integer|boolean|array|object)|unexpected property|validation failed|gzip: |http: |goroutine `)

// wrong says what is wrong with an answer.
func (f *fuzzer) wrong(q sent, got apitest.Answer) string {
	if got.Status >= 500 {
		return "breaks the server"
	}
	if words := librarys.FindString(got.Body); words != "" {
		return "speaks in a library's words: " + words
	}
	told := got.Body
	for _, values := range got.Header {
		told += "\n" + strings.Join(values, "\n")
	}
	for _, m := range f.c.standing(told) {
		pl := f.c.places[m[2]]
		// who manages academies, and knows what they are called
		if q.by.who.Role == models.RoleOperator && (m[1] == "academy" || m[1] == "names") {
			continue
		}
		if q.by.login == "" || pl.academy != q.by.who.AcademyID {
			return "shows " + m[0]
		}
	}
	if q.of == nil {
		return ""
	}
	responses, _ := q.of.said["responses"].(object)
	if responses[fmt.Sprint(got.Status)] == nil {
		return "is answered as its description does not say"
	}
	return ""
}

// learn keeps what later requests may use.
func (f *fuzzer) learn(q sent, got apitest.Answer) {
	var answer struct {
		ID   int64
		Next string
	}
	if got.Status != http.StatusOK && got.Status != http.StatusCreated ||
		json.Unmarshal([]byte(got.Body), &answer) != nil {
		return
	}
	if answer.Next != "" && len(f.cursors) < 500 {
		f.cursors = append(f.cursors, answer.Next)
	}
	if got.Status == http.StatusCreated && q.kind != nil {
		key := fmt.Sprint(q.kind.path, q.by.who.AcademyID)
		f.made[key] = append(f.made[key], answer.ID)
	}
}

// send sends a request to the server, past the network but read as the network's side does. It returns false for what
// that refuses.
func (f *fuzzer) send(q sent) (apitest.Answer, bool) {
	target, err := url.ParseRequestURI(q.target)
	if err != nil {
		return apitest.Answer{}, false
	}
	r := &http.Request{
		Method: q.method, URL: target, RequestURI: q.target, Proto: "HTTP/1.1", ProtoMajor: 1, ProtoMinor: 1,
		Header: q.headers, Host: "127.0.0.1",
		ContentLength: int64(len(q.body)), Body: http.NoBody, RemoteAddr: "127.0.0.1:4711",
	}
	if len(q.body) > 0 {
		r.Body = readOnce{bytes.NewReader(q.body)}
	}
	w := httptest.NewRecorder()
	f.c.a.Server.Handler().ServeHTTP(w, r.WithContext(f.c.t.Context()))
	return apitest.Answer{Status: w.Code, Header: w.Header(), Body: w.Body.String()}, true
}

type readOnce struct{ *bytes.Reader }

func (readOnce) Close() error { return nil }

// place is one that a person makes requests about: mostly of their own academy, sometimes of the other one.
func (f *fuzzer) place(p person) *place {
	ours, others := []*place{}, []*place{}
	for _, name := range []string{"far", "far", "own", "own", "own", "kept", "mates", "ours", "theirs"} {
		if pl := f.c.places[name]; pl.academy == p.who.AcademyID {
			ours = append(ours, pl)
		} else {
			others = append(others, pl)
		}
	}
	if len(ours) == 0 || f.chance(5) {
		return pick(f, others...)
	}
	return pick(f, ours...)
}

// words are a text that only the person's own academy may see. What an operator writes others read: the name of an
// academy.
func (f *fuzzer) words(p person) string {
	if p.who.Role == models.RoleOperator {
		return "operated"
	}
	if p.who.AcademyID == f.c.places["theirs"].academy {
		return marker("academy", "theirs")
	}
	return marker("academy", "ours")
}

// request makes one up.
func (f *fuzzer) request() sent {
	o := pick(f, f.all...)
	p := pick(f, f.c.people...)
	if f.chance(3) {
		p = f.c.person("manager") // who gets furthest
	}
	pl := f.place(p)
	q := sent{by: p, method: o.method, headers: http.Header{}, of: &o}
	if p.login != "" {
		q.headers.Set("Authorization", "Bearer "+f.c.a.Token(p.login))
	}
	path := f.path(o, p, pl)
	query := f.query(o, pl)
	schema, example := f.c.spec.takes(o)
	if example != nil {
		body := pl.fill(clone(example)).(object)
		for _, name := range slices.Sorted(maps.Keys(body)) {
			if slices.Contains(f.c.spec.texts(schema, 20), name) {
				if _, is := body[name].(string); is {
					body[name] = fmt.Sprint(f.words(p), f.IntN(1_000_000))
				}
			}
		}
		for range max(0, f.IntN(6)-2) {
			f.member(schema, body, p)
		}
		q.body = []byte(text(body))
		q.headers.Set("Content-Type", "application/json")
		if f.chance(6) {
			q.body = f.garble(q.body)
		}
	}
	if o.method == http.MethodPut || o.method == http.MethodDelete {
		f.condition(&q, p)
	}
	for range max(0, f.IntN(5)-2) {
		f.header(&q)
	}
	switch {
	case f.chance(12):
		path, q.of = f.trick(path), nil
	case f.chance(25):
		q.method, q.of = pick(f, "HEAD", "OPTIONS", "PATCH", "PUT", "POST", "DELETE", "TRACE", "CONNECT", "get", "BREW",
			"PROPFIND"), nil
	}
	for i := range kinds {
		if q.of != nil && o.method == http.MethodPost && f.c.creating(&kinds[i]).path == o.path {
			q.kind = &kinds[i]
		}
	}
	q.target = path
	if query != "" {
		q.target += "?" + query
	}
	return q
}

// condition says which version is meant. What the cast made is never deleted, so that there is something to ask for
// until the end.
func (f *fuzzer) condition(q *sent, p person) {
	value := pick(f, `*`, `*`, `*`, `*`, `*`, `*`, `"1"`, `"2"`, `"0"`, `"99"`, `W/"1"`, `"1", "2"`, `"1-read"`, "1", `"`,
		`"a`, `*, "1"`, "", "\xff", `""`)
	if q.method == http.MethodDelete {
		value = pick(f, `"0"`, `"0"`, `W/"1"`, `"99"`, `"98", "99"`, "1", `"`, "")
		kind := strings.Split(q.of.path, "/")[3]
		if len(f.made[fmt.Sprint(kind, p.who.AcademyID)]) > 0 && f.chance(2) { // which is then what the path names
			value = "*"
		}
	}
	if value != "" || f.chance(2) {
		q.headers.Set("If-Match", value)
	}
}

// path fills the names in a path with the ids of a place, of an earlier record or of anything, or with a text that is
// no id.
func (f *fuzzer) path(o operation, p person, pl *place) string {
	made := f.made[fmt.Sprint(strings.Split(o.path, "/")[3], p.who.AcademyID)]
	if o.method == http.MethodDelete && len(made) > 0 {
		return strings.Replace(o.path, "{id}", fmt.Sprint(pick(f, made...)), 1)
	}
	path := pl.address(o.path)
	if !strings.Contains(o.path, "{") {
		return path
	}
	was, is := strings.Split(o.path, "/"), strings.Split(path, "/")
	for i := range was {
		if !strings.HasPrefix(was[i], "{") {
			continue
		}
		switch f.IntN(16) {
		case 0, 3:
			is[i] = fmt.Sprint(pick(f, f.ids...))
		case 1:
			is[i] = pick(f, "0", "-1", "1.5", "987654321", "99999999999999999999", "9223372036854775807", "x", "%30", "1%00",
				"0x1", "+1", "%C3%A9", "1;2", "%20", "null", "1e3",
				"carries", "tackle", strings.Repeat("9", 300), strings.Repeat("a", 61), "%FF", "..%2f1", "01")
		case 2:
			if len(made) > 0 {
				is[i] = fmt.Sprint(pick(f, made...))
			}
		}
	}
	return strings.Join(is, "/")
}

// query makes up parameters: those of the operation and others.
func (f *fuzzer) query(o operation, pl *place) string {
	known := f.c.spec.parameters(o, "query")
	names := slices.Sorted(maps.Keys(known))
	if len(names) == 0 && !f.chance(10) {
		return ""
	}
	var parts []string
	for range max(0, f.IntN(6)-2) {
		name := pick(f, "limit", "cursor", "player", "season", "q", "Limit", "", "academy_id", "access_token", "id[]", "%00",
			"%FF", "a b", strings.Repeat("n", 500))
		if len(names) > 0 && !f.chance(15) {
			name = pick(f, names...)
		}
		value := pick(f, "1", "2", "1", "true", "true", "3", "0", "-1", "true", "", "x", "1e3", "NaN",
			"99999999999999999999", "%00", "%FF", "%zz", "%27%20OR%201%3D1", strings.Repeat("v", 3000), "2147483648", "1;2",
			"é", "*")
		switch name {
		case "limit":
			if !f.chance(3) {
				value = pick(f, "1", "2", "3", "5")
			}
		case "cursor":
			if len(f.cursors) > 0 && !f.chance(4) {
				value = url.QueryEscape(f.bend(pick(f, f.cursors...)))
			} else {
				value = pick(f, "WzFd", "W10", "bnVsbA", "e30", "WyJhIiwxXQ", "WzEsMiwzLDQsNSw2LDdd", "WyJcdTAwMDAiLDFd", "////",
					"WzllNDAwLDFd")
			}
		default:
			if id := pl.ids[name+"_id"]; id != 0 && !f.chance(4) {
				value = fmt.Sprint(id)
			} else if f.chance(2) {
				value = fmt.Sprint(pick(f, f.ids...))
			}
		}
		parts = append(parts, name+pick(f, "=", "=", "=", "=", "=", "", "==")+value)
	}
	return strings.Join(parts, pick(f, "&", "&", "&", "&", "&", "&", "&&", ";"))
}

// bend changes a character of a text, sometimes.
func (f *fuzzer) bend(s string) string {
	if s == "" || !f.chance(4) {
		return s
	}
	b := []byte(s)
	b[f.IntN(len(b))] = "ABCDwxyz0123-_"[f.IntN(14)]
	return string(b)
}

// value returns a value that is wrong at its place, or only just right.
func (f *fuzzer) value(p person) any {
	return pick[any](f, nil, true, false, 0, -1, 1, 1.5, 5, 6, 40, 99, 100, 1e9, 1e18, -1e308, 1e308, 5e-324,
		9223372036854775807, json.RawMessage("-0"),
		json.RawMessage("1e400"), json.RawMessage("99999999999999999999999999999999"), json.RawMessage("0.1e-999"),
		json.RawMessage(`"\ud800"`), json.RawMessage(`"\u0000"`),
		"", " ", "x", "NaN", "null", "2025-02-30", "2025-13-01", "0000-00-00", "9999-12-31", "2025-09-06",
		"2025-09-06T00:00:00Z", "30/09/2025", "tackle", "carries", "contact_won",
		"carry", "team", "full", "available", "=1+1", "@SUM(A1)", "<script>alert(1)</script>", "\u202e", "\ufeff", "e\u0301",
		"😀", "\n", "a\tb", f.words(p),
		strings.Repeat("a", 101), strings.Repeat("é", 1001), strings.Repeat("a", 20_000),
		[]any{}, []any{nil}, []any{1, "a", object{}}, object{}, object{"a": object{"b": []any{1}}}, pick(f, f.ids...),
		-pick(f, f.ids...), fmt.Sprint(pick(f, f.ids...)))
}

// member changes a member somewhere in a body.
func (f *fuzzer) member(schema object, body any, p person) {
	o, ok := body.(object)
	if !ok || len(o) == 0 {
		return
	}
	name := pick(f, slices.Sorted(maps.Keys(o))...)
	switch inner := o[name].(type) {
	case object:
		if f.chance(2) {
			f.member(nil, inner, p)
			return
		}
	case []any:
		if len(inner) > 0 && f.chance(2) {
			i := f.IntN(len(inner))
			if _, deep := inner[i].(object); deep && !f.chance(3) {
				f.member(nil, inner[i], p)
				return
			}
			switch f.IntN(3) {
			case 0:
				inner[i] = f.value(p)
			case 1:
				o[name] = append(inner, clone(inner[i]))
			default:
				o[name] = append(inner, f.value(p))
			}
			return
		}
	}
	properties := slices.Sorted(maps.Keys(f.c.spec.properties(schema)))
	switch f.IntN(7) {
	case 0:
		delete(o, name)
	case 1:
		o[strings.ToUpper(name)] = o[name]
	case 2:
		o[pick(f, "id", "version", "academy_id", "created_at", "changed_at", "deleted_at", "role", "password", "__proto__",
			"", "\x00", "$ref", strings.Repeat("n", 200))] = f.value(p)
	case 3:
		if len(properties) > 0 {
			name = pick(f, properties...)
		}
		o[name] = f.value(p)
	case 4:
		if strings.HasSuffix(name, "_id") {
			o[name] = pick(f, f.ids...)
			return
		}
		o[name] = f.value(p)
	default:
		o[name] = f.value(p)
	}
}

// garble changes a body below the level of JSON.
func (f *fuzzer) garble(body []byte) []byte {
	s := string(body)
	at := f.IntN(len(s))
	switch f.IntN(16) {
	case 0:
		return body[:at]
	case 1:
		return []byte(s + pick(f, s, "1", "]", "\x00", "null", " //x"))
	case 2:
		return []byte(s[:at] + "\xff\xfe" + s[at:])
	case 3:
		return []byte(s[:at] + "\x00" + s[at:])
	case 4:
		return []byte(strings.Replace(s, ":", pick(f, ":NaN,\"x\":", ":Infinity,\"x\":", ":-,\"x\":", ":01,\"x\":",
			":1e999,\"x\":", "::"), 1))
	case 5:
		return []byte(strings.Repeat("[", 20_000))
	case 6:
		return []byte(strings.Repeat(`{"a":`, 5_000) + "1" + strings.Repeat("}", 5_000))
	case 7:
		return []byte("\ufeff" + s)
	case 8: // a member twice
		return []byte(strings.Replace(s, "{", `{`+strings.TrimSuffix(strings.TrimPrefix(s, "{"), "}")+`,`, 1))
	case 9:
		return nil
	case 10:
		return []byte(`[` + s + `]`)
	case 11:
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		_, _ = z.Write(body) // to memory
		_ = z.Close()
		return b.Bytes()
	case 12:
		if f.chance(10) {
			return []byte(s[:len(s)-1] + `,"pad":"` + strings.Repeat("a", 1<<20) + `"}`)
		}
		return []byte(`"` + s + `"`)
	case 13:
		return []byte(strings.ReplaceAll(s, `"`, `'`))
	case 14:
		b := bytes.Clone(body)
		b[at] ^= byte(1 << f.IntN(8))
		return b
	default:
		return []byte("a=1&b=2")
	}
}

// header sends one that is odd.
func (f *fuzzer) header(q *sent) {
	name := pick(f, "Accept", "Content-Type", "If-None-Match", "If-Match", "Range", "Origin", "Authorization",
		"Sec-Fetch-Site", "Cookie", "Accept-Encoding", "Content-Encoding",
		"X-Forwarded-For", "X-HTTP-Method-Override", "X-Original-URL", "If-Modified-Since", "Accept-Language", "Forwarded",
		"X-Request-Id", "Expect", "Content-Length")
	values := map[string][]string{
		"Accept": {"text/csv", "application/json;q=0", "*/*;q=0.1", "text/csv;q=x", ",,,", "text/html",
			"application/xml, text/csv;q=0.5", strings.Repeat("a/b,", 2000), "\xff"},
		"Content-Type": {"text/csv", "application/json; charset=utf-16", "application/json;;", "",
			"multipart/form-data", "multipart/form-data; boundary=x", "application/x-www-form-urlencoded",
			"application/merge-patch+json", "\xff"},
		"Range":  {"bytes=0-1", "bytes=-1", "bytes=5-2", "lines=1-2"},
		"Origin": {"https://elsewhere.example", "null", "http://127.0.0.1", "\xff", "//"},
		"Authorization": {"", "Bearer", "Bearer ", "Bearer x", "Basic eDp5", "bearer throughline_x", "Bearer " +
			strings.Repeat("x", 5000), "Bearer \xff", "Digest a=b", f.c.a.Token("edda")},
		"Sec-Fetch-Site": {"cross-site", "same-site", "same-origin", "none", "nonsense"},
		"Cookie": {"throughline=x", "__Host-throughline=x", "throughline=" + strings.Repeat("A", 4000),
			"=;=;", "\xff", `throughline="x"`},
		"Accept-Encoding":        {"gzip", "br", "identity;q=0", "*;q=0", "gzip;q=2", "zstd"},
		"Content-Encoding":       {"gzip", "deflate", "identity", "br"},
		"X-Forwarded-For":        {"127.0.0.1", "::1", "x", strings.Repeat("1.1.1.1,", 500)},
		"X-HTTP-Method-Override": {"DELETE", "GET"},
		"X-Original-URL":         {"/api/v1/players", "/admin"},
		"If-Modified-Since":      {"Thu, 01 Jan 1970 00:00:00 GMT", "x"},
		"Content-Length":         {"0", "99999999", "-1", "x"},
	}[name]
	if values == nil {
		values = []string{`"1"`, "*", `W/"1"`, "x", "", `"a", "b"`, strings.Repeat(`"a",`, 1000), "\xff", "100-continue"}
	}
	q.headers.Add(name, pick(f, values...))
}

// trick changes a path in ways that have led past guards elsewhere.
func (f *fuzzer) trick(path string) string {
	parts := strings.Split(path, "/")
	at := 1 + f.IntN(len(parts)-1)
	insert := func(s string) string { return strings.Join(slices.Insert(slices.Clone(parts), at, s), "/") }
	switch f.IntN(14) {
	case 0:
		return insert(pick(f, "..", ".", "..;", "...", "%2e%2e", "%2e", "..%2f", "%2e%2e%2f", "..%5c", "%252e%252e",
			"..;x=1"))
	case 1:
		return insert("")
	case 2:
		return "/" + path
	case 3:
		return strings.Replace(path, "/", "%2f", 1+f.IntN(3))
	case 4:
		return path + pick(f, "/", "//", "/.", "/..", "%2f", ";", ";a=b", ".json", "%00", "%20", "?", "#x", "/new",
			"/report.html")
	case 5:
		return strings.ToUpper(path)
	case 6:
		return strings.Replace(path, "/api/v1", pick(f, "", "/api", "/api/v2", "/API/v1", "/api//v1", "/api/v1/../v1",
			"/static/../api/v1", "/docs/../api/v1"), 1)
	case 7:
		return "http://elsewhere.example" + path
	case 8:
		return "/static/" + pick(f, "../api.go", "%2e%2e/x", "", "x/../../..", "\\..\\", "000000000000/paper.css")
	case 9:
		return pick(f, "/players/1/seasons/1", "/players/0/seasons/1/report.html", "/?season=x",
			"/?season=99999999999999999999", "/players/%00/seasons/1", "/sign-in?next=//elsewhere.example", "/docs",
			"/openapi.json", "*")
	case 10:
		return strings.Join(append(parts[:at:at], fmt.Sprint(f.Int64())), "/")
	case 11:
		return f.bend(f.bend(path))
	case 12:
		return path + "/" + strings.Repeat("a/", 500)
	default:
		return strings.Join(parts[:at], "/")
	}
}

// signIn makes up an attempt to sign in.
func (f *fuzzer) signIn() sent {
	q := sent{by: person{title: "nobody"}, method: http.MethodPost, target: "/sign-in", headers: http.Header{}}
	q.headers.Set("Content-Type", pick(f, "application/x-www-form-urlencoded", "application/x-www-form-urlencoded",
		"multipart/form-data; boundary=x", "application/json", "", "text/plain"))
	form := url.Values{
		"user": {pick(f, "x.manager", "x.theirs", "nobody", "", "\x00", "\xff", strings.Repeat("a", 5000), "' OR 1=1 --",
			"X.MANAGER ")},
		"password": {pick(f, "", "x", "\x00", "\xff", strings.Repeat("p", 100_000), "wrong-but-long-enough")},
		"next": {pick(f, "", "/", "//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example",
			"javascript:alert(1)", "\r\nX: y", "/%0d%0aX:y")},
	}
	q.body = []byte(form.Encode())
	if f.chance(5) {
		q.body = f.garble(q.body)
	}
	if f.chance(5) {
		f.header(&q)
	}
	return q
}
