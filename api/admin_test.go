package api_test

import (
	"context"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// watch serves administrators and returns how to ask.
func watch(t *testing.T, s *store.Store) func(path string) (status int, body string) {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := apitest.NewServer(t, s, io.Discard)
	ctx, stop := context.WithCancel(context.Background())
	stopped := make(chan error, 1)
	go func() { stopped <- server.ServeAdmin(ctx, ln) }()
	t.Cleanup(func() {
		stop()
		if err := <-stopped; err != nil {
			t.Error(err)
		}
	})
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	return func(path string) (int, string) {
		t.Helper()
		res, err := client.Get("http://" + ln.Addr().String() + path)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		body, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return res.StatusCode, string(body)
	}
}

func TestReadyDependsOnTheDatabaseAndHealthyDoesNot(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		ask := watch(t, s)
		for _, path := range []string{"/healthz", "/readyz"} {
			if status, body := ask(path); status != http.StatusOK || body != "ok\n" {
				t.Errorf("%s: %d %q; want 200 ok", path, status, body)
			}
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if status, body := ask("/readyz"); status != http.StatusServiceUnavailable || strings.Contains(body, "closed") {
			t.Errorf("/readyz without a database: %d %q; want 503 and nothing of why", status, body)
		}
		if status, _ := ask("/healthz"); status != http.StatusOK {
			t.Errorf("/healthz without a database: %d; want 200, since a new process would not help", status)
		}
	})
}

func TestMetricsAreThoseOfPrometheusAndNameNobody(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		ln, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		a := apitest.Serve(t, s)
		a.Program(t, "ansel").Get("/api/v1/players?name=Bryn+Calder")
		a.Stranger(t).Get("/api/v1/players")
		a.Stranger(t).Do("BREW", "/secret-path", nil)
		a.Stop() // so that all of it has been counted
		err = s.Write(t.Context(), models.Console(1), func(tx *store.Tx) error {
			_, err := tx.Enqueue(models.JobOrder{Task: models.RefitTask{SeasonID: 987654}})
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		ctx, stop := context.WithCancel(context.Background())
		stopped := make(chan error, 1)
		go func() { stopped <- a.Server.ServeAdmin(ctx, ln) }()
		res, err := http.Get("http://" + ln.Addr().String() + "/metrics")
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(res.Body)
		res.Body.Close()
		// Prometheus, Exposition formats
		if err != nil || !strings.HasPrefix(res.Header.Get("Content-Type"), "text/plain; version=0.0.4") {
			t.Errorf("%v, %s", err, res.Header.Get("Content-Type"))
		}
		stop()
		if err := <-stopped; err != nil {
			t.Error(err)
		}
		for _, want := range []string{
			`throughline_http_request_duration_seconds_count{method="GET",route="/api/v1/players",status="200"} 1`,
			`throughline_http_request_duration_seconds_count{method="GET",route="/api/v1/players",status="401"} 1`,
			`throughline_http_request_duration_seconds_count{method="other",route="none",status="404"} 1`,
			"throughline_http_requests_running 0", `throughline_jobs{kind="refit_squad_season",state="waiting"} `,
			`throughline_build_info{version="test"} 1`, "throughline_database_connections{", "go_goroutines ",
		} {
			if !strings.Contains(string(text), want) {
				t.Errorf("the metrics lack %s", want)
			}
		}
		for _, private := range []string{"bryn", "calder", "ansel", "secret", "brew", "127.0.0.1"} {
			if strings.Contains(strings.ToLower(string(text)), private) {
				t.Errorf("the metrics have %q in them", private)
			}
		}
		if t.Failed() {
			t.Log(string(text))
		}
	})
}

func TestWhatWatchesIsNotOnThePublicAddress(t *testing.T) {
	c := apitest.OnSQLite(t).Stranger(t)
	for _, path := range []string{"/healthz", "/readyz", "/metrics"} {
		if got := c.Get(path); got.Status != http.StatusNotFound {
			t.Errorf("%s: %d; want 404", path, got.Status)
		}
	}
}
