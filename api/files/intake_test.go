package files_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"throughline/api/files"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
	seasonreport "throughline/reports/season"
)

const untimedHeader = "season,squad,match_date,opponent,player,minutes,carries,tackles_made,tackles_missed\n"

// reportOf makes the season report of the only player of a name.
func reportOf(t *testing.T, s *store.Store, who models.Who, name string) (r *seasonreport.Report) {
	t.Helper()
	read(t, s, who, func(tx *store.Tx) error {
		players, err := tx.Players(models.PlayerFilter{Name: name})
		if err != nil {
			return err
		}
		seasons, err := tx.Seasons(models.SeasonFilter{})
		if err != nil {
			return err
		}
		r, err = seasonreport.Read(t.Context(), tx, seasonreport.Request{PlayerID: players[0].ID, SeasonID: seasons[0].ID,
			Who: who,
			Now: time.Date(2025, 9, 15, 12, 0, 0, 0, time.UTC)})
		return err
	})
	return r
}

// A match without minutes has counts and no rate; papers and limits say how many such matches there are, and the same
// file with the minutes filled in completes it.
func TestEmptyMinutesAreNotRecordedAndNeverZero(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		write(t, s, who, func(tx *store.Tx) error {
			return tx.CreateMinutesLimit(&models.MinutesLimit{Name: "A week", Days: 7, Minutes: 120, WarnAt: 0.8})
		})
		text := untimedHeader + "2025-26,Colts,2025-09-06,Fellmoor,Bram Oakes,60,4,6,2\n" +
			"2025-26,Colts,2025-09-10,Saltby,Bram Oakes,,7,9,1\n"
		sum := imported(t, s, who, text)
		if sum.WithoutMinutes != 1 || !strings.Contains(sum.String(), "minutes: not recorded in 1 appearance: "+
			"counts are kept") {
			t.Errorf("the summary says\n%s", sum)
		}
		read(t, s, who, func(tx *store.Tx) error {
			appearances, err := tx.Appearances(models.AppearanceFilter{})
			if err != nil {
				return err
			}
			if a := appearances[1]; !a.MinutesNotRecorded || a.Minutes != 0 {
				t.Errorf("the appearance is %+v, want minutes that were not recorded", a)
			}
			observed, err := tx.Observations(models.ObservationFilter{MatchID: appearances[1].MatchID})
			if err != nil {
				return err
			}
			for _, o := range observed {
				if o.Indicator == "carries" || o.Indicator == "tackles" {
					t.Errorf("a rate without minutes: %+v", o)
				}
			}
			loads, err := tx.PlayerLoad(appearances[0].PlayerID, "2025-09-12")
			if err != nil {
				return err
			}
			if l := loads[0]; l.Now != 60 || l.UnrecordedNow != 1 || l.WarningNow != models.LoadUnknown ||
				!strings.Contains(l.WordsNow, "the minutes of 1 match were not recorded") {
				t.Errorf("the load is %+v", l)
			}
			return nil
		})
		r := reportOf(t, s, who, "Bram Oakes")
		if r.Summary.Matches != 2 || r.Summary.WithoutMinutes != 1 || r.Summary.Minutes != 60 {
			t.Errorf("the report's summary is %+v", r.Summary)
		}
		for _, l := range r.Indicators {
			switch l.Code {
			case "carries":
				if l.Matches != 1 || l.WithoutMinutes != 1 || l.Numerator != 4 ||
					!strings.Contains(l.Evidence(), "not counting 1 match without minutes") {
					t.Errorf("carries per match: %+v, %q", l, l.Evidence())
				}
			case "tackle_completion":
				if l.Matches != 2 || l.Numerator != 15 || l.Denominator != 18 {
					t.Errorf("a proportion needs no minutes: %+v", l)
				}
			}
		}
		m := r.Matches[1]
		if m.MinutesWords() != "not recorded" || m.CountWords() != "carries 7, tackles made 9, tackles missed 1" {
			t.Errorf("the match has minutes %q and counts %q", m.MinutesWords(), m.CountWords())
		}
		const sentence = "We have minutes for 1 of them (60 in all) but not for the other 1."
		if !strings.Contains(r.Sentences[0].Text, sentence) {
			t.Errorf("the first sentence is %q, want %q in it", r.Sentences[0].Text, sentence)
		}
		if again := imported(t, s, who, text); again.Appearances != (files.Tally{Unchanged: 2}) {
			t.Errorf("the same file again:\n%s", again)
		}
		filled := strings.Replace(text, "Oakes,,", "Oakes,50,", 1)
		sum = imported(t, s, who, filled)
		if sum.Appearances != (files.Tally{Changed: 1, Unchanged: 1}) || sum.WithoutMinutes != 0 ||
			!strings.Contains(sum.String(),
				"column minutes (Colts v Saltby, 2025-09-10, Bram Oakes): was not recorded, now 50") {
			t.Errorf("the file with its minutes says\n%s", sum)
		}
		if r = reportOf(t, s, who, "Bram Oakes"); r.Summary.WithoutMinutes != 0 || r.Summary.Minutes != 110 {
			t.Errorf("the completed summary is %+v", r.Summary)
		}
		if back := imported(t, s, who, text); back.Appearances != (files.Tally{Unchanged: 2}) {
			t.Errorf("an empty cell takes recorded minutes back:\n%s", back)
		}
	})
}

