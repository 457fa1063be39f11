package store_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// errUndone rolls a trial back.
var errUndone = errors.New("undone")

// outcome is what became of a set of records: the rows that it left, and why records were refused, by their
// place in the set.
type outcome struct {
	rows     []string
	refusals []string
}

func (o *outcome) refuse(t *testing.T, place string, err error) bool {
	t.Helper()
	if err == nil {
		return false
	}
	var e *models.Error
	if !errors.As(err, &e) {
		t.Fatal(err)
	}
	if len(e.Fields) == 0 {
		o.refusals = append(o.refusals, fmt.Sprintf("%s %s: %s", e.Code, place, e.Message))
	}
	for _, f := range e.Fields {
		o.refusals = append(o.refusals, fmt.Sprintf("%s %s: %s", e.Code, strings.TrimSuffix(place+"."+f.Where, "."),
			f.Message))
	}
	return true
}

// left reads what is recorded in matches, without ids: a record is named by what it says.
func left(t *testing.T, tx *store.Tx, matches []int64) (rows []string) {
	t.Helper()
	if err := tx.Observe(); err != nil {
		t.Fatal(err)
	}
	say := func(kind string, r any, err error) {
		t.Helper()
		text, wrong := json.Marshal(r)
		if err := errors.Join(err, wrong); err != nil {
			t.Fatal(err)
		}
		rows = append(rows, kind+" "+string(text))
	}
	named := map[int64]string{}
	for _, match := range matches {
		appeared, err := tx.Appearances(models.AppearanceFilter{MatchID: match})
		for _, a := range appeared {
			a.ID = 0
			say("appearance", a, err)
		}
		totals, err := tx.Totals(models.TotalsFilter{MatchID: match})
		for _, r := range totals {
			r.ID = 0
			say("totals", r, err)
		}
		logs, err := tx.Logs(models.LogFilter{MatchID: match})
		of := map[int64]string{}
		for _, l := range logs {
			of[l.ID] = fmt.Sprint("log of ", l.PlayerID, " by ", l.LoggerID)
			l.ID, l.Proposal = 0, nil // which has the id of a head contact
			say("log", l, err)
		}
		all, err := tx.Involvements(models.InvolvementFilter{MatchID: match})
		for _, i := range all {
			named[i.ID] = fmt.Sprint(of[i.LogID], " at ", i.Clock, " ", i.Kind, " ", i.Key)
		}
		for _, i := range all {
			in := of[i.LogID]
			if i.LinkedTo != nil {
				in += " linked to " + named[*i.LinkedTo]
			}
			i.ID, i.LogID, i.LinkedTo, i.Proposal = 0, 0, nil, nil
			say("involvement "+in, i, err)
		}
		observed, err := tx.Observations(models.ObservationFilter{MatchID: match})
		for _, o := range observed {
			say("observation", o, err)
		}
		cells, err := tx.CarryCells(models.ObservationFilter{MatchID: match})
		for _, c := range cells {
			say("cell", c, err)
		}
		contacts, err := tx.HeadContacts(models.HeadContactFilter{MatchID: match})
		for _, h := range contacts {
			marked := ""
			if h.InvolvementID != nil {
				marked = named[*h.InvolvementID]
			}
			h.ID, h.InvolvementID, h.Proposal = 0, nil, nil
			say("head contact of "+marked, h, err)
		}
	}
	slices.Sort(rows)
	return rows
}

// try runs a trial in a transaction of its own, which is undone.
func try(t *testing.T, s *store.Store, who models.Who, trial func(tx *store.Tx)) {
	t.Helper()
	err := s.Write(t.Context(), who, func(tx *store.Tx) error {
		trial(tx)
		return errUndone
	})
	if !errors.Is(err, errUndone) {
		t.Fatal(err)
	}
}

// nowhere is the id of no involvement.
const nowhere = 987654

