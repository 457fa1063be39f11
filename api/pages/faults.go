package pages

import (
	"bytes"
	"cmp"
	"context"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"
	"golang.org/x/net/html/atom"

	markup "golang.org/x/net/html"

	"throughline/reports/paper"
)

// What is wrong with a form is written into its page after the page was rendered: beside each field, in the words of
// its label, with a link to it from the summary above the form. So templates and handlers say nothing of errors: a
// handler names the field, and every form of every page shows its errors alike. A field is a control by its name, or a
// fieldset by its name.

// errorLine is one line of the summary above a refused form.
type errorLine struct {
	Field string // whose page has it; empty for the whole form
	Name  string // of the field, where the page has no such field
	As    string // what to call it, though the page has a label for it
	Text  string
}

// Said is a line as a person reads it who sees no such field on the page.
func (l errorLine) Said() string { return withLabel(cmp.Or(l.As, l.Name), l.Text) }

// fragments are words that begin a message whose subject is the label of the field.
var fragments = []string{"is", "are", "has", "have", "was", "must", "belongs", "cannot", "comes", "lies", "ends"}

// fragment says whether the subject of a message is the label of its field: "is empty".
func fragment(message string) bool {
	first, _, _ := strings.Cut(message, " ")
	return slices.Contains(fragments, first)
}

// withLabel is a message with the label of its field, as a sentence.
func withLabel(label, message string) string {
	switch {
	case label == "":
		return sentence(message)
	case fragment(message):
		return sentence(label + " " + message)
	}
	return sentence(label + ": " + message)
}

// besideLabel is a message as it stands beside its field, whose label is above it.
func besideLabel(label, message string) string {
	if fragment(message) {
		return withLabel(label, message)
	}
	return sentence(message)
}

// refusedKey is the key of a refused form in a request's context.
type refusedKey struct{}

// refuse notes that a form is shown again, for the page that is rendered next.
func refuse(c *gin.Context, form Form) {
	c.Request = c.Request.WithContext(context.WithValue(c.Request.Context(), refusedKey{}, form))
}

// withFaults is a rendered page with what is wrong with the form that the request sent, if it was refused.
func withFaults(r *http.Request, b []byte) []byte {
	form, ok := r.Context().Value(refusedKey{}).(Form)
	if !ok || len(form.Wrong) == 0 {
		return b
	}
	w := &faultsWriter{b: b, form: form}
	if on := formSent(readForms(b), r.URL.Path, form); on != nil {
		for _, c := range on.controls {
			c.now = string(b[c.from:c.to])
		}
		if !form.merges {
			w.keep(on)
		}
		w.mark(on)
		w.name(on)
		for _, c := range on.controls {
			if c.now != string(b[c.from:c.to]) {
				w.edits = append(w.edits, edit{c.from, c.to, c.now})
			}
		}
	}
	w.summary()
	return w.done()
}

// formOnPage is a form of a rendered page. Places are offsets in bytes into the page.
type formOnPage struct {
	action   string
	controls []*control
	groups   []*group
}

// group is what has several controls under one heading: a fieldset, or the row of a table.
type group struct {
	name, label string
	at          int // after its legend
}

// control is an input, a select or a textarea.
type control struct {
	from, to int // its tag
	attrs    map[string]string
	label    string
	at       int          // where words beside it go
	in       []*group     // from the outside in
	closed   []int        // ends of the tags of closed details around it
	wrapping *labelOnPage // the label that it is in
	end      int          // where the text in it ends, or its options
	options  []*option
	now      string // its tag, as it is to be
}

func (c *control) name() string { return c.attrs["name"] }

// ticked says whether it is a box or a button of a choice.
func (c *control) ticked() bool { return c.attrs["type"] == "checkbox" || c.attrs["type"] == "radio" }

// option is one of a select.
type option struct {
	from, to int
	value    string
	chosen   bool
}

type labelOnPage struct {
	of   string // the id of its control
	text strings.Builder
}

