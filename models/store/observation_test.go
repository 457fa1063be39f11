package store_test

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// unchanged checks that the observations are as a computation from nothing gives them.
func unchanged(t *testing.T, w *world, after string) {
	t.Helper()
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		checked, found, err := tx.Recompute(0)
		if len(found) > 0 || checked == 0 {
			t.Errorf("after %s: %d checked, differences %+v", after, checked, found)
		}
		return err
	})
}

// TestObservationsFollowEveryChange makes a long row of changes and looks after each whether the observations are as
// if all of them were computed from nothing.
func TestObservationsFollowEveryChange(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		unchanged(t, w, "the beginning")
		dice := rand.New(rand.NewPCG(14, 3))
		seen := map[string]bool{}
		change := func(name string, who models.Who, do func(tx *store.Tx) error) {
			t.Helper()
			before := figures(t, w)
			write(t, s, who, do)
			unchanged(t, w, name)
			if !slices.Equal(before, figures(t, w)) {
				seen[name] = true
			}
		}
		kinds := []models.Kind{models.KindCarry, models.KindTackle}
		var made []models.Involvement
		for range 12 {
			i := models.Involvement{LogID: w.log.ID, Clock: clock(1, dice.IntN(35), dice.IntN(60)), Kind: kinds[dice.IntN(2)]}
			if i.Kind == models.KindCarry {
				i.Details = map[string]string{"contact": []string{"won", "even", "lost"}[dice.IntN(3)], "width": "close"}
				i.Measures = map[string]float64{"metres": float64(dice.IntN(20)) / 2}
			} else {
				i.Details = map[string]string{"result": []string{"won", "missed"}[dice.IntN(2)]}
			}
			change("a new involvement", w.coach, func(tx *store.Tx) error { return tx.CreateInvolvement(&i) })
			made = append(made, i)
		}
		i := made[0]
		i.Kind, i.Details, i.Measures = models.KindTackle, map[string]string{"result": "lost"}, nil
		change("another kind", w.coach, func(tx *store.Tx) error { return tx.UpdateInvolvement(&i) })
		change("an involvement less", w.coach, func(tx *store.Tx) error { return tx.DeleteInvolvement(made[1].ID, 1) })
		change("another coverage", w.coach, func(tx *store.Tx) error {
			w.log.Covers = []models.Span{{From: clock(1, 0, 0), To: clock(2, 60, 0)}}
			return tx.UpdateLog(&w.log)
		})
		change("an unfinished log", w.coach, func(tx *store.Tx) error {
			w.log.Finished = false
			return tx.UpdateLog(&w.log)
		})
		change("a finished log", w.coach, func(tx *store.Tx) error { w.log.Finished = true; return tx.UpdateLog(&w.log) })
		change("other stints", w.coach, func(tx *store.Tx) error {
			w.bramPlays.Stints[1].Off = clock(2, 50, 0)
			return tx.UpdateAppearance(&w.bramPlays)
		})
		change("other minutes", w.coach, func(tx *store.Tx) error {
			w.tovePlays.Minutes = 61
			return tx.UpdateAppearance(&w.tovePlays)
		})
		change("other totals", w.coach, func(tx *store.Tx) error {
			w.totals.Counts["carries"] = 12
			return tx.UpdateMatchTotals(&w.totals)
		})
		bram := models.MatchTotals{MatchID: w.match.ID, PlayerID: w.bram.ID, Source: "x.csv",
			Counts: models.Counts{"carries": 40, "offloads": 2}}
		change("totals beside a log", w.coach, func(tx *store.Tx) error { return tx.CreateMatchTotals(&bram) })
		second := models.Log{MatchID: w.match.ID, PlayerID: w.bram.ID, LoggerID: w.manager.UserID, Depth: models.Full,
			Finished: true, Kinds: []models.Kind{models.KindPass, models.KindTackle}}
		change("a second log", w.manager, func(tx *store.Tx) error { return tx.CreateLog(&second) })
		change("a longer match", w.manager, func(tx *store.Tx) error {
			w.juniorMatch.HalfMinutes = 35
			return tx.UpdateMatch(&w.juniorMatch)
		})
		iver := models.MatchTotals{MatchID: w.juniorMatch.ID, PlayerID: w.iver.ID, Source: "x.csv",
			Counts: models.Counts{"carries": 4}}
		change("totals of a junior", w.juniorCoach, func(tx *store.Tx) error { return tx.CreateMatchTotals(&iver) })
		change("a match of another team", w.manager, func(tx *store.Tx) error {
			w.juniorMatch.SquadID, w.juniorMatch.OtherTeam = nil, "Westbrook School"
			return tx.UpdateMatch(&w.juniorMatch)
		})
		own := models.Indicator{Code: "offload_share", Label: "Offloads", Meaning: "How many.", Family: models.Rate,
			Unit:      "per match",
			Numerator: "offloads", Better: models.Neither, Depth: models.Core}
		change("a new indicator", w.manager, func(tx *store.Tx) error { return tx.CreateIndicator(&own) })
		change("another indicator", w.manager, func(tx *store.Tx) error {
			own.Numerator = "passes"
			return tx.UpdateIndicator(&own)
		})
		change("an indicator less", w.manager, func(tx *store.Tx) error { return tx.DeleteIndicator(own.ID, own.Version) })
		change("no totals", w.coach, func(tx *store.Tx) error { return tx.DeleteMatchTotals(bram.ID, bram.Version) })
		change("a log less", w.coach, func(tx *store.Tx) error { return tx.DeleteLog(w.log.ID, w.log.Version) })
		change("no log", w.manager, func(tx *store.Tx) error { return tx.DeleteLog(second.ID, second.Version) })
		change("no appearance", w.manager, func(tx *store.Tx) error {
			return tx.DeleteAppearance(w.bramPlays.ID, w.bramPlays.Version)
		})
		change("everything at once", w.manager, func(tx *store.Tx) error {
			w.tovePlays.Minutes = 33
			if err := tx.UpdateAppearance(&w.tovePlays); err != nil {
				return err
			}
			w.totals.Counts["metres"] = 81
			return tx.UpdateMatchTotals(&w.totals)
		})
		for _, name := range []string{"a new involvement", "another kind", "another coverage", "an unfinished log",
			"a finished log", "other stints", "other minutes", "other totals",
			"totals beside a log", "a match of another team", "a new indicator", "an indicator less", "no totals", "a log less",
			"everything at once"} {
			if !seen[name] {
				t.Errorf("%s changed no observation: the test looks at nothing", name)
			}
		}
	})
}

