package pages

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/api/auth"
	"throughline/models"
)

// Form is what a user sent with a form that failed. The page is shown again with it, and nothing is lost.
type Form struct {
	Name  string // of the form; empty if none was sent
	Wrong []string
	Stale bool // the record was changed after the page with the form was read
	sent  url.Values

	fields  []models.FieldError
	lines   map[string]errorLine // those of Wrong that are about a field
	faults  []errorLine          // what is wrong with its fields, in order
	merges  bool                 // its page shows what stands now where nothing was typed
	asked   []models.Question    // what is to be answered before it is saved
	fine    bool                 // nothing is wrong with it: it is shown to be changed or saved
	preview *preview             // of what was sent
}

// status is that of the page: a page that is shown again says that what was sent could not be done.
func (f Form) status() int {
	switch {
	case f.Name == "" || f.fine:
		return http.StatusOK
	case f.Stale:
		return http.StatusPreconditionFailed
	}
	return http.StatusUnprocessableEntity
}

// Value returns what was sent in a field of a form: it need not be typed again.
func (f Form) Value(form, field string) string {
	if f.Name != form {
		return ""
	}
	return f.sent.Get(field)
}

// insisting are the questions that a form raised, those that were answered when it was sent, and the reason given.
type insisting struct {
	Asked  []models.Question
	Ticked []string
	Reason string
}

// questions are what the partial of that name prints of a form.
func questions(f Form, form string) insisting {
	if f.Name != form {
		return insisting{}
	}
	return insisting{Asked: f.asked, Ticked: f.sent["insist"], Reason: f.sent.Get("insist_reason")}
}

// Refused returns what was wrong with a form.
func (f Form) Refused(form string) []errorLine {
	if f.Name != form {
		return nil
	}
	return f.summary()
}

// summary is what was wrong, a line for each field.
func (f Form) summary() (all []errorLine) {
	for _, text := range f.Wrong {
		l, ok := f.lines[text]
		if !ok {
			l = errorLine{Text: text}
		}
		all = append(all, l)
	}
	return all
}

// fields reads the fields of a form. A field that is not sent is empty; spaces around typed text are removed.
type fields struct {
	values url.Values
	wrong  []models.FieldError
	player int64 // whose page the form is on, once it was read

	// places says which control of the form has a field of a record, and what to call it where the control's label does
	// not say; nil where the names are the same.
	places func(where string) (control, as string)
	merges bool
	ends   map[string]string // how the names of controls end, by the member of a list that they are for: criteria[0]
}

func (f *fields) text(name string) string { return strings.TrimSpace(f.values.Get(name)) }

func (f *fields) checked(name string) bool { return f.values.Get(name) != "" }

func (f *fields) day(name string) models.Date { return models.Date(f.text(name)) }

func (f *fields) dayIfAny(name string) *models.Date {
	if d := f.day(name); d != "" {
		return &d
	}
	return nil
}