// everything is what must be among what sets of records come to.
var everything = []string{"invalid", "conflict", "appearance ", "totals ", "log ", "involvement ", "observation ",
	"cell ",
	"head contact ", "link a pass or offload", "shirt", "stood down", "consent", "already has an appearance in this match",
	"another log", "starters: a side",
	"there is no involvement", "there is no player", "there is no match"}

// trials draws sets of records, good and bad, about some players and matches.
type trials struct {
	*rand.Rand
	players, matches, users []int64
}

func draw[T any](r *trials, of ...T) T { return of[r.IntN(len(of))] }

func (r *trials) rarely() bool { return r.IntN(12) == 0 }

func (r *trials) clock() models.Clock {
	half := 1 + r.IntN(2)
	return models.Clock{Half: half, Second: (half-1)*2100 + 60*r.IntN(36)}
}

func (r *trials) appearance(match, player int64) models.Appearance {
	a := models.Appearance{MatchID: match, PlayerID: player, Minutes: float64(5 + r.IntN(66))}
	if r.rarely() {
		a.Minutes = draw(r, 0, 95, -1.0)
	}
	if r.IntN(2) == 0 {
		a.Shirt = ptr(draw(r, 1, 2, 3, 4, 5, 6, 8, 9, 30, 31, 32, 100))
	}
	if r.IntN(3) == 0 {
		a.Started = ptr(r.IntN(2) == 0)
	}
	if r.IntN(3) == 0 {
		a.Stints = []models.Stint{{On: clock(1, 0, 0), Off: clock(1, 35, 0)},
			{On: clock(2, 35, 0), Off: clock(2, draw(r, 40, 60, 70, 36), 0)}}
		if r.rarely() {
			slices.Reverse(a.Stints)
		}
	}
	return a
}

func (r *trials) log() models.Log {
	l := models.Log{LoggerID: draw(r, r.users...), Depth: draw(r, models.Core, models.Full), Finished: r.IntN(4) > 0,
		Key: draw(r, "", "", "one", "two", "taken"), Kinds: []models.Kind{models.KindCarry, models.KindPass,
			models.KindOffload, models.KindTackle}}
	if r.IntN(4) == 0 {
		l.Covers = []models.Span{{From: clock(1, 0, 0), To: clock(1, draw(r, 20, 35, 80), 0)}}
	}
	if r.rarely() {
		l.Kinds = draw(r, nil, []models.Kind{"scrum", "scrum"}, []models.Kind{"hug"})
	}
	return l
}

// involvements returns some of one log, with ids of our own that links use. Linked ones come last.
func (r *trials) involvements(from, most int) (all []models.Involvement) {
	for n := range r.IntN(most) {
		i := models.Involvement{Record: models.Record{ID: int64(from + n)}, Clock: r.clock(),
			Key:  draw(r, "", "", "", "a", "b", "c"),
			Kind: draw(r, models.KindCarry, models.KindCarry, models.KindTackle, models.KindPass, models.KindPass)}
		if r.rarely() {
			i.Kind = models.KindScrum
		}
		switch i.Kind {
		case models.KindCarry:
			i.Details = map[string]string{"contact": "won", "gain_line": "over"}
			i.Measures = map[string]float64{"metres": draw(r, 3, 6.5, 8, 900)}
		case models.KindTackle:
			i.Details = map[string]string{"result": draw(r, "won", "missed", "missed", "won", "hugged")}
			i.HeadContact = r.IntN(4) == 0
		case models.KindPass:
			if to := draw(r, append(all, i)...); to.LinkedTo == nil && to.ID != i.ID {
				i.LinkedTo = &to.ID
			}
		}
		if r.rarely() {
			i.VideoFile, i.VideoFrom = "film", ptr(12.5)
		}
		if r.rarely() {
			i.Clock = draw(r, clock(3, 0, 0), clock(1, 59, 0), clock(2, 1, 0))
		}
		if r.rarely() {
			i.Note = strings.Repeat("x", 1001)
		}
		all = append(all, i)
	}
	if r.rarely() {
		stray := models.Involvement{Clock: r.clock(), Kind: models.KindPass, LinkedTo: ptr(int64(nowhere))}
		stray.ID = int64(from + most)
		all = append(all, stray)
	}
	slices.SortStableFunc(all, func(a, b models.Involvement) int {
		return map[bool]int{true: 1}[a.LinkedTo != nil] - map[bool]int{true: 1}[b.LinkedTo != nil]
	})
	return all
}

