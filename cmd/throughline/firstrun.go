package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"

	"throughline/api/auth"
	"throughline/models/scenario"
	"throughline/models/store"
)

// setupCodeFile is the file of the setup code, in the folder of the SQLite file, or for PostgreSQL in the working
// folder.
const setupCodeFile = "throughline-setup-code.txt"

func (p *program) setupCodePath() string {
	path, _ := strings.CutPrefix(p.database, "sqlite:")
	if p.onPostgres() {
		return setupCodeFile
	}
	path, _, _ = strings.Cut(path, "?")
	return filepath.Join(filepath.Dir(path), setupCodeFile)
}

// firstRun makes a setup code if the database has no academy, prints it and writes it to a file that only its owner
// reads. The file goes when the code is used, and with the code when serving ends: call stop then.
func (p *program) firstRun(ctx context.Context, s *store.Store, log *slog.Logger) (f *auth.FirstRun, stop func() error,
	err error) {
	file := p.setupCodePath()
	gone := func() error {
		if err := os.Remove(file); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("delete the setup code: %w", err)
		}
		return nil
	}
	academies, err := s.Academies(ctx)
	if err != nil {
		return nil, nil, err
	}
	if len(academies) > 0 {
		return nil, func() error { return nil }, nil
	}
	code, f, err := auth.NewFirstRun(rand.Reader, func() {
		if err := gone(); err != nil {
			log.Warn("the used setup code is still on the disk; delete the file", "file", file, "error", err)
		}
	})
	if err != nil {
		return nil, nil, err
	}
	err = writeFile(file, func(w io.Writer) error {
		_, err := fmt.Fprintln(w, code)
		return err
	})
	where := "The code is also in " + file + ", which only you can read."
	if err != nil {
		log.Warn("cannot write the setup code to a file; use the printed one", "error", err)
		where = "It could not be written to a file."
	}
	fmt.Fprintf(p.out, "This database has no academy yet. Open the server's address in a browser and make one with this "+
		"setup code:\n  %s\n%s It works once; a restart makes a new one.\n", code, where)
	return f, gone, nil
}

// publicDemo refuses to serve the demo's academy where others reach it: its sign-ins were printed, and its people are
// invented.
func publicDemo(ctx context.Context, s *store.Store, ln net.Listener, public string) error {
	academies, err := s.Academies(ctx)
	if err != nil {
		return err
	}
	for _, a := range academies {
		if a.Name == scenario.Name {
			return onlyHere(ln, public)
		}
	}
	return nil
}

// onlyHere refuses an address of the demo that other machines reach.
func onlyHere(ln net.Listener, public string) error {
	if public == "" && loopback(ln.Addr()) {
		return nil
	}
	return misusef("the demo is served only to this machine: leave --public-url out and --addr at an address such as %s. "+
		"A real academy needs a database of its own: name one with \"throughline serve --database\"", defaultAddr)
}
