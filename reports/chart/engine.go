package chart

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"sync"

	"github.com/xo/echartsgoja"
)

// engine is ECharts, compiled once, run in a fresh JavaScript runtime for each batch of drawings.
//
// echartsgoja draws one option set at one fixed size per runtime. A script of ours draws a whole batch in one runtime,
// each at its own size, which saves the start of a runtime for each drawing and a second compilation for a second
// size. A script's results can only leave through the log: so each drawing is logged under its batch and place. The
// script leaves no option set behind, which echartsgoja reports as ErrCouldNotExecuteScript: for us that is the good
// end.
type engine struct {
	echarts *echartsgoja.ECharts

	mu      sync.Mutex
	last    uint64
	batches map[uint64][]result
}

// result is one drawing's SVG, or the reason why it failed.
type result struct {
	svg string
	err error
}

func newEngine() *engine {
	e := &engine{batches: make(map[uint64][]result)}
	e.echarts = echartsgoja.New(echartsgoja.WithLogger(e.receive))
	return e
}

// warm compiles ECharts. A failure is met again, and reported, by the first drawing.
func (e *engine) warm() { _, _ = e.echarts.Version() }

// draw renders the drawings in one runtime, in order. It cannot be interrupted: the runtime would go on to its end in
// any case, and writes its result after a cancelled caller has gone.
func (e *engine) draw(drawings []drawing) []result {
	id := e.open(len(drawings))
	script, err := batchScript(id, drawings)
	if err == nil {
		_, err = e.echarts.RenderScript(context.Background(), script)
	}
	if errors.Is(err, echartsgoja.ErrCouldNotExecuteScript) {
		err = nil
	}
	results := e.close(id)
	for i := range results {
		switch {
		case err != nil:
			results[i] = result{err: fmt.Errorf("run the chart engine: %w", err)}
		case results[i] == result{}:
			results[i].err = errors.New("the chart engine returned nothing")
		}
	}
	return results
}

// batchScript calls echartsgoja's render_options for each drawing. Options travel as a JSON string inside a JSON
// string, which is a JavaScript string too (encoding/json escapes the two line separators).
func batchScript(id uint64, drawings []drawing) (string, error) {
	var s strings.Builder
	s.WriteString("(function () {\n  var work = [\n")
	for _, d := range drawings {
		literal, err := json.Marshal(string(d.options))
		if err != nil {
			return "", fmt.Errorf("write the script of a batch: %w", err)
		}
		fmt.Fprintf(&s, "    [%d, %d, %s],\n", d.width, d.height, literal)
	}
	fmt.Fprintf(&s, `  ];
  for (var i = 0; i < work.length; i++) {
    var kind = "svg", body;
    try {
      body = render_options(work[i][0], work[i][1], work[i][2]);
    } catch (e) {
      kind = "error";
      body = String(e);
    }
    console.log("%%s", "%d " + i + " " + kind + "\n" + body);
  }
})();
`, id)
	return s.String(), nil
}

func (e *engine) open(n int) uint64 {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.last++
	e.batches[e.last] = make([]result, n)
	return e.last
}

func (e *engine) close(id uint64) []result {
	e.mu.Lock()
	defer e.mu.Unlock()
	results := e.batches[id]
	delete(e.batches, id)
	return results
}

// receive takes what a runtime logs: a level and a text. What is not a drawing is a remark of ECharts about options
// that it would rather see written otherwise, and changes nothing.
func (e *engine) receive(args ...any) {
	if len(args) != 2 || args[0] != "LOG" {
		return
	}
	message, _ := args[1].(string)
	head, body, _ := strings.Cut(message, "\n")
	fields := strings.Fields(head)
	if len(fields) != 3 {
		return
	}
	id, err1 := strconv.ParseUint(fields[0], 10, 64)
	i, err2 := strconv.Atoi(fields[1])
	if err1 != nil || err2 != nil {
		return
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	results := e.batches[id]
	switch {
	case i < 0 || i >= len(results):
	case fields[2] == "svg":
		results[i] = result{svg: body}
	default:
		results[i] = result{err: fmt.Errorf("the chart engine says: %s", body)}
	}
}