func (r *trials) plays() (all []models.Play) {
	for range 1 + r.IntN(7) {
		p := models.Play{Appearance: r.appearance(draw(r, r.matches...), draw(r, r.players...))}
		p.Match.ID = p.Appearance.MatchID
		if r.IntN(2) == 0 {
			p.Totals = &models.MatchTotals{Source: "a sheet", Counts: draw(r,
				models.Counts{"carries": 4, "contacts_won": 2}, models.Counts{"carries": 4},
				models.Counts{"carries": 1, "contacts_won": 2}, models.Counts{"hugs": 1})}
		}
		for range r.IntN(3) {
			p.Logs = append(p.Logs, models.LoggedPlay{Log: r.log(), Involvements: r.involvements(1, 6)})
		}
		all = append(all, p)
	}
	return all
}

// oneByOne writes plays record by record. What belongs to a record that is refused is left out, here as
// everywhere; good is the rest.
func oneByOne(t *testing.T, tx *store.Tx, plays []models.Play, matches []int64) (o outcome, good []models.Play) {
	t.Helper()
	for n, p := range plays {
		place := fmt.Sprintf("plays[%d].", n)
		a := p.Appearance
		if o.refuse(t, place+"appearance", tx.CreateAppearance(&a)) {
			continue
		}
		kept := models.Play{Match: p.Match, Appearance: p.Appearance}
		if p.Totals != nil {
			totals := *p.Totals
			totals.MatchID, totals.PlayerID = a.MatchID, a.PlayerID
			if !o.refuse(t, place+"totals", tx.CreateMatchTotals(&totals)) {
				kept.Totals = p.Totals
			}
		}
		for l, logged := range p.Logs {
			log := logged.Log
			log.MatchID, log.PlayerID = a.MatchID, a.PlayerID
			at := fmt.Sprintf("%slogs[%d]", place, l)
			if o.refuse(t, at, tx.CreateLog(&log)) {
				continue
			}
			whole := models.LoggedPlay{Log: logged.Log}
			ids := map[int64]int64{}
			for n, i := range logged.Involvements {
				made := i
				made.LogID = log.ID
				if i.LinkedTo != nil && ids[*i.LinkedTo] != 0 {
					made.LinkedTo = ptr(ids[*i.LinkedTo])
				} else if i.LinkedTo != nil && *i.LinkedTo != nowhere {
					continue // what it is linked to was refused
				}
				if !o.refuse(t, fmt.Sprintf("%s.involvements[%d]", at, n), tx.CreateInvolvement(&made)) {
					ids[i.ID] = made.ID
					whole.Involvements = append(whole.Involvements, i)
				}
			}
			kept.Logs = append(kept.Logs, whole)
		}
		good = append(good, kept)
	}
	slices.Sort(o.refusals)
	o.rows = left(t, tx, matches)
	return o, good
}

