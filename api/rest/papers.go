package rest

import (
	"bytes"
	"net/http"
	"strconv"

	"github.com/danielgtaylor/huma/v2"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/asof"
	"throughline/reports/paper"
	"throughline/reports/paper/pdf"
)

// addressed is the input of an operation whose parameters are ids in its address, and the day of an earlier paper.
type addressed struct {
	AsOf string `query:"as_of" format:"date" doc:"Only data dated up to this day, as recorded today. For staff."`
	ids  map[string]int64
}

// editioned is the same of a paper with editions.
type editioned struct {
	AsOf    string `query:"as_of" format:"date" doc:"Only data dated up to this day, as recorded today. For staff."`
	Edition string `query:"edition" doc:"The edition you want; without it, the first that is for your role."`
	of      addressed
}

// Resolve reads the ids.
func (in *editioned) Resolve(ctx huma.Context) (bad []error) { return in.of.Resolve(ctx) }

// Resolve reads the ids.
func (in *addressed) Resolve(ctx huma.Context) (bad []error) {
	in.ids = map[string]int64{}
	for _, p := range ctx.Operation().Parameters {
		if p.In != "path" {
			continue
		}
		id, err := strconv.ParseInt(ctx.Param(p.Name), 10, 64)
		if err != nil || id < 1 {
			bad = append(bad, &huma.ErrorDetail{Location: "path." + p.Name, Message: "is not an id; ids are whole " +
				"numbers from 1 up"})
			continue
		}
		in.ids[p.Name] = id
	}
	return bad
}

// idParam describes an id in an address.
func idParam(name string, of paper.Subject) *huma.Param {
	least := 1.0
	return &huma.Param{
		Name: name, In: "path", Required: true, Description: "The id of the " + string(of),
		Schema: &huma.Schema{Type: huma.TypeInteger, Format: "int64", Minimum: &least, Description: "The id of the " +
			string(of)},
	}
}

// offer registers the papers, each as JSON and as a file.
func (s *Service) offer(all paper.Papers) {
	for _, p := range all {
		o := operation{
			method: http.MethodGet, path: p.Resource(), id: p.Code, summary: "Read a " + p.Name, part: learned,
			about: p.About + " With Accept: text/html you get one self-contained file to keep or print; with " +
				"Accept: application/pdf the same as PDF, or 409 from a server without a Chromium. A PDF has other bytes, and so " +
				"another ETag, each time.",
			gives: []content{{media: jsonType, example: p.Example}, {media: htmlType, example: "<!DOCTYPE html>…"},
				{media: pdf.Media, example: "(a PDF)"}},
			refusals: []int{http.StatusNotFound, http.StatusConflict},
		}
		for i, of := range p.Of {
			name := string(of)
			if i == 0 {
				name = "id"
			}
			o.params = append(o.params, idParam(name, of))
		}
		if len(p.Editions) == 0 {
			does(s, o, func(r *request, in *addressed) (*reply, error) { return s.paper(r, p, in.ids, in.AsOf, "") })
			continue
		}
		o.about += " It has these editions:"
		for _, e := range p.Editions {
			o.about += " **" + e.Code + "**: " + e.About
		}
		does(s, o, func(r *request, in *editioned) (*reply, error) {
			return s.paper(r, p, in.of.ids, in.AsOf, in.Edition)
		})
	}
}

// paper answers with a copy of a paper, as JSON or as a file.
func (s *Service) paper(r *request, p paper.Paper, ids map[string]int64, asOf, edition string) (*reply, error) {
	read, err := s.readPaper(r, p, ids, paper.Asked{AsOf: models.Date(asOf), Edition: edition})
	if err != nil {
		return nil, err
	}
	wanted := r.prefers(jsonType, htmlType, pdf.Media)
	if wanted == jsonType {
		return r.foundJSON("", read.Content)
	}
	var file bytes.Buffer
	if err := read.WriteFile(r, &file); err != nil {
		return nil, err
	}
	media, ending, made := htmlType+"; charset=utf-8", ".html", file.Bytes()
	if wanted == pdf.Media {
		media, ending = pdf.Media, ".pdf"
		if made, err = s.printer.Print(r, made); err != nil {
			return nil, err
		}
	}
	out, err := r.found(media, "", made)
	if err == nil {
		out.Disposition = `attachment; filename="` + p.Code + ending + `"`
	}
	return out, err
}

func (s *Service) readPaper(
	r *request, p paper.Paper, ids map[string]int64, asked paper.Asked,
) (read *paper.Copy, err error) {
	asked.IDs, asked.Who, asked.Now = map[paper.Subject]int64{}, r.who, r.who.Local(s.now())
	for i, of := range p.Of {
		name := string(of)
		if i == 0 {
			name = "id"
		}
		asked.IDs[of] = ids[name]
	}
	err = s.store.Read(r, r.who, func(tx *store.Tx) error {
		read, err = asof.ReadPaper(r, tx, p, asked, nil)
		return err
	})
	return read, err
}