// figures are the observations and cells of an academy, as text.
func figures(t *testing.T, w *world) []string {
	t.Helper()
	var all []string
	read(t, w.s, w.manager, func(tx *store.Tx) error {
		observations, err := tx.Observations(models.ObservationFilter{})
		if err != nil {
			return err
		}
		for _, o := range observations {
			differs := "" // a pointer's address says nothing
			if o.Differs != nil {
				differs = fmt.Sprint(*o.Differs)
			}
			o.Differs, o.AcademyID = nil, 0
			all = append(all, fmt.Sprintf("%+v %s", o, differs))
		}
		cells, err := tx.CarryCells(models.ObservationFilter{})
		for _, c := range cells {
			c.AcademyID = 0
			all = append(all, fmt.Sprintf("%+v", c))
		}
		return err
	})
	return all
}

func TestRecomputeFindsAndMendsWhatIsWrong(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		right := figures(t, w)
		err := s.Write(t.Context(), w.manager, func(tx *store.Tx) error {
			db := tx.Raw()
			for _, statement := range []string{
				"DELETE FROM observations WHERE indicator = 'passes'",
				"INSERT INTO observations (academy_id, player_id, match_id, indicator, numerator, denominator, source) SELECT " +
					"academy_id, player_id, match_id, 'charm', 1, 1, 'log' FROM appearances",
				"DELETE FROM carry_cells",
			} {
				if err := db.Exec(statement).Error; err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		write(t, s, w.manager, func(tx *store.Tx) error {
			checked, found, err := tx.Recompute(w.season.ID)
			if checked != 3 {
				t.Errorf("%d appearances were computed again, want 3", checked)
			}
			got := map[string]int{}
			for _, d := range found {
				way := "changed"
				switch {
				case d.Stored == "":
					way = "missing"
				case d.Computed == "":
					way = "stray"
				}
				got[d.What+" "+way]++
			}
			if want := map[string]int{"passes missing": 2, "charm stray": 3, `carries "" "" "" missing`: 1}; !maps.Equal(got,
				want) {
				t.Errorf("found %v, want %v", got, want)
			}
			return err
		})
		if got := figures(t, w); !slices.Equal(got, right) {
			t.Errorf("mended to %v, want %v", got, right)
		}
		unchanged(t, w, "mending")
	})
}

// TestPlaysInBulkAreAsIfOneAtATime puts the same plays into two academies, each in one way.
func TestPlaysInBulkAreAsIfOneAtATime(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		single, bulk := newWorld(t, s), addAcademy(t, s, "Fell Academy", "fell")
		plays := func(w *world) []models.Play {
			return []models.Play{
				{Match: w.match, Appearance: models.Appearance{PlayerID: w.iver.ID, Shirt: ptr(16), Started: ptr(false),
					Stints: []models.Stint{{On: clock(2, 50, 0), Off: clock(2, 70, 0), Position: "hooker"}}},
					Totals: &models.MatchTotals{Source: "x.csv", Counts: models.Counts{"carries": 4, "metres": 21.5}},
					Logs: []models.LoggedPlay{{
						Log: models.Log{LoggerID: w.coach.UserID, Depth: models.Full, Finished: true,
							Kinds: []models.Kind{models.KindCarry, models.KindPass}, Key: "b-1"},
						Involvements: []models.Involvement{
							{Clock: clock(2, 52, 1), Kind: models.KindPass, LinkedTo: ptr(int64(7)),
								Details: map[string]string{"result": "accurate"}},
							{Record: models.Record{ID: 7}, Clock: clock(2, 52, 0), Kind: models.KindCarry,
								Measures: map[string]float64{"metres": 3}, Details: map[string]string{"zone": "own_22"}},
							{Record: models.Record{ID: 3}, Clock: clock(2, 60, 0), Kind: models.KindCarry,
								Details: map[string]string{"contact": "won"}, Moment: true, Note: "See."},
						}}}},
				{Match: w.schoolMatch, Appearance: models.Appearance{PlayerID: w.bram.ID, Minutes: 60}},
				{Match: w.juniorMatch, Appearance: models.Appearance{PlayerID: w.noor.ID, Minutes: 12.5},
					Totals: &models.MatchTotals{Source: "x.csv", Counts: models.Counts{"carries": 0}}},
			}
		}
		added := plays(bulk)
		write(t, s, bulk.manager, func(tx *store.Tx) error { return tx.AddPlays(added) })
		one := plays(single)
		write(t, s, single.manager, func(tx *store.Tx) error {
			for n := range one {
				p := &one[n]
				p.Appearance.MatchID = p.Match.ID
				if err := tx.CreateAppearance(&p.Appearance); err != nil {
					return err
				}
				if p.Totals != nil {
					p.Totals.MatchID, p.Totals.PlayerID = p.Match.ID, p.Appearance.PlayerID
					if err := tx.CreateMatchTotals(p.Totals); err != nil {
						return err
					}
				}
				for l := range p.Logs {
					log := &p.Logs[l]
					log.Log.MatchID, log.Log.PlayerID = p.Match.ID, p.Appearance.PlayerID
					if err := tx.CreateLog(&log.Log); err != nil {
						return err
					}
					for _, i := range []int{1, 2, 0} { // the carry before what is linked to it
						if log.Involvements[i].LinkedTo != nil {
							log.Involvements[i].LinkedTo = &log.Involvements[1].ID
						}
						log.Involvements[i].LogID = log.Log.ID
						if err := tx.CreateInvolvement(&log.Involvements[i]); err != nil {
							return err
						}
					}
				}
			}
			return nil
		})
		unchanged(t, bulk, "adding in bulk")
		// Ids differ between the academies by what stands before them.
		got, want := sheet(t, bulk, added), sheet(t, single, one)
		if !slices.Equal(got, want) {
			t.Errorf("in bulk\n%v\none at a time\n%v", got, want)
		}
		var stored models.Appearance
		read(t, s, bulk.manager, func(tx *store.Tx) (err error) {
			stored, err = tx.Appearance(added[0].Appearance.ID)
			return err
		})
		added[0].Appearance.Stints[0].ID = stored.Stints[0].ID // the one thing that is not told
		if !reflect.DeepEqual(stored, added[0].Appearance) {
			t.Errorf("stored %+v, returned %+v", stored, added[0].Appearance)
		}
		if i := added[0].Logs[0].Involvements; *i[0].LinkedTo != i[1].ID || i[0].ID == i[1].ID {
			t.Errorf("linked to %d, the carry is %d", *i[0].LinkedTo, i[1].ID)
		}
	})
}

