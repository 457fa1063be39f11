package store_test

import (
	"fmt"
	"slices"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// addCarriers adds grown-up flankers to the colts, each with a log of one carry of so many metres in the colts' match.
func (w *world) addCarriers(t *testing.T, metres ...float64) []models.Player {
	t.Helper()
	var all []models.Player
	write(t, w.s, models.Console(w.academy.ID), func(tx *store.Tx) error {
		for n, m := range metres {
			p := models.Player{Name: fmt.Sprint("Carrier ", n), BornOn: ptr(models.Date("2000-01-01")),
				Positions: []models.Position{models.Flanker}}
			if err := tx.CreatePlayer(&p); err != nil {
				return err
			}
			all = append(all, p)
			member := models.Membership{SeasonID: w.season.ID, SquadID: w.colts.ID, PlayerID: p.ID, From: w.season.Starts}
			plays := models.Appearance{MatchID: w.match.ID, PlayerID: p.ID, Minutes: 70}
			log := models.Log{MatchID: w.match.ID, PlayerID: p.ID, LoggerID: w.coach.UserID, Depth: models.Full, Finished: true,
				Kinds: []models.Kind{models.KindCarry}}
			for _, create := range []func() error{
				func() error { return tx.CreateMembership(&member) },
				func() error { return tx.CreateAppearance(&plays) },
				func() error { return tx.CreateLog(&log) },
				func() error {
					return tx.CreateInvolvement(&models.Involvement{LogID: log.ID, Clock: clock(1, 3, 0), Kind: models.KindCarry,
						Details: map[string]string{"contact": "won", "gain_line": "over"}, Measures: map[string]float64{"metres": m}})
				},
			} {
				if err := create(); err != nil {
					return err
				}
			}
		}
		return nil
	})
	return all
}

// full are figures of a trend that tell of others.
func full(verdict string) models.TrendFigures {
	worthwhile := 0.01234
	return models.TrendFigures{Verdict: verdict, Matches: 5, Now: &models.Estimate{Mean: 3.14159},
		Worthwhile: &worthwhile, Standing: &models.Standing{Of: 7, Rank: 2}}
}

// keep keeps trends of the colts, at the revision of the data as they are.
func (w *world) keep(t *testing.T, trends ...models.Trend) {
	t.Helper()
	write(t, w.s, models.Console(w.academy.ID), func(tx *store.Tx) error {
		return tx.KeepTrends(models.SquadSeason{SeasonID: w.season.ID, SquadID: w.colts.ID, Revision: w.revision(t)}, trends)
	})
}

func (w *world) trends(t *testing.T, who models.Who, f models.TrendFilter) (all []models.Trend) {
	t.Helper()
	read(t, w.s, who, func(tx *store.Tx) (err error) {
		all, err = tx.Trends(f)
		return err
	})
	return all
}

// Players hidden from selectors have no part in what selectors read about others: not in the group, nor in the metres
// expected of a carry, nor in a trend. With a guardian's consent, or for other staff, all is shown.
func TestPlayersHiddenFromSelectorsLeaveTheirGroupsToo(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		mates := w.addCarriers(t, 3, 4, 5, 6, 7, 8)
		w.keep(t, models.Trend{PlayerID: mates[0].ID, Indicator: "carries", Figures: full("improving")},
			models.Trend{PlayerID: w.bram.ID, Indicator: "carries", Figures: full("improving")})
		group := func(who models.Who) (all []models.GroupObservation, over []models.Observation) {
			read(t, s, who, func(tx *store.Tx) (err error) {
				if all, err = tx.GroupObservations(models.GroupFilter{SeasonID: w.season.ID, SquadID: w.colts.ID}); err != nil {
					return err
				}
				over, err = tx.OverExpected(mates[0].ID, w.season.ID, w.colts.ID)
				return err
			})
			return all, over
		}
		everybody, _ := group(w.manager)
		if seen, _ := group(w.selector); len(seen) != len(everybody) ||
			len(w.trends(t, w.selector, models.TrendFilter{})) != 2 {
			t.Error("where no consent is asked for, a selector does not read the whole squad")
		}
		w.require(t, models.PurposeSelection)
		seen, over := group(w.selector)
		for _, mate := range []models.Player{w.bram} { // of tove nothing counts, from a head contact on
			own := 0
			read(t, s, w.manager, func(tx *store.Tx) error {
				all, err := tx.Observations(models.ObservationFilter{PlayerID: mate.ID, SeasonID: w.season.ID,
					SquadID: w.colts.ID})
				own = len(all)
				return err
			})
			if own == 0 {
				t.Fatalf("%s has no figures to be hidden", mate.Name)
			}
		}
		withoutThem := slices.DeleteFunc(slices.Clone(seen), func(o models.GroupObservation) bool {
			return o.Indicator == models.MetresOverExpected
		})
		if players := len(countBy(seen, func(o models.GroupObservation) int {
			return o.Mate
		})); players != 6 || len(withoutThem) >= len(everybody) {
			t.Errorf("a selector reads the figures of %d players, want of the six who are of age", players)
		}
		// By hand: the others carried 4, 5, 6, 7 and 8 metres, 6 each, and the carry of 3 is 3 short of it. Bram's 6.5 would
		// make it 6.08.
		if len(over) != 1 || over[0].Numerator != -3 {
			t.Errorf("metres over expected %+v, want 3 below the six of the others", over)
		}
		if trends := w.trends(t, w.selector, models.TrendFilter{}); len(trends) != 0 {
			t.Errorf("a selector reads trends that were fitted to a hidden player too: %+v", trends)
		}
		read(t, s, w.selector, func(tx *store.Tx) error {
			withheld, err := tx.TrendsWithheld(w.season.ID, w.colts.ID)
			if !withheld {
				t.Error("and is not told that they are withheld")
			}
			return err
		})
		// the hidden player's figures change, and the selector sees nothing of it
		write(t, s, w.coach, func(tx *store.Tx) error {
			return tx.CreateInvolvement(&models.Involvement{LogID: w.log.ID, Clock: clock(1, 20, 0), Kind: models.KindCarry,
				Details: map[string]string{"contact": "won", "gain_line": "over"}, Measures: map[string]float64{"metres": 60}})
		})
		if again, overAgain := group(w.selector); fmt.Sprint(again, overAgain) != fmt.Sprint(seen, over) {
			t.Errorf("a hidden player carried 60 metres, and a selector reads\n%v, %v, before\n%v, %v", again, overAgain, seen,
				over)
		}
		if all, _ := group(w.manager); len(all) < len(everybody) {
			t.Error("the manager no longer reads the whole squad")
		}
		for _, p := range []*models.Player{&w.bram, &w.tove} {
			consent := models.Consent{PlayerID: p.ID, Purpose: models.PurposeSelection, GivenBy: "A guardian",
				Relation: models.ByGuardian, On: "2025-09-01"}
			write(t, s, w.manager, func(tx *store.Tx) error { return tx.CreateConsent(&consent) })
		}
		if all, _ := group(w.selector); len(all) < len(everybody) ||
			len(w.trends(t, w.selector, models.TrendFilter{})) != 2 {
			t.Error("with the guardians' consent the selector does not read the whole squad")
		}
	})
}

