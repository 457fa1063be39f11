package storetest

import (
	"bufio"
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"throughline/models/store"
)

// The variables that say where PostgreSQL is and whether a test may go without.
const (
	serverVariable  = "THROUGHLINE_TEST_POSTGRES"
	requireVariable = "THROUGHLINE_REQUIRE"
)

// errNone is why there is no PostgreSQL to test with.
var errNone = errors.New("no PostgreSQL server: install PostgreSQL's server binaries, or set " + serverVariable +
	" to the URL of a server on which databases may be created")

// owner is the role that owns the databases on a server of our own: no superuser, as in a real installation.
const owner = "throughline_owner"

// server is a PostgreSQL server with a migrated database to copy.
type server struct {
	admin    *url.URL // a database from which others are created
	owner    string   // the role that owns test databases, or nothing for the admin
	template string
	stop     func() error
	log      string                  // the file that a server of our own writes
	tell     func(word string) error // to the watcher of a server of our own; it returns when that is done
}

var started struct {
	sync.Mutex
	tried  bool
	server *server
	err    error
}

// Main runs a package's tests and stops the PostgreSQL server that they started. It is for TestMain:
//
//	func TestMain(m *testing.M) { storetest.Main(m) }
//
// A package without it leaves the server to its watcher, which stops it when the process is gone.
func Main(m *testing.M) {
	code := m.Run()
	if err := Stop(); err != nil {
		fmt.Fprintln(os.Stderr, "stop PostgreSQL:", err)
		code = max(code, 1)
	}
	os.Exit(code)
}

// Stop stops the server that tests started, if any.
func Stop() error {
	started.Lock()
	defer started.Unlock()
	s := started.server
	if s == nil {
		return nil
	}
	started.tried, started.server = false, nil
	return s.stop()
}

// Postgres returns the URL of an empty PostgreSQL database of the test's own, not migrated.
func Postgres(t testing.TB) string {
	t.Helper()
	return database(t, "template1")
}

// As returns the address of a database for another role of a server of the tests' own, such as the administrator
// "postgres". On another server the test is skipped: what its roles may do is not known.
func As(t testing.TB, address, role string) string {
	t.Helper()
	u, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	if u.User.Username() != owner {
		t.Skip("the roles of the server in " + serverVariable + " are not known")
	}
	u.User = url.User(role)
	return u.String()
}

// MigratedPostgres returns the URL of a PostgreSQL database of the test's own that is migrated and empty.
func MigratedPostgres(t testing.TB) string {
	t.Helper()
	return database(t, "")
}

// database creates a database for a test from a template: the migrated one where none is named.
func database(t testing.TB, template string) string {
	t.Helper()
	started.Lock()
	defer started.Unlock()
	if !started.tried {
		started.tried = true
		started.server, started.err = start(context.Background())
	}
	if errors.Is(started.err, errNone) && !strings.Contains(os.Getenv(requireVariable), "postgres") {
		t.Skip(started.err)
	}
	if started.err != nil {
		t.Fatal(started.err)
	}
	s := started.server
	if template == "" {
		template = s.template
	}
	name := newName()
	if err := s.create(context.Background(), name, template); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.drop(name); err != nil {
			t.Error(err)
		}
	})
	return s.url(name)
}

// Server is a PostgreSQL server of one test's own.
type Server struct{ own *server }

// Private starts a PostgreSQL server for one test alone, which may stop it, and returns the URL of a migrated, empty
// database on it. It needs PostgreSQL's binaries even where another server is given.
func Private(t testing.TB) (url string, s *Server) {
	t.Helper()
	bin, err := binaries()
	if errors.Is(err, errNone) && !strings.Contains(os.Getenv(requireVariable), "postgres") {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	own, err := startOwn(t.Context(), bin)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := own.stop(); err != nil {
			t.Error(err)
		}
	})
	name := newName()
	if err := own.create(t.Context(), name, "template1"); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Migrate(t.Context(), own.url(name)); err != nil {
		t.Fatal(err)
	}
	return own.url(name), &Server{own}
}

// Stop stops the server, which breaks every connection to it.
func (s *Server) Stop(t testing.TB) {
	t.Helper()
	if err := s.own.tell("stop"); err != nil {
		t.Fatal(err)
	}
}

