package pack_test

import (
	"archive/zip"
	"bytes"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/reports/pack"
)

func contents() pack.Contents {
	asked := time.Date(2026, time.May, 30, 22, 30, 0, 0, time.UTC)
	return pack.Contents{Pack: models.ReportPack{Edition: "staff", AskedAt: asked}, Squad: "Under <18>",
		Season: "2025-26", Edition: "staff edition", Zone: time.FixedZone("", 2*60*60),
		Reports: []models.PackedReport{
			{PlayerID: 9, Name: "report-Wren-Tolley", Title: "Wren Tolley", HTML: []byte("the second Wren")},
			{PlayerID: 3, Name: "report-Wren-tolley", Title: "Wren tolley", HTML: []byte("the first Wren"),
				PDF: []byte("%PDF-")},
			{PlayerID: 5, Name: "report-Ash-Lund", Title: "Ash Lund", HTML: []byte("Ash")},
		}}
}

// The outside source is the standard library's reader, which checks each file's sum.
func TestThePackIsInTheOrderOfItsNamesAndAlwaysTheSame(t *testing.T) {
	var made, again bytes.Buffer
	turned := contents()
	slices.Reverse(turned.Reports)
	if err := contents().Write(&made); err != nil {
		t.Fatal(err)
	}
	if err := turned.Write(&again); err != nil || !bytes.Equal(made.Bytes(), again.Bytes()) {
		t.Errorf("the same reports in another order give other bytes, %v", err)
	}
	z, err := zip.NewReader(bytes.NewReader(made.Bytes()), int64(made.Len()))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	files := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		names, files[f.Name] = append(names, f.Name), string(text)
		if !f.Modified.Equal(contents().Pack.AskedAt) || f.Mode().Perm() != 0o600 {
			t.Errorf("%s is of %v, with mode %v", f.Name, f.Modified, f.Mode())
		}
	}
	// Two players of one name, in other capitals, which some systems do not tell apart.
	want := []string{"index.html", "report-Ash-Lund.html", "report-Wren-Tolley-9.html", "report-Wren-tolley-3.html",
		"report-Wren-tolley-3.pdf"}
	if !slices.Equal(names, want) || files[want[2]] != "the second Wren" || files[want[3]] != "the first Wren" {
		t.Errorf("it has %q", names)
	}
	for _, has := range []string{
		"Under &lt;18&gt;", "3 reports, staff edition, made on 31 May 2026", // where the academy is
		`<a href="report-Wren-tolley-3.html">Wren tolley</a> · <a href="report-Wren-tolley-3.pdf">PDF</a>`} {
		if !strings.Contains(files["index.html"], has) {
			t.Errorf("the index lacks %q:\n%s", has, files["index.html"])
		}
	}
	if name := contents().FileName(); name != "season-reports-Under-18-2025-26-staff.zip" {
		t.Errorf("the file is called %s", name)
	}
}
