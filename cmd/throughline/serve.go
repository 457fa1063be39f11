package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/netip"
	"net/url"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"throughline/api"
	"throughline/models/store"
	"throughline/reports/chart"
	"throughline/reports/season"
)

// defaultAddr is reachable from this machine only.
const defaultAddr = "127.0.0.1:8080"

func (p *program) serve() *cobra.Command {
	var addr, public string
	c := &cobra.Command{
		Use:   "serve",
		Short: "Serves pages for people and resources for programs",
		Long: fmt.Sprintf(`Serves pages for people and resources for programs until it is told to stop (SIGTERM or
Ctrl-C). Running requests then have %v to finish.

It speaks plain HTTP, for this machine only unless --addr says otherwise. For others, put an
HTTPS server in front of it and give that one's address as --public-url: the session cookie
then never travels in the clear. Served to others without HTTPS, everybody on the way can read
passwords and records; that is possible, and warned about.`, api.Grace),
		Args: cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			if err := p.checkDatabase(); err != nil {
				return err
			}
			if err := checkPublicURL(public); err != nil {
				return err
			}
			ln, err := listen(ctx, addr)
			if err != nil {
				return err
			}
			log := p.log()
			s, err := p.open(ctx, log)
			if err != nil {
				return errors.Join(err, ln.Close())
			}
			return errors.Join(serveUntilStopped(ctx, log, s, ln, public), s.Close())
		}),
	}
	onDatabase(c, "sqlite:throughline.db")
	c.Flags().StringVar(&addr, "addr", defaultAddr, "where to listen, as HOST:PORT")
	c.Flags().StringVar(&public, "public-url", "", "the address of the HTTPS server in front of this one, such as https://academy.example")
	return c
}

// listen takes the address. It is the first thing that serving does, so that whoever comes while the rest is made ready waits a moment
// instead of being turned away, and a taken port is known before anything else has begun.
func listen(ctx context.Context, addr string) (net.Listener, error) {
	if _, port, err := net.SplitHostPort(addr); err != nil || port == "" {
		return nil, misusef("--addr must be HOST:PORT, such as %s", defaultAddr)
	}
	ln, err := (&net.ListenConfig{}).Listen(ctx, "tcp", addr)
	if err != nil {
		return nil, fmt.Errorf("cannot listen on %s (is another program using the port? --addr chooses another): %w", addr, err)
	}
	return ln, nil
}

func checkPublicURL(text string) error {
	if text == "" {
		return nil
	}
	u, err := url.Parse(text)
	if err != nil || u.Scheme != "https" || u.Host == "" || strings.Trim(u.Path, "/") != "" || u.RawQuery != "" || u.User != nil {
		return misusef("--public-url must be the address of an HTTPS server without a path, such as https://academy.example")
	}
	return nil
}

// serveUntilStopped serves a store until ctx ends.
func serveUntilStopped(ctx context.Context, log *slog.Logger, s *store.Store, ln net.Listener, public string) error {
	stop := keepTrends(ctx, log, s)
	defer stop()
	charts := chart.NewRenderer(0) // gets ready in the background
	defer charts.Close()
	page, err := season.NewPage(charts)
	if err != nil {
		return errors.Join(err, ln.Close())
	}
	open := public == "" && !loopback(ln.Addr())
	server, err := api.New(api.Options{
		Store: s, Season: page, Log: log, Now: time.Now, Version: build(), PublicURL: strings.TrimSuffix(public, "/"), Open: open,
	})
	if err != nil {
		return errors.Join(err, ln.Close())
	}
	log.Info("serving", "address", "http://"+ln.Addr().String(), "public", public)
	if open {
		log.Warn("other machines reach this server without HTTPS: everybody on the way can read passwords and records; put an HTTPS server in front and name it with --public-url")
	}
	return server.Serve(ctx, ln)
}

// loopback says whether only this machine reaches an address.
func loopback(a net.Addr) bool {
	at, err := netip.ParseAddrPort(a.String())
	return err == nil && at.Addr().IsLoopback()
}
