package main_test

import (
	"database/sql"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	_ "github.com/jackc/pgx/v5/stdlib"
	_ "modernc.org/sqlite"

	"throughline/models/store"
	"throughline/models/store/storetest"
)

func TestOnSIGTERMARunningRequestFinishesAndNobodyElseIsLetIn(t *testing.T) {
	for name, signal := range map[string]os.Signal{"SIGTERM": syscall.SIGTERM, "SIGINT": syscall.SIGINT} {
		t.Run(name, func(t *testing.T) {
			p := start(t, t.TempDir(), "serve", "--addr", "127.0.0.1:0")
			addr := p.address()
			conn, err := net.Dial("tcp", addr)
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close()
			_, err = io.WriteString(conn, "POST /sign-in HTTP/1.1\r\nHost: "+addr+
				"\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 6\r\nExpect: 100-continue\r\n\r\n")
			if err != nil {
				t.Fatal(err)
			}
			// The server says 100 when the handler waits for the body (RFC 9110 §10.1.1): from here on the request is running.
			hundred := make([]byte, len("HTTP/1.1 100"))
			if _, err := io.ReadFull(conn, hundred); err != nil || string(hundred) != "HTTP/1.1 100" {
				t.Fatalf("%q, %v; want 100", hundred, err)
			}
			p.signal(signal)
			p.until("stopping; waiting for running requests to finish")
			for {
				other, err := net.Dial("tcp", addr)
				if err != nil {
					break // no one is let in any more
				}
				other.Close()
			}
			if _, err := io.WriteString(conn, "user=x"); err != nil {
				t.Fatal(err)
			}
			answer, err := io.ReadAll(conn)
			if err != nil || !strings.Contains(string(answer), "401 Unauthorized") ||
				!strings.HasSuffix(strings.TrimSpace(string(answer)), "</html>") {
				t.Errorf("%v: %.400q; want the whole page that refuses the password", err, answer)
			}
			if got := p.end(); got.code != 0 {
				t.Errorf("exit %d\n%s", got.code, got.out)
			}
		})
	}
}

func TestServeMigratesSQLiteByItself(t *testing.T) {
	folder := t.TempDir()
	p := start(t, folder, "serve", "--addr", "127.0.0.1:0")
	if status, body, _ := ask(t, "GET", "http://"+p.address()+"/cautions", nil); status != 200 {
		t.Errorf("%d %q; want a page", status, body)
	}
	p.signal(syscall.SIGTERM)
	p.end()
	if got := runIn(t, folder, "migrate", "status"); !strings.Contains(got.out, "up to date") {
		t.Errorf("%s%s", got.out, got.err)
	}
}

func TestServeRefusesAPostgreSQLSchemaThatDoesNotFit(t *testing.T) {
	url := storetest.Postgres(t)
	got := run(t, "serve", "--database", url, "--addr", "127.0.0.1:0")
	if line, _, _ := strings.Cut(got.err, "\n"); got.code != 1 || !strings.Contains(line, "schema is version 0") ||
		!strings.Contains(line, "throughline migrate") {
		t.Errorf("older: exit %d: %s; want refused, with what to do", got.code, got.err)
	}
	if got := run(t, "migrate", "status", "--database", url); got.code != 0 || !strings.Contains(got.out, "pending ") {
		t.Errorf("status: exit %d: %s%s", got.code, got.out, got.err)
	}
	if got := run(t, "migrate", "up", "--database", url); got.code != 0 || !strings.Contains(got.out, "applied ") {
		t.Errorf("up: exit %d: %s%s", got.code, got.out, got.err)
	}
	if got := run(t, "migrate", "up", "--database", url); got.code != 0 ||
		!strings.Contains(got.out, "nothing to apply") {
		t.Errorf("up again: exit %d: %s%s", got.code, got.out, got.err)
	}
	fromTheFuture(t, "pgx", url)
	got = run(t, "serve", "--database", url, "--addr", "127.0.0.1:0")
	if line, _, _ := strings.Cut(got.err, "\n"); got.code != 1 || !strings.Contains(line, "newer") {
		t.Errorf("newer: exit %d: %s; want refused, with what to do", got.code, got.err)
	}
}

func TestServeRefusesASQLiteFileOfANewerProgram(t *testing.T) {
	file := filepath.Join(t.TempDir(), "x.db")
	if _, err := store.Migrate(t.Context(), "sqlite:"+file); err != nil {
		t.Fatal(err)
	}
	fromTheFuture(t, "sqlite", file)
	got := run(t, "serve", "--database", "sqlite:"+file, "--addr", "127.0.0.1:0")
	if line, _, _ := strings.Cut(got.err, "\n"); got.code != 1 || !strings.Contains(line, "newer") {
		t.Errorf("exit %d: %s; want refused, with what to do", got.code, got.err)
	}
}

// fromTheFuture marks a database as migrated by a program that is not written yet.
func fromTheFuture(t *testing.T, driver, address string) {
	t.Helper()
	db, err := sql.Open(driver, address)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec("INSERT INTO goose_db_version (version_id, is_applied) VALUES (99999, TRUE)"); err != nil {
		t.Fatal(err)
	}
}

func TestServingOtherMachinesWithoutHTTPSIsWarnedAbout(t *testing.T) {
	for args, warned := range map[string]bool{"--addr 0.0.0.0:0": true, "--addr 127.0.0.1:0": false,
		"--addr 0.0.0.0:0 --public-url https://academy.example": false} {
		p := start(t, t.TempDir(), append([]string{"serve"}, strings.Fields(args)...)...)
		p.address()
		p.signal(syscall.SIGTERM)
		got := p.end()
		if strings.Contains(got.out, "level=WARN") != warned || strings.Contains(got.out, "without HTTPS") != warned {
			t.Errorf("%s: %s; want a warning: %v", args, got.out, warned)
		}
	}
}
