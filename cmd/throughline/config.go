package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net"
	"net/netip"
	"net/url"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"throughline/api"
	"throughline/api/auth"
	"throughline/models/store"
)

// serving is how the server is run.
type serving struct {
	addr, public, admin string
	proxies             []string
	grace               time.Duration
	person, address     float64
	largestBody, held   int64
	lines               int
	connections         int
	statement, lock     time.Duration
	idle                time.Duration
	chromium            string
	first               *auth.FirstRun // accepts the setup code of an empty database; no setting
}

// The defaults that only a server has.
const (
	// The slowest statement reads a squad's season, in well under a second: what takes longer than this is stuck.
	defaultStatementTimeout = 30 * time.Second
	// Writers of one academy wait for each other. A person waits so long; a program is told to come again.
	defaultLockTimeout = 10 * time.Second
)

// onServing gives a command the flags of a server.
func onServing(c *cobra.Command, s *serving) {
	f := c.Flags()
	f.StringVar(&s.addr, "addr", defaultAddr, "where to listen, as HOST:PORT")
	f.StringVar(&s.public, "public-url", "", "the address of the HTTPS server in front of this one, such as "+
		"https://academy.example")
	f.StringVar(&s.admin, "admin-addr", "", "where to answer /healthz, /readyz and /metrics, without sign-in, such as "+
		"127.0.0.1:8081; off when empty")
	f.StringSliceVar(&s.proxies, "proxies", nil, "servers in front of this one whose X-Forwarded-For is trusted, as "+
		"addresses or networks, such as 127.0.0.1")
	f.DurationVar(&s.grace, "grace", api.Grace, "how long running requests may take when the server stops")
	f.DurationVar(&s.idle, "session-idle", auth.DefaultIdle,
		"how long a user stays signed in without a request; never more than twelve hours in all")
	f.Float64Var(&s.person, "person-rate", api.DefaultPerson,
		"requests a second from one person or program, over ten seconds; 0 for no limit")
	f.Float64Var(&s.address, "address-rate", api.DefaultAddress,
		"requests a second from one network address, over ten seconds; 0 for no limit")
	f.IntVar(&s.lines, "address-connections", api.DefaultConnections,
		"open connections from one network address; 0 for no limit")
	f.Int64Var(&s.largestBody, "largest-body", api.DefaultBody, "the largest request, in bytes")
	f.Int64Var(&s.held, "held-bodies", api.DefaultHeld,
		"the most bytes that the server holds for all requests in progress; beyond that it answers 503")
	f.IntVar(&s.connections, "connections", store.DefaultConnections, "the most connections to PostgreSQL")
	f.DurationVar(&s.statement, "statement-timeout", defaultStatementTimeout,
		"how long PostgreSQL may work on one statement; 0 for no limit")
	onPrinting(c, &s.chromium)
	f.DurationVar(&s.lock, "lock-timeout", defaultLockTimeout,
		"how long one writer waits for another on PostgreSQL; 0 for no limit")
}

// onPrinting gives a command the flag --chromium.
func onPrinting(c *cobra.Command, chromium *string) {
	c.Flags().StringVar(chromium, "chromium", "", "the Chromium that prints reports as PDF; found on the PATH when "+
		"empty, and \"none\" for no PDF")
}

// options are what a store takes from the flags.
func (s *serving) options() store.Options {
	return store.Options{Serving: true, Connections: s.connections, StatementTimeout: s.statement, LockTimeout: s.lock}
}

