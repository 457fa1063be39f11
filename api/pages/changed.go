package pages

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"throughline/models"
	"throughline/reports/paper"
)

// changeSaid is a field that was changed, as a person reads it: its name, what the reader's version had, what they
// sent, and what stands now.
type changeSaid struct{ name, yours, sent, now string }

// plainly says a changed field of any record.
func plainly(f models.ChangedField) changeSaid {
	return changeSaid{sentenceCase(f.Field), valueInWords(f.Yours), valueInWords(f.Sent), valueInWords(f.Now)}
}

// localTimes puts the instants of a change into the zone of the reader's academy.
func localTimes(who models.Who, c *models.Changed) {
	c.At = who.Local(c.At)
	for i := range c.Fields {
		if at := c.Fields[i].At; at != nil {
			c.Fields[i].At = new(who.Local(*at))
		}
	}
}

// changedInWords says to a user what has changed in a record since they opened its form, a sentence for each field: how
// it was then, how it is now, and what they sent.
func changedInWords(c *models.Changed, say func(models.ChangedField) changeSaid) []string {
	by := "Another user"
	if c.By != "" {
		by = c.By
	}
	all := []string{fmt.Sprintf("%s changed this on %s, after you opened the page. Your change was not saved. What "+
		"you sent is still in the form: check it against what stands now, then send it again.", by,
		paper.Day(string(models.DateOf(c.At))))}
	for _, l := range changedLines(c, say) {
		if words := l.Said(); !slices.Contains(all, words) { // several fields may be one to a reader
			all = append(all, words)
		}
	}
	return all
}

// changedLines are the fields of a record that have changed.
func changedLines(c *models.Changed, say func(models.ChangedField) changeSaid) (all []errorLine) {
	for _, f := range c.Fields {
		said := say(f)
		words := said.now + " now"
		if string(f.Yours) != string(f.Sent) {
			words += fmt.Sprintf("; it was %s when you opened the page", said.yours)
		}
		if f.Sent != nil {
			words += fmt.Sprintf("; you sent %s", said.sent)
		}
		if f.By != "" && f.By != c.By {
			words += fmt.Sprintf("; changed by %s on %s", f.By, paper.Day(string(models.DateOf(*f.At))))
		}
		all = append(all, errorLine{Field: f.Field, Name: said.name, Text: words})
	}
	return all
}

// changedSaid is a models.Stale error with what has changed in the words of the record.
type changedSaid struct {
	error
	words []string
}

func (e *changedSaid) Unwrap() error { return e.error }

// memberOf is one of several in a list, such as criteria[0].weight.
var memberOf = regexp.MustCompile(`\[(\d+)\]`)

// sentenceCase is the name of a field as a person reads it: that of criteria[0].weight is "Criteria, number 1, weight".
func sentenceCase(field string) string {
	name := memberOf.ReplaceAllStringFunc(field, func(at string) string {
		n, _ := strconv.Atoi(strings.Trim(at, "[]")) // the expression has digits only
		return fmt.Sprintf(", number %d", n+1)
	})
	name = strings.ReplaceAll(strings.ReplaceAll(strings.TrimSuffix(name, "_id"), "_", " "), ".", ", ")
	if name == "" {
		return ""
	}
	return strings.ToUpper(name[:1]) + name[1:]
}

// valueInWords is a value of a record as a person reads it.
func valueInWords(text json.RawMessage) string {
	var v any
	if len(text) == 0 || json.Unmarshal(text, &v) != nil {
		return "nothing"
	}
	return inPlainWords(v)
}

func inPlainWords(v any) string {
	switch v := v.(type) {
	case nil:
		return "nothing"
	case string:
		if v == "" {
			return "nothing"
		}
		if _, err := models.Date(v).Time(); err == nil {
			return paper.Day(v)
		}
		return "“" + models.CodeInWords(v) + "”"
	case bool:
		return map[bool]string{true: "yes", false: "no"}[v]
	case []any:
		parts := make([]string, len(v))
		for i := range v {
			parts[i] = inPlainWords(v[i])
		}
		return "(" + strings.Join(parts, "; ") + ")"
	case map[string]any:
		var parts []string
		for name, member := range v {
			parts = append(parts, strings.ReplaceAll(name, "_", " ")+" "+inPlainWords(member))
		}
		slices.Sort(parts)
		return strings.Join(parts, ", ")
	}
	return fmt.Sprint(v)
}

// questionsInWords says that a form was not saved because it raises questions, which stand beside its boxes.
func questionsInWords(all []models.Question) []string {
	words := []string{"Not saved yet: please answer these questions first."}
	for _, q := range all {
		words = append(words, q.Text)
	}
	return words
}
