package store_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// evidence is what a caller reads of a meeting's kept evidence.
func (w *world) evidence(t testing.TB, who models.Who, meeting int64) (all []models.CandidateEvidence, text string) {
	t.Helper()
	read(t, w.s, who, func(tx *store.Tx) (err error) { all, err = tx.CandidateEvidence(meeting); return err })
	said, err := json.Marshal(all)
	if err != nil {
		t.Fatal(err)
	}
	return all, string(said)
}

// wave are draws of a level.
func wave(level float64) models.Draws {
	draws := make(models.Draws, models.DrawsKept)
	for d := range draws {
		draws[d] = level + math.Sin(float64(d)*level)/20
	}
	return draws
}

// step moves a meeting on.
func (w *world) step(t testing.TB, who models.Who, m *models.Meeting, to models.MeetingStatus) {
	t.Helper()
	write(t, w.s, who, func(tx *store.Tx) error { m.Status = to; return tx.UpdateMeeting(m) })
}

func TestASelectorReadsEvidenceInWhichHiddenPlayersHaveNoPart(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		mates := w.addCarriers(t, 3, 4, 5, 6, 7, 8)
		m := w.meeting()
		m.Candidates = append(m.Candidates, models.Candidate{PlayerID: mates[0].ID, Place: "Back row"})
		write(t, w.s, w.manager, func(tx *store.Tx) error { return tx.CreateMeeting(&m) })
		w.require(t, models.PurposeSelection)
		consent := models.Consent{PlayerID: w.bram.ID, Purpose: models.PurposeSelection, GivenBy: "A guardian",
			Relation: models.ByGuardian, On: "2025-09-01", Until: ptr(models.Date("2025-10-31"))}
		write(t, w.s, w.manager, func(tx *store.Tx) error { return tx.CreateConsent(&consent) })
		level := func(mean float64) models.TrendFigures {
			return models.TrendFigures{Verdict: "steady", Matches: 5, Now: &models.Estimate{Mean: mean}}
		}
		var trends []models.Trend
		for n, p := range append([]models.Player{w.bram}, mates...) {
			apart := level(0.25)
			trends = append(trends, models.Trend{PlayerID: p.ID, Indicator: "contact_won", Figures: level(0.77),
				Draws: wave(0.7 + float64(n)/20), ForSelectors: &apart, SelectorsDraws: wave(0.2 + float64(n)/20)})
		}
		trends = append(trends, models.Trend{PlayerID: w.tove.ID, Indicator: "contact_won", Figures: level(0.99),
			Draws: wave(0.99)}) // whom selectors are not shown
		w.keepBoth(t, trends...)
		w.step(t, w.manager, &m, models.MeetingLocked)
		w.step(t, w.manager, &m, models.MeetingOpened)

		if all, _ := w.evidence(t, w.manager, m.ID); len(all) != 3 || all[0].Lines[0].Level.Mean != 0.77 {
			t.Fatalf("the manager reads %+v; want three candidates, with everyone’s figures", all)
		}
		all, text := w.evidence(t, w.selector, m.ID)
		if len(all) != 2 {
			t.Fatalf("the selector reads %s; want bram and the mate", text)
		}
		for _, e := range all {
			l := e.Lines[0]
			if e.PlayerID == w.tove.ID || l.Level == nil || l.Level.Mean != 0.25 || l.Mean > 0.6 || l.Players != 7 ||
				e.Withheld != "" {
				t.Errorf("the selector reads %+v; want the figures made without Tove", e)
			}
		}
		if strings.Contains(text, "0.77") || strings.Contains(text, "0.99") {
			t.Errorf("the selector reads figures that a hidden player has a part in: %s", text)
		}
		today.day = "2025-11-01" // bram's consent has ended: the copy was made with bram
		all, text = w.evidence(t, w.selector, m.ID)
		if len(all) != 1 || all[0].PlayerID != mates[0].ID || all[0].Withheld == "" || all[0].Lines != nil {
			t.Errorf("after a consent ended the selector reads %s; want the mate alone, without figures", text)
		}
		if all, _ := w.evidence(t, w.manager, m.ID); len(all) != 3 {
			t.Errorf("the manager reads %d candidates; want 3 still", len(all))
		}
	})
}

