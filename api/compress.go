package api

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/klauspost/compress/gzhttp"
)

// leastCompressed is the size in bytes from which an answer is compressed: below, it fits into one packet anyway.
const leastCompressed = 1400

// compressedTypes are the served media types that are worth compressing.
var compressedTypes = []string{
	"text/html", "text/css", "text/javascript", "text/csv", "text/plain", "image/svg+xml", "application/json",
	"application/problem+json",
	"application/openapi+json", "application/yaml",
}

// zipped is put at the end of a compressed answer's entity tag. Two encodings of one resource are not the same bytes,
// and a strong tag promises that (RFC 9110 §8.8.3.3).
const zipped = "-gzip"

// compressed answers with gzip who accepts it. An entity tag given out with a compressed answer is as good as the
// plain one when it comes back. What an attacker could want to guess from sizes, tokens and passwords, is in no body
// that also repeats what was asked.
func compressed(next http.Handler) (http.Handler, error) {
	wrap, err := gzhttp.NewWrapper(gzhttp.MinSize(leastCompressed), gzhttp.ContentTypes(compressedTypes),
		gzhttp.EnableZstd(false), gzhttp.SuffixETag(zipped))
	if err != nil {
		return nil, fmt.Errorf("compress answers: %w", err)
	}
	return wrap(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		held := r.Header.Values("If-None-Match")
		if !slices.ContainsFunc(slices.Concat(held, r.Header.Values("If-Match")), func(tags string) bool {
			return strings.Contains(tags, zipped+`"`)
		}) {
			next.ServeHTTP(w, r)
			return
		}
		plain := r.Clone(r.Context())
		for _, name := range []string{"If-None-Match", "If-Match"} {
			for i, tags := range plain.Header[name] {
				plain.Header[name][i] = strings.ReplaceAll(tags, zipped+`"`, `"`)
			}
		}
		next.ServeHTTP(&revalidated{w, strings.Join(held, ",")}, plain)
	})), nil
}

// revalidated gives a 304 the tag that the client holds: that is the answer it may go on using.
type revalidated struct {
	http.ResponseWriter
	held string
}

// WriteHeader sends the status.
func (w *revalidated) WriteHeader(code int) {
	if tag := w.Header().Get("ETag"); code == http.StatusNotModified && strings.HasSuffix(tag, `"`) {
		if z := strings.TrimSuffix(tag, `"`) + zipped + `"`; strings.Contains(w.held, strings.TrimPrefix(z, "W/")) {
			w.Header().Set("ETag", z)
		}
	}
	w.ResponseWriter.WriteHeader(code)
}

// Unwrap lets http.ResponseController reach what is below.
func (w *revalidated) Unwrap() http.ResponseWriter { return w.ResponseWriter }