// Start starts the server again and returns when it answers.
func (s *Server) Start(t testing.TB) {
	t.Helper()
	if err := errors.Join(s.own.tell("start"), s.own.ready(t.Context())); err != nil {
		t.Fatal(err)
	}
}

func newName() string { return "throughline_test_" + strings.ToLower(rand.Text()[:12]) }

// url is the address of a database for its owner.
func (s *server) url(name string) string {
	u := *s.admin
	u.Path = "/" + name
	if s.owner != "" {
		u.User = url.User(s.owner)
	}
	return u.String()
}

func (s *server) run(ctx context.Context, statements ...string) error {
	conn, err := pgx.Connect(ctx, s.admin.String())
	if err != nil {
		return err
	}
	for _, statement := range statements {
		if _, err := conn.Exec(ctx, statement); err != nil {
			return errors.Join(fmt.Errorf("%s: %w", statement, err), conn.Close(ctx))
		}
	}
	return conn.Close(ctx)
}

func (s *server) create(ctx context.Context, name, template string) error {
	statement := "CREATE DATABASE " + name + " TEMPLATE " + template
	if s.owner != "" {
		statement += " OWNER " + s.owner
	}
	return s.run(ctx, statement)
}

func (s *server) drop(name string) error {
	return s.run(context.Background(), "DROP DATABASE IF EXISTS "+name+" WITH (FORCE)")
}

// start finds a server or starts one, and migrates the template.
func start(ctx context.Context) (*server, error) {
	s, err := find(ctx)
	if err != nil {
		return nil, err
	}
	s.template = newName()
	err = s.create(ctx, s.template, "template1")
	if err == nil {
		_, err = store.Migrate(ctx, s.url(s.template))
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("make the template database: %w", err), s.stop())
	}
	return s, nil
}

func find(ctx context.Context) (*server, error) {
	if address := os.Getenv(serverVariable); address != "" {
		admin, err := url.Parse(address)
		if err != nil {
			return nil, fmt.Errorf("%s is no URL", serverVariable) // its text may hold a password
		}
		s := &server{admin: admin}
		s.stop = func() error { return s.drop(s.template) }
		return s, nil
	}
	binaries, err := binaries()
	if err != nil {
		return nil, err
	}
	return startOwn(ctx, binaries)
}

// binaries returns the folder with PostgreSQL's server programs: that of the path, or the first of those where
// packages put them.
func binaries() (string, error) {
	var found []string
	if path, err := exec.LookPath("initdb"); err == nil {
		if path, err = filepath.EvalSymlinks(path); err == nil {
			found = append(found, path)
		}
	}
	for _, pattern := range []string{"/usr/lib/postgresql/*/bin/initdb", "/usr/pgsql-*/bin/initdb",
		"/opt/homebrew/opt/postgresql@*/bin/initdb", "/usr/local/pgsql/bin/initdb"} {
		paths, err := filepath.Glob(pattern)
		if err != nil {
			return "", err
		}
		slices.Reverse(paths) // the newest first
		found = append(found, paths...)
	}
	for _, path := range found {
		if bin := filepath.Dir(path); executable(filepath.Join(bin, "postgres")) {
			return bin, nil
		}
	}
	return "", errNone
}

// postgresAtHand says whether there is a server to use, or the programs to start one.
func postgresAtHand() bool {
	if os.Getenv(serverVariable) != "" {
		return true
	}
	_, err := binaries()
	return err == nil
}

func executable(path string) bool {
	_, err := exec.LookPath(path)
	return err == nil
}

// watcher runs the server for as long as its standard input is open, which ends with the test process however that
// ends, and then takes the folder away. On the way it does what it is told there, a word a line, and repeats the word
// when it is done.
const watcher = `
bin=$1 folder=$2 port=$3 listen=$4 server=
trap '' INT TERM HUP
start() {
	"$bin/postgres" -D "$folder/data" -p "$port" -k "$folder" -c listen_addresses="$listen" \
		-c fsync=off -c synchronous_commit=off -c full_page_writes=off -c max_connections=200 -c shared_buffers=128MB \
		</dev/null >>"$folder/log" 2>&1 &
	server=$!
}
stop() {
	[ -z "$server" ] || kill -INT "$server"
	wait
	server=
}
start
while read -r word; do
	"$word"
	echo "$word"
done
stop
rm -rf "$folder"
`

