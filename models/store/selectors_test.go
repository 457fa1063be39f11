package store_test

import (
	"encoding/json"
	"fmt"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// leftOut are the colts without whom trends for selectors are to be made, as a list, and whether the trends are
// behind.
func (w *world) leftOut(t *testing.T) (list string, behind bool) {
	t.Helper()
	read(t, w.s, models.Console(w.academy.ID), func(tx *store.Tx) error {
		out, err := tx.LeftOut(w.season.ID, w.colts.ID)
		if err != nil {
			return err
		}
		list = models.PlayerList(out)
		behind, err = tx.TrendsBehind(w.season.ID, w.colts.ID)
		return err
	})
	return list, behind
}

// keepBoth keeps trends of the colts, and with them those that were made without the players hidden from selectors.
func (w *world) keepBoth(t *testing.T, trends ...models.Trend) {
	t.Helper()
	out, _ := w.leftOut(t)
	write(t, w.s, models.Console(w.academy.ID), func(tx *store.Tx) error {
		of := models.SquadSeason{SeasonID: w.season.ID, SquadID: w.colts.ID, Revision: w.revision(t), LeftOut: out}
		return tx.KeepTrends(of, trends)
	})
}

// told is what a caller is told about the trends of the colts, and those that they read.
func (w *world) told(t *testing.T, who models.Who, verdicts ...string) string {
	t.Helper()
	text := ""
	read(t, w.s, who, func(tx *store.Tx) error {
		withheld, err := tx.TrendsWithheld(w.season.ID, w.colts.ID)
		if err != nil {
			return err
		}
		of, err := tx.SquadSeason(w.season.ID, w.colts.ID)
		if err != nil {
			return err
		}
		text = fmt.Sprintf("withheld %v, behind %v:", withheld, of.Fitted != of.Revision)
		f := models.TrendFilter{SeasonID: w.season.ID, SquadID: w.colts.ID, Verdicts: verdicts}
		if len(verdicts) > 0 {
			f.Parts = models.TrendVerdicts
		}
		all, err := tx.Trends(f)
		for _, made := range all {
			text += fmt.Sprintf(" %d %s %s", made.PlayerID, made.Verdict, made.Figures.Verdict)
			if made.ForSelectors != nil || made.SelectorsVerdict != "" || who.Role == models.RoleSelector &&
				made.Revision != of.Fitted {
				t.Errorf("a trend carries more than what %s reads: %+v", who.Role, made)
			}
		}
		return err
	})
	return text
}

func TestASelectorReadsTheTrendsThatHiddenPlayersHaveNoPartIn(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		mates := w.addCarriers(t, 3, 4)
		w.require(t, models.PurposeSelection)
		both := fmt.Sprintf("%d,%d", w.bram.ID, w.tove.ID)
		if out, behind := w.leftOut(t); out != both || !behind {
			t.Fatalf("%q are to be left out, behind %v; want %q, the two minors", out, behind, both)
		}
		apart := full("steady")
		trends := []models.Trend{
			{PlayerID: mates[0].ID, Indicator: "carries", Figures: full("improving"), ForSelectors: &apart},
			{PlayerID: w.bram.ID, Indicator: "carries", Figures: full("improving")},
		}
		w.keepBoth(t, trends...)
		check := func(what string, who models.Who, want string, verdicts ...string) {
			t.Helper()
			if got := w.told(t, who, verdicts...); got != want {
				t.Errorf("%s: %s reads %q, want %q", what, who.Role, got, want)
			}
		}
		whole := fmt.Sprintf("withheld false, behind false: %d improving improving %d improving improving", w.bram.ID,
			mates[0].ID)
		steady := fmt.Sprintf(" %d steady steady", mates[0].ID)
		check("kept", w.manager, whole)
		check("kept", w.selector, "withheld false, behind false:"+steady)
		check("kept", w.selector, "withheld false, behind false:"+steady, "steady")
		check("kept", w.selector, "withheld false, behind false:", "improving")

		squadSeason := func() (of models.SquadSeason) {
			read(t, w.s, w.selector, func(tx *store.Tx) (err error) {
				of, err = tx.SquadSeason(w.season.ID, w.colts.ID)
				return err
			})
			return of
		}
		was := squadSeason()
		today.day = "2025-10-05"
		again := models.Involvement{LogID: w.log.ID, Clock: clock(1, 20, 0), Kind: models.KindCarry,
			Details: map[string]string{"contact": "won", "gain_line": "over"}}
		write(t, w.s, w.coach, func(tx *store.Tx) error { return tx.CreateInvolvement(&again) })
		check("a hidden player's log has changed", w.selector, "withheld false, behind true:"+steady)
		w.keepBoth(t, trends...)
		if now := squadSeason(); now != was {
			t.Errorf("a hidden player's log has changed, and the selector is told %+v, before %+v", now, was)
		}
		apart.Matches++
		w.keepBoth(t, trends...)
		if now := squadSeason(); now.Revision <= was.Revision {
			t.Errorf("what selectors read has changed, and they are told of revision %d after %d", now.Revision, was.Revision)
		}

		consent := models.Consent{PlayerID: w.bram.ID, Purpose: models.PurposeSelection, GivenBy: "A guardian",
			Relation: models.ByGuardian, On: "2025-09-01", Until: ptr(models.Date("2025-10-31"))}
		write(t, w.s, w.manager, func(tx *store.Tx) error { return tx.CreateConsent(&consent) })
		if out, behind := w.leftOut(t); out != fmt.Sprint(w.tove.ID) || !behind {
			t.Errorf("with a guardian's consent to bram %q are to be left out, behind %v", out, behind)
		}
		check("more are left out than are hidden", w.selector, "withheld false, behind false:"+steady)
		w.keepBoth(t, trends...)
		check("one is left out", w.selector, "withheld false, behind false:"+steady)
		today.day = "2025-11-01"
		check("the consent has ended", w.selector, "withheld true, behind true:")
		if _, behind := w.leftOut(t); !behind {
			t.Error("the consent has ended, and the trends do not count as behind")
		}
		w.keepBoth(t, trends...)
		check("made again", w.selector, "withheld false, behind false:"+steady)
		check("nothing of it is told the staff", w.manager, whole)
	})
}

