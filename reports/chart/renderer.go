package chart

import (
	"container/list"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"regexp"
	"runtime"
	"strings"
	"sync"
)

// Figure is a chart with the id that it has in its page. The id starts every id inside the fragment, so it must be
// unique in the page: a letter, then letters, digits and hyphens, 64 at most.
type Figure struct {
	ID    string
	Chart Chart
}

// ErrClosed is returned for a figure asked of a closed Renderer.
var ErrClosed = errors.New("the chart renderer is closed")

// cacheBytes bounds the fragments kept: some 700 trends.
const cacheBytes = 24 << 20

// Renderer draws charts. It is safe for concurrent use, runs no more engines at once than it was told, and draws
// one figure that several callers ask for at the same moment once. The same figure gives the same bytes.
type Renderer struct {
	engine drawer
	slots  chan struct{}
	work   sync.WaitGroup

	mu     sync.Mutex
	closed bool
	jobs   map[figureKey]*job
	cache  cache
}

// drawer is the engine, as the renderer needs it.
type drawer interface {
	warm()
	draw([]drawing) []result
}

type figureKey [sha256.Size]byte

// plan is a figure ready for the engine. It shares nothing with the caller's chart, who may go away and change it.
type plan struct {
	id, title, description string
	drawings               [len(layouts)]drawing
	key                    []keyItem
}

// job is a figure being drawn. waiting is guarded by the renderer's mutex; html and err are set before done is closed.
type job struct {
	key     figureKey
	plan    *plan
	waiting int
	done    chan struct{}
	html    template.HTML
	err     error
}

// NewRenderer makes a renderer that runs at most `engines` engines at once, or one for each processor when that is not
// positive. An engine holds some 20 MB while it works. It starts to compile ECharts in the background (0.15 to 0.45 s,
// once); figures asked for meanwhile wait for that. Close it when done.
func NewRenderer(engines int) *Renderer {
	if engines <= 0 {
		engines = runtime.GOMAXPROCS(0)
	}
	return newRenderer(engines, newEngine())
}

func newRenderer(engines int, engine drawer) *Renderer {
	r := &Renderer{
		engine: engine,
		slots:  make(chan struct{}, engines),
		jobs:   make(map[figureKey]*job),
		cache:  cache{limit: cacheBytes, entries: make(map[figureKey]*list.Element)},
	}
	r.slots <- struct{}{}
	r.work.Go(func() {
		defer func() { <-r.slots }()
		r.engine.warm()
	})
	return r
}

// Close refuses further figures and returns when the work at hand has ended.
func (r *Renderer) Close() {
	r.mu.Lock()
	r.closed = true
	r.mu.Unlock()
	r.work.Wait()
}

// Render draws one figure; see RenderAll.
func (r *Renderer) Render(ctx context.Context, id string, c Chart) (template.HTML, error) {
	out, err := r.RenderAll(ctx, []Figure{{ID: id, Chart: c}})
	if err != nil {
		return "", err
	}
	return out[0], nil
}

// RenderAll draws the figures of a page, in parallel up to the number of engines, and returns their fragments in
// order. Several figures share an engine's start, so a page asks for all of its figures at once.
//
// It returns an error for a figure that does not validate or whose id is unusable, for two figures with one id,
// ErrClosed after Close, and the context's error as soon as the context ends: work already begun goes on to its end
// for the next reader, work not begun is dropped.
func (r *Renderer) RenderAll(ctx context.Context, figures []Figure) ([]template.HTML, error) {
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("draw charts: %w", err)
	}
	keys := make([]figureKey, len(figures))
	seen := make(map[string]bool, len(figures))
	for i, f := range figures {
		if err := f.validate(); err != nil {
			return nil, fmt.Errorf("draw chart %q: %w", f.ID, err)
		}
		if seen[f.ID] {
			return nil, fmt.Errorf("draw chart %q: two charts of one page have this id", f.ID)
		}
		seen[f.ID] = true
		var err error
		if keys[i], err = f.key(); err != nil {
			return nil, fmt.Errorf("draw chart %q: %w", f.ID, err)
		}
	}

	plans := make(map[figureKey]*plan)
	jobs, missing, err := r.enlist(keys, plans)
	for err == nil && len(missing) > 0 {
		for _, i := range missing {
			if plans[keys[i]], err = figures[i].plan(); err != nil {
				return nil, fmt.Errorf("draw chart %q: %w", figures[i].ID, err)
			}
		}
		jobs, missing, err = r.enlist(keys, plans)
	}
	if err != nil {
		return nil, fmt.Errorf("draw charts: %w", err)
	}
	defer r.leave(jobs)

	out := make([]template.HTML, len(jobs))
	for i, j := range jobs {
		select {
		case <-j.done:
			if j.err != nil {
				return nil, fmt.Errorf("draw chart %q: %w", figures[i].ID, j.err)
			}
			out[i] = j.html
		case <-ctx.Done():
			return nil, fmt.Errorf("draw charts: %w", ctx.Err())
		}
	}
	return out, nil
}

