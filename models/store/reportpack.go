package store

import (
	"context"
	"errors"
	"slices"

	"throughline/models"
)

// A pack of reports is rows of two tables: the pack, and a row for each player that the job fills as it makes their
// report. So a killed process loses no finished report, and an erasure deletes the reports in its own transaction.
//
// A pack is there for its maker alone, until models.ReportPackFor is over, while they are one of the staff and reach
// every player in it. Every read asks again, so that an ended right ends it at once; SweepReportPacks then deletes it.

// CreateReportPack asks for a pack of a squad's season in an edition: p has the season, the squad, the edition and
// whether reports are there as PDF too; the rest follows.
//
// Errors: those of MayPack, and Conflict if the caller has a pack of the squad's season already.
func (tx *Tx) CreateReportPack(p *models.ReportPack) error {
	players, err := tx.packable(p.SeasonID, p.SquadID)
	if err != nil {
		return err
	}
	there, err := tx.packs(that("user_id = ? AND season_id = ? AND squad_id = ?", tx.who.UserID, p.SeasonID, p.SquadID))
	if err != nil {
		return err
	}
	for _, old := range there {
		if old.Until.After(tx.now) {
			return models.Errorf(models.Conflict, "you already have a pack of this squad; delete it to make another")
		}
		if err := tx.deletePack(old); err != nil {
			return err
		}
	}
	return tx.insertPack(p, players)
}

// MayPack says why the caller may not have a pack of a squad's season; nil if they may.
//
// Errors: Forbidden if the caller is not one of the staff or does not reach every player of the squad's season,
// NotFound if there is no such squad or season, Conflict if the squad has no player in it.
func (tx *Tx) MayPack(season, squad int64) error {
	_, err := tx.packable(season, squad)
	return err
}

// packable returns the players of a squad's season, if the caller reaches them all.
func (tx *Tx) packable(season, squad int64) ([]int64, error) {
	if err := tx.mayPack(); err != nil {
		return nil, err
	}
	if _, err := tx.Squad(squad); err != nil {
		return nil, err
	}
	if _, err := tx.Season(season); err != nil {
		return nil, err
	}
	players, err := rows[int64](tx, "find the players of a squad", `SELECT DISTINCT m.player_id FROM memberships AS m
		JOIN players AS p ON p.academy_id = m.academy_id AND p.id = m.player_id
		WHERE m.academy_id = ? AND m.season_id = ? AND m.squad_id = ? AND m.deleted_at IS NULL AND p.deleted_at IS NULL
		ORDER BY m.player_id`, tx.who.AcademyID, season, squad)
	if err != nil {
		return nil, err
	}
	all, err := tx.reachesAll(season, squad, players)
	switch {
	case err != nil:
		return nil, err
	case len(players) == 0 && tx.who.Reach(models.Read, models.AreaPlayers) == models.ReachAcademy:
		return nil, models.Errorf(models.Conflict, "no player is in this squad in this season")
	case len(players) == 0 || !all:
		return nil, models.Errorf(models.Forbidden, "a pack has the report of every player of the squad, and you do not "+
			"see all of them; ask a manager")
	}
	return players, nil
}

func (tx *Tx) insertPack(p *models.ReportPack, players []int64) error {
	p.ID, p.AcademyID, p.UserID, p.JobID, p.DoneAt = 0, tx.who.AcademyID, tx.who.UserID, 0, nil
	p.AskedAt, p.Until = tx.now, tx.now.Add(models.ReportPackFor)
	if err := tx.done("ask for a pack of reports", tx.query().Create(p).Error); err != nil {
		return err
	}
	reports := make([]models.PackedReport, len(players))
	for i, player := range players {
		reports[i] = models.PackedReport{AcademyID: tx.who.AcademyID, PackID: p.ID, PlayerID: player}
	}
	if err := tx.done("ask for a pack of reports", tx.query().Create(reports).Error); err != nil {
		return err
	}
	job, err := tx.Enqueue(models.JobOrder{Task: models.PackTask{PackID: p.ID}, Attempts: packAttempts})
	if err != nil {
		return err
	}
	p.JobID = job
	p.State, p.Players, p.Made = models.PackMaking, len(players), 0
	tx.note(models.AuditCreate, "report pack", p.ID, 0, nil, *p)
	return tx.exec("ask for a pack of reports", "UPDATE report_packs SET job_id = ? WHERE academy_id = ? AND id = ?",
		p.JobID, tx.who.AcademyID, p.ID)
}

// packAttempts are over within a few minutes: a person waits.
const packAttempts = 4

// ReportPacks returns the caller's packs, the oldest first.
func (tx *Tx) ReportPacks() ([]models.ReportPack, error) {
	if err := tx.mayPack(); err != nil {
		return nil, err
	}
	return tx.ownPacks(where{})
}