// formReader reads the forms of a page from its tokens.
type formReader struct {
	forms   []*formOnPage
	form    *formOnPage
	groups  []*group
	row     *group
	details []int // ends of the tags of those around; negative for an open one
	label   *labelOnPage
	labels  map[string]string
	inP     []*control // of the paragraph
	p       bool
	heading *strings.Builder // of a legend or of a row's head
	choice  *control         // the select or the textarea that is open
	aside   bool             // in a tag or a number beside a heading's words
}

// readForms finds the forms of a page with their controls.
func readForms(b []byte) []*formOnPage {
	r := &formReader{labels: map[string]string{}}
	z := markup.NewTokenizer(bytes.NewReader(b))
	for at := 0; ; {
		kind := z.Next()
		if kind == markup.ErrorToken {
			break
		}
		from := at
		at += len(z.Raw())
		token := z.Token()
		switch kind {
		case markup.TextToken:
			r.said(token.Data)
		case markup.StartTagToken, markup.SelfClosingTagToken:
			r.begin(token, from, at)
		case markup.EndTagToken:
			r.end(token.DataAtom, from, at)
		}
	}
	for _, form := range r.forms {
		for _, c := range form.controls {
			c.label = cmp.Or(c.attrs["aria-label"], r.labels[c.attrs["id"]])
			if c.wrapping != nil {
				c.label = cmp.Or(c.label, collapsed(c.wrapping.text.String()))
			}
		}
	}
	return r.forms
}

func (r *formReader) said(text string) {
	if r.heading != nil && !r.aside {
		r.heading.WriteString(text)
	}
	if r.label != nil && r.choice == nil {
		r.label.text.WriteString(text)
	}
}

func (r *formReader) begin(token markup.Token, from, to int) {
	attrs := map[string]string{}
	for _, a := range token.Attr {
		attrs[a.Key] = a.Val
	}
	switch token.DataAtom {
	case atom.Form:
		if r.form = nil; attrs["method"] == "post" {
			r.form = &formOnPage{action: attrs["action"]}
			r.forms = append(r.forms, r.form)
		}
	case atom.Fieldset:
		r.groups = append(r.groups, &group{name: attrs["name"], at: to})
		if r.form != nil {
			r.form.groups = append(r.form.groups, r.groups[len(r.groups)-1])
		}
	case atom.Legend:
		r.heading = &strings.Builder{}
	case atom.Span:
		r.aside = attrs["class"] == "tag" || attrs["class"] == "quiet"
	case atom.Tr:
		r.row = &group{}
	case atom.Th:
		if attrs["scope"] == "row" && r.row != nil {
			r.heading = &strings.Builder{}
		}
	case atom.Details:
		if _, open := attrs["open"]; open {
			to = -1
		}
		r.details = append(r.details, to)
	case atom.P:
		r.p, r.inP = true, nil
	case atom.Label:
		r.label = &labelOnPage{of: attrs["for"]}
	case atom.Option:
		if r.choice != nil {
			_, chosen := attrs["selected"]
			r.choice.options = append(r.choice.options, &option{from, to, attrs["value"], chosen})
		}
	case atom.Input, atom.Select, atom.Textarea:
		if r.form != nil {
			r.control(token.DataAtom, attrs, from, to)
		}
	}
}

func (r *formReader) control(kind atom.Atom, attrs map[string]string, from, to int) {
	c := &control{from: from, to: to, attrs: attrs, at: to, in: slices.Clone(r.groups), wrapping: r.label}
	if r.row != nil {
		c.in = append(c.in, r.row)
	}
	for _, end := range r.details {
		if end >= 0 {
			c.closed = append(c.closed, end)
		}
	}
	r.form.controls = append(r.form.controls, c)
	if kind != atom.Input {
		r.choice = c
	}
	if r.p {
		r.inP = append(r.inP, c)
	}
}

