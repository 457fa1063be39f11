package pack

import (
	"archive/zip"
	"bytes"
	"cmp"
	"embed"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"
	"time"

	"throughline/models"
	"throughline/reports/paper"
)

//go:embed index.html
var pages embed.FS

// Contents are what a pack's file is made of.
type Contents struct {
	Pack    models.ReportPack
	Squad   string // its name
	Season  string // its name
	Edition string // what people call the edition
	Zone    *time.Location
	Reports []models.PackedReport
}

// Source is what a pack is read from. It knows the caller.
type Source interface {
	PackedReports(id int64) (models.ReportPack, []models.PackedReport, error)
	Squad(id int64) (models.Squad, error)
	Season(id int64) (models.Season, error)
	Who() models.Who
}

// Read reads what a pack's file is made of. Errors are the source's: NotFound if the pack is not for the caller,
// Conflict if it is not ready.
func Read(src Source, id int64, report paper.Paper) (c Contents, err error) {
	if c.Pack, c.Reports, err = src.PackedReports(id); err != nil {
		return c, err
	}
	squad, err := src.Squad(c.Pack.SquadID)
	if err != nil {
		return c, err
	}
	season, err := src.Season(c.Pack.SeasonID)
	if err != nil {
		return c, err
	}
	c.Squad, c.Season, c.Zone, c.Edition = squad.Name, season.Name, src.Who().TimeZone(), c.Pack.Edition
	for _, e := range report.Editions {
		if e.Code == c.Pack.Edition {
			c.Edition = e.Name
		}
	}
	return c, nil
}

// FileName is what the file is called.
func (c Contents) FileName() string {
	return paper.FileName("season-reports", c.Squad, c.Season, c.Pack.Edition) + ".zip"
}

// entry is a file in the pack.
type entry struct {
	name string
	data []byte
}

// line is a report in the index.
type line struct{ Title, HTML, PDF string }

// Write writes the pack as a ZIP file: index.html and a file for each report, in the order of their names. The same
// contents give the same bytes.
func (c Contents) Write(w io.Writer) error {
	names := c.names()
	entries := make([]entry, 0, 2*len(c.Reports)+1)
	lines := make([]line, 0, len(c.Reports))
	for i, r := range c.Reports {
		l := line{Title: r.Title, HTML: names[i] + ".html"}
		entries = append(entries, entry{l.HTML, r.HTML})
		if r.PDF != nil {
			l.PDF = names[i] + ".pdf"
			entries = append(entries, entry{l.PDF, r.PDF})
		}
		lines = append(lines, l)
	}
	slices.SortFunc(lines, func(a, b line) int {
		return cmp.Or(cmp.Compare(strings.ToLower(a.Title), strings.ToLower(b.Title)), cmp.Compare(a.HTML, b.HTML))
	})
	index, err := c.index(lines)
	if err != nil {
		return err
	}
	entries = append(entries, entry{"index.html", index})
	slices.SortFunc(entries, func(a, b entry) int { return cmp.Compare(a.name, b.name) })
	z := zip.NewWriter(w)
	for _, e := range entries {
		head := &zip.FileHeader{Name: e.name, Method: zip.Deflate, Modified: c.Pack.AskedAt.UTC()}
		head.SetMode(0o600)
		f, err := z.CreateHeader(head)
		if err == nil {
			_, err = f.Write(e.data)
		}
		if err != nil {
			return fmt.Errorf("write %s into the pack: %w", e.name, err)
		}
	}
	return z.Close()
}

// names are the reports' file names without an ending. Players of one name get their id as well.
func (c Contents) names() []string {
	times := map[string]int{}
	for _, r := range c.Reports {
		times[strings.ToLower(r.Name)]++ // some systems do not tell capitals
	}
	names := make([]string, len(c.Reports))
	for i, r := range c.Reports {
		if names[i] = r.Name; times[strings.ToLower(r.Name)] > 1 {
			names[i] = paper.FileName(r.Name, fmt.Sprint(r.PlayerID))
		}
	}
	return names
}

// index is a page with a link to each report.
func (c Contents) index(lines []line) ([]byte, error) {
	t, err := template.ParseFS(pages, "index.html")
	if err != nil {
		return nil, fmt.Errorf("parse the index of packs: %w", err)
	}
	zone := c.Zone
	if zone == nil {
		zone = time.UTC
	}
	var body, file bytes.Buffer
	err = t.Execute(&body, map[string]any{"Contents": c, "Lines": lines,
		"On": paper.Day(c.Pack.AskedAt.In(zone).Format(time.DateOnly))})
	if err == nil {
		err = paper.WriteFile(&file, paper.Sheet{Title: c.Squad + ": season reports " + c.Season,
			Body: template.HTML(body.String())}) // escaped by the template
	}
	if err != nil {
		return nil, fmt.Errorf("write the index of a pack: %w", err)
	}
	return file.Bytes(), nil
}
