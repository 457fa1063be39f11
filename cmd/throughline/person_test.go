package main_test

import (
	"archive/zip"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"throughline/models"
)

func TestAPersonsDataCanBeTakenAwayAndErased(t *testing.T) {
	folder := t.TempDir()
	write(t, folder, "season.csv", "season,squad,match_date,opponent,player,minutes,carries\n"+
		"2025-26,Colts,2025-10-04,Fellmoor,Bram Oakes,60,5\n2025-26,Colts,2025-10-04,Fellmoor,Tove Lind,70,9\n")
	if r := runIn(t, folder, "import", "totals", "season.csv", "--academy", "Harbour"); r.code != 0 {
		t.Fatalf("%+v", r)
	}
	r := runIn(t, folder, "person", "export", "--player", "Bram Oakes", "--out", "bram.zip", "--asked-by", "guardian")
	if r.code != 0 {
		t.Fatalf("%+v", r)
	}
	info, err := os.Stat(filepath.Join(folder, "bram.zip"))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the archive: %v, %v; want it readable for nobody else", info, err)
	}
	archive, err := zip.OpenReader(filepath.Join(folder, "bram.zip"))
	if err != nil || len(archive.File) != 2 {
		t.Fatalf("%v, %v", archive, err)
	}
	if err := archive.Close(); err != nil {
		t.Error(err)
	}
	if again := runIn(t, folder, "person", "export", "--player", "Bram Oakes", "--out", "bram.zip"); again.code != 1 {
		t.Errorf("over a file that is there: %+v", again)
	}
	if wrong := runIn(t, folder, "person", "erase", "--player", "Bram Oakes", "--confirm", "Bram"); wrong.code != 1 ||
		!strings.HasPrefix(wrong.err, `throughline: name: "Bram" is not the name of player`) {
		t.Errorf("with half a name: %+v", wrong)
	}
	erased := runIn(t, folder, "person", "erase", "--player", "Bram Oakes", "--confirm", "Bram Oakes", "--asked-by",
		"guardian")
	var proof models.DataRequest
	if err := json.Unmarshal([]byte(erased.out), &proof); err != nil || proof.Kind != models.RequestErasure ||
		proof.Counts["players"] != 1 {
		t.Fatalf("%+v, %v", erased, err)
	}
	if r := runIn(t, folder, "audit", "verify"); r.code != 0 || !strings.Contains(r.out, "with an erased payload") ||
		!strings.Contains(r.out, "Harbour: ") || strings.Contains(r.out[strings.Index(r.out, "Harbour: "):], " 0 of them") {
		t.Errorf("%+v", r)
	}
	if r := runIn(t, folder, "report", "--player", "Bram Oakes", "--season", "2025-26", "--out", "r.html"); r.code != 1 {
		t.Errorf("a report on him: %+v", r)
	}
	if r := runIn(t, folder, "report", "--player", "Tove Lind", "--season", "2025-26", "--out", "r.html"); r.code != 0 {
		t.Errorf("a report on another: %+v", r)
	}
	if misused := runIn(t, folder, "person", "erase", "--player", "x", "--confirm", "x", "--asked-by",
		"me"); misused.code != 2 {
		t.Errorf("%+v", misused)
	}
}