func (r *formReader) end(kind atom.Atom, from, to int) {
	switch kind {
	case atom.Form:
		r.form = nil
	case atom.Fieldset:
		r.groups = r.groups[:max(0, len(r.groups)-1)]
	case atom.Legend:
		if n := len(r.groups); n > 0 && r.heading != nil {
			r.groups[n-1].label, r.groups[n-1].at = collapsed(r.heading.String()), to
		}
		r.heading = nil
	case atom.Th:
		if r.heading != nil && r.row != nil {
			r.row.label = collapsed(r.heading.String())
		}
		r.heading = nil
	case atom.Tr:
		r.row = nil
	case atom.Span:
		r.aside = false
	case atom.Details:
		r.details = r.details[:max(0, len(r.details)-1)]
	case atom.P:
		for _, c := range r.inP {
			c.at = from
		}
		r.p, r.inP = false, nil
	case atom.Label:
		r.endLabel(to)
	case atom.Select, atom.Textarea:
		if r.choice != nil {
			if r.choice.end = from; !r.p {
				r.choice.at = to
			}
		}
		r.choice = nil
	}
}

// endLabel notes what a label says, and that words beside the controls in it go after it.
func (r *formReader) endLabel(to int) {
	if r.label == nil {
		return
	}
	if r.label.of != "" {
		r.labels[r.label.of] = collapsed(r.label.text.String())
	}
	if r.form != nil && !r.p {
		for _, c := range r.form.controls {
			if c.wrapping == r.label {
				c.at = to
			}
		}
	}
	r.label = nil
}

// formSent is the form of a page that a request sent: by its address and by the values that it has again; nil for none.
func formSent(all []*formOnPage, path string, sent Form) (best *formOnPage) {
	most := 0
	for _, form := range all {
		at, err := url.Parse(form.action)
		if err != nil {
			continue
		}
		score := 0
		for _, c := range form.controls {
			if sent.sent.Has(c.name()) && (c.attrs["type"] != "hidden" || c.attrs["value"] == sent.sent.Get(c.name())) {
				score++
			}
		}
		if at.Path == path {
			score += 10_000
		}
		for _, f := range sent.faults {
			if all, _ := form.controlsOf(f.Field); all != nil {
				score += 10
			}
		}
		if score > most {
			best, most = form, score
		}
	}
	return best
}

// controlsOf are the controls of a field: those of its name, or those in the fieldset of its name; and that fieldset,
// or the one that has all the boxes of its name.
func (form *formOnPage) controlsOf(field string) (all []*control, under *group) {
	for _, c := range form.controls {
		if c.name() == field && c.attrs["type"] != "hidden" {
			all = append(all, c)
		}
	}
	if len(all) > 1 && all[0].ticked() && len(all[0].in) > 0 {
		if under = all[0].in[len(all[0].in)-1]; under.label == "" {
			under = nil
		}
	}
	if all != nil {
		return all, under
	}
	for _, g := range form.groups {
		if g.name != field || field == "" {
			continue
		}
		for _, c := range form.controls {
			if slices.Contains(c.in, g) && c.attrs["type"] != "hidden" {
				all = append(all, c)
			}
		}
		return all, g
	}
	return nil, nil
}

// labelOf is what the page calls a control. One of several with one label has its group's before it.
func (form *formOnPage) labelOf(c *control) string {
	label, _, _ := strings.Cut(c.label, " (optional")
	alike := func(o *control) bool { return o != c && o.label == c.label && o.name() != c.name() }
	if !slices.ContainsFunc(form.controls, alike) {
		return label
	}
	for _, g := range slices.Backward(c.in) {
		if g.label != "" {
			return g.label + ", " + label
		}
	}
	return label
}

// faultsWriter writes what is wrong with a form into its page.
type faultsWriter struct {
	b     []byte
	form  Form
	edits []edit
	links map[string]fieldLink // by field
}

// edit puts text in the place of a part of the page.
type edit struct {
	from, to int
	text     string
}

// fieldLink is where a field is and what the page calls it.
type fieldLink struct{ id, label string }

