package paper

import (
	"context"
	"fmt"
	"io"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"

	"throughline/models"
)

// Subject names a kind of record that a paper is about. Its value is what an address and a command call the record.
type Subject string

// The subjects that papers are about.
const (
	OfPlayer  Subject = "player"
	OfSquad   Subject = "squad"
	OfSeason  Subject = "season"
	OfMatch   Subject = "match"
	OfMeeting Subject = "meeting"
)

// collection is the first word of a record's address: "players".
func (s Subject) collection() string {
	if s == OfMatch {
		return "matches"
	}
	return string(s) + "s"
}

// Facts are what a kind of paper says of itself.
type Facts struct {
	Code    string        // names the kind in commands, descriptions and file names: "season-report"
	Word    string        // the last word of its addresses: "report"
	Name    string        // what people call it, inside a sentence: "season report"
	About   string        // what a programmer must know of it
	Of      []Subject     // the records that it is about, in the order of its address
	Front   bool          // its page is the page of those records, and has no last word
	Areas   []models.Area // what a caller must be able to read; it is not there for others
	Example any           // what it looks like as JSON
	// Editions are the ways in which it is made; none if it is the same for every reader. Readers get the first that is
	// for their role unless they ask for another.
	Editions []Edition
	// Closed is what readers without an edition are told, as Forbidden: "may not read how far grades agree". Where it is
	// empty they are told that there is no such paper.
	Closed string
}

// Page is the address of the paper's page, with the names of its subjects in braces:
// "/players/{player}/seasons/{season}".
func (f Facts) Page() string {
	if f.Front {
		return f.path("")
	}
	return f.path("") + "/" + f.Word
}

// File is the address of the paper as a file.
func (f Facts) File() string { return f.path("") + "/" + f.Word + ".html" }

// PDF is the address of the same file printed as PDF.
func (f Facts) PDF() string { return f.path("") + "/" + f.Word + ".pdf" }

// Resource is the address of the paper for programs. There the first subject is called "id", as it is in the addresses
// of records.
func (f Facts) Resource() string { return f.path("id") + "/" + f.Word }

func (f Facts) path(first string) string {
	var b strings.Builder
	for i, s := range f.Of {
		name := string(s)
		if i == 0 && first != "" {
			name = first
		}
		b.WriteString("/" + s.collection() + "/{" + name + "}")
	}
	return b.String()
}

// Asked says which copy of a paper is wanted, for whom and when.
type Asked struct {
	IDs map[Subject]int64
	Who models.Who
	Now time.Time // printed on the paper, so that the same request gives the same bytes
	// AsOf is the last day of what the source reads; empty if it reads the record as it is. The paper says so.
	AsOf models.Date
	// Edition is the code of the edition that is wanted; empty for the reader's first. Kind.Read gets it filled in, of a
	// paper with editions.
	Edition string
}

// Query is what follows an address to ask for the same copy: "?edition=talk", or nothing.
func (a Asked) Query() string {
	q := url.Values{}
	if a.AsOf != "" {
		q.Set("as_of", string(a.AsOf))
	}
	if a.Edition != "" {
		q.Set("edition", a.Edition)
	}
	if len(q) == 0 {
		return ""
	}
	return "?" + q.Encode()
}

// AsOfWords say what a paper of an earlier day stands on; empty for one of today.
func (a Asked) AsOfWords() string {
	if a.AsOf == "" {
		return ""
	}
	return fmt.Sprintf("As of %s: this uses only records dated up to that day. Later corrections of those records "+
		"count.", Day(string(a.AsOf)))
}

// Address puts the ids asked for into an address with names in braces.
func (a Asked) Address(pattern string) string {
	for s, id := range a.IDs {
		pattern = strings.ReplaceAll(pattern, "{"+string(s)+"}", fmt.Sprint(id))
	}
	return pattern
}

// Content is what a paper says: its JSON is the same content as its page.
type Content interface {
	Title() string    // "Tam Okell: season report 2025-26"
	FileName() string // without an ending, see FileName
}

// Kind declares a kind of paper that is read from a Source and says a C.
type Kind[Source any, C Content] struct {
	Facts
	// Read reads a copy. The source knows the caller.
	Read func(context.Context, Source, Asked) (C, error)
	// Sheet draws it, for a page or a file.
	Sheet func(context.Context, C) (Sheet, error)
	// HandedOver returns the content without what is for staff only: a file may be passed on. It is nil if a paper has
	// nothing of that kind.
	HandedOver func(C) C
	// Trends returns the squads' seasons whose trends a copy shows; nil if it shows none.
	Trends func(Source, Asked) ([]models.SquadSeason, error)
}

// Paper is a kind of paper, whatever it is read from.
type Paper struct {
	Facts
	accepts func(source any) bool
	read    func(ctx context.Context, source any, a Asked) (*Copy, error)
	trends  func(source any, a Asked) ([]models.SquadSeason, error)
}

