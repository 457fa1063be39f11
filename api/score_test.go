package api_test

import (
	"encoding/json"
	"fmt"
	"log/slog"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"throughline/api"
	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports/calibration"
	"throughline/reports/fits"
)

// autumn is a squad's season that is played and recorded round by round, with a clock of its own.
type autumn struct {
	*store.Store
	who     models.Who
	now     time.Time
	season  models.Season
	squad   models.Squad
	players []models.Player
	matches []models.Match
	random  *rand.Rand
	level   []float64
	others  []models.Player // of a second squad, see second
	keeper  *fits.Keeper
}

func newAutumn(t *testing.T, url string) *autumn {
	t.Helper()
	a := &autumn{now: time.Date(2025, 9, 1, 12, 0, 0, 0, time.UTC), random: rand.New(rand.NewPCG(20, 25))}
	clock := func() time.Time { return a.now }
	s := storetest.With(t, url, store.Options{Now: clock})
	a.Store = s
	a.keeper = fits.NewKeeper(api.Records{Store: s}, clock, slog.New(slog.DiscardHandler))
	academy, err := s.CreateAcademy(t.Context(), "Harbour Academy")
	if err != nil {
		t.Fatal(err)
	}
	a.who = models.Console(academy.ID)
	a.season = models.Season{Name: "2025-26", Starts: "2025-09-01", Ends: "2025-12-31"}
	a.squad = models.Squad{Name: "Colts"}
	a.write(t, func(tx *store.Tx) error {
		if err := tx.CreateSeason(&a.season); err != nil {
			return err
		}
		if err := tx.CreateSquad(&a.squad); err != nil {
			return err
		}
		for n := range 14 {
			p := models.Player{Name: fmt.Sprint("Player ", n), BornOn: new(models.Date("2004-05-06"))}
			p.Positions = []models.Position{[]models.Position{models.Flanker, models.Wing}[n%2]}
			if err := tx.CreatePlayer(&p); err != nil {
				return err
			}
			err := tx.CreateMembership(&models.Membership{SeasonID: a.season.ID, SquadID: a.squad.ID, PlayerID: p.ID,
				From: a.season.Starts})
			if err != nil {
				return err
			}
			a.players = append(a.players, p)
			a.level = append(a.level, 0.3*a.random.NormFloat64())
		}
		return nil
	})
	return a
}

func (a *autumn) write(t *testing.T, fn func(tx *store.Tx) error) {
	t.Helper()
	if err := a.Write(t.Context(), a.who, fn); err != nil {
		t.Fatal(err)
	}
}

// play plays a round of everybody on a day, and keeps the trends.
func (a *autumn) play(t *testing.T, day models.Date) {
	t.Helper()
	a.record(t, day)
	a.fit(t)
}

// record records a round of everybody on a day.
func (a *autumn) record(t *testing.T, day models.Date) {
	t.Helper()
	at, err := day.Time()
	if err != nil {
		t.Fatal(err)
	}
	a.now = at.Add(18 * time.Hour)
	a.write(t, func(tx *store.Tx) error {
		difficulty := 1 + len(a.matches)%5
		m := models.Match{SeasonID: a.season.ID, SquadID: &a.squad.ID, Date: day, Opponent: "Dunmere", Halves: 2,
			HalfMinutes: 40, Difficulty: &difficulty}
		if err := tx.CreateMatch(&m); err != nil {
			return err
		}
		a.matches = append(a.matches, m)
		for n, p := range a.players {
			minutes := float64(40 + 10*a.random.IntN(5))
			err := tx.CreateAppearance(&models.Appearance{MatchID: m.ID, PlayerID: p.ID, Minutes: minutes})
			if err != nil {
				return err
			}
			carries := math.Round(8 * math.Exp(a.level[n]+0.3*a.random.NormFloat64()) * minutes / 80)
			missed := float64(a.random.IntN(4))
			err = tx.CreateMatchTotals(&models.MatchTotals{MatchID: m.ID, PlayerID: p.ID, Source: "test",
				Counts: models.Counts{"carries": carries, "tackles_made": 3 + float64(a.random.IntN(8)),
					"tackles_missed": missed, "metres": 2 * carries, "metres_recorded": carries}})
			if err != nil {
				return err
			}
		}
		return nil
	})
}