// check says what is wrong with the settings, before anything is touched.
func (s *serving) check() error {
	if err := checkAddr("--addr", s.addr, defaultAddr); err != nil {
		return err
	}
	if s.admin != "" {
		if err := checkAddr("--admin-addr", s.admin, "127.0.0.1:8081"); err != nil {
			return err
		}
	}
	if err := checkPublicURL(s.public); err != nil {
		return err
	}
	if _, err := s.limits(); err != nil {
		return err
	}
	switch {
	case !(s.person >= 0 && s.person <= math.MaxInt16 && s.address >= 0 && s.address <= math.MaxInt16):
		return misusef("--person-rate and --address-rate must be from 0 to %d", math.MaxInt16)
	case s.largestBody < 1<<10 || s.largestBody > 1<<30:
		return misusef("--largest-body must be from %d to %d", 1<<10, 1<<30)
	case s.held < s.largestBody || s.held < api.LeastHeld || s.held > 1<<40:
		return misusef("--held-bodies must be from %d to %d, and at least --largest-body", api.LeastHeld, int64(1)<<40)
	case s.lines < 0 || s.lines > math.MaxInt16:
		return misusef("--address-connections must be from 0 to %d", math.MaxInt16)
	case s.connections < 2 || s.connections > 1000:
		return misusef("--connections must be from 2 to 1000")
	case s.idle < time.Minute || s.idle > 12*time.Hour:
		return misusef("--session-idle must be from 1m to 12h")
	case s.grace <= 0 || s.statement < 0 || s.lock < 0:
		return misusef("--grace must be more than 0; --statement-timeout and --lock-timeout must be 0 or more")
	}
	return nil
}

func checkAddr(flag, addr, example string) error {
	if _, port, err := net.SplitHostPort(addr); err != nil || port == "" {
		return misusef("%s must be HOST:PORT, such as %s", flag, example)
	}
	return nil
}

func (s *serving) limits() (api.Limits, error) {
	l := api.Limits{Body: s.largestBody, Held: s.held, Person: s.person, Address: s.address, Connections: s.lines}
	for _, text := range s.proxies {
		network, err := netip.ParsePrefix(text)
		if at, e := netip.ParseAddr(text); e == nil {
			network, err = at.Prefix(at.BitLen())
		}
		if err != nil {
			return l, misusef("--proxies: %q is neither an address nor a network, such as 127.0.0.1 or 10.0.0.0/8", text)
		}
		l.Proxies = append(l.Proxies, network)
	}
	return l, nil
}

// A setting that is given in several ways counts in this order. Every flag that has a place in the file has a variable
// in the environment too: THROUGHLINE_ and the flag's name in capitals, with underscores.
const (
	byFlag        = "flag"
	byEnvironment = "environment"
	byFile        = "file"
	byDefault     = "default"
)

// variable is the name of a setting in the environment.
func variable(name string) string {
	return "THROUGHLINE_" + strings.ToUpper(strings.ReplaceAll(name, "-", "_"))
}

// settings are the names of what can be set in the environment and the file, in order.
func settings() []string {
	c := &cobra.Command{}
	c.Flags().SortFlags = false
	onDatabase(c, "")
	onServing(c, new(serving))
	var names []string
	c.Flags().VisitAll(func(f *pflag.Flag) {
		if f.Name != configFlag {
			names = append(names, f.Name)
		}
	})
	return names
}

const configFlag = "config"

// configure sets a command's flags that were not given from the environment and the file, and returns which way each
// was set. Values are not repeated in errors: one may be a password.
func configure(c *cobra.Command) (map[string]string, error) {
	flags := c.Flags()
	if flags.Lookup(configFlag) == nil {
		return nil, nil
	}
	named, err := flags.GetString(configFlag)
	if err != nil {
		return nil, err
	}
	if named == "" {
		named = os.Getenv(variable(configFlag))
	}
	inFile, err := readConfig(named)
	if err != nil {
		return nil, err
	}
	ways := map[string]string{}
	for _, name := range settings() {
		f := flags.Lookup(name)
		if f == nil {
			continue // a setting of other commands
		}
		ways[name] = byDefault
		if f.Changed {
			ways[name] = byFlag
			continue
		}
		if text := os.Getenv(variable(name)); text != "" {
			if err := f.Value.Set(text); err != nil {
				return nil, misusef("%s in the environment is not a %s", variable(name), kindOf(f))
			}
			ways[name] = byEnvironment
			continue
		}
		if text, given := inFile[name]; given {
			if err := f.Value.Set(text); err != nil {
				return nil, misusef("%s: %s is not a %s", named, name, kindOf(f))
			}
			ways[name] = byFile
		}
	}
	return ways, nil
}

