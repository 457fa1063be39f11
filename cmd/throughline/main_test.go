package main_test

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"throughline/models/store/storetest"
)

// binary is the program, built once.
var binary string

func TestMain(m *testing.M) { os.Exit(build(m)) }

func build(m *testing.M) (code int) {
	folder, err := os.MkdirTemp("", "throughline")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(folder)
	binary = filepath.Join(folder, "throughline")
	c := exec.Command("go", "build", "-o", binary, ".")
	c.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := c.CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "build: %v\n%s", err, out)
		return 1
	}
	code = m.Run()
	if err := storetest.Stop(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return code
}

// result is what a run came to.
type result struct {
	code     int
	out, err string
}

// run runs the program in a folder of its own and waits for it.
func run(t testing.TB, args ...string) result {
	t.Helper()
	return runIn(t, t.TempDir(), args...)
}

func runIn(t testing.TB, folder string, args ...string) result {
	t.Helper()
	c := command(t, folder, args...)
	var out, errOut bytes.Buffer
	c.Stdout, c.Stderr = &out, &errOut
	err := c.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return result{c.ProcessState.ExitCode(), out.String(), errOut.String()}
}

func command(t testing.TB, folder string, args ...string) *exec.Cmd {
	t.Helper()
	c := exec.CommandContext(t.Context(), binary, args...)
	c.Dir = folder
	for _, v := range os.Environ() {
		if !strings.HasPrefix(v, "THROUGHLINE_") {
			c.Env = append(c.Env, v)
		}
	}
	return c
}

// process is a program that is running.
type process struct {
	t    testing.TB
	cmd  *exec.Cmd
	done chan struct{} // closed when what it says has ended

	mu    sync.Mutex
	said  bytes.Buffer
	heard *sync.Cond
	quiet bool
}

// start starts the program. What it says on both of its outputs is kept.
func start(t testing.TB, folder string, args ...string) *process {
	t.Helper()
	p := &process{t: t, cmd: command(t, folder, args...), done: make(chan struct{})}
	p.heard = sync.NewCond(&p.mu)
	r, w := io.Pipe()
	p.cmd.Stdout, p.cmd.Stderr = w, w
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		_ = p.cmd.Wait()
		w.Close()
	}()
	go func() {
		defer close(p.done)
		lines := bufio.NewReader(r)
		for {
			line, err := lines.ReadString('\n')
			p.mu.Lock()
			p.said.WriteString(line)
			p.quiet = err != nil
			p.heard.Broadcast()
			p.mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
	t.Cleanup(func() {
		_ = p.cmd.Process.Kill() // unless it has ended
		<-p.done
	})
	return p
}

// until waits until the program has said something and returns the rest of that line.
func (p *process) until(words string) string {
	p.t.Helper()
	p.mu.Lock()
	defer p.mu.Unlock()
	for {
		if _, after, ok := strings.Cut(p.said.String(), words); ok && strings.Contains(after, "\n") {
			line, _, _ := strings.Cut(after, "\n")
			return line
		}
		if p.quiet {
			p.t.Fatalf("the program ended without saying %q:\n%s", words, &p.said)
		}
		p.heard.Wait()
	}
}

// address waits until the program serves and returns where.
func (p *process) address() string {
	p.t.Helper()
	at, _, _ := strings.Cut(p.until("msg=serving address=http://"), " ")
	return at
}

// signal sends a signal.
func (p *process) signal(s os.Signal) {
	p.t.Helper()
	if err := p.cmd.Process.Signal(s); err != nil {
		p.t.Fatal(err)
	}
}

// end waits until the program has ended.
func (p *process) end() result {
	<-p.done
	p.mu.Lock()
	defer p.mu.Unlock()
	return result{code: p.cmd.ProcessState.ExitCode(), out: p.said.String()}
}
