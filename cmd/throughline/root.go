package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"throughline/models"
	"throughline/reports"
	"throughline/reports/chart"
	"throughline/reports/paper"
)

// The exit codes, which scripts rely on.
const (
	done   = 0
	failed = 1 // what was asked for could not be done
	misuse = 2 // what was asked for is not something that can be asked
)

// usageError is an error of the person at the keyboard, answered with the exit code misuse.
type usageError struct{ error }

// Unwrap returns what is wrong.
func (e usageError) Unwrap() error { return e.error }

func misusef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// program is one run of the command line.
type program struct {
	out, err io.Writer
	database string            // --database
	academy  string            // --academy
	running  bool              // the arguments were understood
	ways     map[string]string // which way each setting was set
	papers   func(*chart.Renderer) (paper.Papers, error)
}

// run runs the command line and returns the exit code.
func run(ctx context.Context, args []string, out, errOut io.Writer) int {
	p := &program{out: out, err: errOut, papers: reports.Papers}
	return p.run(ctx, args)
}

func (p *program) run(ctx context.Context, args []string) int {
	root := p.root()
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return done
	}
	if unknown := printError(p.err, err); unknown != nil {
		p.log().Error("the system refused", "error", unknown)
	}
	if _, ok := errors.AsType[usageError](err); ok || !p.running {
		fmt.Fprintf(p.err, "see %q\n", "throughline help")
		return misuse
	}
	return failed
}

// printError writes one line that says what is wrong, then the places that it names, one a line. It returns an error
// of the system that it could not say in our words, for the log.
func printError(w io.Writer, err error) error {
	text, unknown := inOurWords(err)
	var known *models.Error
	if !errors.As(err, &known) || len(known.Fields) == 0 {
		fmt.Fprintf(w, "throughline: %s\n", text)
		return unknown
	}
	fields := known.Fields
	head := known.Message
	if head == "" { // the first line always says what is wrong
		head, fields = fields[0].Said(), fields[1:]
	}
	fmt.Fprintf(w, "throughline: %s\n", strings.Replace(text, known.Error(), head, 1))
	for _, f := range fields {
		fmt.Fprintf(w, "  %s\n", f.Said())
	}
	return unknown
}

func (p *program) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "throughline",
		Short: "Records what the players of a rugby academy do and shows how they develop",
		Long: `Throughline records what the players of a rugby academy do in each match and what their coaches
think of it, and turns a season of that into reports.

Figures are evidence, not a verdict: the page /cautions says what to be careful about.

Exit codes: 0 done, 1 failed, 2 used wrongly.`,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return misusef("say what to do, such as \"throughline demo\"")
		},
	}
	root.SetOut(p.out)
	root.SetErr(p.err)
	root.SetFlagErrorFunc(wrongFlag)
	root.CompletionOptions.HiddenDefaultCmd = true
	root.AddCommand(p.demo(), p.serve(), p.migrate(), p.importFiles(), p.recompute(), p.audit(), p.person(), p.trends(),
		p.report(), p.calibration(), p.fit(), p.academies(), p.operators(),
		p.user(), p.config(), p.version())
	return root
}

// wrongFlag words a flag that cannot be read: a library's error would say how it tried.
func wrongFlag(_ *cobra.Command, err error) error {
	var value *pflag.InvalidValueError
	var missing *pflag.ValueRequiredError
	var unknown *pflag.NotExistError
	switch {
	case errors.As(err, &value):
		return misusef("--%s: %q is not a %s", value.GetFlag().Name, value.GetValue(), kindOf(value.GetFlag()))
	case errors.As(err, &missing):
		return misusef("--%s needs a value", missing.GetSpecifiedName())
	case errors.As(err, &unknown):
		return misusef("unknown flag: --%s; --help lists the flags", unknown.GetSpecifiedName())
	}
	return err
}

// takes checks how many arguments a command is given, and otherwise says what it needs.
func takes(what string, least, most int) cobra.PositionalArgs {
	return func(_ *cobra.Command, args []string) error {
		if len(args) < least || len(args) > most {
			return misusef("%s", what)
		}
		return nil
	}
}

// step marks the point from which errors are no longer about how the command was given, and takes the common flags
// over.
func (p *program) step(do func(ctx context.Context, args []string) error) func(*cobra.Command, []string) error {
	return func(c *cobra.Command, args []string) error {
		p.running = true
		var err error
		if p.ways, err = configure(c); err != nil {
			return err
		}
		if f := c.Flags().Lookup("database"); f != nil {
			p.database = f.Value.String()
		}
		if f := c.Flags().Lookup("academy"); f != nil {
			p.academy = f.Value.String()
		}
		return do(c.Context(), args)
	}
}

// defaultDatabase is where an academy's records are kept unless told otherwise.
const defaultDatabase = "sqlite:throughline.db"

// onDatabase gives a command the flags --database and --config. What the environment says is no default of a flag,
// because help prints those and it may hold a password.
func onDatabase(c *cobra.Command, otherwise string) {
	c.Flags().String("database", otherwise, "the database, as sqlite:PATH or a postgres:// URL; or set "+
		"THROUGHLINE_DATABASE")
	c.Flags().String(configFlag, "", "a file with settings, which \"throughline config\" describes; or set "+
		"THROUGHLINE_CONFIG")
}

// onAcademy gives a command the flag --academy.
func onAcademy(c *cobra.Command, more string) {
	c.Flags().String("academy", "", "the academy's name, if the database holds several"+more)
}