func TestTrendsAreMadeAgainWhenOtherPlayersAreHiddenFromSelectors(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		ordered := func() (n int) {
			write(t, s, w.manager, func(tx *store.Tx) error {
				all, err := tx.Jobs(100)
				for _, j := range all {
					var task models.RefitTask
					if err := json.Unmarshal(j.Task, &task); err != nil {
						return err
					}
					if j.State != models.JobWaiting {
						continue
					}
					if task.SeasonID == w.season.ID && task.SquadID == w.colts.ID {
						n++
					}
					if err := tx.CancelJob(j.ID); err != nil {
						return err
					}
				}
				return err
			})
			return n
		}
		w.keepBoth(t)
		ordered()
		selector := models.User{Login: "another", Name: "Another", Role: models.RoleSelector}
		consent := models.Consent{PlayerID: w.bram.ID, Purpose: models.PurposeSelection, GivenBy: "A guardian",
			Relation: models.ByGuardian, On: "2025-09-01"}
		for _, step := range []struct {
			what string
			do   func(tx *store.Tx) error
			want int
		}{
			{"a user who is no selector", func(tx *store.Tx) error {
				return tx.CreateUser(&models.User{Login: "coaching", Name: "Coaching", Role: models.RoleCoach})
			}, 0},
			{"consent is required", func(tx *store.Tx) error {
				rules, err := tx.Settings()
				rules.Requires = []models.Purpose{models.PurposeSelection}
				if err != nil {
					return err
				}
				return tx.SaveSettings(&rules)
			}, 1},
			{"a guardian's consent", func(tx *store.Tx) error { return tx.CreateConsent(&consent) }, 1},
			{"it is deleted", func(tx *store.Tx) error { return tx.DeleteConsent(consent.ID, consent.Version) }, 1},
			{"another birth date", func(tx *store.Tx) error {
				w.bram.BornOn = ptr(models.Date("2000-01-01"))
				return tx.UpdatePlayer(&w.bram)
			}, 1},
			{"the last selector leaves", func(tx *store.Tx) error {
				u, err := tx.User(w.selector.UserID)
				if err != nil {
					return err
				}
				return tx.DeleteUser(u.ID, u.Version)
			}, 1},
			{"another comes", func(tx *store.Tx) error { return tx.CreateUser(&selector) }, 1},
		} {
			before := w.revision(t)
			write(t, s, w.manager, step.do)
			if got := ordered(); got != step.want {
				t.Errorf("%s: %d jobs are ordered, want %d", step.what, got, step.want)
			}
			if now := w.revision(t); now != before {
				t.Errorf("%s: counts as a change of the data", step.what)
			}
			w.keepBoth(t)
		}
	})
}