func countBy[T any, K comparable](all []T, key func(T) K) map[K]int {
	n := map[K]int{}
	for _, x := range all {
		n[key(x)]++
	}
	return n
}

// A trend of a skill is made of grades that count, so it holds none that is hidden from a reader: no trend needs to be
// left out for a coach. Once more grades count, the trends are behind, for every reader alike.
func TestTrendsAreMadeOfGradesThatCountAndAreBehindOnceMoreDo(t *testing.T) {
	withCalendar(t, func(t *testing.T, w *world, today *calendar) {
		second := w.addStaff(t, "second", models.RoleCoach, w.colts.ID)
		w.round(t, &w.match.ID, "", "2025-10-10")
		w.rate(t, second, "tackle", &w.match.ID, "")
		w.rate(t, second, "tackle", nil, "Block 1") // of no round
		w.keep(t, models.Trend{PlayerID: w.bram.ID, Skill: "tackle", Figures: full("improving")})
		expect := func(day models.Date, counting int, current bool) {
			t.Helper()
			today.day = day
			read(t, w.s, models.Console(w.academy.ID), func(tx *store.Tx) error {
				all, err := tx.Ratings(models.RatingFilter{SeasonID: w.season.ID, Counting: true})
				if err != nil || len(all) != counting {
					t.Errorf("on %s trends are made of %d grades, want %d: %v", day, len(all), counting, err)
				}
				behind, err := tx.TrendsBehind(w.season.ID, w.colts.ID)
				if err != nil || behind == current {
					t.Errorf("on %s behind is %v, %v", day, behind, err)
				}
				return err
			})
			for _, who := range []models.Who{w.manager, w.coach, second} {
				read(t, w.s, who, func(tx *store.Tx) error {
					of, err := tx.SquadSeason(w.season.ID, w.colts.ID)
					if (of.Fitted == of.Revision) != current {
						t.Errorf("on %s %s reads %+v, want current %v", day, who.Name, of, current)
					}
					return err
				})
				if n := len(w.trends(t, who, models.TrendFilter{})); n != 1 {
					t.Errorf("on %s %s reads %d trends", day, who.Name, n)
				}
			}
		}
		expect("2025-10-04", 0, true)
		expect("2025-10-10", 0, true)
		expect("2025-10-11", 1, false)
		w.keep(t, models.Trend{PlayerID: w.bram.ID, Skill: "tackle", Figures: full("improving")})
		expect("2025-10-18", 1, true)
		expect("2025-10-19", 2, false)
	})
}