// inBatches writes plays with a batch for each kind of record. Where some of a batch are refused, the others
// are sent again.
func inBatches(t *testing.T, tx *store.Tx, plays []models.Play, matches []int64) (o outcome) {
	t.Helper()
	var people batchOf[models.Appearance]
	for n, p := range plays {
		people.add(fmt.Sprintf("plays[%d].appearance", n), p.Appearance)
	}
	people.write(t, &o, tx.CreateAppearances)
	var totals batchOf[models.MatchTotals]
	var logs batchOf[models.Log]
	for n, p := range plays {
		a, there := people.made[fmt.Sprintf("plays[%d].appearance", n)]
		if !there {
			continue
		}
		if p.Totals != nil {
			r := *p.Totals
			r.MatchID, r.PlayerID = a.MatchID, a.PlayerID
			totals.add(fmt.Sprintf("plays[%d].totals", n), r)
		}
		for l, logged := range p.Logs {
			log := logged.Log
			log.MatchID, log.PlayerID = a.MatchID, a.PlayerID
			logs.add(fmt.Sprintf("plays[%d].logs[%d]", n, l), log)
		}
	}
	totals.write(t, &o, tx.CreateManyTotals)
	logs.write(t, &o, tx.CreateLogs)
	for n, p := range plays {
		for l, logged := range p.Logs {
			if log, there := logs.made[fmt.Sprintf("plays[%d].logs[%d]", n, l)]; there {
				involvementsInBatches(t, tx, &o, fmt.Sprintf("plays[%d].logs[%d].involvements", n, l), log.ID, logged.Involvements)
			}
		}
	}
	slices.Sort(o.refusals)
	o.rows = left(t, tx, matches)
	return o
}

// involvementsInBatches writes involvements of a log in two batches: what is linked to another, which has its
// id by then, comes last.
func involvementsInBatches(t *testing.T, tx *store.Tx, o *outcome, place string, log int64, all []models.Involvement) {
	t.Helper()
	ids := map[int64]int64{}
	for _, linked := range []bool{false, true} {
		var some batchOf[models.Involvement]
		for n, i := range all {
			if (i.LinkedTo != nil) != linked {
				continue
			}
			if linked && ids[*i.LinkedTo] != 0 {
				i.LinkedTo = ptr(ids[*i.LinkedTo])
			} else if linked && *i.LinkedTo < nowhere {
				continue
			}
			some.add(fmt.Sprintf("%s[%d]", place, n), i)
		}
		some.write(t, o, func(all []*models.Involvement) ([]error, error) { return tx.CreateInvolvements(log, all) })
		for n, i := range all {
			if made, there := some.made[fmt.Sprintf("%s[%d]", place, n)]; there {
				ids[i.ID] = made.ID
			}
		}
	}
}

// batchOf is records with their places.
type batchOf[T any] struct {
	places []string
	all    []T
	made   map[string]T
}

func (b *batchOf[T]) add(place string, r T) {
	b.places, b.all = append(b.places, place), append(b.all, r)
}

func (b *batchOf[T]) write(t *testing.T, o *outcome, create func([]*T) ([]error, error)) {
	t.Helper()
	b.made = map[string]T{}
	places := b.places
	for again := false; len(b.all) > 0; again = true {
		sent := make([]*T, len(b.all))
		for n := range b.all {
			one := b.all[n]
			sent[n] = &one
		}
		refused, err := create(sent)
		if err != nil {
			t.Fatal(err)
		}
		var good batchOf[T]
		for n, err := range refused {
			if !o.refuse(t, places[n], err) {
				good.add(places[n], b.all[n])
			}
		}
		if len(good.all) == len(b.all) {
			for n, r := range sent {
				b.made[places[n]] = *r
			}
			return
		}
		if again {
			t.Fatal("records that were not refused are, once those that were are left out")
		}
		b.all, places = good.all, good.places
	}
}

func TestOneByOneInABatchAndInBulkTheSameRulesHold(t *testing.T) {
	storetest.OneByOne(t)
	first := map[int]outcome{} // of the database that was tried before
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		r := w.trials(t)
		w.require(t, models.PurposeRecords, models.PurposeFilming)
		seen := map[string]int{}
		for seed := range 60 {
			r.Rand = rand.New(rand.NewPCG(uint64(seed), 5))
			plays := r.plays()
			var one, batch, bulk outcome
			var good []models.Play
			try(t, s, w.manager, func(tx *store.Tx) { one, good = oneByOne(t, tx, plays, r.matches) })
			try(t, s, w.manager, func(tx *store.Tx) { batch = inBatches(t, tx, plays, r.matches) })
			try(t, s, w.manager, func(tx *store.Tx) {
				refuseBulk(t, &bulk, one.refusals, tx.AddPlays(plays))
				if len(bulk.refusals) == 0 {
					bulk.rows = left(t, tx, r.matches)
					return
				}
				if err := tx.AddPlays(good); err != nil {
					t.Errorf("seed %d: what is good one by one is refused in bulk: %v", seed, err)
				}
				bulk.rows = left(t, tx, r.matches)
			})
			for how, other := range map[string]outcome{"in a batch": batch, "in bulk": bulk} {
				compare(t, fmt.Sprintf("seed %d, %s", seed, how), one, other)
			}
			if before, tried := first[seed]; tried {
				compare(t, fmt.Sprintf("seed %d, on the other database", seed), before, one)
			}
			first[seed] = one
			count(seen, one)
		}
		// The sets have something of everything.
		for _, what := range everything {
			if seen[what] == 0 {
				t.Errorf("no set has %q: %v", what, seen)
			}
		}
	})
}

