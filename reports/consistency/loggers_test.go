package consistency

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"throughline/models"
	"throughline/reports/paper"
)

// twice has Corin and Briar log 40 carries of player 1 in the match, Briar one fewer and with other words for three.
func twice(d *desk) *desk {
	d.logged = map[int64][]models.Involvement{}
	for n, logger := range []int64{102, 101} {
		log := models.Log{Record: models.Record{ID: int64(5 + n)}, PlayerID: 1, MatchID: 7, LoggerID: logger,
			Kinds: []models.Kind{models.KindCarry}}
		for i := range 40 - n {
			contact := "won"
			if n == 1 && i < 3 {
				contact = "even"
			}
			d.logged[log.ID] = append(d.logged[log.ID], models.Involvement{LogID: log.ID, Kind: models.KindCarry,
				Clock: models.Clock{Half: 1, Second: 30 * i}, Details: map[string]string{"contact": contact}})
		}
		d.logs = append(d.logs, log)
	}
	return d
}

func TestWhatTwoLoggersHaveIsComparedByNumberForTheStaffRoomAndByNameForManagers(t *testing.T) {
	d := twice(season(5, 0.6))
	for _, c := range []struct {
		who           models.Who
		edition       Edition
		first, second string
	}{
		{manager, Names, "Corin", "Briar"}, {manager, StaffRoom, "Logger 1", "Logger 2"},
		{briar, StaffRoom, "Logger 1", "You"},
	} {
		all := madeAs(t, d, c.who, c.edition).Loggers
		if len(all.Doubles) != 1 || len(all.Doubles[0].Pairs) != 1 || all.Doubles[0].Opponent != "Harbour" {
			t.Fatalf("%+v", all)
		}
		p := all.Doubles[0].Pairs[0]
		if p.First != c.first || p.Second != c.second || p.Found == nil || p.Found.Matched != 39 ||
			p.Found.OnlyFirst != 1 || p.Found.OnlySecond != 0 {
			t.Errorf("%s for %s: %+v, %+v", c.edition, c.who.Role, p, p.Found)
		}
	}
}

// The latest matches are compared; of the others it is said that two people logged them.
func TestOnlyTheLatestMatchesAreCompared(t *testing.T) {
	d := twice(&desk{})
	for player := int64(2); player <= mostCompared+1; player++ {
		for n := range int64(2) {
			log := models.Log{Record: models.Record{ID: 10*player + n}, PlayerID: player, MatchID: 7, LoggerID: 100 + n,
				Kinds: []models.Kind{models.KindCarry}}
			d.logs = append(d.logs, log)
		}
	}
	r := made(t, d, manager)
	if len(r.Loggers.Doubles) != mostCompared+1 || r.Loggers.Compared != mostCompared {
		t.Errorf("%d of %d compared", r.Loggers.Compared, len(r.Loggers.Doubles))
	}
	page, _ := drawn(t, d, manager, Names)
	if !strings.Contains(page, "Earlier matches that two people logged") {
		t.Error("the page does not name the others")
	}
}

// drawn are the page and the file of an edition.
func drawn(t *testing.T, d *desk, who models.Who, e Edition) (page, file string) {
	t.Helper()
	p, err := Paper(nil)
	if err != nil {
		t.Fatal(err)
	}
	copied, err := p.Read(context.Background(), d, paper.Asked{Who: who, Edition: string(e),
		Now: time.Date(2026, 5, 1, 10, 0, 0, 0, time.UTC), IDs: map[paper.Subject]int64{paper.OfSquad: 1, paper.OfSeason: 1}})
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := copied.Sheet(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := copied.WriteFile(context.Background(), &b); err != nil {
		t.Fatal(err)
	}
	return string(sheet.Body), b.String()
}

// A sheet for the staff room names no coach. The one that a manager makes for it has no severity either. The sheet with
// names has no letters.
func TestNoSheetSaysWhoALetterIs(t *testing.T) {
	d := twice(season(5, 0.6))
	names, _ := d.UserNames()
	console := models.Who{AcademyID: 1, Role: models.RoleConsole}
	for _, who := range []models.Who{manager, console, briar} {
		page, file := drawn(t, d, who, StaffRoom)
		data, err := json.Marshal(madeAs(t, d, who, StaffRoom))
		if err != nil {
			t.Fatal(err)
		}
		for form, text := range map[string]string{"page": page, "file": file, "JSON": string(data)} {
			for id, name := range names {
				if strings.Contains(text, name) || strings.Contains(text, fmt.Sprintf(`"user_id":%d`, id)) {
					t.Errorf("the %s for a %s names %s", form, who.Role, name)
				}
			}
			own := strings.Contains(text, "stricter than") || strings.Contains(text, `"shared"`)
			if !strings.Contains(text, "Coach A") || own != (who.UserID == briar.UserID) {
				t.Errorf("the %s for a %s: severity %t\n%.300s", form, who.Role, own, text)
			}
		}
		if strings.Contains(file, "href=") {
			t.Errorf("the file for a %s leads somewhere", who.Role)
		}
	}
	page, file := drawn(t, d, manager, Names)
	for _, text := range []string{page, file} {
		if strings.Contains(text, "Coach ") || strings.Contains(text, "Logger ") || !strings.Contains(text, "Briar") {
			t.Error("the edition with names has letters or numbers, or no names")
		}
	}
	for who, want := range map[*models.Who]models.Code{&briar: models.Forbidden, &console: models.Forbidden,
		{Role: models.RoleSelector}: models.Forbidden, {Role: models.RolePlayer}: models.Forbidden} {
		p, err := Paper(nil)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := p.Read(context.Background(), d, paper.Asked{Who: *who, Edition: string(Names)}); models.CodeOf(err) !=
			want {
			t.Errorf("a %s asks for names: %v", who.Role, err)
		}
	}
}

// A coach’s letter is the same on every sheet for the staff room, so that two coaches can talk about what they read.
func TestALetterIsTheSameForEveryReader(t *testing.T) {
	d := season(5, 0.6)
	all, own := madeAs(t, d, manager, StaffRoom), madeAs(t, d, briar, StaffRoom)
	for i, a := range all.Disagreements {
		for j, seen := range a.Grades {
			if other := own.Disagreements[i].Grades[j].Coach; other != "You" && other != seen.Coach {
				t.Fatalf("%s is %s to a coach", seen.Coach, other)
			}
		}
	}
}