// mark puts what is wrong beside the fields of a form.
func (w *faultsWriter) mark(form *formOnPage) {
	w.links = map[string]fieldLink{}
	said := map[string][]errorLine{}
	var fields []string // in order: two may stand at one place
	for _, f := range w.form.faults {
		if said[f.Field] == nil {
			fields = append(fields, f.Field)
		}
		said[f.Field] = append(said[f.Field], f)
	}
	for _, field := range fields {
		controls, under := form.controlsOf(field)
		if len(controls) == 0 {
			continue
		}
		first := controls[0]
		link, at := fieldLink{id: first.attrs["id"], label: form.labelOf(first)}, first.at
		wrong := link.id
		if under != nil {
			link.label, at, wrong = under.label, under.at, field
		}
		newID := ""
		if link.id == "" {
			newID = "f-" + field
			link.id = newID
		}
		wrong = cmp.Or(wrong, link.id) + "-wrong"
		w.links[field] = link
		for n, c := range controls {
			w.markControl(c, newID, wrong)
			if n == 0 {
				newID = ""
			}
		}
		var messages []string
		for _, l := range said[field] {
			words := besideLabel(link.label, l.Text)
			if l.As != "" {
				words = l.Said()
			}
			if !slices.Contains(messages, words) {
				messages = append(messages, words)
			}
		}
		w.put(at, `<span class="wrong" id="`+html.EscapeString(wrong)+`">`+
			html.EscapeString(strings.Join(messages, " "))+`</span>`)
	}
}

// name notes where the fields are that someone else has changed.
func (w *faultsWriter) name(form *formOnPage) {
	for _, l := range w.form.lines {
		controls, under := form.controlsOf(l.Field)
		if _, ok := w.links[l.Field]; ok || len(controls) == 0 || controls[0].attrs["id"] == "" {
			continue
		}
		link := fieldLink{id: controls[0].attrs["id"], label: form.labelOf(controls[0])}
		if under != nil {
			link.label = under.label
		}
		w.links[l.Field] = link
	}
}

// put puts text at a place of the page, once.
func (w *faultsWriter) put(at int, text string) {
	if e := (edit{at, at, text}); !slices.Contains(w.edits, e) {
		w.edits = append(w.edits, e)
	}
}

// keep puts what was sent into the controls of a form, so that nothing has to be typed again.
func (w *faultsWriter) keep(form *formOnPage) {
	nth := map[string]int{}
	for _, c := range form.controls {
		sent, typed := w.form.sent[c.name()]
		switch kind := c.attrs["type"]; {
		case kind == "hidden" || kind == "password" || kind == "file" || kind == "submit" || c.name() == "":
			continue
		case c.ticked():
			if _, was := c.attrs["checked"]; was != slices.Contains(sent, cmp.Or(c.attrs["value"], "on")) {
				c.setFlag("checked", !was)
			}
			continue
		}
		n := nth[c.name()]
		nth[c.name()]++
		if !typed || n >= len(sent) {
			continue
		}
		switch {
		case c.options != nil:
			w.choose(c, sent[n])
		case c.end > 0:
			if old := html.UnescapeString(string(w.b[c.to:c.end])); strings.TrimPrefix(old, "\n") != sent[n] {
				w.edits = append(w.edits, edit{c.to, c.end, "\n" + html.EscapeString(sent[n])})
			}
		case c.attrs["value"] != sent[n]:
			c.set("value", sent[n])
		}
	}
}

// choose selects an option, if there is one of that value.
func (w *faultsWriter) choose(c *control, value string) {
	at := slices.IndexFunc(c.options, func(o *option) bool { return o.value == value })
	was := max(0, slices.IndexFunc(c.options, func(o *option) bool { return o.chosen }))
	if at < 0 || at == was {
		return
	}
	for i, o := range c.options {
		tag := string(w.b[o.from:o.to])
		if now := flag(tag, "selected", i == at); now != tag {
			w.edits = append(w.edits, edit{o.from, o.to, now})
		}
	}
}