// The length of a half comes from the age band that the squad has, or that the name of a new squad states, and the
// summary says which and why.
func TestAHalfIsAsLongAsUsualInTheAgeBand(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		write(t, s, who, func(tx *store.Tx) error { return tx.CreateSquad(&models.Squad{Name: "Foxes", AgeBand: 14}) })
		line := func(squad, minutes string) string {
			return "2025-26," + squad + ",2025-09-06,Fellmoor,P " + squad + "," + minutes + "\n"
		}
		sum := imported(t, s, who, "season,squad,match_date,opponent,player,minutes\n"+line("Foxes", "40")+
			line("Under 16", "60")+line("Girls U18", "")+line("Seniors", "80")+line("Under 17", "80"))
		for _, want := range []string{
			"half length: 25 minutes assumed for 1 new match of Foxes: usual for under 14.",
			"half length: 30 minutes assumed for 1 new match of Under 16: usual for under 16.",
			"half length: 35 minutes assumed for 1 new match of Girls U18: usual for under 18.",
			"half length: 40 minutes assumed for 1 new match of Seniors: usual for adults, and no age band is on file.",
			"half length: 40 minutes assumed for 1 new match of Under 17: line 6 has 80 minutes, more than the 70 of a usual " +
				"match for under 17.",
			"This is common practice: check your competition's rules.",
		} {
			if !strings.Contains(sum.String(), want) {
				t.Errorf("the summary does not say %q:\n%s", want, sum)
			}
		}
		chosen, err := importTotals(t.Context(), s, who,
			strings.NewReader("season,squad,match_date,opponent,player,minutes\n"+
				"2025-26,Foxes,2025-09-13,Saltby,P Foxes,50\n"), files.TotalsOptions{HalfMinutes: 30})
		if err != nil || len(chosen.Halves) != 0 {
			t.Errorf("with a length that was chosen: %v\n%s", err, chosen)
		}
		read(t, s, who, func(tx *store.Tx) error {
			matches, err := tx.Matches(models.MatchFilter{})
			lengths := ""
			for _, m := range matches {
				lengths += fmt.Sprint(m.HalfMinutes, " ")
			}
			if lengths != "25 30 35 40 40 30 " {
				t.Errorf("halves last %s", lengths)
			}
			return err
		})
	})
}

const peopleHeader = "season,squad,match_date,opponent,player,minutes,born_on,positions\n"