// What a team did, minus what is visible, is what a hidden player did: a selector reads no total of the team in a
// match in which someone hidden took part, and its events name no one to them. A filter tells no more than the list
// does.
func TestTotalsAndEventsOfAMatchDoNotTellASelectorWhatAHiddenPlayerDid(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		mate := w.addCarriers(t, 3)[0]
		other := models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: w.match.Date.AddDays(7),
			Opponent: "Fellmoor",
			Halves:   2, HalfMinutes: 35}
		write(t, s, w.manager, func(tx *store.Tx) error {
			if err := tx.CreateMatch(&other); err != nil {
				return err
			}
			if err := tx.CreateAppearance(&models.Appearance{MatchID: other.ID, PlayerID: mate.ID, Minutes: 70}); err != nil {
				return err
			}
			for _, of := range []struct{ match, player int64 }{{w.match.ID, w.bram.ID}, {w.match.ID, mate.ID},
				{other.ID, mate.ID}} {
				e := models.MatchEvent{MatchID: of.match, Clock: clock(1, 9, 0), Kind: models.EventTry, PlayerID: &of.player}
				if err := tx.CreateMatchEvent(&e); err != nil {
					return err
				}
			}
			for _, match := range []int64{w.match.ID, other.ID} {
				total := models.TeamTotals{MatchID: match, Scope: models.WholeTeam, Counts: models.Counts{"carries": 80}}
				if err := tx.CreateTeamTotals(&total); err != nil {
					return err
				}
			}
			return nil
		})
		names := map[int64]string{0: "-", w.bram.ID: "bram", mate.ID: "mate"}
		reads := func(who models.Who, by models.Narrow) (text string) {
			read(t, s, who, func(tx *store.Tx) error {
				events, err := store.Narrow(tx, by, func() ([]models.MatchEvent, error) { return tx.MatchEvents(0) })
				if err != nil {
					return err
				}
				for _, e := range events {
					if e.Kind == models.EventTry {
						text += fmt.Sprintf("try of %v in %d; ", names[orZero(e.PlayerID)], e.MatchID)
					}
				}
				totals, err := tx.TeamTotals(models.TeamTotalsFilter{PlayerID: by.PlayerID})
				for _, total := range totals {
					text += fmt.Sprintf("total of %d; ", total.MatchID)
				}
				return err
			})
			return text
		}
		first, second := w.match.ID, other.ID
		open := fmt.Sprintf("try of bram in %d; try of mate in %d; try of mate in %d; total of %d; total of %d; ", first,
			first, second, first, second)
		check := func(what string, who models.Who, by models.Narrow, want string) {
			t.Helper()
			if got := reads(who, by); got != want {
				t.Errorf("%s: %s reads\n%s, want\n%s", what, who.Role, got, want)
			}
		}
		ofBram, ofMate := models.Narrow{PlayerID: w.bram.ID}, models.Narrow{PlayerID: mate.ID}
		check("no one is hidden", w.selector, models.Narrow{}, open)
		check("no one is hidden", w.selector, ofBram, fmt.Sprintf("try of bram in %d; total of %d; ", first, first))
		check("another player", w.bramHimself, ofMate, "")
		w.require(t, models.PurposeSelection)
		check("bram is hidden", w.selector, models.Narrow{},
			fmt.Sprintf("try of - in %d; try of - in %d; try of mate in %d; total of %d; ", first, first, second, second))
		check("bram is hidden", w.selector, ofBram, "")
		check("bram is hidden", w.selector, ofMate, fmt.Sprintf("try of mate in %d; total of %d; ", second, second))
		check("bram is hidden", w.coach, models.Narrow{}, open)
		var totals []models.TeamTotals
		read(t, s, w.manager, func(tx *store.Tx) (err error) {
			totals, err = tx.TeamTotals(models.TeamTotalsFilter{MatchID: first})
			return err
		})
		refused(t, s, w.selector, models.NotFound, func(tx *store.Tx) error {
			_, err := tx.TeamTotal(totals[0].ID)
			return err
		})
	})
}

func orZero(id *int64) int64 {
	if id == nil {
		return 0
	}
	return *id
}
