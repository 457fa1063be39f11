package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"throughline/models"
)

// Settle brings an academy's records up to date with the program, and says in words what it did; where there is
// nothing to do, it writes nothing. It belongs after Migrate: a program with new definitions may need no other tables.
//
//   - An indicator of the academy's own whose code the program has built in now gets another code. What refers to it
//     follows, and the audit trail says so.
//   - Observations that were made by other rules are made again.
func Settle(ctx context.Context, url string) (done []string, err error) {
	a, err := parseAddress(url)
	if err != nil {
		return nil, err
	}
	s, err := openAt(ctx, a, Options{Now: time.Now})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	academies, err := s.Academies(ctx)
	if err != nil {
		return nil, err
	}
	for _, academy := range academies {
		due, err := s.unsettled(ctx, academy)
		if err != nil {
			return done, err
		}
		if due == (unsettled{}) {
			continue
		}
		err = s.Write(ctx, models.Console(academy.ID), func(tx *Tx) error {
			said, err := tx.settleIndicators(academy.Name)
			if err == nil && due.observed {
				said, err = tx.observeBy(academy.Name, said)
			}
			done = append(done, said...)
			return err
		})
		if err != nil {
			return done, err
		}
	}
	return done, nil
}

// unsettled says what an academy's records need before this program can work with them.
type unsettled struct {
	doubled  bool // an indicator of its own has a code that is built in
	observed bool // its observations were made by other rules
}

func (s *Store) unsettled(ctx context.Context, academy models.Academy) (due unsettled, err error) {
	err = s.Read(ctx, models.Console(academy.ID), func(tx *Tx) error {
		codes, err := tx.count("find indicators with the same code",
			"SELECT count(*) FROM indicators WHERE academy_id = ? AND deleted_at IS NULL AND code IN ?", academy.ID, builtIn())
		if err != nil {
			return err
		}
		others, err := tx.count("find observations made by other rules",
			"SELECT count(*) FROM academies WHERE id = ? AND observed <> ?", academy.ID, models.ObservingRules())
		due = unsettled{doubled: codes > 0, observed: others > 0}
		return err
	})
	return due, err
}

// settled is an error if Settle still has something to do in the database.
func (s *Store) settled(ctx context.Context) error {
	academies, err := s.Academies(ctx)
	for _, a := range academies {
		if err != nil {
			break
		}
		var due unsettled
		due, err = s.unsettled(ctx, a)
		switch {
		case due.doubled:
			return fmt.Errorf("academy %q has its own indicator with a code that is now built in: make a backup, then run "+
				"\"throughline migrate up\", which gives the indicator another code", a.Name)
		case due.observed:
			return fmt.Errorf("the figures of academy %q were computed with other definitions: make a backup, then run "+
				"\"throughline migrate up\", which computes them again from the records", a.Name)
		}
	}
	return err
}

// observeBy makes the academy's observations again by the program's rules, and says how many are others now.
func (tx *Tx) observeBy(academy string, said []string) ([]string, error) {
	_, differences, err := tx.Recompute(0)
	if err != nil {
		return nil, err
	}
	if len(differences) > 0 {
		said = append(said, fmt.Sprintf("%s: computed %d figures again from the records, because definitions changed",
			academy, len(differences)))
	}
	return said, tx.exec("record the rules that figures were computed by", "UPDATE academies SET observed = ? "+
		"WHERE id = ?",
		models.ObservingRules(), tx.who.AcademyID)
}

// builtIn are the codes of the indicators that every academy has.
func builtIn() []string {
	var codes []string
	for _, i := range models.IndicatorCatalogue() {
		codes = append(codes, i.Code)
	}
	return codes
}