// sheet is what is recorded and observed of plays, without ids.
func sheet(t *testing.T, w *world, plays []models.Play) []string {
	t.Helper()
	names := map[int64]string{w.bram.ID: "bram", w.tove.ID: "tove", w.iver.ID: "iver", w.noor.ID: "noor"}
	games := map[int64]string{w.match.ID: "colts", w.juniorMatch.ID: "juniors", w.schoolMatch.ID: "school"}
	var out []string
	read(t, w.s, w.manager, func(tx *store.Tx) error {
		for _, p := range plays {
			a, err := tx.Appearance(p.Appearance.ID)
			if err != nil {
				return err
			}
			line := fmt.Sprint(names[a.PlayerID], games[a.MatchID], a.Minutes, a.Position)
			for _, st := range a.Stints {
				line += fmt.Sprint(st.On, st.Off, st.Position)
			}
			totals, err := tx.Totals(models.TotalsFilter{MatchID: a.MatchID, PlayerID: a.PlayerID})
			if err != nil {
				return err
			}
			for _, s := range totals {
				line += fmt.Sprint(s.Source, s.Counts)
			}
			logs, err := tx.Logs(models.LogFilter{MatchID: a.MatchID, PlayerID: a.PlayerID})
			if err != nil {
				return err
			}
			for _, l := range logs {
				line += fmt.Sprint(l.Depth, l.Kinds, l.Covers, l.Finished, l.Key)
				involved, err := tx.Involvements(models.InvolvementFilter{LogID: l.ID})
				if err != nil {
					return err
				}
				for _, i := range involved {
					line += fmt.Sprint(i.Clock, i.Kind, i.Details, i.Measures, i.LinkedTo != nil, i.Moment, i.Note)
				}
			}
			observations, err := tx.Observations(models.ObservationFilter{MatchID: a.MatchID, PlayerID: a.PlayerID})
			if err != nil {
				return err
			}
			for _, o := range observations {
				line += fmt.Sprint(o.Indicator, o.Numerator, o.Denominator, o.Source)
			}
			cells, err := tx.CarryCells(models.ObservationFilter{MatchID: a.MatchID, PlayerID: a.PlayerID})
			if err != nil {
				return err
			}
			for _, c := range cells {
				line += fmt.Sprint(c.Width, c.Speed, c.Zone, c.Carries, c.Metres)
			}
			out = append(out, line)
		}
		return nil
	})
	return out
}
