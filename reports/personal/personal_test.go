package personal

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"io"
	"strings"
	"testing"
	"time"

	"throughline/models"
)

// record is a short one of our own invention.
func record(t *testing.T) models.PersonalRecord {
	t.Helper()
	raw := func(v any) json.RawMessage {
		text, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	match := int64(8)
	born := models.Date("2008-10-03")
	return models.PersonalRecord{
		Academy: "Harbour Academy", MadeAt: time.Date(2025, 11, 3, 18, 4, 0, 0, time.UTC),
		Player: models.Player{Record: models.Record{ID: 12}, Name: "Bram Oakes", BornOn: &born,
			Positions: []models.Position{"flanker"}},
		Staff: map[int64]string{3: "Colm Reyes"},
		Matches: []json.RawMessage{raw(models.Match{Record: models.Record{ID: 8}, Date: "2025-10-04",
			Opponent: "Fellmoor"})},
		Parts: []models.PersonalPart{
			{Code: "review_notes", Title: "Review notes", Users: []string{"author_id"}, Items: []json.RawMessage{
				raw(models.ReviewNote{Record: models.Record{ID: 40}, PlayerID: 12, AuthorID: 3, Date: "2025-10-12",
					MatchID: &match, Shared: true, Text: "Feet <b>first</b>."}),
				raw(models.ReviewNote{Record: models.Record{ID: 41}, PlayerID: 12, AuthorID: 3, Date: "2025-10-19",
					Text: "Watch his minutes."}),
			}},
			{Code: "goals", Title: "Goals"},
		},
	}
}

func TestTheArchiveHoldsTheRecordForPeopleAndForPrograms(t *testing.T) {
	want := record(t)
	var b bytes.Buffer
	if err := WriteArchive(&b, want); err != nil {
		t.Fatal(err)
	}
	archive, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	files := map[string]string{}
	for _, f := range archive.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		files[f.Name] = string(text)
	}
	var got models.PersonalRecord
	if err := json.Unmarshal([]byte(files["record.json"]), &got); err != nil || len(files) != 2 ||
		got.Player.Name != want.Player.Name || len(got.Parts[0].Items) != 2 {
		t.Fatalf("%d files, %+v, %v", len(files), got, err)
	}
	page := files["record.html"]
	for _, words := range []string{
		"Everything kept about Bram Oakes", "Colm Reyes", "Fellmoor, 4 Oct 2025", "Feet &lt;b&gt;first&lt;/b&gt;.",
		"Watch his minutes.", "3 Oct 2008", "<li>Goals</li>",
	} {
		if !strings.Contains(page, words) {
			t.Errorf("the page does not say %q", words)
		}
	}
	if strings.Contains(page, "<script") || strings.Contains(page, "http://") || strings.Contains(page, "https://") {
		t.Error("the page reaches outside itself")
	}
}

// A kind says which of its members name users. Nothing goes by how a member is called.
func TestUsersAreNamedWhereTheirKindSaysSo(t *testing.T) {
	r := record(t)
	r.Parts = []models.PersonalPart{
		{Code: "visits", Title: "Visits", Users: []string{"guide"}, Items: []json.RawMessage{[]byte(`{"guide":3}`)}},
	}
	for want, users := range map[bool][]string{true: {"guide"}, false: nil} {
		r.Parts[0].Users = users
		var page bytes.Buffer
		if err := WritePage(&page, r); err != nil || strings.Contains(page.String(), "Colm Reyes") != want {
			t.Errorf("with the users %q: the name stands there %v, %v", users, !want, err)
		}
	}
}

func TestTheSameRecordGivesTheSamePage(t *testing.T) {
	var a, b bytes.Buffer
	if err := WritePage(&a, record(t)); err != nil {
		t.Fatal(err)
	}
	if err := WritePage(&b, record(t)); err != nil {
		t.Fatal(err)
	}
	if a.String() != b.String() {
		t.Error("two pages of one record differ")
	}
}