// ReportPack returns a pack of the caller's; NotFound where they have none of that id.
func (tx *Tx) ReportPack(id int64) (models.ReportPack, error) {
	if tx.mayPack() == nil {
		all, err := tx.ownPacks(that("id = ?", id))
		if err != nil || len(all) > 0 {
			return append(all, models.ReportPack{})[0], err
		}
	}
	return models.ReportPack{}, models.Errorf(models.NotFound, "there is no report pack %d", id)
}

// ownPacks are the caller's packs that are still for them.
func (tx *Tx) ownPacks(filter where) ([]models.ReportPack, error) {
	all, err := tx.packs(and(that("user_id = ? AND until > ?", tx.who.UserID, tx.now), filter))
	if err != nil {
		return nil, err
	}
	kept := []models.ReportPack{}
	for _, p := range all {
		reached, err := tx.reachesPack(p)
		if err != nil {
			return nil, err
		}
		if reached {
			kept = append(kept, p)
		}
	}
	return kept, nil
}

// PackedReports returns the reports of a pack of the caller's with their files, in the order of their players. It is a
// Conflict while the pack is not ready.
func (tx *Tx) PackedReports(id int64) (p models.ReportPack, all []models.PackedReport, err error) {
	if p, err = tx.ReportPack(id); err != nil {
		return p, nil, err
	}
	if p.State != models.PackReady {
		return p, nil, models.Errorf(models.Conflict, "the pack is not ready: %d of %d reports are made", p.Made, p.Players)
	}
	err = tx.query().Where("academy_id = ? AND pack_id = ?", tx.who.AcademyID, id).Order("player_id").Find(&all).Error
	return p, all, tx.done("read a pack of reports", err)
}

// DeleteReportPack deletes a pack of the caller's with all of its reports, and stops the job that makes it.
func (tx *Tx) DeleteReportPack(id int64) error {
	p, err := tx.ReportPack(id)
	if err != nil {
		return err
	}
	return tx.deletePack(p)
}

func (tx *Tx) deletePack(p models.ReportPack) error {
	under, err := tx.under()
	if err != nil {
		return err
	}
	err = tx.jobs.Cancel(tx.ctx, under, tx.who.AcademyID, p.JobID)
	if models.CodeOf(err) != models.NotFound { // an ended job is cleaned away
		if err := tx.done("stop making a pack of reports", err); err != nil {
			return err
		}
	}
	for _, statement := range []string{"DELETE FROM packed_reports WHERE academy_id = ? AND pack_id = ?",
		"DELETE FROM report_packs WHERE academy_id = ? AND id = ?"} {
		if err := tx.exec("delete a pack of reports", statement, tx.who.AcademyID, p.ID); err != nil {
			return err
		}
	}
	tx.note(models.AuditDelete, "report pack", p.ID, 0, p, nil)
	return nil
}

// PackToMake returns a pack, and its reports without their files, for the job that makes it. It is NotFound where the
// pack was deleted or is over. The caller must be the console.
func (tx *Tx) PackToMake(id int64) (p models.ReportPack, all []models.PackedReport, err error) {
	found, err := tx.packs(that("id = ? AND until > ?", id, tx.now))
	if err != nil {
		return p, nil, err
	}
	if tx.who.Role != models.RoleConsole || len(found) == 0 {
		return p, nil, models.Errorf(models.NotFound, "there is no report pack %d", id)
	}
	err = tx.query().Select("academy_id", "pack_id", "player_id", "name", "title", "made_at").
		Where("academy_id = ? AND pack_id = ?", tx.who.AcademyID, id).Order("player_id").Find(&all).Error
	return found[0], all, tx.done("read a pack of reports", err)
}

// KeepPackedReport keeps a report that was made for a pack. It is NotFound where the pack was deleted meanwhile. The
// caller must be the console.
func (tx *Tx) KeepPackedReport(r models.PackedReport) error {
	if _, _, err := tx.PackToMake(r.PackID); err != nil {
		return err
	}
	return tx.exec("keep a report of a pack", `UPDATE packed_reports SET name = ?, title = ?, html = ?, pdf = ?,
		made_at = ? WHERE academy_id = ? AND pack_id = ? AND player_id = ?`,
		r.Name, r.Title, r.HTML, r.PDF, tx.now, tx.who.AcademyID, r.PackID, r.PlayerID)
}

// EndReportPack marks a pack as ready, and its job as done, in one transaction. It is NotFound where the pack was
// deleted meanwhile. The caller must be the console.
func (tx *Tx) EndReportPack(id int64) error {
	p, _, err := tx.PackToMake(id)
	if err != nil {
		return err
	}
	if p.Made < p.Players {
		return errors.New("a pack is ready once every report is made")
	}
	if err := tx.exec("end a pack of reports", "UPDATE report_packs SET done_at = ? WHERE academy_id = ? AND id = ?",
		tx.now, tx.who.AcademyID, id); err != nil {
		return err
	}
	return tx.FinishJob()
}