func TestWarningsAreKeptAsTheyWereWhenTheComparisonWasOpened(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		w.require(t, models.PurposeFilming)
		write(t, s, w.manager, func(tx *store.Tx) error {
			return tx.CreateSpell(&models.Spell{PlayerID: w.tove.ID, Status: models.Unavailable, From: "2026-03-10",
				Until: ptr(models.Date("2026-03-20"))})
		})
		m := w.held(t)
		write(t, s, w.manager, func(tx *store.Tx) error {
			return tx.CreateStandDown(&models.StandDown{PlayerID: w.tove.ID, From: "2026-03-14"})
		})
		warned := func(who models.Who) map[models.WarningKind]string {
			all, _ := w.evidence(t, who, m.ID)
			said := map[models.WarningKind]string{}
			for _, e := range all {
				for _, warning := range e.Warnings {
					if e.PlayerID == w.tove.ID {
						said[warning.Kind] = warning.Text
					}
				}
			}
			return said
		}
		for _, who := range []models.Who{w.manager, w.coach, w.selector} {
			said := warned(who)
			if said[models.WarnUnavailable] != "Unavailable from 10 Mar 2026 until 20 Mar 2026." ||
				said[models.WarnStandDown] != "" {
				t.Errorf("a %s reads %v; want the spell, and no stand-down from after the opening", who.Role, said)
			}
			// selectors read no consents, so they are warned of none
			if got := said[models.WarnConsent] != ""; got != (who.Role != models.RoleSelector) {
				t.Errorf("a %s is warned of a missing consent: %v, in %v", who.Role, got, said)
			}
		}
	})
}

// A candidate of another squad has figures, from that squad's season, and they are not compared.
func TestACandidateOfAnotherSquadHasFiguresThatAreNotCompared(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		both := w.addStaff(t, "both", models.RoleSelector, w.colts.ID, w.juniors.ID)
		write(t, s, models.Console(w.academy.ID), func(tx *store.Tx) error {
			of, err := tx.SquadSeason(w.season.ID, w.juniors.ID)
			if err != nil {
				return err
			}
			return tx.KeepTrends(of, []models.Trend{{PlayerID: w.iver.ID, Indicator: "contact_won", Draws: wave(0.4),
				Figures: models.TrendFigures{Verdict: "steady", Matches: 6, Now: &models.Estimate{Mean: 0.41}}}})
		})
		m := w.meeting()
		m.Candidates = append(m.Candidates, models.Candidate{PlayerID: w.iver.ID, Place: "Back row"})
		write(t, s, w.manager, func(tx *store.Tx) error { return storetest.Hold(tx, &m, models.MeetingOpened) })
		for _, who := range []models.Who{w.manager, both} {
			all, text := w.evidence(t, who, m.ID)
			found := false
			for _, e := range all {
				l := e.Lines[0]
				found = found || e.PlayerID == w.iver.ID && l.Level != nil && l.Level.Mean == 0.41 && l.Standard == nil &&
					l.Squad == w.juniors.Name && strings.Contains(l.Missing, "from the season of "+w.juniors.Name)
			}
			if !found {
				t.Errorf("a %s reads %s; want Iver’s figures of the juniors, not compared", who.Role, text)
			}
		}
		w.require(t, models.PurposeSelection)
		write(t, s, w.manager, func(tx *store.Tx) error { // to be shown, while another junior is not
			hidden := models.Player{Name: "Odd Lang", BornOn: ptr(models.Date("2011-01-01"))}
			if err := tx.CreatePlayer(&hidden); err != nil {
				return err
			}
			return all(func() error {
				return tx.CreateMembership(&models.Membership{SeasonID: w.season.ID, SquadID: w.juniors.ID, PlayerID: hidden.ID,
					From: w.season.Starts})
			}, func() error {
				return tx.CreateConsent(&models.Consent{PlayerID: w.iver.ID, Purpose: models.PurposeSelection,
					GivenBy: "A guardian", Relation: models.ByGuardian, On: "2025-09-01"})
			})
		})
		if _, text := w.evidence(t, both, m.ID); strings.Contains(text, "0.41") {
			t.Errorf("a selector reads figures that were made with a hidden junior: %s", text)
		}
	})
}