func (a *autumn) fit(t *testing.T) {
	t.Helper()
	if _, err := api.RefitAll(t.Context(), a.Store, a.keeper); err != nil {
		t.Fatal(err)
	}
}

// account reads all that is kept.
func (a *autumn) account(t *testing.T) (said []models.Forecast, pairs []models.ForecastPair) {
	t.Helper()
	err := a.Read(t.Context(), a.who, func(tx *store.Tx) (err error) {
		if said, err = tx.Forecasts(models.ForecastFilter{SeasonID: a.season.ID}); err != nil {
			return err
		}
		pairs, err = tx.ForecastPairs(models.ForecastFilter{SquadID: a.squad.ID})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return said, pairs
}

// observed reads a player's observations of an indicator after a day, with their dates, in order.
func (a *autumn) observed(t *testing.T, player int64, indicator string, after models.Date) (all []models.Observation,
	on []models.Date) {
	t.Helper()
	date := map[int64]models.Date{}
	for _, m := range a.matches {
		date[m.ID] = m.Date
	}
	err := a.Read(t.Context(), a.who, func(tx *store.Tx) error {
		found, err := tx.Observations(models.ObservationFilter{PlayerID: player, Indicator: indicator})
		for _, o := range found {
			if date[o.MatchID] > after && o.Denominator > 0 {
				all, on = append(all, o), append(on, date[o.MatchID])
			}
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all, on
}

// byHand works out, by adding up the distribution itself over a fine grid of levels, how likely less than a count, or
// a number of successes, was said to be, and how likely less or the same.
func byHand(f *models.Forecast, o models.Observation, difficulty float64) (below, upTo float64) {
	said := f.Said
	spread := math.Hypot(said.SD, said.Match)
	eta := said.Level + said.Difficulty*(difficulty-said.Usual)
	exposure := o.Denominator
	if f.Family == models.Rate {
		exposure /= 80
		eta += said.Minutes * math.Log(exposure)
	}
	const steps = 4000
	var total float64
	for i := range steps + 1 {
		z := -8 + 16*float64(i)/steps
		w := math.Exp(-z * z / 2)
		total += w
		for y := 0.0; y <= o.Numerator; y++ {
			p := w * mass(f.Family, y, exposure, eta+spread*z, said.Kappa)
			upTo += p
			if y < o.Numerator {
				below += p
			}
		}
	}
	return below / total, upTo / total
}

// mass is the probability of a count by the negative binomial's and the beta-binomial's own gamma functions.
func mass(family models.Family, y, exposure, eta, kappa float64) float64 {
	g := func(x float64) float64 { v, _ := math.Lgamma(x); return v }
	if family == models.Rate {
		mu, theta := exposure*math.Exp(eta), 1/kappa
		return math.Exp(g(y+theta) - g(theta) - g(y+1) + theta*math.Log(theta/(theta+mu)) + y*math.Log(mu/(theta+mu)))
	}
	p := 1 / (1 + math.Exp(-eta))
	alpha, beta, n := p/kappa, (1-p)/kappa, exposure
	return math.Exp(g(n+1) - g(y+1) - g(n-y+1) + g(y+alpha) + g(n-y+beta) - g(n+alpha+beta) + g(alpha+beta) -
		g(alpha) - g(beta))
}

// The whole way: forecasts are kept once a round, settled by the next one, settled again by a correction, opened when
// their figures are gone, and closed by the season's end; the account is what comes out by hand; and it is erased with
// a player.
func TestTheAccountOfForecastsIsKeptSettledAndScoredAsByHand(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		a := newAutumn(t, url)
		for _, day := range []models.Date{"2025-09-06", "2025-09-13", "2025-09-20", "2025-09-27"} {
			a.play(t, day)
		}
		said, pairs := a.account(t)
		newest := func(of []models.Forecast) (n int) {
			for i := range of {
				if of[i].Origin == "2025-09-27" {
					n++
				}
			}
			return n
		}
		if n := newest(said); n != 3*len(a.players) {
			t.Fatalf("%d forecasts from the last round: want three indicators of %d players", n, len(a.players))
		}
		for _, p := range pairs {
			if p.PlayerID%2 != p.OtherID%2 || p.Chance <= 0 || p.Chance >= 1 {
				t.Errorf("%+v: want two of a position group, and a chance", p)
			}
		}
		// The same origin is never written twice, whatever is corrected meanwhile.
		a.now = a.now.Add(time.Hour)
		a.write(t, func(tx *store.Tx) error {
			m, err := tx.Match(a.matches[0].ID)
			if err != nil {
				return err
			}
			m.Difficulty = new(5)
			return tx.UpdateMatch(&m)
		})
		a.fit(t)
		again, _ := a.account(t)
		if len(again) != len(said) {
			t.Fatalf("%d forecasts after a correction, %d before", len(again), len(said))
		}
		for i := range said {
			if again[i].Origin == "2025-09-27" && (again[i].Said != said[i].Said || !again[i].MadeAt.Equal(said[i].MadeAt)) {
				t.Fatalf("what was said changed: %+v, was %+v", again[i], said[i])
			}
		}
		for _, day := range []models.Date{"2025-10-04", "2025-10-11", "2025-10-18", "2025-10-25", "2025-11-01"} {
			a.play(t, day)
		}
		said, pairs = a.account(t)
		a.checkSettled(t, said)
		a.checkPairs(t, pairs)
		a.checkAccount(t, said, pairs)
		a.checkCorrection(t)
		a.checkSeasonsEnd(t)
		a.checkReaders(t)
		a.checkErasure(t)
	})
}

// checkSettled holds each settled forecast against the record.
func (a *autumn) checkSettled(t *testing.T, said []models.Forecast) {
	t.Helper()
	compared := map[models.Family]int{}
	for i := range said {
		f := &said[i]
		all, on := a.observed(t, f.PlayerID, f.Indicator, f.Origin)
		if len(all) == 0 {
			if f.Next.Settled() {
				t.Errorf("settled without a match: %+v", f)
			}
			continue
		}
		next, of := all[0], all[0].Denominator
		if f.Family == models.Rate {
			of /= 80
		}
		if !f.Next.Settled() || *f.Next.On != on[0] || f.Next.Value != next.Numerator || f.Next.Of != of ||
			f.Next.Matches != 1 {
			t.Fatalf("settled as %+v, want %v of %v on %s", f.Next, next.Numerator, of, on[0])
		}
		if f.Rest.Settled() {
			t.Fatalf("the rest of a season that goes on is settled: %+v", f.Rest)
		}
		if f.Origin != "2025-10-11" {
			continue
		}
		var difficulty float64
		for _, m := range a.matches {
			if m.ID == next.MatchID {
				difficulty = float64(*m.Difficulty)
			}
		}
		compared[f.Family]++
		if f.Family == models.Mean {
			sd := math.Sqrt(f.Said.SD*f.Said.SD + f.Said.Match*f.Said.Match + f.Said.Kappa/of)
			z := (next.Numerator/of - f.Said.Level - f.Said.Difficulty*(difficulty-f.Said.Usual)) / sd
			if p := 0.5 * math.Erfc(-z/math.Sqrt2); math.Abs(p-f.Next.Below) > 1e-9 || f.Next.UpTo != f.Next.Below {
				t.Errorf("%s: %v to %v, by hand %v", f.Indicator, f.Next.Below, f.Next.UpTo, p)
			}
			continue
		}
		below, upTo := byHand(f, next, difficulty)
		if math.Abs(below-f.Next.Below) > 1e-3 || math.Abs(upTo-f.Next.UpTo) > 1e-3 {
			t.Errorf("%s: %.5f to %.5f, by hand %.5f to %.5f", f.Indicator, f.Next.Below, f.Next.UpTo, below, upTo)
		}
	}
	if compared[models.Rate] < 10 || compared[models.Proportion] < 10 {
		t.Errorf("compared %v: too few", compared)
	}
}

// checkPairs holds each settled pair against the record.
func (a *autumn) checkPairs(t *testing.T, pairs []models.ForecastPair) {
	t.Helper()
	settled := 0
	for _, p := range pairs {
		own, on := a.observed(t, p.PlayerID, p.Indicator, p.Origin)
		others, onOther := a.observed(t, p.OtherID, p.Indicator, p.Origin)
		if len(own) < 5 || len(others) < 5 {
			if p.SettledOn != nil {
				t.Errorf("settled before five matches of both: %+v", p)
			}
			continue
		}
		settled++
		quotient := func(all []models.Observation) float64 {
			var y, of float64
			for _, o := range all[:5] {
				y += o.Numerator
				of += o.Denominator
			}
			if p.Family == models.Rate {
				of /= 80
			}
			return y / of
		}
		if p.SettledOn == nil || *p.SettledOn != max(on[4], onOther[4]) || math.Abs(p.Value-quotient(own)) > 1e-9 ||
			math.Abs(p.OtherValue-quotient(others)) > 1e-9 {
			t.Errorf("%+v: want %v against %v", p, quotient(own), quotient(others))
		}
	}
	if settled < 20 {
		t.Errorf("%d settled pairs: too few", settled)
	}
}

// checkAccount works the printed figures out again from what is kept.
func (a *autumn) checkAccount(t *testing.T, said []models.Forecast, pairs []models.ForecastPair) {
	t.Helper()
	var r *calibration.Report
	err := a.Read(t.Context(), a.who, func(tx *store.Tx) (err error) {
		r, err = calibration.Read(tx, models.ForecastFilter{SeasonID: a.season.ID})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, family := range r.Families {
		settled, tenth := 0, 0.0
		for i := range said {
			if f := &said[i]; f.Family == family.Family && f.Next.Settled() {
				settled++
				part := 1.0 // of its step that lies in the lowest tenth
				if f.Next.UpTo > 0.1 {
					part = 0
					if f.Next.Below < 0.1 {
						part = (0.1 - f.Next.Below) / (f.Next.UpTo - f.Next.Below)
					}
				}
				tenth += part
			}
		}
		if family.Next.Settled != settled || family.Next.Enough != (settled >= calibration.LeastSettled) {
			t.Errorf("%s: %+v, want %d settled", family.Family, family.Next.Counted, settled)
		}
		if family.Next.Enough {
			if got, want := family.Next.Histogram[0], tenth/float64(settled); math.Abs(got-want) > 1e-9 {
				t.Errorf("%s: the lowest tenth holds %v, by hand %v", family.Family, got, want)
			}
		}
		n, ties, brier := 0, 0, 0.0
		for _, p := range pairs {
			switch {
			case p.Family != family.Family || p.SettledOn == nil:
			case p.Value == p.OtherValue:
				ties++
			case p.Value > p.OtherValue:
				n++
				brier += (1 - p.Chance) * (1 - p.Chance)
			default:
				n++
				brier += p.Chance * p.Chance
			}
		}
		if family.Pairs.Settled != n || family.Pairs.Ties != ties {
			t.Errorf("%s: %+v, want %d pairs and %d ties", family.Family, family.Pairs, n, ties)
		}
		if got := family.Pairs.Brier; got != nil && math.Abs(got.Score-brier/float64(n)) > 1e-12 {
			t.Errorf("%s: Brier score %v, by hand %v", family.Family, got.Score, brier/float64(n))
		}
	}
	var text strings.Builder
	if err := r.Print(&text); err != nil {
		t.Fatal(err)
	}
	if got := text.String(); !strings.Contains(got, "too little") || !strings.Contains(got, "in the 80% interval") {
		t.Errorf("the account is:\n%s", got)
	}
	if strings.Contains(text.String(), "Player ") {
		t.Error("the account names a player")
	}
}

// checkCorrection corrects an old match and takes one away.
func (a *autumn) checkCorrection(t *testing.T) {
	t.Helper()
	player, match := a.players[0].ID, a.matches[5] // 11 October
	find := func(origin models.Date) models.Forecast {
		said, _ := a.account(t)
		for _, f := range said {
			if f.PlayerID == player && f.Indicator == "carries" && f.Origin == origin {
				return f
			}
		}
		t.Fatalf("no forecast from %s", origin)
		return models.Forecast{}
	}
	before := find("2025-10-04")
	a.write(t, func(tx *store.Tx) error {
		all, err := tx.Totals(models.TotalsFilter{MatchID: match.ID, PlayerID: player})
		if err != nil || len(all) != 1 {
			return fmt.Errorf("%d totals: %w", len(all), err)
		}
		all[0].Counts["carries"] += 9
		return tx.UpdateMatchTotals(&all[0])
	})
	a.fit(t)
	after := find("2025-10-04")
	if after.Next.Value != before.Next.Value+9 || after.Corrected != 1 || after.Next.UpTo <= before.Next.UpTo {
		t.Errorf("after a correction by 9 it is settled as %+v, was %+v", after, before)
	}
	if after.Said != before.Said || !after.MadeAt.Equal(before.MadeAt) {
		t.Error("a correction changed what was said")
	}
	last := a.matches[len(a.matches)-1]
	a.write(t, func(tx *store.Tx) error {
		all, err := tx.Totals(models.TotalsFilter{MatchID: last.ID, PlayerID: player})
		if err != nil || len(all) != 1 {
			return fmt.Errorf("%d totals: %w", len(all), err)
		}
		return tx.DeleteMatchTotals(all[0].ID, all[0].Version)
	})
	a.fit(t)
	if gone := find("2025-10-25"); gone.Next.Settled() || gone.Corrected != 1 {
		t.Errorf("the figures are gone and the forecast is %+v, want it open again", gone)
	}
}

// checkSeasonsEnd settles the rest of the season once it is over.
func (a *autumn) checkSeasonsEnd(t *testing.T) {
	t.Helper()
	// The queue goes by the real clock, for which this season is over: a worker may have begun the job already, or put
	// it off a little behind another one.
	waiting, ordered := 0, false
	err := a.Read(t.Context(), a.who, func(tx *store.Tx) error {
		all, err := tx.Jobs(100)
		for _, j := range all {
			var task models.SettleTask
			if j.Kind != task.Kind() {
				continue
			}
			if err := json.Unmarshal(j.Task, &task); err != nil {
				return err
			}
			ordered = ordered || !j.DueAt.Before(time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC))
			if j.State == models.JobWaiting {
				waiting++
			}
		}
		return err
	})
	if err != nil || !ordered || waiting > 1 {
		t.Errorf("settling the season is ordered for the day after its end: %t, waiting %d times (%v); want once", ordered,
			waiting, err)
	}
	a.now = time.Date(2026, 1, 2, 12, 0, 0, 0, time.UTC)
	if err := api.SettleOver(t.Context(), a.Store, a.keeper, a.who); err != nil {
		t.Fatal(err)
	}
	said, _ := a.account(t)
	empty, full := 0, 0
	for i := range said {
		f := &said[i]
		all, _ := a.observed(t, f.PlayerID, f.Indicator, f.Origin)
		var y, of float64
		for _, o := range all {
			y += o.Numerator
			of += o.Denominator
		}
		if f.Family == models.Rate {
			of /= 80
		}
		if !f.Rest.Settled() || f.Rest.Matches != len(all) || math.Abs(f.Rest.Value-y) > 1e-9 ||
			math.Abs(f.Rest.Of-of) > 1e-9 {
			t.Fatalf("the rest is %+v, want %v of %v in %d matches", f.Rest, y, of, len(all))
		}
		if len(all) == 0 {
			empty++
			continue
		}
		full++
		if f.Rest.UpTo < f.Rest.Below || f.Rest.UpTo > 1 {
			t.Errorf("a place from %v to %v", f.Rest.Below, f.Rest.UpTo)
		}
	}
	if empty == 0 || full < 100 {
		t.Errorf("%d without a match and %d with some: too few", empty, full)
	}
}

// checkReaders keeps the account from everybody but managers and the console.
func (a *autumn) checkReaders(t *testing.T) {
	t.Helper()
	for _, role := range []models.Role{models.RoleCoach, models.RoleSelector, models.RolePlayer, models.RoleManager} {
		who := models.Who{AcademyID: a.who.AcademyID, Role: role, SquadIDs: []int64{a.squad.ID}, PlayerID: a.players[0].ID}
		err := a.Read(t.Context(), who, func(tx *store.Tx) error {
			_, err := calibration.Read(tx, models.ForecastFilter{})
			return err
		})
		if want := role != models.RoleManager; (models.CodeOf(err) == models.Forbidden) != want {
			t.Errorf("a %s reads the account with %v", role, err)
		}
	}
}

// checkErasure erases a player, and has nothing of them come back with the next fit.
func (a *autumn) checkErasure(t *testing.T) {
	t.Helper()
	player := a.players[2]
	if _, err := a.ErasePlayer(t.Context(), a.who, player.ID, player.Name, models.AskedByPlayer); err != nil {
		t.Fatal(err)
	}
	a.now = time.Date(2025, 11, 20, 12, 0, 0, 0, time.UTC) // the season goes on
	m := models.Match{SeasonID: a.season.ID, SquadID: &a.squad.ID, Date: "2025-11-19", Opponent: "Ostwick", Halves: 2,
		HalfMinutes: 40}
	a.write(t, func(tx *store.Tx) error { return tx.CreateMatch(&m) })
	a.fit(t)
	said, pairs := a.account(t)
	if len(said) == 0 || len(pairs) == 0 {
		t.Fatal("nothing of the others is left")
	}
	for _, f := range said {
		if f.PlayerID == player.ID {
			t.Fatalf("a forecast of an erased player: %+v", f)
		}
	}
	for _, p := range pairs {
		if p.PlayerID == player.ID || p.OtherID == player.ID {
			t.Fatalf("a forecast against an erased player: %+v", p)
		}
	}
}

// A season that was recorded at once gets an account from its earlier rounds, and the account says so.
func TestASeasonRecordedAfterwardsIsForecastFromItsEarlierRounds(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		a := newAutumn(t, url)
		days := []models.Date{"2025-09-06", "2025-09-13", "2025-09-20", "2025-09-27", "2025-10-04", "2025-10-11",
			"2025-10-18", "2025-10-25", "2025-11-01", "2025-11-08"}
		for _, day := range days[:9] {
			a.play(t, day)
		}
		live, _ := a.account(t)
		if err := api.Rehearse(t.Context(), a.Store, a.keeper, a.who, models.ForecastFilter{}, 3); err != nil {
			t.Fatal(err)
		}
		if after, _ := a.account(t); len(after) != len(live) {
			t.Errorf("%d forecasts after a rehearsal of rounds that have some, %d before", len(after), len(live))
		}
		other := storetest.SQLite
		if strings.HasPrefix(url, "postgres") {
			other = storetest.MigratedPostgres
		}
		fresh := newAutumn(t, other(t))
		for _, day := range days {
			fresh.record(t, day)
		}
		fresh.now = time.Date(2025, 11, 20, 12, 0, 0, 0, time.UTC)
		fresh.fit(t)
		if err := api.Rehearse(t.Context(), fresh.Store, fresh.keeper, fresh.who, models.ForecastFilter{}, 3); err != nil {
			t.Fatal(err)
		}
		said, pairs := fresh.account(t)
		origins := map[models.Date]int{}
		for _, f := range said {
			origins[f.Origin]++
			if f.Origin != "2025-11-08" && !f.Next.Settled() {
				t.Fatalf("a forecast afterwards is open: %+v", f)
			}
		}
		if len(origins) != 4 { // three earlier ones, and the last round
			t.Errorf("origins %v, want three earlier rounds and the last", origins)
		}
		r := calibration.Of(said, pairs)
		if got := r.Families[0].Next; got.Hindsight != got.Settled || got.Settled != 2*3*len(fresh.players) {
			t.Errorf("rates: %+v, want %d, all of them made afterwards", got.Counted, 2*3*len(fresh.players))
		}
		// What was said afterwards is what would have been said on the day.
		for _, f := range said {
			for _, l := range live {
				if f.Origin == l.Origin && f.PlayerID == l.PlayerID && f.Indicator == l.Indicator && f.Said != l.Said {
					t.Fatalf("said afterwards %+v, on the day %+v", f.Said, l.Said)
				}
			}
		}
	})
}
