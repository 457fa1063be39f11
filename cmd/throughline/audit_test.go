package main_test

import (
	"regexp"
	"strings"
	"testing"
)

func TestAuditVerifyFindsWhatWasChanged(t *testing.T) {
	folder := t.TempDir()
	for _, args := range []string{"import totals season.csv --academy Harbour"} {
		write(t, folder, "season.csv",
			"season,squad,match_date,opponent,player,minutes,carries\n2025-26,Colts,2025-10-04,Fellmoor,Bram Oakes,60,5\n")
		if r := runIn(t, folder, strings.Fields(args)...); r.code != 0 {
			t.Fatalf("%s: %+v", args, r)
		}
	}
	r := runIn(t, folder, "audit", "verify")
	mark := regexp.MustCompile(`Harbour: (\d+) entries unchanged, 0 of them with an erased payload; ` +
		`the mark of the last is\n  ` +
		`(\d+:[0-9a-f]{64})\n`).FindStringSubmatch(r.out)
	if r.code != 0 || mark == nil {
		t.Fatalf("%+v", r)
	}
	if again := runIn(t, folder, "audit", "verify", "--since", mark[2]); again.code != 0 ||
		!strings.Contains(again.out, mark[2]) {
		t.Errorf("with the mark: %+v", again)
	}
	if cut := runIn(t, folder, "audit", "verify", "--since", "999"+mark[2]); cut.code != 1 ||
		!strings.Contains(cut.err, "have been cut off") {
		t.Errorf("with a mark beyond the end: %+v", cut)
	}
	if other := runIn(t, folder, "audit", "verify", "--since", mark[2][:len(mark[2])-64]+
		strings.Repeat("0", 64)); other.code != 1 ||
		!strings.Contains(other.err, "does not match the mark you noted") {
		t.Errorf("with another's mark: %+v", other)
	}
	if wrong := runIn(t, folder, "audit", "verify", "--since", "7"); wrong.code != 2 {
		t.Errorf("with half a mark: %+v", wrong)
	}
}
