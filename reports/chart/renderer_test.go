package chart

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
)

// stub is an engine that works only when told to, so that the renderer's promises can be checked one by one.
type stub struct {
	gate chan struct{} // a batch waits for one token, or for the gate to be closed

	mu                  sync.Mutex
	batches, now, worst int
}

func (s *stub) warm() {}

func (s *stub) draw(ds []drawing) []result {
	s.mu.Lock()
	s.batches++
	s.now++
	s.worst = max(s.worst, s.now)
	s.mu.Unlock()
	<-s.gate
	s.mu.Lock()
	s.now--
	s.mu.Unlock()
	out := make([]result, len(ds))
	for i := range out {
		out[i].svg = "<svg></svg>"
	}
	return out
}

func small(i int) Trend {
	return Trend{Title: fmt.Sprint("chart ", i), Matches: []Match{{Label: "a", Value: new(1.0)}}}
}

func TestCancelledReaderLeavesAtOnceAndTheWorkIsKept(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &stub{gate: make(chan struct{})}
		r := newRenderer(1, s)
		ctx, cancel := context.WithCancel(t.Context())
		left := make(chan error, 1)
		go func() {
			_, err := r.Render(ctx, "a", small(1))
			left <- err
		}()
		synctest.Wait() // the engine is at work
		cancel()
		if err := <-left; !errors.Is(err, context.Canceled) {
			t.Errorf("the reader got %v", err)
		}
		close(s.gate)
		synctest.Wait()
		if _, err := r.Render(t.Context(), "a", small(1)); err != nil {
			t.Error(err)
		}
		if s.batches != 1 {
			t.Errorf("drawn %d times, want once", s.batches)
		}
		r.Close()
	})
}

func TestWorkThatNobodyWaitsForIsDropped(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &stub{gate: make(chan struct{})}
		r := newRenderer(1, s)
		done := make(chan error, 2)
		go func() {
			_, err := r.Render(t.Context(), "a", small(1))
			done <- err
		}()
		synctest.Wait()
		ctx, cancel := context.WithCancel(t.Context())
		go func() {
			_, err := r.Render(ctx, "b", small(2))
			done <- err
		}()
		synctest.Wait() // b waits for the only engine
		cancel()
		if err := <-done; !errors.Is(err, context.Canceled) {
			t.Errorf("b's reader got %v", err)
		}
		close(s.gate)
		if err := <-done; err != nil {
			t.Error(err)
		}
		r.Close()
		if s.batches != 1 {
			t.Errorf("%d batches drawn, want only a's", s.batches)
		}
		if len(r.jobs) != 0 {
			t.Errorf("%d jobs left behind", len(r.jobs))
		}
	})
}

func TestNoMoreEnginesThanAllowedAndOneDrawingForAllWhoAsk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &stub{gate: make(chan struct{})}
		r := newRenderer(3, s)
		var readers sync.WaitGroup
		for i := range 40 {
			readers.Go(func() {
				if _, err := r.Render(t.Context(), "a", small(i%10)); err != nil {
					t.Error(err)
				}
			})
		}
		synctest.Wait()
		if s.now != 3 {
			t.Errorf("%d engines at work, want 3", s.now)
		}
		close(s.gate)
		readers.Wait()
		if s.worst > 3 || s.batches != 10 {
			t.Errorf("%d engines at once for %d batches, want at most 3 for 10", s.worst, s.batches)
		}
		r.Close()
	})
}

func TestAPageSpreadsOverTheEnginesInAsManyBatches(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &stub{gate: make(chan struct{})}
		close(s.gate)
		r := newRenderer(2, s)
		var page []Figure
		for i := range 7 {
			page = append(page, Figure{fmt.Sprint("f", i), small(i)})
		}
		out, err := r.RenderAll(t.Context(), page)
		if err != nil {
			t.Fatal(err)
		}
		if s.batches != 2 {
			t.Errorf("%d batches, want 2", s.batches)
		}
		for i, f := range out {
			if !strings.Contains(string(f), fmt.Sprintf(">chart %d<", i)) {
				t.Errorf("place %d holds another chart", i)
			}
		}
		r.Close()
		if _, err := r.RenderAll(t.Context(), page); !errors.Is(err, ErrClosed) {
			t.Errorf("after Close: %v", err)
		}
	})
}

