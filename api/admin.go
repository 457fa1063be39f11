package api

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"throughline/models/store"
)

// metrics are a server's counts of its own work. Routes are patterns and methods are known ones: they do not reveal
// whose record was read, and there are few of them.
type metrics struct {
	registry *prometheus.Registry
	answered *prometheus.HistogramVec
	running  prometheus.Gauge
	refused  prometheus.Counter
}

// newMetrics returns what is counted, with the state of the Go runtime, of the process and of the database's pools.
func newMetrics(db *store.Store, version string) *metrics {
	m := &metrics{
		registry: prometheus.NewRegistry(),
		answered: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name:    "throughline_http_request_duration_seconds",
			Help:    "Time taken to answer requests, by method, route and status.",
			Buckets: []float64{.005, .01, .025, .05, .1, .25, .5, 1, 2.5, 5, 10, 30},
		}, []string{"method", "route", "status"}),
		running: prometheus.NewGauge(prometheus.GaugeOpts{Name: "throughline_http_requests_running",
			Help: "Requests being answered now."}),
		refused: prometheus.NewCounter(prometheus.CounterOpts{
			Name: "throughline_http_connections_refused_total",
			Help: "Connections refused because the address already had too many.",
		}),
	}
	built := prometheus.NewGauge(prometheus.GaugeOpts{
		Name: "throughline_build_info", Help: "Always 1; the label is the program's version.",
		ConstLabels: prometheus.Labels{"version": version},
	})
	built.Set(1)
	m.registry.MustRegister(m.answered, m.running, m.refused, built, collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}), pools{db}, backlog{db})
	return m
}

// pools tells how the connections to the database are used.
type pools struct{ store *store.Store }

var (
	poolOpen = prometheus.NewDesc("throughline_database_connections", "Connections to the database, by pool and state.",
		[]string{"pool", "state"}, nil)
	poolMost = prometheus.NewDesc("throughline_database_connections_max", "Maximum connections in a pool.",
		[]string{"pool"}, nil)
	poolWaits = prometheus.NewDesc("throughline_database_waits_total",
		"How many times a request had to wait for a connection.",
		[]string{"pool"}, nil)
	poolWaited = prometheus.NewDesc("throughline_database_wait_seconds_total",
		"Total time spent waiting for connections.",
		[]string{"pool"}, nil)
)

// Describe names what Collect tells.
func (p pools) Describe(out chan<- *prometheus.Desc) { prometheus.DescribeByCollect(p, out) }

// Collect tells how it is now.
func (p pools) Collect(out chan<- prometheus.Metric) {
	if p.store == nil {
		return
	}
	for name, s := range p.store.Pools() {
		out <- prometheus.MustNewConstMetric(poolOpen, prometheus.GaugeValue, float64(s.InUse), name, "in_use")
		out <- prometheus.MustNewConstMetric(poolOpen, prometheus.GaugeValue, float64(s.Idle), name, "idle")
		out <- prometheus.MustNewConstMetric(poolMost, prometheus.GaugeValue, float64(s.MaxOpenConnections), name)
		out <- prometheus.MustNewConstMetric(poolWaits, prometheus.CounterValue, float64(s.WaitCount), name)
		out <- prometheus.MustNewConstMetric(poolWaited, prometheus.CounterValue, s.WaitDuration.Seconds(), name)
	}
}

// backlog tells how many background jobs there are.
type backlog struct{ store *store.Store }

var jobsThere = prometheus.NewDesc(
	"throughline_jobs",
	"Background jobs, by kind and state. Finished and cancelled jobs are kept for a day, failed ones for a week.",
	[]string{"kind", "state"}, nil,
)

// Describe names what Collect tells.
func (b backlog) Describe(out chan<- *prometheus.Desc) { out <- jobsThere }

// Collect tells how it is now. While the database is away it tells nothing; the other figures are told all the same.
func (b backlog) Collect(out chan<- prometheus.Metric) {
	if b.store == nil {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), adminTimeout/2)
	defer cancel()
	counts, err := b.store.JobCounts(ctx)
	if err != nil {
		return
	}
	for _, c := range counts {
		n := float64(c.Jobs)
		out <- prometheus.MustNewConstMetric(jobsThere, prometheus.GaugeValue, n, c.Kind, string(c.State))
	}
}

func (m *metrics) observe(method, route string, status int, took time.Duration) {
	m.answered.WithLabelValues(method, route, strconv.Itoa(status)).Observe(took.Seconds())
}

// adminTimeout is how long a question of an administrator's program may take. They are short, and asked every few
// seconds.
const adminTimeout = 10 * time.Second

// ServeAdmin answers programs that watch over the server, at ln until ctx ends, and closes ln:
//
//	/healthz  200 while the process lives; a manager of services restarts what does not answer
//	/readyz   200 when requests can be answered, for a load balancer; 503 while the database is away or the server
//	          is stopping
//	/metrics  figures in the text format of Prometheus
//
// It asks no one who they are: ln is for the machine itself or a network of administrators. It goes on while Serve
// lets the last requests finish, and must be ended after it.
func (s *Server) ServeAdmin(ctx context.Context, ln net.Listener) error {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, _ *http.Request) { say(w, http.StatusOK, "ok") })
	mux.HandleFunc("GET /readyz", s.ready)
	mux.Handle("GET /metrics",
		promhttp.HandlerFor(s.metrics.registry,
			promhttp.HandlerOpts{ErrorLog: slog.NewLogLogger(s.log.Handler(), slog.LevelWarn)}))
	server := &http.Server{
		Handler: mux, ReadTimeout: adminTimeout, WriteTimeout: adminTimeout, IdleTimeout: idleTimeout,
		MaxHeaderBytes: largestHead,
		ErrorLog:       slog.NewLogLogger(s.log.Handler(), slog.LevelWarn),
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(ln) }()
	select {
	case err := <-ended:
		return fmt.Errorf("serve administrators on %s: %w", ln.Addr(), err)
	case <-ctx.Done():
	}
	grace, stop := context.WithTimeout(context.WithoutCancel(ctx), adminTimeout)
	defer stop()
	err := server.Shutdown(grace)
	if err != nil {
		err = errors.Join(fmt.Errorf("stop serving administrators: %w", err), server.Close())
	}
	<-ended
	return err
}

// ready says whether requests can be answered.
func (s *Server) ready(w http.ResponseWriter, r *http.Request) {
	if s.stopping.Load() {
		say(w, http.StatusServiceUnavailable, "stopping")
		return
	}
	if err := s.store.Ping(r.Context()); err != nil {
		s.log.WarnContext(r.Context(), "not ready", "error", err)
		say(w, http.StatusServiceUnavailable, "the database does not answer")
		return
	}
	say(w, http.StatusOK, "ok")
}

func say(w http.ResponseWriter, status int, text string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	fmt.Fprintln(w, text)
}
