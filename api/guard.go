package api

import (
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"runtime/debug"
	"strings"
	"unicode"
	"unicode/utf8"

	"throughline/models"
)

// policy lets a page use its own style sheets and pictures, show a video that its reader opens from their own disk,
// and send its forms home. There is no script, no style within a page, no frame, no plug-in and no other host.
const policy = "default-src 'none'; style-src 'self'; img-src 'self'; media-src blob:; object-src 'none'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// devices are what no page may ask a browser for, its own frames and scripts included. (A video may fill the screen.)
const devices = "accelerometer=(), autoplay=(), camera=(), display-capture=(), encrypted-media=(), " +
	"fullscreen=(self), geolocation=(), gyroscope=(), " +
	"hid=(), idle-detection=(), local-fonts=(), magnetometer=(), microphone=(), midi=(), payment=(), " +
	"publickey-credentials-get=(), screen-wake-lock=(), serial=(), usb=(), " +
	"xr-spatial-tracking=()"

// httpsAlone tells a browser to reach this host by HTTPS for a year (RFC 6797). Other hosts of the same domain are
// not ours to speak for.
const httpsAlone = "max-age=31536000"

// addressed refuses what was sent to another host than that of the public address, as a page of a domain that its
// owner points at this server makes a browser do. An address of the machine itself is let in: a server in front may
// name it, and no domain is one.
func (s *Server) addressed(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if s.host != "" && !s.isAddressed(r.Host) {
			s.fail(w, r, http.StatusMisdirectedRequest, models.Errorf(models.Invalid,
				"this server answers only for %s; a proxy in front of it must pass on the original Host header", s.host))
			return
		}
		next.ServeHTTP(w, r)
	})
}

func (s *Server) isAddressed(to string) bool {
	if strings.EqualFold(to, s.host) || strings.EqualFold(to, s.host+":443") {
		return true
	}
	name, _, err := net.SplitHostPort(to)
	if err != nil {
		name = strings.Trim(to, "[]")
	}
	at, err := netip.ParseAddr(name)
	return strings.EqualFold(name, "localhost") || err == nil && at.IsLoopback()
}

// headers sets what every answer says to a browser. Answers are about people, so that nothing is kept unless a handler
// says otherwise.
func (s *Server) headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("Permissions-Policy", devices)
		if s.host != "" {
			h.Set("Strict-Transport-Security", httpsAlone)
		}
		h.Set("X-Frame-Options", "DENY") // for browsers that do not know frame-ancestors
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", s.referrer())
		if !s.open { // a browser complains of it where it cannot trust the address
			h.Set("Cross-Origin-Opener-Policy", "same-origin")
		}
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// referrer is the referrer policy of pages: they tell other sites nothing of their address. Without HTTPS, beyond this
// machine, a browser says only in a form's Origin where it was sent from. Under no-referrer that would be null, and
// every sign-in would look like another site's. So there pages tell their own server, and still no other.
func (s *Server) referrer() string {
	if s.open {
		return "same-origin"
	}
	return "no-referrer"
}

// headAsGet answers HEAD as GET; the server leaves the body out.
func headAsGet(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodHead {
			get := *r
			get.Method = http.MethodGet
			r = &get
		}
		next.ServeHTTP(w, r)
	})
}

// readable refuses addresses that are not text: what cannot be printed cannot be a name either, and one database
// stores what the other one trips over.
func (s *Server) readable(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		query, err := url.ParseQuery(r.URL.RawQuery)
		ok := err == nil && isText(r.URL.Path)
		for key, values := range query {
			ok = ok && isText(key)
			for _, v := range values {
				ok = ok && isText(v)
			}
		}
		if !ok {
			s.fail(w, r, http.StatusBadRequest, models.Errorf(models.Invalid, "the address is not valid UTF-8 text"))
			return
		}
		next.ServeHTTP(w, r)
	})
}

func isText(s string) bool {
	return utf8.ValidString(s) && strings.IndexFunc(s, unicode.IsControl) < 0
}

// recovered answers a panic like any other failure, where nothing has been sent yet, and breaks the connection where
// something has, so that no one takes half an answer for a whole one.
func (s *Server) recovered(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			p := recover()
			if p == nil {
				return
			}
			if p == http.ErrAbortHandler {
				panic(p)
			}
			err := fmt.Errorf("panic: %v\n%s", p, debug.Stack())
			if a, ok := w.(*answer); ok && a.begun() {
				s.log.ErrorContext(r.Context(), "request failed", "error", err)
				panic(http.ErrAbortHandler)
			}
			s.fail(w, r, http.StatusInternalServerError, err)
		}()
		next.ServeHTTP(w, r)
	})
}