func TestRenderAllRefusesUnusableFigures(t *testing.T) {
	r := newRenderer(1, &stub{})
	defer r.Close()
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	cases := []struct {
		ctx     context.Context
		figures []Figure
		want    string
	}{
		{t.Context(), []Figure{{"1a", small(1)}}, "give a letter"},
		{t.Context(), []Figure{{`a" onload="x`, small(1)}}, "give a letter"},
		{t.Context(), []Figure{{"", small(1)}}, "give a letter"},
		{t.Context(), []Figure{{"a", small(1)}, {"a", small(2)}}, "two charts of one page"},
		{t.Context(), []Figure{{"a", nil}}, "no chart"},
		{t.Context(), []Figure{{"a", Trend{}}}, "title: empty"},
		{ended, []Figure{{"a", small(1)}}, "context canceled"},
	}
	for _, c := range cases {
		if _, err := r.RenderAll(c.ctx, c.figures); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v: got %v, want %q", c.figures, err, c.want)
		}
	}
}

func TestEngineErrorsReachTheReaderAndAreNotKept(t *testing.T) {
	e := newEngine()
	for _, c := range []struct{ options, want string }{
		{`{"series":[{"type":"line"`, "the chart engine says: SyntaxError"},
		{`{"xAxis":{"type":"no such type"},"series":[]}`, "the chart engine says:"},
	} {
		good := small(1)
		d, err := good.draw(layouts[0])
		if err != nil {
			t.Fatal(err)
		}
		got := e.draw([]drawing{{width: 100, height: 100, options: []byte(c.options)}, d})
		if got[0].err == nil || !strings.Contains(got[0].err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.options, got[0].err, c.want)
		}
		if got[1].err != nil || !strings.HasPrefix(got[1].svg, "<svg") {
			t.Errorf("a bad drawing spoils the next: %v", got[1].err)
		}
	}
	if len(e.batches) != 0 {
		t.Errorf("%d batches left behind", len(e.batches))
	}
}

// A chart drawn alone, drawn after others on the same runtime, and drawn by another renderer is the same to the byte.
func TestSameFigureSameBytes(t *testing.T) {
	figures := []Figure{{"a", season(26)}, {"b", footwork()}, {"c", standingBars()}}
	first, err := sharedRenderer().RenderAll(t.Context(), figures)
	if err != nil {
		t.Fatal(err)
	}
	other := NewRenderer(1) // all on one runtime
	defer other.Close()
	second, err := other.RenderAll(t.Context(), []Figure{figures[2], figures[1], figures[0]})
	if err != nil {
		t.Fatal(err)
	}
	for i := range first {
		if first[i] != second[2-i] {
			t.Errorf("figure %s differs", figures[i].ID)
		}
	}
}

func TestManyReadersOfTheRealEngine(t *testing.T) {
	want := make(map[string]template.HTML)
	for i := range 4 {
		id := fmt.Sprint("f", i)
		r := sharedRenderer()
		var err error
		if want[id], err = r.Render(t.Context(), id, small(i)); err != nil {
			t.Fatal(err)
		}
	}
	r := NewRenderer(2)
	defer r.Close()
	var readers sync.WaitGroup
	for i := range 12 {
		readers.Go(func() {
			id := fmt.Sprint("f", i%4)
			got, err := r.Render(t.Context(), id, small(i%4))
			if err != nil || got != want[id] {
				t.Errorf("%s: %v, same bytes %v", id, err, got == want[id])
			}
		})
	}
	readers.Wait()
}