// packs returns the academy's packs that a condition holds for, of all makers, with how far they are.
func (tx *Tx) packs(filter where) ([]models.ReportPack, error) {
	filter = and(that("academy_id = ?", tx.who.AcademyID), filter)
	var all []models.ReportPack
	err := tx.query().Where(filter.sql, filter.args...).Order("id").Find(&all).Error
	if err := tx.done("read packs of reports", err); err != nil {
		return nil, err
	}
	for i := range all {
		p := &all[i]
		type made struct{ Players, Made int }
		counted, err := rows[made](tx, "read how far a pack is", `SELECT count(*) AS players, count(made_at) AS made
			FROM packed_reports WHERE academy_id = ? AND pack_id = ?`, tx.who.AcademyID, p.ID)
		if err != nil {
			return nil, err
		}
		p.Players, p.Made = counted[0].Players, counted[0].Made
		if p.State, err = tx.packState(*p); err != nil {
			return nil, err
		}
	}
	return all, nil
}

func (tx *Tx) packState(p models.ReportPack) (models.PackState, error) {
	if p.DoneAt != nil {
		return models.PackReady, nil
	}
	under, err := tx.under()
	if err != nil {
		return "", err
	}
	job, err := tx.jobs.Get(tx.ctx, under, tx.who.AcademyID, p.JobID)
	switch {
	case models.CodeOf(err) == models.NotFound:
		return models.PackFailed, nil
	case err != nil:
		return "", tx.done("read the job of a pack", err)
	case job.State == models.JobWaiting || job.State == models.JobRunning:
		return models.PackMaking, nil
	}
	return models.PackFailed, nil
}

// mayPack refuses callers who are no staff.
func (tx *Tx) mayPack() error {
	if !tx.who.Staff() {
		return models.Errorf(models.Forbidden, "%s may not have packs of reports", tx.role())
	}
	return nil
}

// reachesPack says whether the caller still reaches every player in a pack.
func (tx *Tx) reachesPack(p models.ReportPack) (bool, error) {
	players, err := rows[int64](tx, "find the players of a pack",
		"SELECT player_id FROM packed_reports WHERE academy_id = ? AND pack_id = ?", tx.who.AcademyID, p.ID)
	if err != nil {
		return false, err
	}
	return tx.reachesAll(p.SeasonID, p.SquadID, players)
}

// reachesAll says whether the caller reaches all of some members of a squad in a season.
func (tx *Tx) reachesAll(season, squad int64, players []int64) (bool, error) {
	reach, some := memberships().reaching(tx, models.Read)
	if !some {
		return false, nil
	}
	found, err := memberships().find(tx, reach, that("memberships.season_id = ? AND memberships.squad_id = ?",
		season, squad))
	if err != nil {
		return false, err
	}
	for _, player := range players {
		if !slices.ContainsFunc(found, func(m models.Membership) bool { return m.PlayerID == player }) {
			return false, nil
		}
	}
	return true, nil
}

// SweepReportPacks deletes the packs of all academies that are over, and those of makers who may not have them any
// more.
func (s *Store) SweepReportPacks(ctx context.Context) error {
	academies, err := s.Academies(ctx)
	if err != nil {
		return err
	}
	for _, a := range academies {
		var all []models.ReportPack
		err := s.Read(ctx, models.Console(a.ID), func(tx *Tx) (err error) {
			all, err = tx.packs(where{})
			return err
		})
		if err != nil {
			return err
		}
		for _, p := range all {
			if err := s.sweepPack(ctx, p); err != nil {
				return err
			}
		}
	}
	return nil
}

// sweepPack deletes a pack that is not for its maker any more.
func (s *Store) sweepPack(ctx context.Context, p models.ReportPack) error {
	kept := false
	who, err := s.WhoByID(ctx, p.AcademyID, p.UserID)
	if err == nil {
		err = s.Read(ctx, who, func(tx *Tx) error {
			_, err := tx.ReportPack(p.ID)
			kept = err == nil
			return err
		})
	}
	if kept || err != nil && models.CodeOf(err) != models.NotFound {
		return err
	}
	return s.DropReportPack(ctx, p.AcademyID, p.ID)
}

// DropReportPack deletes a pack of an academy, of any maker; there may be none.
func (s *Store) DropReportPack(ctx context.Context, academy, id int64) error {
	return s.Write(ctx, models.Console(academy), func(tx *Tx) error {
		found, err := tx.packs(that("id = ?", id))
		if err != nil || len(found) == 0 {
			return err
		}
		return tx.deletePack(found[0])
	})
}