// A new player gets the file's birth date and positions, one without them is completed, and the summary names none.
func TestAFileBringsBirthDatesAndPositions(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		imported(
			t, s, who, "season,squad,match_date,opponent,player,minutes\n2025-26,Colts,2025-09-06,Fellmoor,Bram Oakes,60\n")
		text := peopleHeader + "2025-26,Colts,2025-09-06,Fellmoor,Bram Oakes,60,2008-03-14,flanker number_eight\n" +
			"2025-26,Colts,2025-09-06,Fellmoor,Tove Lind,60,2009-01-02,\"lock, flanker\"\n" +
			"2025-26,Colts,2025-09-13,Saltby,Tove Lind,60,,\n"
		sum := imported(t, s, who, text)
		if sum.Players != (files.Tally{Created: 1, Changed: 1}) || sum.BirthDates != 2 || sum.Positions != 2 {
			t.Errorf("the summary says\n%s", sum)
		}
		for _, secret := range []string{"2008-03-14", "2009-01-02"} {
			if strings.Contains(sum.String(), secret) {
				t.Errorf("the summary names a birth date:\n%s", sum)
			}
		}
		read(t, s, who, func(tx *store.Tx) error {
			players, err := tx.Players(models.PlayerFilter{})
			got := ""
			for _, p := range players {
				got += fmt.Sprint(p.Name, " ", *p.BornOn, " ", p.Positions, "\n")
			}
			if want := "Bram Oakes 2008-03-14 [flanker number_eight]\nTove Lind 2009-01-02 [lock flanker]\n"; got != want {
				t.Errorf("the players are\n%swant\n%s", got, want)
			}
			if err != nil {
				return err
			}
			trail, err := tx.AuditEntries(models.AuditFilter{Kind: "player", RecordID: players[0].ID})
			if len(trail) != 2 {
				t.Errorf("the trail has %d entries of the completed player, want 2", len(trail))
			}
			return err
		})
		if again := imported(t, s, who, text); again.Players != (files.Tally{Unchanged: 2}) {
			t.Errorf("the same file again:\n%s", again)
		}
	})
}

// A birth date or positions that differ from those on file, or from another line, are refused, and nothing is written.
// The refusal says both positions and no birth date.
func TestAFileThatContradictsAPlayerIsRefusedWithoutABirthDate(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		imported(t, s, who, peopleHeader+"2025-26,Colts,2025-09-06,Fellmoor,Bram Oakes,60,2008-03-14,flanker\n")
		before := recordedOf(t, s, who)
		const row = "2025-26,Colts,2025-09-13,Saltby,Bram Oakes,60,"
		for _, c := range []struct{ lines, want string }{
			{row + "2008-04-13,\n", `line 2, column born_on: the birth date on file for Bram Oakes is different; correct`},
			{row + ",lock\n", `line 2, column positions: "lock": on file for Bram Oakes is flanker`},
			{row + "14/03/2008,\n", `line 2, column born_on: not a birth date; write the day as 2009-03-14`},
			{row + "2025-10-01,\n", `line 2, column born_on: is after the match on 2025-09-13`},
			{row + "2023-03-14,\n", `would make the player 2 on the day of the match`},
			{row + ",wingman\n", `line 2, column positions: "wingman"`},
			{"2025-26,Colts,2025-09-13,Saltby,New Kid,60,2009-01-01,\n2025-26,Colts,2025-09-20,Saltby,New Kid,60,2009-01-02,\n",
				`line 3, column born_on: line 2 has another birth date for the same player`},
		} {
			err := refused(t, s, who, peopleHeader+c.lines)
			if !strings.Contains(err.Error(), c.want) {
				t.Errorf("the error is %v, want %q", err, c.want)
			}
			text := strings.ReplaceAll(err.Error(), "2009-03-14", "") // the example
			for _, secret := range []string{"2008", "2009", "2023", "2025-10-01"} {
				if strings.Contains(text, secret) {
					t.Errorf("the error names a birth date: %v", err)
				}
			}
		}
		wantRecorded(t, s, who, before)
	})
}

// The main position comes first; the order of the others is no conflict, on file or between lines.
func TestPositionsInAnotherOrderAgreeIfTheMainOneIsTheSame(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		const line = "2025-26,Colts,2025-09-%s,Fellmoor,Bram Oakes,60,,%s\n"
		imported(t, s, who, peopleHeader+fmt.Sprintf(line, "06", "flanker lock number_eight"))
		sum := imported(t, s, who, peopleHeader+fmt.Sprintf(line, "13", "flanker number_eight lock")+
			fmt.Sprintf(line, "20", "flanker lock number_eight"))
		if sum.Players != (files.Tally{Unchanged: 1}) {
			t.Errorf("the summary says\n%s", sum)
		}
		err := refused(t, s, who, peopleHeader+fmt.Sprintf(line, "27", "lock flanker number_eight"))
		if !strings.Contains(err.Error(), "on file for Bram Oakes is flanker lock number_eight") {
			t.Errorf("another main position: %v", err)
		}
	})
}