// startOwn starts a server in a folder of its own. PostgreSQL refuses to run as root: then it runs as another user.
func startOwn(ctx context.Context, bin string) (*server, error) {
	as, err := unprivileged()
	if err != nil {
		return nil, err
	}
	folder, err := os.MkdirTemp("", "throughline-pg-")
	if err != nil {
		return nil, err
	}
	if as != nil {
		if err := os.Chown(folder, int(as.Uid), int(as.Gid)); err != nil {
			return nil, errors.Join(err, os.RemoveAll(folder))
		}
	}
	command := func(name string, args ...string) *exec.Cmd {
		c := exec.Command(name, args...)
		c.Dir = folder
		c.Env = []string{"PATH=" + os.Getenv("PATH"), "LC_ALL=C", "TZ=UTC", "HOME=" + folder}
		c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} // the terminal's interrupt is for the tests, not for the server
		if as != nil {
			c.SysProcAttr.Credential = as
		}
		return c
	}
	initdb := command(filepath.Join(bin, "initdb"), "-D", filepath.Join(folder, "data"), "-A", "trust", "-U", "postgres",
		"-E", "UTF8", "--locale=C", "--no-sync")
	if out, err := initdb.CombinedOutput(); err != nil {
		return nil, errors.Join(fmt.Errorf("initdb: %w\n%s", err, out), os.RemoveAll(folder))
	}
	port, listen, host := 5432, "", folder
	if len(folder) > 80 { // a socket's path has little more than 100 bytes
		if port, err = freePort(); err != nil {
			return nil, errors.Join(err, os.RemoveAll(folder))
		}
		listen, host = "127.0.0.1", "127.0.0.1"
	}
	shell := command("/bin/sh", "-c", watcher, "sh", bin, folder, strconv.Itoa(port), listen)
	open, err := shell.StdinPipe()
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(folder))
	}
	answers, err := shell.StdoutPipe()
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(folder))
	}
	if err := shell.Start(); err != nil {
		return nil, errors.Join(err, os.RemoveAll(folder))
	}
	heard := bufio.NewReader(answers)
	s := &server{
		admin: &url.URL{Scheme: "postgres", User: url.User("postgres"), Path: "/postgres",
			RawQuery: url.Values{"host": {host}, "port": {strconv.Itoa(port)}, "sslmode": {"disable"}}.Encode()},
		owner: owner,
		stop: func() error {
			return errors.Join(open.Close(), shell.Wait())
		},
		tell: func(word string) error {
			if _, err := fmt.Fprintln(open, word); err != nil {
				return err
			}
			_, err := heard.ReadString('\n')
			return err
		},
		log: filepath.Join(folder, "log"),
	}
	if err := s.ready(ctx); err != nil {
		return nil, errors.Join(err, s.stop())
	}
	if err := s.run(ctx, "CREATE ROLE "+owner+" LOGIN CREATEROLE CREATEDB NOSUPERUSER NOBYPASSRLS"); err != nil {
		return nil, errors.Join(err, s.stop())
	}
	return s, nil
}

// ready waits until a server that was just started answers.
func (s *server) ready(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for {
		err := s.run(ctx)
		if err == nil {
			return nil
		}
		select {
		case <-ctx.Done():
			said, _ := os.ReadFile(s.log)
			return fmt.Errorf("PostgreSQL does not answer: %w\n%s", err, bytes.TrimSpace(said))
		case <-tick.C:
		}
	}
}

// unprivileged returns who the server runs as when this process is root, and nil when it is not.
func unprivileged() (*syscall.Credential, error) {
	if os.Geteuid() != 0 {
		return nil, nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, err := strconv.ParseUint(u.Uid, 10, 32)
		if err != nil {
			return nil, err
		}
		gid, err := strconv.ParseUint(u.Gid, 10, 32)
		if err != nil {
			return nil, err
		}
		return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}, nil
	}
	return nil, errors.New(
		"PostgreSQL does not run as root, and there is neither a user postgres nor nobody to run it as")
}

func freePort() (int, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return 0, err
	}
	return l.Addr().(*net.TCPAddr).Port, l.Close()
}