var idPattern = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9-]{0,63}$`)

func (f Figure) validate() error {
	if !idPattern.MatchString(f.ID) {
		return fmt.Errorf("id: give a letter, then letters, digits and hyphens, 64 at most")
	}
	if f.Chart == nil {
		return errors.New("no chart")
	}
	return f.Chart.Validate()
}

// key is the hash of the id and of everything that the options are made of.
func (f Figure) key() (figureKey, error) {
	values, err := json.Marshal(f.Chart)
	if err != nil {
		return figureKey{}, fmt.Errorf("hash its values: %w", err)
	}
	return sha256.Sum256(fmt.Appendf(nil, "%s\n%T\n%s", f.ID, f.Chart, values)), nil
}

func (f Figure) plan() (*plan, error) {
	p := &plan{id: f.ID, key: f.Chart.key()}
	p.title, p.description = f.Chart.name()
	for i, l := range layouts {
		var err error
		if p.drawings[i], err = f.Chart.draw(l); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// enlist finds each figure in the cache or among the running jobs, and starts jobs for the others from their plans. If
// a plan is missing it starts nothing and names it: plans are made outside the lock, and only when needed.
func (r *Renderer) enlist(keys []figureKey, plans map[figureKey]*plan) (jobs []*job, missing []int, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return nil, nil, ErrClosed
	}
	jobs = make([]*job, len(keys))
	for i, key := range keys {
		if html, ok := r.cache.get(key); ok {
			jobs[i] = &job{key: key, done: alreadyDone, html: html}
		} else if jobs[i] = r.jobs[key]; jobs[i] == nil && plans[key] == nil {
			missing = append(missing, i)
		}
	}
	if len(missing) > 0 {
		return nil, missing, nil
	}
	var fresh []*job
	for i, key := range keys {
		if jobs[i] == nil {
			jobs[i] = &job{key: key, plan: plans[key], done: make(chan struct{})}
			r.jobs[key] = jobs[i]
			fresh = append(fresh, jobs[i])
		}
		jobs[i].waiting++
	}
	batches := min(cap(r.slots), len(fresh))
	for b := range batches {
		var batch []*job
		for i := b; i < len(fresh); i += batches {
			batch = append(batch, fresh[i])
		}
		r.work.Go(func() { r.draw(batch) })
	}
	return jobs, nil, nil
}

var alreadyDone = func() chan struct{} { c := make(chan struct{}); close(c); return c }()

func (r *Renderer) leave(jobs []*job) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, j := range jobs {
		j.waiting--
	}
}

// draw waits for an engine, drops jobs whose callers have given up, and draws the rest on it.
func (r *Renderer) draw(batch []*job) {
	r.slots <- struct{}{}
	defer func() { <-r.slots }()

	r.mu.Lock()
	wanted := batch[:0:0]
	for _, j := range batch {
		if j.waiting > 0 {
			wanted = append(wanted, j)
		} else {
			delete(r.jobs, j.key)
		}
	}
	r.mu.Unlock()
	if len(wanted) == 0 {
		return
	}

	drawings := make([]drawing, 0, len(wanted)*len(layouts))
	for _, j := range wanted {
		drawings = append(drawings, j.plan.drawings[:]...)
	}
	results := r.engine.draw(drawings)
	for i, j := range wanted {
		j.html, j.err = j.plan.assemble(results[i*len(layouts):][:len(layouts)])
		r.mu.Lock()
		delete(r.jobs, j.key)
		if j.err == nil {
			r.cache.put(j.key, j.html)
		}
		r.mu.Unlock()
		close(j.done)
	}
}

// assemble cleans the layouts' SVGs and puts the key under them.
func (p *plan) assemble(results []result) (template.HTML, error) {
	var b strings.Builder
	b.WriteString("<div class=\"chart\">\n")
	for i, l := range layouts {
		if results[i].err != nil {
			return "", results[i].err
		}
		svg, err := clean(results[i].svg, p.id+"-"+l.class, l.class, p.title, p.description, p.drawings[i])
		if err != nil {
			return "", err
		}
		b.WriteString(svg)
	}
	writeKey(&b, p.key)
	b.WriteString("</div>\n")
	return template.HTML(b.String()), nil
}

// cache keeps the fragments used last, up to a number of bytes.
type cache struct {
	limit, size int
	entries     map[figureKey]*list.Element
	recent      list.List // of cached, most recent first
}

type cached struct {
	key  figureKey
	html template.HTML
}

func (c *cache) get(k figureKey) (template.HTML, bool) {
	e, ok := c.entries[k]
	if !ok {
		return "", false
	}
	c.recent.MoveToFront(e)
	return e.Value.(cached).html, true
}

func (c *cache) put(k figureKey, html template.HTML) {
	if _, ok := c.entries[k]; ok || len(html) > c.limit {
		return
	}
	c.entries[k] = c.recent.PushFront(cached{k, html})
	c.size += len(html)
	for c.size > c.limit {
		last := c.recent.Back()
		old := c.recent.Remove(last).(cached)
		delete(c.entries, old.key)
		c.size -= len(old.html)
	}
}