func TestInvolvementsOfALogThatIsThereAreHeldAgainstTheSameRulesInABatch(t *testing.T) {
	storetest.OneByOne(t)
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		w := newWorld(t, s)
		w.require(t, models.PurposeStaffDevices)
		gone := models.Involvement{LogID: w.log.ID, Clock: clock(1, 2, 0), Kind: models.KindPass, Key: "c"}
		keyed := models.Involvement{LogID: w.log.ID, Clock: clock(1, 3, 0), Kind: models.KindPass, Key: "b"}
		write(t, s, w.coach, func(tx *store.Tx) error {
			return all(func() error {
				return tx.CreateInvolvement(&gone)
			}, func() error { return tx.CreateInvolvement(&keyed) })
		})
		write(t, s, w.coach, func(tx *store.Tx) error { return tx.DeleteInvolvement(gone.ID, gone.Version) })
		r := &trials{}
		seen := map[string]int{}
		for seed := range 60 {
			r.Rand = rand.New(rand.NewPCG(uint64(seed), 9))
			some := r.involvements(5000, 9)
			var one, batch outcome
			try(t, s, w.coach, func(tx *store.Tx) {
				ids := map[int64]int64{}
				for n, i := range some {
					id := i.ID
					i.LogID = w.log.ID
					if i.LinkedTo != nil && ids[*i.LinkedTo] != 0 {
						i.LinkedTo = ptr(ids[*i.LinkedTo])
					} else if i.LinkedTo != nil && *i.LinkedTo < nowhere {
						continue
					}
					if !one.refuse(t, fmt.Sprintf("items[%d]", n), tx.CreateInvolvement(&i)) {
						ids[id] = i.ID
					}
				}
				one.rows = left(t, tx, []int64{w.match.ID})
			})
			try(t, s, w.coach, func(tx *store.Tx) {
				involvementsInBatches(t, tx, &batch, "items", w.log.ID, some)
				batch.rows = left(t, tx, []int64{w.match.ID})
			})
			slices.Sort(one.refusals)
			slices.Sort(batch.refusals)
			compare(t, fmt.Sprint("seed ", seed), one, batch)
			count(seen, one)
		}
		for _, what := range []string{"gone", "conflict", "invalid", "consent", "head contact ", "link a pass or offload"} {
			if seen[what] == 0 {
				t.Errorf("no set has %q: %v", what, seen)
			}
		}
	})
}