// A player reads nothing that depends on others' figures except what is published to them.
func TestAPlayerReadsOfOthersWhatIsPublishedToThem(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		w.addCarriers(t, 3, 4, 5, 6, 7, 8)
		kept := models.Trend{PlayerID: w.bram.ID, Indicator: models.MetresOverExpected, Figures: full("improving")}
		w.keep(t, kept)
		colts := models.GroupFilter{SeasonID: w.season.ID, SquadID: w.colts.ID}
		reads := func() (trends []models.Trend, over []models.Observation, of models.SquadSeason) {
			read(t, s, w.bramHimself, func(tx *store.Tx) (err error) {
				if _, err := tx.GroupObservations(colts); models.CodeOf(err) != models.Forbidden {
					t.Errorf("the group's figures give a player %v", err)
				}
				if trends, err = tx.Trends(models.TrendFilter{}); err != nil {
					return err
				}
				if of, err = tx.SquadSeason(w.season.ID, w.colts.ID); err != nil {
					return err
				}
				over, err = tx.OverExpected(w.bram.ID, w.season.ID, w.colts.ID)
				return err
			})
			return trends, over, of
		}
		if trends, over, of := reads(); len(trends) != 0 || len(over) != 0 || of.Revision != 0 || of.Fitted != 0 {
			t.Errorf("nothing is published, and the player reads %+v, %+v, %+v", trends, over, of)
		}
		own := kept.Figures.Published("m")
		kept.Publication = &models.Publication{PlayerID: w.bram.ID, Indicator: kept.Indicator, Round: w.match.Date,
			Figures: models.PublishedFigures{
				Trend: &own, Matches: []models.PublishedMatch{{MatchID: w.match.ID, Value: 0.7, Denominator: 3}},
			}}
		// a later revision
		write(t, s, w.coach, func(tx *store.Tx) error { w.match.Difficulty = ptr(5); return tx.UpdateMatch(&w.match) })
		w.keep(t, kept)
		trends, over, of := reads()
		if len(trends) != 1 || trends[0].Figures.Now.Mean != 3.1 || trends[0].Figures.Standing != nil {
			t.Errorf("the player reads of trends %+v", trends)
		}
		if len(over) != 1 || over[0].Numerator != 0.7*3 || over[0].Denominator != 3 {
			t.Errorf("the player reads of metres over expected %+v", over)
		}
		write(t, s, w.coach, func(tx *store.Tx) error { w.match.Difficulty = ptr(1); return tx.UpdateMatch(&w.match) })
		if _, _, now := reads(); now != of || now.Revision != now.Fitted {
			t.Errorf("that something was recorded is told: %+v, then %+v", of, now)
		}
		older := kept
		older.Publication = &models.Publication{PlayerID: w.bram.ID, Indicator: kept.Indicator, Round: "2025-09-01"}
		write(t, s, models.Console(w.academy.ID), func(tx *store.Tx) error {
			return tx.KeepTrends(models.SquadSeason{SeasonID: w.season.ID, SquadID: w.colts.ID, Revision: of.Revision - 1},
				[]models.Trend{older})
		})
		if now, _, _ := reads(); len(now) != 1 {
			t.Error("a publication from older data replaced a later one")
		}
		read(t, s, w.selector, func(tx *store.Tx) error {
			if _, err := tx.Publications(models.TrendFilter{}); models.CodeOf(err) != models.Forbidden {
				t.Errorf("a selector reads what is published to others: %v", err)
			}
			return nil
		})
		elsewhere := w.coach
		elsewhere.SquadIDs = []int64{987654321}
		for who, want := range map[string]int{"of the squad": 1, "of another squad": 0} {
			coach := map[bool]models.Who{true: w.coach, false: elsewhere}[want > 0]
			read(t, s, coach, func(tx *store.Tx) error {
				if all, err := tx.Publications(models.TrendFilter{}); err != nil || len(all) != want {
					t.Errorf("a coach %s reads %d publications, %v; want %d", who, len(all), err, want)
				}
				return nil
			})
		}
	})
}

