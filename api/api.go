package api

import (
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"sync/atomic"
	"time"

	"github.com/gin-gonic/gin"

	"throughline/api/auth"
	"throughline/api/pages"
	"throughline/api/rest"
	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
	"throughline/reports/paper/pdf"
)

// Options says what a server needs.
type Options struct {
	Store   *store.Store
	Papers  paper.Papers
	Printer *pdf.Printer // prints papers as PDF; nil: none are printed
	Log     *slog.Logger
	Now     func() time.Time
	Version string // of the program
	// PublicURL is the address that people type when it is not that of the server itself: that of an HTTPS server in
	// front of it, such as https://academy.example. Empty: they reach the server directly.
	PublicURL string
	// Open says that the server listens beyond this machine without HTTPS in front of it.
	Open bool
	// Grace is how long running requests may take to finish at the end; 0 stands for the constant of the same name.
	Grace time.Duration
	// SessionIdle is how long a session lasts that is not used; 0 stands for auth.DefaultIdle.
	SessionIdle time.Duration
	// Limits are what one caller may ask; see there for the zero value.
	Limits Limits
	// First accepts the setup code of a deployment without an academy; nil: none is accepted.
	First *auth.FirstRun
}

// Server answers for one deployment.
type Server struct {
	log       *slog.Logger
	handler   http.Handler
	router    *gin.Engine
	unrouted  []string // patterns of what is answered before the router
	store     *store.Store
	pages     *pages.Pages
	rest      *rest.Service
	metrics   *metrics
	limits    Limits
	bodies    *bodies
	lines     *lines
	addresses *buckets
	people    *buckets
	open      bool
	host      string // of the public address; empty without one
	times     times
	stopping  atomic.Bool
}

// New puts a server together. It reads nothing and starts nothing, so that serving can begin at once. Errors: a public
// address that is not one, papers that do not fit.
func New(o Options) (*Server, error) {
	if err := o.Papers.Check((*store.Tx)(nil)); err != nil {
		return nil, err
	}
	s := &Server{
		log: slog.New(numbered{o.Log.Handler()}), store: o.Store, metrics: newMetrics(o.Store, o.Version), open: o.Open,
		times: usual(), limits: o.Limits,
		addresses: newBuckets(o.Limits.Address, o.Now), people: newBuckets(o.Limits.Person, o.Now),
	}
	if o.Grace != 0 {
		s.times.grace = o.Grace
	}
	if s.limits.Body == 0 {
		s.limits.Body = DefaultBody
	}
	if s.limits.Held == 0 {
		s.limits.Held = DefaultHeld
	}
	s.bodies = newBodies(s.limits.Held)
	s.lines = &lines{most: s.limits.Connections, spared: s.trusts, metrics: s.metrics,
		held: map[net.Conn][]netip.Prefix{}, count: map[netip.Prefix]int{}}
	secure := !o.Open
	origins := http.NewCrossOriginProtection()
	if o.PublicURL != "" {
		if err := origins.AddTrustedOrigin(strings.TrimSuffix(o.PublicURL, "/")); err != nil {
			return nil, fmt.Errorf("public address: %w", err)
		}
		if at, err := url.Parse(o.PublicURL); err == nil && at.Scheme == "https" {
			s.host = strings.TrimSuffix(at.Host, ":443")
		}
	}
	origins.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.fail(w, r, http.StatusForbidden, models.Errorf(models.Forbidden, "this request came from a page of another site "+
			"and was refused"))
	}))
	people := auth.New(auth.Options{
		Store: o.Store, Now: o.Now, Secure: secure, Idle: o.SessionIdle, Fail: s.fail,
		First: o.First,
	})
	s.pages = pages.New(o.Store, people, o.Papers, o.Printer, s.log, o.Now)
	s.rest = rest.New(o.Store, o.Papers, o.Printer, s.log, o.Now)

	gin.SetMode(gin.ReleaseMode) // or it prints every route
	router := gin.New()
	router.HandleMethodNotAllowed = true
	router.RedirectTrailingSlash = false
	if err := router.SetTrustedProxies(nil); err != nil {
		return nil, fmt.Errorf("set trusted proxies: %w", err)
	}
	router.Use(noteRoute)
	s.pages.Register(router)
	s.rest.Register(router, auth.SessionCookie(secure))
	router.NoRoute(func(c *gin.Context) { s.fail(c.Writer, c.Request, http.StatusNotFound, nil) })
	router.NoMethod(func(c *gin.Context) {
		allowed := c.Writer.Header().Get("Allow")
		if strings.Contains(allowed, http.MethodGet) {
			allowed += ", " + http.MethodHead
		}
		c.Header("Allow", allowed+", "+http.MethodOptions)
		if c.Request.Method == http.MethodOptions {
			c.Status(http.StatusNoContent)
			c.Writer.WriteHeaderNow()
			return
		}
		s.fail(c.Writer, c.Request, http.StatusMethodNotAllowed, nil)
	})

	// Files that are the same for all need no session.
	mux := http.NewServeMux()
	mux.Handle("/", people.Handler(s.limitPeople(s.bounded(router))))
	static := "GET " + pages.StaticPath
	mux.Handle(static, s.pages.Static())
	s.router, s.unrouted = router, []string{static}
	answers, err := compressed(named(mux))
	if err != nil {
		return nil, err
	}
	s.handler = s.logged(o.Now,
		s.recovered(s.headers(s.addressed(s.limitAddresses(s.readable(origins.Handler(headAsGet(answers))))))))
	return s, nil
}

// named tells the log the pattern of what is not routed further.
func named(mux *http.ServeMux) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if _, pattern := mux.Handler(r); pattern != "/" {
			_, path, _ := strings.Cut(pattern, " ")
			note(r.Context(), path)
		}
		mux.ServeHTTP(w, r)
	})
}

// fail answers a request that goes no further, in the way of the part it was for. The message of a *models.Error is
// shown; any other error is logged and never shown. A database that is away is no failure of the program.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, status int, err error) {
	if status == http.StatusInternalServerError && errors.Is(err, store.ErrUnavailable) {
		status = http.StatusServiceUnavailable
	}
	if strings.HasPrefix(r.URL.Path, rest.Path+"/") {
		s.rest.Fail(w, r, status, err)
		return
	}
	s.pages.Fail(w, r, status, err)
}