// trials adds what the drawn records are about: players whom rules treat differently, and matches, one with fifteen
// starters.
func (w *world) trials(t *testing.T) *trials {
	t.Helper()
	r := &trials{users: []int64{w.coach.UserID, w.coach.UserID, w.manager.UserID, w.manager.UserID, w.bramHimself.UserID,
		9999}}
	full := models.Match{SeasonID: w.season.ID, SquadID: &w.colts.ID, Date: "2025-10-11", Opponent: "Dunmere", Halves: 2,
		HalfMinutes: 35}
	write(t, w.s, w.manager, func(tx *store.Tx) error {
		if err := tx.CreateMatch(&full); err != nil {
			return err
		}
		for n := range 15 {
			p := models.Player{Name: fmt.Sprint("Starter ", n), BornOn: ptr(models.Date("2000-01-01"))}
			if err := tx.CreatePlayer(&p); err != nil {
				return err
			}
			a := models.Appearance{MatchID: full.ID, PlayerID: p.ID, Minutes: 70, Started: ptr(true), Shirt: ptr(10 + n)}
			if err := tx.CreateAppearance(&a); err != nil {
				return err
			}
		}
		for n := range 6 {
			p := models.Player{Name: fmt.Sprint("Adult ", n), BornOn: ptr(models.Date("2000-01-01"))}
			if err := tx.CreatePlayer(&p); err != nil {
				return err
			}
			r.players = append(r.players, p.ID)
		}
		young := models.Player{Name: "Young One", BornOn: ptr(models.Date("2010-01-01"))}
		agreed := models.Player{Name: "Young Two", BornOn: ptr(models.Date("2010-01-01"))}
		down := models.Player{Name: "Sore Head", BornOn: ptr(models.Date("2000-01-01"))}
		if err := all(func() error { return tx.CreatePlayer(&young) }, func() error { return tx.CreatePlayer(&agreed) },
			func() error { return tx.CreatePlayer(&down) }); err != nil {
			return err
		}
		r.players = append(r.players, young.ID, agreed.ID, down.ID, w.bram.ID, 99999)
		return all(func() error {
			return tx.CreateConsent(&models.Consent{PlayerID: agreed.ID, Purpose: models.PurposeRecords, GivenBy: "A Parent",
				Relation: models.ByGuardian, On: "2025-09-01"})
		}, func() error {
			return tx.CreateStandDown(&models.StandDown{PlayerID: down.ID, From: "2025-10-06"})
		}, func() error {
			return tx.CreateLog(&models.Log{MatchID: w.match.ID, PlayerID: w.tove.ID, Depth: models.Core, Key: "taken",
				Kinds: []models.Kind{models.KindPass}})
		})
	})
	r.matches = []int64{w.match.ID, w.match.ID, full.ID, w.juniorMatch.ID, w.schoolMatch.ID, 99999}
	return r
}

// refuseBulk takes apart what bulk writing refused. Its one code is that of the first refusal; those of the
// others are looked up.
func refuseBulk(t *testing.T, o *outcome, want []string, err error) {
	t.Helper()
	if err == nil {
		return
	}
	var e *models.Error
	if !errors.As(err, &e) {
		t.Fatal(err)
	}
	for n, f := range e.Fields {
		codes := []models.Code{e.Code}
		if n > 0 {
			codes = []models.Code{models.Invalid, models.Conflict, models.Gone}
		}
		for _, code := range codes {
			if said := fmt.Sprintf("%s %s: %s", code, f.Where, f.Message); n == 0 || slices.Contains(want, said) {
				o.refusals = append(o.refusals, said)
				break
			} else if code == models.Gone {
				o.refusals = append(o.refusals, "? "+f.Where+": "+f.Message)
			}
		}
	}
	slices.Sort(o.refusals)
}

func compare(t *testing.T, what string, want, got outcome) {
	t.Helper()
	for _, part := range []struct {
		name      string
		want, got []string
	}{{"refuses", want.refusals, got.refusals}, {"leaves", want.rows, got.rows}} {
		for _, line := range part.want {
			if !slices.Contains(part.got, line) {
				t.Errorf("%s: only the first way %s %s", what, part.name, line)
			}
		}
		for _, line := range part.got {
			if !slices.Contains(part.want, line) {
				t.Errorf("%s: only the second way %s %s", what, part.name, line)
			}
		}
		if len(part.want) != len(part.got) {
			t.Errorf("%s: the first way %s %d, the second %d", what, part.name, len(part.want), len(part.got))
		}
	}
}

// count counts what an outcome has.
func count(seen map[string]int, o outcome) {
	for _, line := range slices.Concat(o.refusals, o.rows) {
		for _, what := range append(everything, "gone") {
			if strings.Contains(line, what) {
				seen[what]++
			}
		}
	}
}