// Paper returns the kind as one among others.
func (k Kind[Source, C]) Paper() Paper {
	return Paper{
		Facts:   k.Facts,
		accepts: func(source any) bool { _, ok := source.(Source); return ok },
		read: func(ctx context.Context, source any, a Asked) (*Copy, error) {
			content, err := k.Read(ctx, source.(Source), a)
			if err != nil {
				return nil, err
			}
			draw := func(content C) func(context.Context) (Sheet, error) {
				return func(ctx context.Context) (Sheet, error) {
					sheet, err := k.Sheet(ctx, content)
					return sheet.saying(a.AsOfWords()), err
				}
			}
			read := &Copy{Content: content, sheet: draw(content), file: draw(content)}
			if k.HandedOver != nil {
				read.file = draw(k.HandedOver(content))
			}
			return read, nil
		},
		trends: func(source any, a Asked) ([]models.SquadSeason, error) {
			if k.Trends == nil {
				return nil, nil
			}
			return k.Trends(source.(Source), a)
		},
	}
}

// Read reads a copy from a source that Papers.Check accepts. Errors are the source's.
//
// Also Invalid where the paper has no such edition, and Forbidden where the edition is not for the caller's role.
func (p Paper) Read(ctx context.Context, source any, a Asked) (*Copy, error) {
	edition, err := p.EditionOf(a.Who, a.Edition)
	if err != nil {
		return nil, err
	}
	a.Edition = edition.Code
	return p.read(ctx, source, a)
}

// Accepts says whether the paper can be read from a source.
func (p Paper) Accepts(source any) bool { return p.accepts(source) }

// Trends returns the squads' seasons whose trends a copy shows, as the source knows them.
func (p Paper) Trends(source any, a Asked) ([]models.SquadSeason, error) { return p.trends(source, a) }

// Copy is a paper that was read.
type Copy struct {
	Content
	sheet func(context.Context) (Sheet, error)
	file  func(context.Context) (Sheet, error) // without what is for staff only
}

// Sheet draws the copy.
func (c *Copy) Sheet(ctx context.Context) (Sheet, error) { return c.sheet(ctx) }

// WriteFile writes the copy as one self-contained HTML file, without what is for staff only.
func (c *Copy) WriteFile(ctx context.Context, w io.Writer) error {
	sheet, err := c.file(ctx)
	if err != nil {
		return err
	}
	return WriteFile(w, sheet)
}

// Papers are all kinds of paper. A command writes the first if none is named.
type Papers []Paper

// Find returns the kind of a code.
func (all Papers) Find(code string) (Paper, bool) {
	if i := slices.IndexFunc(all, func(p Paper) bool { return p.Code == code }); i >= 0 {
		return all[i], true
	}
	return Paper{}, false
}

// Codes are the codes of all kinds, in order.
func (all Papers) Codes() []string {
	codes := make([]string, len(all))
	for i, p := range all {
		codes[i] = p.Code
	}
	return codes
}

// checkEditions says what is wrong with the editions of a paper.
func (p Paper) checkEditions() error {
	seen := map[string]bool{}
	for _, e := range p.Editions {
		switch {
		case !code.MatchString(e.Code) || seen[e.Code]:
			return fmt.Errorf("paper %s, edition %q: its code is lower-case words joined by hyphens, and its own",
				p.Code, e.Code)
		case e.Name == "" || e.About == "" || len(e.Roles) == 0:
			return fmt.Errorf("paper %s, edition %s: it needs a name, what it is about and the roles it is for",
				p.Code, e.Code)
		}
		seen[e.Code] = true
	}
	return nil
}

var code = regexp.MustCompile(`^[a-z]+(-[a-z]+)*$`)

// Check says what is wrong with the papers: a fact is missing, two share a code or an address, or one reads what the
// source does not have.
func (all Papers) Check(source any) error {
	taken := map[string]string{}
	for _, p := range all {
		switch {
		case !code.MatchString(p.Code) || !code.MatchString(p.Word):
			return fmt.Errorf("paper %q with the last word %q: both are lower-case words joined by hyphens", p.Code, p.Word)
		case p.Name == "" || p.About == "" || len(p.Of) == 0 || len(p.Areas) == 0 || p.Example == nil:
			return fmt.Errorf("paper %s: it needs a name, what it is about, its subjects, areas and an example", p.Code)
		case !p.accepts(source):
			return fmt.Errorf("paper %s reads what a %T does not have", p.Code, source)
		}
		for _, name := range []string{p.Code, p.Page(), p.File(), p.PDF(), p.Resource()} {
			if other, is := taken[name]; is {
				return fmt.Errorf("paper %s: %s is taken by %s", p.Code, name, other)
			}
			taken[name] = p.Code
		}
		if err := p.checkEditions(); err != nil {
			return err
		}
	}
	return nil
}

// FileName joins parts to a name that every file system takes: letters, digits, dots and underscores, with hyphens for
// all the rest.
func FileName(parts ...string) string {
	name := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || r == '.' || r == '_' {
			return r
		}
		return '-'
	}, strings.Join(parts, "-"))
	for strings.Contains(name, "--") {
		name = strings.ReplaceAll(name, "--", "-")
	}
	return strings.Trim(name, "-.")
}
