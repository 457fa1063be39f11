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

// Settled is an indicator of an academy's own that got another code, because the program has one with its code
// built in now.
type Settled struct{ Academy, Label, Was, Code string }

// String says what was done, for whoever runs the program.
func (s Settled) String() string {
	return fmt.Sprintf("%s: the academy's own indicator %q (%s) has the code %s now, because every academy has an "+
		"indicator %s; goals and meetings refer to it by the new code", s.Academy, s.Label, s.Was, s.Code, s.Was)
}

// Settle gives another code to each indicator of an academy's own whose code the program has built in, and returns
// which. What refers to it follows, and the audit trail says so. A database in which there is none is left as it
// is. It belongs after Migrate: a program that has more indicators built in than the one before may need no other
// tables.
func Settle(ctx context.Context, url string) (done []Settled, err error) {
	a, err := parseAddress(url)
	if err != nil {
		return nil, err
	}
	s, err := openAt(ctx, a, Options{Now: time.Now})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	doubled, err := s.doubled(ctx)
	for _, academy := range doubled {
		if err != nil {
			return done, err
		}
		err = s.Write(ctx, models.Console(academy.ID), func(tx *Tx) error {
			settled, err := tx.settleIndicators(academy.Name)
			done = append(done, settled...)
			return err
		})
	}
	return done, err
}

// doubled are the academies that have an indicator of their own with a code that is built in.
func (s *Store) doubled(ctx context.Context) (all []models.Academy, err error) {
	academies, err := s.Academies(ctx)
	if err != nil {
		return nil, err
	}
	for _, a := range academies {
		err := s.Read(ctx, models.Console(a.ID), func(tx *Tx) error {
			n, err := tx.count("look for indicators of the same code",
				"SELECT count(*) FROM indicators WHERE academy_id = ? AND deleted_at IS NULL AND code IN ?", a.ID, builtIn())
			if n > 0 {
				all = append(all, a)
			}
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	return all, nil
}

// unsettled refuses to serve a database in which two indicators of an academy have one code.
func (s *Store) unsettled(ctx context.Context) error {
	all, err := s.doubled(ctx)
	if err != nil || len(all) == 0 {
		return err
	}
	return fmt.Errorf("academy %q has an indicator of its own whose code this program has built in: make a backup, "+
		"then run \"throughline migrate up\", which gives it another code", all[0].Name)
}

// builtIn are the codes of the indicators that every academy has.
func builtIn() []string {
	var codes []string
	for _, i := range models.IndicatorCatalogue() {
		codes = append(codes, i.Code)
	}
	return codes
}

func (tx *Tx) settleIndicators(academy string) (done []Settled, err error) {
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
		done = append(done, Settled{academy, before.Label, before.Code, after.Code})
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
		err := tx.exec("forget the figures of an indicator",
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
