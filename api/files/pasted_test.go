package files_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"throughline/api/files"
	"throughline/models"
)

// problems are what an error says, each with its place.
func problems(err error) (all []string) {
	e, _ := errors.AsType[*models.Error](err)
	if e == nil {
		return nil
	}
	for _, f := range e.Fields {
		all = append(all, f.Where+": "+f.Message)
	}
	return all
}

func TestPastedPlayersAreReadWithAndWithoutAHeader(t *testing.T) {
	for name, text := range map[string]string{
		"tabs":         "Bryn Calder\t23/04/2009\tflanker/lock\nOwen Tarrant\t2008-11-03\tFly-half",
		"commas":       "Bryn Calder,23/4/2009,Flanker / Lock\r\n\r\nOwen Tarrant,3 Nov 2008,10\r\n",
		"semicolons":   "Bryn Calder;23.4.2009;openside/second row\nOwen Tarrant;03-11-2008;fly half",
		"header":       "Position\tDOB\tPlayer\nflanker/lock\t23/04/2009\tBryn Calder\nfly-half\t03/11/2008\tOwen Tarrant",
		"two names":    "First name,Surname,Born,Pos\nBryn,Calder,23/04/2009,flanker/lock\nOwen,Tarrant,3/11/2008,10",
		"quoted cells": "\"Bryn Calder\"\t23/04/2009\t\"flanker/lock\"\n\"Owen Tarrant\"\t03/11/2008\tfly half",
	} {
		got, _, err := files.ReadPlayers(text)
		if err != nil || len(got) != 2 {
			t.Errorf("%s: %+v, %v %q; want two players", name, got, err, problems(err))
			continue
		}
		a, b := got[0].Player, got[1].Player
		if a.Name != "Bryn Calder" || a.BornOn == nil || *a.BornOn != "2009-04-23" || len(a.Positions) != 2 ||
			a.Positions[0] != models.Flanker || a.Positions[1] != models.Lock || b.Name != "Owen Tarrant" ||
			*b.BornOn != "2008-11-03" || b.Position() != models.FlyHalf {
			t.Errorf("%s: %+v, %+v", name, a, b)
		}
	}
}

func TestEachErrorOfPastedRowsNamesRowAndColumnAndWhatWouldBeRight(t *testing.T) {
	_, _, err := files.ReadPlayers("name\tborn\tposition\nBryn Calder\t04/23/2009\tflanker\n\nOwen\t\twinker\n" +
		"\t1/1/2009\t\nBryn Calder\t1/2/2009\t\nBryn Calder\t1/2/2009\t")
	got := strings.Join(problems(err), "\n")
	for _, want := range []string{"row 2, born: “04/23/2009” is not a date; write day, month and year",
		"row 4, positions: “winker” is not a position; write one or several of prop, hooker",
		"row 5, name: is empty", "row 7, name: Bryn Calder stands in row 6 already"} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in:\n%s", want, got)
		}
	}
	season := models.Season{Name: "2025-26", Starts: "2025-08-01", Ends: "2026-06-30"}
	_, _, err = files.ReadFixtures("6/9/2025,Oakford,home,25:00,6\n6/9/2027,Fenby,nearby\n6/9/2025,Oakford", season)
	got = strings.Join(problems(err), "\n")
	for _, want := range []string{"row 1, kick-off: “25:00” is not a time",
		"row 1, difficulty: “6” is not a difficulty",
		"row 2, date: 2027-09-06 is not in the season 2025-26", "row 2, home or away: “nearby” is neither",
		"row 3, opponent: Oakford on 2025-09-06 stands in row 1 already"} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in:\n%s", want, got)
		}
	}
	players, left, err := files.ReadPlayers("name,shoe size,born\nBryn Calder,44,1/2/2009")
	if err != nil || len(players) != 1 || !slices.Equal(left, []string{"shoe size"}) {
		t.Errorf("%v, %q, %v; want the player without the shoe size", players, left, err)
	}
	_, left, err = files.ReadTeamSheet("1\tBryn Calder\t0\t80\tprop\tcaptain\n2\tOwen Tarrant\t0\t80\t\t")
	if err != nil || !slices.Equal(left, []string{"number 6"}) {
		t.Errorf("%q, %v; want the sixth cell of a row left out", left, err)
	}
	for text, want := range map[string]models.Date{"19/09/25": "2025-09-19", "1.2.26": "2026-02-01",
		"3 Mar 26": "2026-03-03", "04-05-26": "", "19/9/5": ""} {
		matches, _, err := files.ReadFixtures(text+"\tOakford", season)
		if got := matches[0].Match.Date; got != want || (err == nil) != (want != "") {
			t.Errorf("%s is read as %q, %v; want %q", text, got, err, want)
		}
	}
}

// FuzzPasted checks that no text breaks the reading, and that what is read is valid.
func FuzzPasted(f *testing.F) {
	for _, text := range []string{"", "Bryn Calder\t23/04/2009\tflanker", "name,born\nBryn,\"1/2/2009", "a;b;c\n;;;;;;",
		"\ufeffdate,opponent\n2025-09-06,Oakford", "1\tBryn\t0\t55:30\tprop", "\"\n\"", "first name,last name\n,"} {
		f.Add(text)
	}
	season := models.Season{Name: "2025-26", Starts: "2025-08-01", Ends: "2026-06-30"}
	f.Fuzz(func(t *testing.T, text string) {
		if players, _, err := files.ReadPlayers(text); err == nil {
			for _, p := range players {
				if wrong := p.Player.Validate(); wrong != nil {
					t.Errorf("%+v: %v", p, wrong)
				}
			}
		}
		if matches, _, err := files.ReadFixtures(text, season); err == nil {
			for _, m := range matches {
				if !season.Has(m.Match.Date) || m.Match.Opponent == "" {
					t.Errorf("%+v is outside the season or against no one", m)
				}
			}
		}
		if lines, _, err := files.ReadTeamSheet(text); err == nil && len(lines) == 0 {
			t.Error("nothing was read and nothing is wrong")
		}
	})
}
