package api_test

import (
	"os"
	"regexp"
	"strconv"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper/pdf"
	"throughline/reports/paper/pdf/pdftest"
)

// packed is how many players the squad of the benchmark has.
const packed = 40

// BenchmarkPackOfForty is a pack of forty season reports, from the order to the last report, on PostgreSQL with workers
// as a server has them. The reported peak is that of the whole process, with the demonstration's season loaded and
// fitted in it before; a browser is a process of its own.
func BenchmarkPackOfForty(b *testing.B) {
	d := demonstrate(b)
	d.fillSquad(b)
	for name, printer := range map[string]func() *pdf.Printer{
		"HTML": func() *pdf.Printer { return nil }, "PDF": func() *pdf.Printer { return pdftest.Printer(b) },
	} {
		b.Run(name, func(b *testing.B) {
			prints := printer()
			makePacks(b, d.Store, prints, nil)
			who := d.as(b, d.Manager)
			for b.Loop() {
				p := models.ReportPack{SquadID: d.SquadID, SeasonID: d.SeasonID, Edition: "staff", PDF: prints != nil}
				d.inPack(b, who, func(tx *store.Tx) error { return tx.CreateReportPack(&p) })
				id := p.ID
				look := time.NewTicker(100 * time.Millisecond)
				for p.State == models.PackMaking {
					<-look.C
					err := d.Read(b.Context(), who, func(tx *store.Tx) (err error) {
						p, err = tx.ReportPack(id)
						return err
					})
					if err != nil {
						b.Fatal(err)
					}
				}
				look.Stop()
				if p.State != models.PackReady || p.Players != packed {
					b.Fatalf("%+v", p)
				}
				d.inPack(b, who, func(tx *store.Tx) error { return tx.DeleteReportPack(id) })
			}
			b.ReportMetric(peak(b), "peak-MB")
		})
	}
}

func (d *demonstration) inPack(b *testing.B, who models.Who, fn func(*store.Tx) error) {
	b.Helper()
	if err := d.Write(b.Context(), who, fn); err != nil {
		b.Fatal(err)
	}
}

// fillSquad puts players of other squads into the squad until it has so many.
func (d *demonstration) fillSquad(b *testing.B) {
	b.Helper()
	d.inPack(b, models.Console(d.Academy.ID), func(tx *store.Tx) error {
		in, err := tx.Players(models.PlayerFilter{SeasonID: d.SeasonID, SquadID: d.SquadID})
		if err != nil {
			return err
		}
		there := map[int64]bool{}
		for _, p := range in {
			there[p.ID] = true
		}
		season, err := tx.Season(d.SeasonID)
		if err != nil {
			return err
		}
		all, err := tx.Players(models.PlayerFilter{SeasonID: d.SeasonID})
		for _, p := range all {
			if err == nil && len(there) < packed && !there[p.ID] {
				there[p.ID] = true
				err = tx.CreateMembership(&models.Membership{PlayerID: p.ID, SquadID: d.SquadID, SeasonID: d.SeasonID,
					From: season.Starts})
			}
		}
		return err
	})
}

var peakLine = regexp.MustCompile(`VmHWM:\s+(\d+) kB`)

// peak is the most memory that this process has had, in MB; 0 where the system does not say.
func peak(b *testing.B) float64 {
	b.Helper()
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	m := peakLine.FindSubmatch(status)
	if m == nil {
		return 0
	}
	kB, err := strconv.ParseFloat(string(m[1]), 64)
	if err != nil {
		b.Fatal(err)
	}
	return kB / 1024
}
