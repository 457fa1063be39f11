// Package personal writes everything that is kept about one player into an archive for the player, or others with a
// right to it by law: the same content as JSON for programs and as a page for people.
package personal

import (
	"archive/zip"
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"throughline/models"
	"throughline/reports/paper"
)

//go:embed personal.html
var templates embed.FS

// WriteArchive writes a ZIP archive of two files, record.json and record.html. The page is self-contained and asks
// nothing of a network.
func WriteArchive(w io.Writer, r models.PersonalRecord) error {
	archive := zip.NewWriter(w)
	for _, f := range []struct {
		name  string
		write func(io.Writer, models.PersonalRecord) error
	}{{"record.html", WritePage}, {"record.json", writeJSON}} {
		file, err := archive.CreateHeader(&zip.FileHeader{Name: f.name, Method: zip.Deflate, Modified: r.MadeAt})
		if err != nil {
			return fmt.Errorf("write %s into the archive: %w", f.name, err)
		}
		if err := f.write(file, r); err != nil {
			return fmt.Errorf("write %s into the archive: %w", f.name, err)
		}
	}
	return archive.Close()
}

func writeJSON(w io.Writer, r models.PersonalRecord) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(r)
}

// WritePage writes the record as one self-contained HTML file.
func WritePage(w io.Writer, r models.PersonalRecord) error {
	t, err := paper.Template(templates, "personal.html")
	if err != nil {
		return err
	}
	v, err := newView(r)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, "personal", v); err != nil {
		return fmt.Errorf("write the record of player %d: %w", r.Player.ID, err)
	}
	// escaped by the template
	title := "Everything kept about " + r.Player.Name
	return paper.WriteFile(w, paper.Sheet{Title: title, Body: template.HTML(b.String())})
}

// view is what the page prints.
type view struct {
	Record models.PersonalRecord
	MadeOn string
	Facts  []fact
	Parts  []section
	Empty  []string // titles of the parts in which nothing is kept
}

type fact struct{ Name, Value string }

type section struct {
	ID, Title string
	Table     paper.Table
	Folded    bool // there is much of it
}

// manyRows is from how many rows on a table is too long to scroll past.
const manyRows = 12

func newView(r models.PersonalRecord) (*view, error) {
	zone, err := models.Zone(r.TimeZone)
	if err != nil {
		return nil, err
	}
	v := &view{Record: r, MadeOn: paper.Day(string(models.DateOf(r.MadeAt.In(zone))))}
	names, err := newNames(r)
	if err != nil {
		return nil, err
	}
	player, err := json.Marshal(r.Player)
	if err != nil {
		return nil, fmt.Errorf("write the player: %w", err)
	}
	own, err := membersOf(player)
	if err != nil {
		return nil, err
	}
	for _, m := range own {
		if !internal(m.name) {
			v.Facts = append(v.Facts, fact{label(m.name), names.text(m)})
		}
	}
	for _, p := range r.Parts {
		if len(p.Items) == 0 {
			v.Empty = append(v.Empty, p.Title)
			continue
		}
		table, err := names.table(p)
		if err != nil {
			return nil, fmt.Errorf("write %s: %w", p.Code, err)
		}
		v.Parts = append(v.Parts, section{
			ID: "part-" + strings.ReplaceAll(p.Code, "_", "-"), Title: p.Title, Table: table, Folded: len(p.Items) > manyRows,
		})
	}
	return v, nil
}

// member is one member of a JSON object.
type member struct {
	name  string
	value json.RawMessage
}

// membersOf returns the members of a JSON object in their order.
func membersOf(object json.RawMessage) ([]member, error) {
	d := json.NewDecoder(bytes.NewReader(object))
	if _, err := d.Token(); err != nil {
		return nil, fmt.Errorf("read a record: %w", err)
	}
	var all []member
	for d.More() {
		name, err := d.Token()
		if err != nil {
			return nil, fmt.Errorf("read a record: %w", err)
		}
		var value json.RawMessage
		if err := d.Decode(&value); err != nil {
			return nil, fmt.Errorf("read a record: %w", err)
		}
		all = append(all, member{fmt.Sprint(name), value})
	}
	return all, nil
}

// internal says about a member that it tells a person nothing; the JSON has it.
func internal(name string) bool {
	return slices.Contains([]string{"id", "version", "changed_at", "player_id", "key", "hash", "payload_hash",
		"token_id"}, name)
}

// label is a member's name as a person reads it.
func label(name string) string {
	name = strings.ReplaceAll(strings.TrimSuffix(name, "_id"), "_", " ")
	return strings.ToUpper(name[:1]) + name[1:]
}

// names are what stands for ids.
type names struct {
	zone                            *time.Location
	staff, matches, seasons, squads map[int64]string
	users                           []string // members that name a user, in the part that is being written
}

