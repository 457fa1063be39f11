// Package pack makes the season reports of a whole squad as one ZIP file.
//
// A report is read as by the member of staff who asked: with their reach, and with an entry in the audit trail, as when
// they open it. Each is kept as soon as it is made, so a job that is cut short goes on with the next one, and no more
// than one report is in memory. All reports of a pack have the time at which it was asked for: the same records give
// the same bytes.
package pack

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"throughline/models"
	"throughline/reports/paper"
	"throughline/reports/paper/pdf"
	"throughline/reports/season"
)

// Records is where packs are kept, and what their reports are read from.
type Records interface {
	// Order returns a pack and its reports without their files; NotFound where it is no more.
	Order(ctx context.Context, academy, id int64) (models.ReportPack, []models.PackedReport, error)
	// Who returns a user as they are now; NotFound where they are no more.
	Who(ctx context.Context, academy, user int64) (models.Who, error)
	// Read calls fn with what papers are read from, as a user.
	Read(ctx context.Context, who models.Who, fn func(source any) error) error
	// Keep keeps a report that was made; NotFound where its pack is no more.
	Keep(ctx context.Context, r models.PackedReport) error
	// End marks a pack as ready and its job as done; NotFound where it is no more.
	End(ctx context.Context, academy, id int64) error
	// Drop deletes a pack, if it is there.
	Drop(ctx context.Context, academy, id int64) error
}

// Maker makes packs in the background.
type Maker struct {
	records Records
	paper   paper.Paper
	printer *pdf.Printer
}

// NewMaker returns a maker of packs of season reports. Without a printer it makes no PDF.
func NewMaker(records Records, report paper.Paper, printer *pdf.Printer) *Maker {
	return &Maker{records: records, paper: report, printer: printer}
}

// limit is far above what the largest squad takes on a small machine, with PDF.
const limit = 10 * time.Minute

// Kind is the kind of job that makes packs.
func (m *Maker) Kind() models.JobKind {
	return models.JobKind{Name: models.PackTask{}.Kind(), Limit: limit, Do: m.do}
}

// do makes what is still missing of a pack.
func (m *Maker) do(ctx context.Context, job models.RunningJob) error {
	var task models.PackTask
	if err := job.Task(&task); err != nil {
		return err
	}
	academy := job.Who().AcademyID
	err := m.make(ctx, academy, task.PackID, job.Progress)
	switch models.CodeOf(err) {
	case models.NotFound: // deleted, or over
		return nil
	case models.Forbidden: // not for its maker any more
		return m.records.Drop(ctx, academy, task.PackID)
	}
	return err
}

// forbidden is the error of a pack whose maker does not reach a player in it, or is gone.
var forbidden = models.Errorf(models.Forbidden, "the pack is not for who asked for it any more")

func (m *Maker) make(ctx context.Context, academy, id int64, tell func(float64, string)) error {
	pack, reports, err := m.records.Order(ctx, academy, id)
	if err != nil {
		return err
	}
	for i, r := range reports {
		tell(float64(i)/float64(len(reports)), fmt.Sprintf("report %d of %d", i+1, len(reports)))
		if r.MadeAt != nil {
			continue
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		// Their squads may have changed since the last report.
		who, err := m.records.Who(ctx, academy, pack.UserID)
		if models.CodeOf(err) == models.NotFound {
			return forbidden
		}
		if err != nil {
			return err
		}
		who.From = models.Here
		if err := m.report(ctx, pack, who, &r); err != nil {
			return err
		}
		if err := m.records.Keep(ctx, r); err != nil {
			return err
		}
	}
	return m.records.End(ctx, academy, id)
}

// report makes one report.
func (m *Maker) report(ctx context.Context, pack models.ReportPack, who models.Who, r *models.PackedReport) error {
	asked := paper.Asked{Who: who, Now: who.Local(pack.AskedAt), Edition: pack.Edition,
		IDs: map[paper.Subject]int64{paper.OfPlayer: r.PlayerID, paper.OfSeason: pack.SeasonID}}
	var read *paper.Copy
	err := m.records.Read(ctx, who, func(source any) (err error) {
		read, err = m.paper.Read(ctx, source, asked)
		return err
	})
	if models.CodeOf(err) == models.NotFound {
		return forbidden
	}
	if err != nil {
		return fmt.Errorf("make a report of pack %d: %w", pack.ID, err)
	}
	var file bytes.Buffer
	if err := read.WriteFile(ctx, &file); err != nil {
		return fmt.Errorf("make a report of pack %d: %w", pack.ID, err)
	}
	r.Name, r.Title, r.HTML = read.FileName(), read.Title(), file.Bytes()
	if pack.PDF {
		if r.PDF, err = m.printer.Print(ctx, r.HTML); err != nil {
			return fmt.Errorf("print a report of pack %d: %w", pack.ID, err)
		}
	}
	return nil
}

// Editions are the editions of the season report that the caller may have a pack of. A guardian's print is made for one
// guardian at a time.
func Editions(report paper.Paper, who models.Who) (all []paper.Edition) {
	for _, e := range report.EditionsFor(who) {
		if e.Code != string(season.GuardianPrint) {
			all = append(all, e)
		}
	}
	return all
}

// Check refuses a pack that is asked for in an edition that the caller may not have, or with PDF where nothing prints.
// The error has the places edition and pdf.
func Check(report paper.Paper, who models.Who, p models.ReportPack, printer *pdf.Printer) error {
	var bad []models.FieldError
	codes := []string{}
	known := false
	for _, e := range Editions(report, who) {
		codes = append(codes, e.Code)
		known = known || e.Code == p.Edition
	}
	if !known && len(codes) > 0 {
		bad = append(bad, models.FieldError{Where: "edition",
			Message: fmt.Sprintf("%q is not an edition for a pack; choose one of %s", p.Edition, strings.Join(codes, ", "))})
	}
	if p.PDF && printer == nil {
		bad = append(bad, models.FieldError{Where: "pdf",
			Message: "this server cannot make PDF, because it has no Chromium; ask for the pack without"})
	}
	if len(bad) > 0 {
		return &models.Error{Code: models.Invalid, Message: "the pack cannot be made", Fields: bad}
	}
	return nil
}

// ReportIn returns the season report among all papers.
func ReportIn(all paper.Papers) (paper.Paper, error) {
	if report, ok := all.Find("season-report"); ok {
		return report, nil
	}
	return paper.Paper{}, errors.New("there is no season report among the papers")
}