// A file without the column minutes is read like one with empty cells, and the summary says so.
func TestAFileWithoutTheColumnMinutesIsRead(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		bare := strings.Replace(untimedHeader, "minutes,", "", 1) + "2025-26,Colts,2025-09-06,Fellmoor,Bram Oakes,4,6,2\n"
		sum := imported(t, s, who, bare)
		if sum.WithoutMinutes != 1 || !strings.Contains(sum.String(), "minutes: the file has no column minutes, so they "+
			"are not recorded in 1 appearance") {
			t.Errorf("the summary says\n%s", sum)
		}
		if r := reportOf(t, s, who, "Bram Oakes"); r.Summary.WithoutMinutes != 1 || r.Summary.Minutes != 0 {
			t.Errorf("the report's summary is %+v", r.Summary)
		}
		imported(t, s, who, untimedHeader+"2025-26,Colts,2025-09-06,Fellmoor,Bram Oakes,60,4,6,2\n")
		again := imported(t, s, who, bare)
		if again.Appearances != (files.Tally{Unchanged: 1}) || !strings.Contains(again.String(), "recorded minutes stay") {
			t.Errorf("without the column after minutes were recorded:\n%s", again)
		}
	})
}

// Who may not change players completes none by a file.
func TestACoachCompletesNoPlayerByAFile(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		const line = "2025-26,Colts,2025-09-06,Fellmoor,Bram Oakes,60"
		imported(t, s, who, "season,squad,match_date,opponent,player,minutes\n"+line+"\n")
		coach := models.Who{AcademyID: who.AcademyID, Name: "Gil Stone", Role: models.RoleCoach}
		write(t, s, who, func(tx *store.Tx) error {
			squads, err := tx.Squads(models.SquadFilter{})
			if err != nil {
				return err
			}
			user := models.User{Login: "gil", Name: coach.Name, Role: models.RoleCoach}
			if err := tx.CreateUser(&user); err != nil {
				return err
			}
			coach.UserID, coach.SquadIDs = user.ID, []int64{squads[0].ID}
			return tx.AddSquadStaff(user.ID, squads[0].ID)
		})
		err := refused(t, s, coach, peopleHeader+line+",2008-03-14,\n")
		if models.CodeOf(err) != models.Forbidden || strings.Contains(err.Error(), "2008") {
			t.Errorf("the error is %v, want forbidden, without the birth date", err)
		}
	})
}

// Totals of a match with a head contact are kept, and the summary says that they are withheld from trends.
func TestTheSummarySaysWhichTotalsAHeadContactWithholds(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		who := academy(t, s)
		const text = "season,squad,match_date,opponent,player,minutes,carries\n" +
			"2025-26,Colts,2025-09-06,Fellmoor,Bram Oakes,60,4\n2025-26,Colts,2025-09-06,Fellmoor,Tove Lind,60,5\n"
		if sum := imported(t, s, who, text); len(sum.Withheld) != 0 {
			t.Errorf("before the head contact:\n%s", sum)
		}
		write(t, s, who, func(tx *store.Tx) error {
			matches, err := tx.Matches(models.MatchFilter{})
			if err != nil {
				return err
			}
			players, err := tx.Players(models.PlayerFilter{Name: "Bram Oakes"})
			if err != nil {
				return err
			}
			return tx.CreateHeadContact(&models.HeadContact{PlayerID: players[0].ID, Date: "2025-09-06",
				MatchID: &matches[0].ID, Clock: &models.Clock{Half: 2, Second: 3000}})
		})
		sum := imported(t, s, who, strings.Replace(text, ",60,4", ",60,8", 1))
		if len(sum.Withheld) != 1 || sum.Withheld[0].Player != "Bram Oakes" || !strings.Contains(sum.String(),
			"line 2 (Colts v Fellmoor, 2025-09-06, Bram Oakes): head contact at") || !strings.Contains(sum.String(),
			"Totals without a clock are kept but left out of trends.") {
			t.Errorf("the summary says\n%s", sum)
		}
	})
}