func newNames(r models.PersonalRecord) (*names, error) {
	zone, err := models.Zone(r.TimeZone)
	if err != nil {
		return nil, err
	}
	n := &names{zone: zone, staff: r.Staff, matches: map[int64]string{}, seasons: r.Seasons, squads: r.Squads}
	for _, text := range r.Matches {
		var m models.Match
		if err := json.Unmarshal(text, &m); err != nil {
			return nil, fmt.Errorf("read a match: %w", err)
		}
		n.matches[m.ID] = m.Opponent + ", " + paper.Day(string(m.Date))
	}
	return n, nil
}

// table is a part as a table, with a column for each member that some item has.
func (n *names) table(p models.PersonalPart) (paper.Table, error) {
	n.users = p.Users
	t := paper.Table{Caption: fmt.Sprintf("%d records", len(p.Items)), Stack: true}
	if len(p.Items) == 1 {
		t.Caption = "1 record"
	}
	at := map[string]int{}
	items := make([][]member, len(p.Items))
	for i, item := range p.Items {
		all, err := membersOf(item)
		if err != nil {
			return t, err
		}
		items[i] = unknownMinutes(all)
		for _, m := range all {
			if _, known := at[m.name]; !known && !internal(m.name) {
				at[m.name] = len(t.Columns)
				t.Columns = append(t.Columns, paper.Column{Label: label(m.name)})
			}
		}
	}
	if i, recorded := at["created_at"]; recorded { // which says least, last
		t.Columns = append(append(t.Columns[:i:i], t.Columns[i+1:]...), paper.Column{Label: "Recorded"})
		for name, place := range at {
			switch {
			case name == "created_at":
				at[name] = len(t.Columns) - 1
			case place > i:
				at[name] = place - 1
			}
		}
	}
	for _, item := range items {
		row := make([]paper.Cell, len(t.Columns))
		for _, m := range item {
			if i, ok := at[m.name]; ok {
				row[i].Text = short(n.text(m))
			}
		}
		t.Rows = append(t.Rows, row)
	}
	return t, nil
}

// unknownMinutes writes minutes that were not recorded where minutes stand.
func unknownMinutes(all []member) []member {
	for i := range all {
		if m := &all[i]; m.name == "minutes_not_recorded" && string(m.value) == "true" {
			*m = member{"minutes", json.RawMessage(`"not recorded"`)}
		}
	}
	return all
}

// longest is how much of a value the page prints; what is longer is a table of its own in record.json.
const longest = 600

func short(text string) string {
	if letters := []rune(text); len(letters) > longest {
		return string(letters[:longest]) + "… (whole in record.json)"
	}
	return text
}

// text is the value of a member as a person reads it.
func (n *names) text(m member) string {
	var value any
	d := json.NewDecoder(bytes.NewReader(m.value))
	d.UseNumber()
	if err := d.Decode(&value); err != nil {
		return string(m.value)
	}
	return n.words(m.name, value)
}

func (n *names) words(name string, value any) string {
	switch v := value.(type) {
	case nil:
		return ""
	case bool:
		if v {
			return "yes"
		}
		return "no"
	case json.Number:
		id, err := v.Int64()
		if err != nil {
			f, _ := v.Float64()
			return strconv.FormatFloat(f, 'g', 4, 64)
		}
		if name := n.of(name)[id]; name != "" {
			return name
		}
		return v.String()
	case string:
		if at, err := time.Parse(time.RFC3339Nano, v); err == nil {
			at = at.In(n.zone)
			return paper.Day(string(models.DateOf(at))) + at.Format(" 15:04 MST")
		}
		if models.Date(v).Validate() == nil {
			return paper.Day(v)
		}
		if name == "login" {
			return v
		}
		return models.CodeInWords(v)
	case []any:
		all := make([]string, len(v))
		for i, item := range v {
			all[i] = n.words("", item)
		}
		return strings.Join(all, "; ")
	case map[string]any:
		if half, ok := v["half"].(json.Number); ok && len(v) == 2 && v["second"] != nil {
			return n.clock(half, v["second"])
		}
		var all []string
		for key, item := range v {
			if text := n.words(key, item); text != "" {
				all = append(all, strings.ReplaceAll(key, "_", " ")+" "+text)
			}
		}
		slices.Sort(all)
		return strings.Join(all, ", ")
	}
	return fmt.Sprint(value)
}

// of are the names that stand for the ids of a member.
func (n *names) of(member string) map[int64]string {
	switch member {
	case "match_id":
		return n.matches
	case "season_id":
		return n.seasons
	case "squad_id":
		return n.squads
	}
	if slices.Contains(n.users, member) {
		return n.staff
	}
	return nil
}

// clock prints an instant of a match.
func (n *names) clock(half json.Number, second any) string {
	var c models.Clock
	h, err := half.Int64()
	s, ok := second.(json.Number)
	if err != nil || !ok {
		return ""
	}
	at, err := s.Int64()
	if err != nil {
		return ""
	}
	c.Half, c.Second = int(h), int(at)
	return c.String()
}
