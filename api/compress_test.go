package api

import (
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// tagged answers as resources do that have a version: with a strong tag, and with 304 or 412 where one was sent along.
func tagged(t *testing.T, size int) http.Handler {
	t.Helper()
	h, err := compressed(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		const tag = `"v7"`
		w.Header().Set("ETag", tag)
		switch {
		case strings.Contains(r.Header.Get("If-None-Match"), tag):
			w.WriteHeader(http.StatusNotModified)
		case r.Header.Get("If-Match") != "" && r.Header.Get("If-Match") != tag:
			w.WriteHeader(http.StatusPreconditionFailed)
		default:
			w.Header().Set("Content-Type", "application/json")
			io.WriteString(w, strings.Repeat("x", size))
		}
	}))
	if err != nil {
		t.Fatal(err)
	}
	return headAsGet(h)
}

func asked(h http.Handler, method string, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "/", nil)
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Add(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func TestLargeAnswersAreCompressedForWhoAcceptsIt(t *testing.T) {
	large, small := tagged(t, 10_000), tagged(t, leastCompressed-1)
	for _, c := range []struct {
		name, method string
		of           http.Handler
		accept       string
		encoding     string
		tag          string
	}{
		{"large", "GET", large, "gzip", "gzip", `"v7-gzip"`},
		{"a browser's", "GET", large, "gzip, deflate, br, zstd", "gzip", `"v7-gzip"`},
		{"anything", "GET", large, "*", "", `"v7"`},
		{"not wanted", "GET", large, "gzip;q=0", "", `"v7"`},
		{"not named", "GET", large, "", "", `"v7"`},
		{"small", "GET", small, "gzip", "", `"v7"`},
		{"HEAD as GET", "HEAD", large, "gzip", "gzip", `"v7-gzip"`},
	} {
		got := asked(c.of, c.method, "Accept-Encoding", c.accept)
		h := got.Header()
		if got.Code != 200 || h.Get("Content-Encoding") != c.encoding || h.Get("ETag") != c.tag ||
			!strings.Contains(strings.Join(h.Values("Vary"), ","), "Accept-Encoding") {
			t.Errorf("%s: %d, %v; want encoding %q and tag %s", c.name, got.Code, h, c.encoding, c.tag)
		}
		if c.encoding == "" {
			continue
		}
		z, err := gzip.NewReader(got.Body)
		if err != nil {
			t.Fatal(err)
		}
		if text, err := io.ReadAll(z); err != nil || string(text) != strings.Repeat("x", 10_000) {
			t.Errorf("%s: %d bytes, %v; want what was written", c.name, len(text), err)
		}
	}
}

// RFC 9110 §8.8.3.3, §13.1.1 and §13.1.2.
func TestTheTagOfACompressedAnswerIsGoodForTheNextRequest(t *testing.T) {
	h := tagged(t, 10_000)
	for _, c := range []struct {
		name, header, tags string
		status             int
		tag                string
	}{
		{"read again, compressed", "If-None-Match", `"v7-gzip"`, 304, `"v7-gzip"`},
		{"read again, plain", "If-None-Match", `"v7"`, 304, `"v7"`},
		{"read again, a list", "If-None-Match", `"v6-gzip", W/"v7-gzip"`, 304, `"v7-gzip"`},
		{"changed since", "If-None-Match", `"v6-gzip"`, 200, `"v7-gzip"`},
		{"edit, compressed", "If-Match", `"v7-gzip"`, 200, `"v7-gzip"`},
		{"edit, plain", "If-Match", `"v7"`, 200, `"v7-gzip"`},
		{"edit, stale", "If-Match", `"v6-gzip"`, 412, `"v7"`},
	} {
		got := asked(h, "GET", "Accept-Encoding", "gzip", c.header, c.tags)
		if got.Code != c.status || got.Header().Get("ETag") != c.tag {
			t.Errorf("%s: %d, %s; want %d, %s", c.name, got.Code, got.Header().Get("ETag"), c.status, c.tag)
		}
	}
}