func (tx *Tx) settleIndicators(academy string) (done []string, err error) {
	own, err := tx.OwnIndicators()
	if err != nil {
		return nil, err
	}
	taken := builtIn()
	for _, i := range own {
		taken = append(taken, i.Code)
	}
	for _, before := range own {
		if !slices.Contains(builtIn(), before.Code) {
			continue
		}
		after := before
		after.Code = freeCode(before.Code, taken)
		taken = append(taken, after.Code)
		after.Version, after.ChangedAt = before.Version+1, tx.now
		if err := tx.recode(before, after); err != nil {
			return nil, err
		}
		done = append(done, fmt.Sprintf("%s: the academy's own indicator %q (%s) now has the code %s, because %s is now "+
			"built in; goals and meetings use the new code", academy, before.Label, before.Code,
			after.Code, before.Code))
	}
	tx.own, tx.all = nil, len(done) > 0
	return done, nil
}

// mostCode is how long a code may be.
const mostCode = 60

// freeCode is a code with a suffix that nothing has yet.
func freeCode(code string, taken []string) string {
	for n := 1; ; n++ {
		suffix := "_own"
		if n > 1 {
			suffix = fmt.Sprintf("_own_%d", n)
		}
		free := strings.TrimRight(code[:min(len(code), mostCode-len(suffix))], "_") + suffix
		if !slices.Contains(taken, free) {
			return free
		}
	}
}

// recode gives an indicator another code, with all that refers to it. Observations are made again; trends are
// fitted again.
func (tx *Tx) recode(before, after models.Indicator) error {
	academy := tx.who.AcademyID
	err := tx.exec("change the code of an indicator",
		"UPDATE indicators SET code = ?, version = ?, changed_at = ? WHERE academy_id = ? AND id = ?",
		after.Code, after.Version, after.ChangedAt, academy, after.ID)
	if err != nil {
		return err
	}
	tx.note(models.AuditChange, indicators().name, after.ID, 0, before, after)
	if err := tx.recodeGoals(before.Code, after.Code); err != nil {
		return err
	}
	if err := tx.recodeMeetings(before.Code, after.Code); err != nil {
		return err
	}
	for _, table := range []string{"observations", "trends", "publications", "forecasts",
		"forecast_pairs"} {
		err := tx.exec("delete the figures of an indicator",
			"DELETE FROM "+table+" WHERE academy_id = ? AND indicator = ?", academy, before.Code)
		if err != nil {
			return err
		}
	}
	return nil
}

func (tx *Tx) recodeGoals(was, is string) error {
	all, err := goals().find(tx, where{}, that("goals.indicator = ?", was))
	if err != nil {
		return err
	}
	for _, before := range all {
		after := before
		after.Indicator, after.Version, after.ChangedAt = is, before.Version+1, tx.now
		if err := goals().keepEarlier(tx, []change[models.Goal]{{old: &before, now: &after}}); err != nil {
			return err
		}
		err := tx.exec("change the indicator of a goal",
			"UPDATE goals SET indicator = ?, version = ?, changed_at = ? WHERE academy_id = ? AND id = ?",
			is, after.Version, after.ChangedAt, tx.who.AcademyID, after.ID)
		if err != nil {
			return err
		}
		tx.note(models.AuditChange, goals().name, after.ID, after.PlayerID, before, after)
	}
	return nil
}

func (tx *Tx) recodeMeetings(was, is string) error {
	all, err := meetings().find(tx, where{})
	if err != nil {
		return err
	}
	for _, before := range all {
		after := before
		after.Criteria = slices.Clone(before.Criteria)
		for i := range after.Criteria {
			if after.Criteria[i].Indicator == was {
				after.Criteria[i].Indicator = is
			}
		}
		if slices.Equal(before.Criteria, after.Criteria) {
			continue
		}
		after.Version, after.ChangedAt = before.Version+1, tx.now
		err := tx.query().Model(&after).Where("academy_id = ?", tx.who.AcademyID).
			Select("criteria", "version", "changed_at").Updates(&after).Error
		if err := tx.done("change a criterion of a meeting", err); err != nil {
			return err
		}
		before.Candidates, after.Candidates = nil, nil // each has entries of its own
		tx.note(models.AuditChange, meetings().name, after.ID, 0, before, after)
	}
	return nil
}