func (f *fields) idIfAny(name string) *int64 {
	text := f.text(name)
	if text == "" {
		return nil
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 1 {
		f.refuse(name, chooseOne)
		return nil
	}
	return &n
}

// id is idIfAny, and 0 where that is nil.
func (f *fields) id(name string) int64 {
	if n := f.idIfAny(name); n != nil {
		return *n
	}
	return 0
}

const chooseOne = "choose one from the list"

// decimal reads a number with a point or a comma, and a percent sign or none. It is not ok where the field has none;
// like says what would be right.
func (f *fields) decimal(name, like string) (n float64, ok bool) {
	text := strings.TrimSuffix(strings.ReplaceAll(f.text(name), ",", "."), "%")
	n, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || math.IsNaN(n) || math.IsInf(n, 0) {
		f.refuse(name, "write a number, "+like)
		return 0, false
	}
	return n, true
}

// clockIfAny reads a match clock, such as 52:30 or 52, of a half; nil where neither is given.
func (f *fields) clockIfAny(half, clock string) *models.Clock {
	if f.text(half) == "" && f.text(clock) == "" {
		return nil
	}
	n, err := strconv.Atoi(f.text(half))
	if err != nil {
		f.refuse(half, "choose the half for this match clock")
	}
	minutes, seconds, both := strings.Cut(f.text(clock), ":")
	m, wrong := strconv.ParseUint(minutes, 10, 8)
	s := uint64(0)
	if wrong == nil && both {
		s, wrong = strconv.ParseUint(seconds, 10, 8)
	}
	if wrong != nil || s > 59 {
		f.refuse(clock, "write minutes and seconds of the match clock, such as 52:30")
	}
	return &models.Clock{Half: n, Second: int(60*m + s)}
}

// end notes how the names of the controls for a member of a list end.
func (f *fields) end(list string, n int, end string) {
	if f.ends == nil {
		f.ends = map[string]string{}
	}
	f.ends[fmt.Sprintf("%s[%d]", list, n)] = end
}

// called says that a field of a record has another name on the form.
func (f *fields) called(names map[string]string) {
	f.places = func(where string) (control, as string) { return names[where], "" }
}

// refuse notes what is wrong with a field, if nothing was noted before.
func (f *fields) refuse(name, message string) {
	if name != "" && slices.ContainsFunc(f.wrong, func(e models.FieldError) bool { return e.Where == name }) {
		return
	}
	f.wrong = append(f.wrong, models.FieldError{Where: name, Message: message})
}

// version is that of the record as the page with the form showed it. A form without one is as stale as can be.
func (f *fields) version() int64 {
	n, err := strconv.ParseInt(f.text("version"), 10, 64)
	if err != nil {
		return 0
	}
	return n
}

// inBothWords is the error for a form whose record was changed since its page was read. It has what was sent and what
// is recorded now, and the reader can choose.
func inBothWords(err error, sent, now string) error {
	if models.CodeOf(err) != models.Stale {
		return err
	}
	return models.Errorf(models.Stale, "This was changed after you opened the page, so your change was not saved. You "+
		"sent: %s. On file now: %s. If yours is still right, send it again.", sent, now)
}

// err is what was wrong with the fields themselves.
func (f *fields) err() error {
	if len(f.wrong) == 0 {
		return nil
	}
	return &models.Error{Code: models.Invalid, Message: "the form is not valid", Fields: f.wrong}
}

// sent answers a form: do does what it asks for and returns where to go next, or nothing if it has answered itself.
// What do refuses is shown on the page that the form is on, which again draws, with what was sent.
func (p *Pages) sent(name string, again func(*gin.Context, models.Who, Form) error,
	do func(*gin.Context, models.Who, *fields) (next string, err error)) gin.HandlerFunc {
	return func(c *gin.Context) {
		name := name
		who, ok := auth.Who(c.Request.Context())
		if !ok {
			c.Redirect(http.StatusSeeOther, "/sign-in")
			return
		}
		values, ok := p.form(c)
		if !ok {
			return
		}
		f := &fields{values: values}
		next, err := do(c, who, f)
		if err == nil {
			if next != "" { // or it has answered
				c.Redirect(http.StatusSeeOther, next)
			}
			return
		}
		switch models.CodeOf(err) {
		case models.Invalid, models.Conflict, models.Stale:
			if of := c.Param("id"); of != "" { // one of several like it
				name += "-" + of
			}
			if e, ok := errors.AsType[*models.Error](err); ok && e.Changed != nil {
				localTimes(who, e.Changed)
			}
			form := Form{Name: name, Wrong: inWords(err), Stale: models.CodeOf(err) == models.Stale, sent: values}
			var e *models.Error
			if errors.As(err, &e) {
				form.fields, form.asked = slices.Clone(e.Fields), e.Questions
				for i := range form.fields {
					form.fields[i].Message = codesInWords(form.fields[i].Message)
				}
				form.take(e, f.places)
				form.merges = f.merges || form.Stale
			}
			refuse(c, form)
			err = again(c, who, form)
		}
		if err != nil {
			p.failed(c, err)
		}
	}
}

// inWords is what a *models.Error says, a sentence for each field.
func inWords(err error) []string {
	var e *models.Error
	if !errors.As(err, &e) {
		return nil
	}
	if e.Questions != nil {
		return questionsInWords(e.Questions)
	}
	if said, ok := errors.AsType[*changedSaid](err); ok {
		return said.words
	}
	if e.Changed != nil {
		return changedInWords(e.Changed, plainly)
	}
	if len(e.Fields) == 0 {
		return []string{sentence(codesInWords(e.Message))}
	}
	var all []string
	for _, f := range e.Fields {
		all = append(all, errorLineOf(f, nil).Said())
	}
	return all
}

// rowOfPaste is the place of a fault in pasted rows.
var rowOfPaste = regexp.MustCompile(`^(?:row|line) \d+`)

// errorLineOf is what a *models.Error says of a field, at the control that places says it has on the form.
func errorLineOf(f models.FieldError, places func(string) (control, as string)) errorLine {
	l := errorLine{Field: f.Where, Name: sentenceCase(f.Where), Text: codesInWords(f.Message)}
	if rowOfPaste.MatchString(f.Where) {
		l.Field, l.As = "rows", strings.Replace(l.Name, ", born", ", birth date", 1)
	}
	if places != nil {
		if control, as := places(f.Where); control != "" || as != "" {
			l.Field, l.As = control, as
		}
	}
	return l
}

// take notes what an error says of the fields of a form.
func (f *Form) take(e *models.Error, places func(string) (control, as string)) {
	f.lines = map[string]errorLine{}
	if e.Questions != nil || e.Changed == nil && len(e.Fields) == 0 {
		return
	}
	if e.Changed != nil {
		for _, l := range changedLines(e.Changed, plainly) {
			f.lines[l.Said()] = l
		}
		return
	}
	f.Wrong = nil
	for _, one := range e.Fields {
		l := errorLineOf(one, places)
		if said := l.Said(); !slices.Contains(f.Wrong, said) {
			f.Wrong = append(f.Wrong, said)
			f.lines[said] = l
		}
		f.faults = append(f.faults, l)
	}
}

// codes are codes of several words, and texts in quotation marks, which stay as they were typed.
var codes = regexp.MustCompile(`“[^”]*”|"[^"]*"|\b[a-z0-9]+(?:_[a-z0-9]+)+\b`)

// codesInWords is a message with codes as a person reads them: their labels, in small letters.
func codesInWords(message string) string {
	return codes.ReplaceAllStringFunc(message, func(code string) string {
		if strings.HasPrefix(code, "“") || strings.HasPrefix(code, `"`) {
			return code
		}
		return strings.ToLower(models.CodeInWords(code))
	})
}

// asRefusal is a *models.Error that says what is wrong with what was sent.
func asRefusal(err error) (*models.Error, bool) {
	e, ok := errors.AsType[*models.Error](err)
	return e, ok && e.Code == models.Invalid
}

// input is a labelled field of a form: what was sent, or what is on file.
type input struct {
	ID, Name, Label, Type, Value, Hint string
	Options                            []field
}

// inputOf is the field of a form; its value is what was sent where the form was refused, otherwise what is on file.
func inputOf(f Form, form, name, label, kind string, now any, hint ...string) input {
	i := input{ID: form + "-" + name, Name: name, Label: label, Type: kind, Value: fmt.Sprint(now)}
	switch v := now.(type) {
	case nil:
		i.Value = ""
	case int:
		if v == 0 {
			i.Value = ""
		}
	case *models.Date:
		i.Value = ""
		if v != nil {
			i.Value = string(*v)
		}
	}
	if f.Name == form {
		i.Value = f.sent.Get(name)
	}
	if len(hint) > 0 {
		i.Hint = hint[0]
	}
	return i
}

// choiceOf is inputOf with options to choose from.
func choiceOf(f Form, form, name, label string, options []field, now any, hint ...string) input {
	i := inputOf(f, form, name, label, "", now, hint...)
	if n, ok := now.(int); ok && f.Name != form {
		i.Value = strconv.Itoa(n)
	}
	i.Options = options
	return i
}
