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
	"throughline/reports"
	"throughline/reports/chart"
	"throughline/reports/paper/pdf"
)

// defaultAddr is reachable from this machine only.
const defaultAddr = "127.0.0.1:8080"

func (p *program) serve() *cobra.Command {
	var how serving
	c := &cobra.Command{
		Use:   "serve",
		Short: "Serves pages for people and resources for programs",
		Long: fmt.Sprintf(`Serves pages for people and resources for programs until it is told to stop (SIGTERM or
Ctrl-C). Running requests and background jobs then have %v to finish.

It speaks plain HTTP, and only this machine reaches it unless --addr says otherwise. For other
machines, put an HTTPS server in front of it and give its address as --public-url. Without HTTPS,
anyone on the network can read passwords and records; the program warns and goes on.

While the database has no academy, it prints a setup code and writes it to throughline-setup-code.txt
beside the database (for PostgreSQL: in the working folder), readable by you alone. Open the server's
address in a browser and make the academy and its first manager with that code. It works once.

Users are signed out after --session-idle without a request, and after twelve hours in any case.`, api.Grace),
		Args: cobra.NoArgs,
		RunE: p.step(func(ctx context.Context, _ []string) error {
			if err := p.checkDatabase(); err != nil {
				return err
			}
			if err := how.check(); err != nil {
				return err
			}
			ln, err := listen(ctx, "--addr", how.addr)
			if err != nil {
				return err
			}
			log := p.log()
			s, err := p.open(ctx, log, how.options())
			if err != nil {
				return errors.Join(err, ln.Close())
			}
			if err := publicDemo(ctx, s, ln, how.public); err != nil {
				return errors.Join(err, ln.Close(), s.Close())
			}
			first, gone, err := p.firstRun(ctx, s, log)
			if err != nil {
				return errors.Join(err, ln.Close(), s.Close())
			}
			how.first = first
			return errors.Join(serveUntilStopped(ctx, log, s, ln, how), gone(), s.Close())
		}),
	}
	onDatabase(c, defaultDatabase)
	onServing(c, &how)
	return c
}

// listen takes the address. Serving does this first: callers who come before the rest is ready wait a moment instead
// of being refused, and a taken port is known before anything else has begun.
func listen(ctx context.Context, flag, addr string) (net.Listener, error) {
	ln, err := (&net.ListenConfig{}).Listen(ctx, "tcp", addr)
	if err != nil {
		return nil, fmt.Errorf("cannot serve at %s %s: %w", flag, addr, err)
	}
	return ln, nil
}

func checkPublicURL(text string) error {
	if text == "" {
		return nil
	}
	u, err := url.Parse(text)
	if err != nil || u.Scheme != "https" || u.Host == "" || strings.Trim(u.Path, "/") != "" || u.RawQuery != "" ||
		u.User != nil {
		return misusef("--public-url must be the address of an HTTPS server without a path, such as https://academy.example")
	}
	return nil
}

// serveUntilStopped serves a store until ctx ends.
func serveUntilStopped(ctx context.Context, log *slog.Logger, s *store.Store, ln net.Listener,
	how serving) (err error) {
	limits, err := how.limits()
	if err != nil {
		return errors.Join(err, ln.Close())
	}
	charts := chart.NewRenderer(0) // gets ready in the background
	defer charts.Close()
	papers, err := reports.Papers(charts)
	if err != nil {
		return errors.Join(err, ln.Close())
	}
	printer, err := pdf.Find(how.chromium)
	if err != nil {
		return errors.Join(err, ln.Close())
	}
	defer printer.Close()
	ctx, cancel := context.WithCancel(ctx)
	stop, err := background(ctx, log, s, papers, printer, how.grace)
	if err != nil {
		cancel()
		return errors.Join(err, ln.Close())
	}
	defer func() {
		cancel()
		err = errors.Join(err, stop())
	}()
	open := how.public == "" && !loopback(ln.Addr())
	server, err := api.New(api.Options{
		Store: s, Papers: papers, Printer: printer, Log: log, Now: time.Now, Version: build(),
		PublicURL: strings.TrimSuffix(how.public, "/"), Open: open,
		Grace: how.grace, Limits: limits, SessionIdle: how.idle, First: how.first,
	})
	if err != nil {
		return errors.Join(err, ln.Close())
	}
	log.Info("serving", "address", "http://"+ln.Addr().String(), "public", how.public)
	if open {
		log.Warn("other machines reach this server without HTTPS: anyone on the network can read passwords and records; " +
			"put an HTTPS server in front and name it with --public-url")
	}
	if how.admin != "" {
		admin, err := listen(ctx, "--admin-addr", how.admin)
		if err != nil {
			return errors.Join(err, ln.Close())
		}
		log.Info("serving administrators", "address", "http://"+admin.Addr().String())
		if !loopback(admin.Addr()) {
			log.Warn("other machines reach --admin-addr, which asks for no sign-in: let only administrators' machines " +
				"reach it")
		}
		// It goes on until the last request is answered, to say that the server is stopping.
		watched, done := context.WithCancel(context.WithoutCancel(ctx))
		ended := make(chan error, 1)
		go func() { ended <- server.ServeAdmin(watched, admin) }()
		defer func() {
			done()
			err = errors.Join(err, <-ended)
		}()
	}
	return server.Serve(ctx, ln)
}

// loopback says whether only this machine reaches an address.
func loopback(a net.Addr) bool {
	at, err := netip.ParseAddrPort(a.String())
	return err == nil && at.Addr().IsLoopback()
}
