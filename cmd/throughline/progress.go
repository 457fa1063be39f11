package main

import (
	"fmt"
	"io"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// progress shows how far a long piece of work is: a bar on a terminal, elsewhere a line at each tenth.
type progress struct {
	what  string
	out   io.Writer
	bar   *progressbar.ProgressBar // nil where out is not a terminal
	tenth int
}

func newProgress(out io.Writer, what string) *progress {
	p := &progress{what: what, out: out}
	if f, ok := out.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		p.bar = progressbar.NewOptions(1,
			progressbar.OptionSetWriter(out), progressbar.OptionSetDescription(what), progressbar.OptionShowCount(),
			progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionClearOnFinish())
	}
	return p
}

// set says that so many of all are done.
func (p *progress) set(done, all int) {
	if all <= 0 {
		return
	}
	if p.bar != nil {
		p.bar.ChangeMax(all)
		_ = p.bar.Set(done) // a bar that cannot be drawn is no reason to stop
		return
	}
	if tenth := 10 * done / all; tenth > p.tenth {
		p.tenth = tenth
		fmt.Fprintf(p.out, "%s: %d of %d\n", p.what, done, all)
	}
}

// end takes the bar away.
func (p *progress) end() {
	if p.bar != nil {
		_ = p.bar.Finish()
	}
}