func TestARoundIsClosedWhenAllWhoAppearedHaveFigures(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		day := models.DateOf(storetest.Now()).AddDays(-1)
		game := models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: day, Opponent: "Thornlea", Halves: 2,
			HalfMinutes: 35}
		closed := func() (round models.Date) {
			read(t, s, w.manager, func(tx *store.Tx) (err error) {
				round, err = tx.ClosedRound(w.season.ID, w.colts.ID)
				return err
			})
			return round
		}
		add := func(player int64, counts models.Counts) {
			write(t, s, w.coach, func(tx *store.Tx) error {
				if counts == nil {
					return tx.CreateAppearance(&models.Appearance{MatchID: game.ID, PlayerID: player, Minutes: 70})
				}
				return tx.CreateMatchTotals(&models.MatchTotals{MatchID: game.ID, PlayerID: player, Source: "x", Counts: counts})
			})
		}
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.CreateMatch(&game) })
		for _, step := range []struct {
			what string
			do   func()
			want models.Date
		}{
			{"a match is to come", func() {}, w.match.Date},
			{"two appeared", func() { add(w.bram.ID, nil); add(w.tove.ID, nil) }, w.match.Date},
			{"one has figures", func() { add(w.bram.ID, models.Counts{"carries": 5}) }, w.match.Date},
			{"both have", func() { add(w.tove.ID, models.Counts{"carries": 5}) }, day},
		} {
			step.do()
			if got := closed(); got != step.want {
				t.Errorf("%s: the last closed round is %s, want %s", step.what, got, step.want)
			}
		}
		refused(t, s, w.coach, models.Forbidden, func(tx *store.Tx) error {
			_, err := tx.ClosedRound(w.season.ID, w.colts.ID)
			return err
		})
	})
}