// flag is a tag with or without an attribute that has no value.
func flag(tag, name string, on bool) string {
	tag = regexp.MustCompile(`\s+`+name+`(="[^"]*")?(\s|>)`).ReplaceAllString(tag, "$2")
	if on {
		tag = strings.TrimSuffix(tag, ">") + " " + name + ">"
	}
	return tag
}

func (c *control) setFlag(name string, on bool) { c.now = flag(c.now, name, on) }

// set gives a control an attribute.
func (c *control) set(name, value string) {
	tag := regexp.MustCompile(`\s+`+name+`="[^"]*"`).ReplaceAllString(c.now, "")
	c.now = strings.TrimSuffix(tag, ">") + " " + name + `="` + html.EscapeString(value) + `">`
}

// markControl says of a control that it is wrong and where the words about it are, and opens what hides it.
func (w *faultsWriter) markControl(c *control, newID, wrong string) {
	if newID != "" {
		c.set("id", newID)
	}
	c.set("aria-invalid", "true")
	c.set("aria-describedby", strings.TrimSpace(c.attrs["aria-describedby"]+" "+wrong))
	for _, end := range c.closed {
		w.put(end-1, " open")
	}
}

var (
	summaryLine = regexp.MustCompile(`<p data-of="([^"]*)">([^<]*)</p>`)
	summaryBox  = regexp.MustCompile(`<div class="refused" role="alert"`)
)

// summary makes the lines above the form links to their fields, in the words of their labels, and has the browser go to
// them. Fields with the same fault share a line.
func (w *faultsWriter) summary() {
	type shared struct {
		from, to int
		links    []string
		text     string
	}
	var all []*shared
	for _, at := range summaryLine.FindAllSubmatchIndex(w.b, -1) {
		link, ok := w.links[html.UnescapeString(string(w.b[at[2]:at[3]]))]
		l, known := w.form.lines[html.UnescapeString(string(w.b[at[4]:at[5]]))]
		if !ok || !known {
			w.edits = append(w.edits, edit{at[0], at[1], "<p>" + string(w.b[at[4]:at[5]]) + "</p>"})
			continue
		}
		to := `<a href="#` + html.EscapeString(link.id) + `">` + html.EscapeString(cmp.Or(l.As, link.label)) + `</a>`
		i := slices.IndexFunc(all, func(s *shared) bool { return s.text == l.Text && !fragment(l.Text) })
		if i < 0 {
			all = append(all, &shared{at[0], at[1], []string{to}, l.Text})
			continue
		}
		if !slices.Contains(all[i].links, to) {
			all[i].links = append(all[i].links, to)
		}
		w.edits = append(w.edits, edit{at[0], at[1], ""})
	}
	for _, s := range all {
		colon := ":"
		if fragment(s.text) {
			colon = ""
		}
		w.edits = append(w.edits, edit{s.from, s.to, "<p>" + listed(s.links) + colon + " " +
			html.EscapeString(ended(s.text)) + "</p>"})
	}
	if at := summaryBox.FindIndex(w.b); at != nil {
		w.put(at[1], ` tabindex="-1" autofocus`)
	}
}

// listed are links in a sentence. Between labels that have a comma stands a semicolon.
func listed(links []string) string {
	if slices.ContainsFunc(links, func(link string) bool { return strings.Contains(link, ", ") }) {
		return strings.Join(links, "; ")
	}
	return paper.And(links)
}

// done is the page with what was put into it.
func (w *faultsWriter) done() []byte {
	slices.SortStableFunc(w.edits, func(a, b edit) int { return cmp.Compare(a.from, b.from) })
	var out bytes.Buffer
	last := 0
	for _, e := range w.edits {
		out.Write(w.b[last:e.from])
		out.WriteString(e.text)
		last = e.to
	}
	out.Write(w.b[last:])
	return out.Bytes()
}