// kindOf is what a flag takes, as a person reads it.
func kindOf(f *pflag.Flag) string {
	switch f.Value.Type() {
	case "duration":
		return "time such as 30s or 2m"
	case "int", "int64", "float64":
		return "number"
	case "stringSlice":
		return "list"
	}
	return f.Value.Type()
}

// readConfig reads a configuration file in TOML (v1.0.0, toml.io): a line for each setting, under the name of its
// flag. No name is no file.
func readConfig(name string) (map[string]string, error) {
	if name == "" {
		return nil, nil
	}
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("cannot read the settings: %w", err)
	}
	var given map[string]any
	if err := toml.Unmarshal(text, &given); err != nil {
		var at *toml.DecodeError
		if errors.As(err, &at) {
			line, column := at.Position()
			return nil, misusef("%s, line %d, column %d: this is not TOML", name, line, column)
		}
		return nil, misusef("%s is not TOML", name)
	}
	known := settings()
	texts := make(map[string]string, len(given))
	for key, value := range given {
		if !slices.Contains(known, key) {
			return nil, misusef("%s: there is no setting %q; there are %s", name, key, strings.Join(known, ", "))
		}
		switch v := value.(type) {
		case string:
			texts[key] = v
		case int64, float64:
			texts[key] = fmt.Sprint(v)
		case []any:
			parts := make([]string, len(v))
			for i, part := range v {
				text, ok := part.(string)
				if !ok || strings.ContainsAny(text, `",`) {
					return nil, misusef("%s: %s must be a list of texts", name, key)
				}
				parts[i] = text
			}
			texts[key] = strings.Join(parts, ",")
		default:
			return nil, misusef("%s: %s must be a text, a number or a list of texts", name, key)
		}
	}
	return texts, nil
}

func (p *program) config() *cobra.Command {
	var s serving
	c := &cobra.Command{
		Use:   "config",
		Short: "Prints the settings that serve would use, without secrets",
		Long: `Prints the settings that serve would use and where each comes from: a flag, the environment, a
file or the default. The output is itself a configuration file (TOML), without passwords.

A flag beats the environment, and the environment beats the file that --config or
THROUGHLINE_CONFIG names. In the environment --admin-addr is THROUGHLINE_ADMIN_ADDR, and so on for
each flag.`,
		Args: cobra.NoArgs,
	}
	c.RunE = p.step(func(_ context.Context, _ []string) error {
		if err := errors.Join(p.checkDatabase(), s.check()); err != nil {
			return err
		}
		for _, name := range settings() {
			fmt.Fprintf(p.out, "%s = %s  # %s\n", name, asTOML(c.Flags().Lookup(name)), p.ways[name])
		}
		return nil
	})
	onDatabase(c, defaultDatabase)
	onServing(c, &s)
	return c
}

// asTOML is the value of a setting as a configuration file says it.
func asTOML(f *pflag.Flag) string {
	text := f.Value.String()
	switch f.Value.Type() {
	case "int", "int64", "float64":
		return text
	case "stringSlice":
		parts := f.Value.(pflag.SliceValue).GetSlice()
		for i, part := range parts {
			parts[i] = strconv.Quote(part)
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	if f.Name == "database" {
		text = withoutPassword(text)
	}
	return strconv.Quote(text) // addresses and times have nothing in them that the two languages quote differently
}

// withoutPassword is a database's address as it may be shown.
func withoutPassword(address string) string {
	if strings.HasPrefix(address, "sqlite:") {
		return address
	}
	u, err := url.Parse(address)
	if err != nil {
		return "postgres://"
	}
	if _, set := u.User.Password(); set {
		u.User = url.User(u.User.Username())
	}
	query := u.Query()
	for name := range query {
		if strings.Contains(strings.ToLower(name), "pass") { // password, passfile, sslpassword
			query.Del(name)
		}
	}
	u.RawQuery = query.Encode()
	return u.String()
}