func TestASelectorDoesNotDecideWhileACandidateWhoIsHiddenFromThemIsUndecided(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		m := w.held(t) // bram chosen, tove undecided
		w.require(t, models.PurposeSelection)
		write(t, s, w.manager, func(tx *store.Tx) error {
			return tx.CreateConsent(&models.Consent{PlayerID: w.bram.ID, Purpose: models.PurposeSelection,
				GivenBy: "A guardian", Relation: models.ByGuardian, On: "2025-09-01"})
		})
		decide := func(who models.Who) error {
			return s.Write(t.Context(), who, func(tx *store.Tx) error {
				seen, err := tx.Meeting(m.ID)
				if err != nil {
					return err
				}
				seen.Status = models.MeetingDecided
				return tx.UpdateMeeting(&seen)
			})
		}
		err := decide(w.selector)
		if models.CodeOf(err) != models.Conflict || !strings.Contains(err.Error(), "1 candidate is not shown to you and has "+
			"no decision. Ask a manager") {
			t.Errorf("deciding gives %v; want to be told that a manager decides on the hidden one", err)
		}
		write(t, s, w.manager, func(tx *store.Tx) error {
			all, err := tx.Meeting(m.ID)
			if err != nil {
				return err
			}
			all.Candidates[1].Decision, all.Candidates[1].Reason = models.Chosen, "Reads the game two phases ahead."
			return tx.UpdateMeeting(&all)
		})
		if err := decide(w.selector); err != nil {
			t.Errorf("with everyone decided: %v", err)
		}
	})
}

// What a player is to be told in person waits for the squad's lead coach, without one for its coaches, until it was
// told.
func TestFeedbackThatWaitsToBeToldIsAnItemOfWhoTellsIt(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		second := w.addStaff(t, "second", models.RoleCoach, w.colts.ID)
		m := w.meeting()
		for i := range m.Candidates {
			m.Candidates[i].Decision, m.Candidates[i].Reason = models.NotChosen, "Others read the game earlier."
		}
		waits := func(what string, who models.Who, want int) {
			t.Helper()
			if got := kindsOf(t, s, who, "2026-03-14", w.bram.ID)[models.ItemFeedback]; got != want {
				t.Errorf("%s: %d wait for %s; want %d", what, got, who.Name, want)
			}
		}
		write(t, s, w.manager, func(tx *store.Tx) error { return storetest.Hold(tx, &m, models.MeetingDecided) })
		waits("before the record is closed", w.coach, 0)
		w.step(t, w.manager, &m, models.MeetingClosed)
		waits("without a lead coach", w.coach, 1)
		waits("without a lead coach", second, 1)
		waits("beside coaches", w.manager, 0)
		for _, who := range []models.Who{w.selector, w.juniorCoach, w.bramHimself} {
			waits("who tells nothing", who, 0)
		}
		write(t, s, w.manager, func(tx *store.Tx) error { return tx.SetLeadCoach(second.UserID, w.colts.ID) })
		waits("with a lead coach", w.coach, 0)
		waits("with a lead coach", second, 1)
		write(t, s, second, func(tx *store.Tx) error {
			told, err := tx.Feedbacks(models.FeedbackFilter{MeetingID: m.ID, PlayerID: w.bram.ID})
			if err != nil || len(told) != 1 {
				t.Fatalf("feedback %+v, %v", told, err)
			}
			told[0].ToldOn = ptr(models.Date("2026-03-14"))
			return tx.UpdateFeedback(&told[0])
		})
		waits("told", second, 0)
	})
}