func TestCacheKeepsTheLastUsedWithinItsBound(t *testing.T) {
	r := newRenderer(1, &stub{})
	defer r.Close()
	c := &r.cache
	c.limit = 10
	key := func(b byte) figureKey { return figureKey{b} }
	c.put(key(1), "aaaa")
	c.put(key(2), "bbbb")
	c.get(key(1))
	c.put(key(3), "cccc")
	c.put(key(4), "more than all")
	for k, want := range map[byte]bool{1: true, 2: false, 3: true, 4: false} {
		if _, got := c.get(key(k)); got != want {
			t.Errorf("entry %d kept: %v, want %v", k, got, want)
		}
	}
	if c.size != 8 || c.recent.Len() != len(c.entries) {
		t.Errorf("size %d with %d and %d entries", c.size, c.recent.Len(), len(c.entries))
	}
}

func TestDifferentChartsHaveDifferentKeys(t *testing.T) {
	other := season(26)
	other.Matches[25].Value = new(0.5)
	seen := map[figureKey]string{}
	for _, f := range []Figure{{"a", season(26)}, {"b", season(26)}, {"a", other}, {"a", season(25)},
		{"a", Bars{Title: "x"}}, {"a", Rating{Title: "x"}}} {
		k, err := f.key()
		if err != nil {
			t.Fatal(err)
		}
		name := fmt.Sprintf("%s %T", f.ID, f.Chart)
		if was, ok := seen[k]; ok {
			t.Errorf("%s has the key of %s", name, was)
		}
		seen[k] = name
	}
}

// reportPage is what a season report asks for: five trends, two ratings, one comparison.
func reportPage(salt int) []Figure {
	var page []Figure
	for i := range 5 {
		c := season(26 - i)
		c.Title = fmt.Sprint(salt)
		page = append(page, Figure{fmt.Sprint("trend", i), c})
	}
	skill, other, standing := footwork(), footwork(), standingBars()
	skill.Title, other.Title, standing.Title = fmt.Sprint(salt), fmt.Sprint(salt), fmt.Sprint(salt)
	return append(page, Figure{"skill0", skill}, Figure{"skill1", other}, Figure{"standing", standing})
}

// From nothing, compilation included.
func BenchmarkPageCold(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		r := NewRenderer(2)
		if _, err := r.RenderAll(b.Context(), reportPage(0)); err != nil {
			b.Fatal(err)
		}
		r.Close()
	}
}

// With the engine compiled and nothing in the cache.
func BenchmarkPageWarm(b *testing.B) {
	r := sharedRenderer()
	b.ReportAllocs()
	salt := 0
	for b.Loop() {
		salt++
		if _, err := r.RenderAll(b.Context(), reportPage(salt)); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPageCached(b *testing.B) {
	r := sharedRenderer()
	if _, err := r.RenderAll(b.Context(), reportPage(-1)); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := r.RenderAll(b.Context(), reportPage(-1)); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCompile(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		newEngine().warm()
	}
}

func BenchmarkEngineStart(b *testing.B) {
	e := newEngine()
	e.warm()
	b.ReportAllocs()
	for b.Loop() {
		e.draw(nil)
	}
}

// One layout of one chart, the engine's start included.
func BenchmarkDraw(b *testing.B) {
	e := newEngine()
	e.warm()
	for name, c := range map[string]Chart{"trend": season(26), "rating": footwork(), "bars": standingBars()} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				d, err := c.draw(layouts[0])
				if err != nil {
					b.Fatal(err)
				}
				if out := e.draw([]drawing{d}); out[0].err != nil {
					b.Fatal(out[0].err)
				}
			}
		})
	}
}

func BenchmarkOptions(b *testing.B) {
	c := season(26)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := c.draw(layouts[0]); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkClean(b *testing.B) {
	d, err := season(26).draw(layouts[0])
	if err != nil {
		b.Fatal(err)
	}
	svg := newEngine().draw([]drawing{d})[0].svg
	b.ReportAllocs()
	for b.Loop() {
		if _, err := clean(svg, "p", "wide", "t", "d", d); err != nil {
			b.Fatal(err)
		}
	}
}
