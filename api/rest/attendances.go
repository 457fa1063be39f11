package rest

import (
	"fmt"
	"net/http"
	"reflect"

	"throughline/models"
	"throughline/models/store"
)

type attendancesWanted struct {
	Page
	Dated
	Season  int64 `query:"season" minimum:"1" doc:"Only attendance at sessions on days of this season."`
	Squad   int64 `query:"squad" minimum:"1" doc:"Only attendance at sessions of this squad."`
	Session int64 `query:"session" minimum:"1" doc:"Only attendance at this training session."`
	Player  int64 `query:"player" minimum:"1" doc:"Only attendance of this player."`
}

func attendances(s *Service) {
	x := resource[models.Attendance, attendancesWanted]{
		name: "attendance", many: "attendances", path: "/attendances", part: development,
		order: "by the date and start of the session",
		about: "Attendance is how a player took part in a training session: present, modified (took part with changes) or " +
			"absent. A player without a record may have been there or not: that is not recorded, and never the same as " +
			"absent. A player who is stood down cannot take part in contact: record them as modified, without contact, or " +
			"as absent. The reason is a word; nothing medical is recorded.",
		list: func(tx *store.Tx, in *attendancesWanted) ([]models.Attendance, error) {
			return tx.Attendances(models.AttendanceFilter{SessionID: in.Session, PlayerID: in.Player, SquadID: in.Squad,
				SeasonID: in.Season})
		},
		get: (*store.Tx).Attendance, create: (*store.Tx).CreateAttendance, update: (*store.Tx).UpdateAttendance,
		remove:   (*store.Tx).DeleteAttendance,
		record:   func(r *models.Attendance) *models.Record { return &r.Record },
		optional: []string{"without_contact"}, fixed: []string{"date"},
		example: models.Attendance{Record: exampleRecord(118), SessionID: exampleSession, PlayerID: examplePlayer,
			Status: models.AttendedModified, Minutes: some(40), WithoutContact: true, Reason: models.ReasonLoad,
			Date: "2025-09-10"},
	}
	add(s, x)
	mark := models.AttendanceMark{PlayerID: examplePlayer, Status: models.AttendedModified, Minutes: some(40),
		WithoutContact: true,
		Reason:         models.ReasonLoad}
	does(s, operation{
		method: http.MethodPost, path: "/training-sessions/{id}/attendance", id: "record-attendance",
		summary: "Record the attendance at a session", part: development,
		about: "Records all of the players or none. Errors name the row and the player, such as body.items[3].status. A " +
			"player whose attendance is on file and the same stays as they are. To change it, send the version that you " +
			"read. " + x.about,
		takes:    &content{media: jsonType, example: models.AttendanceMarks{Items: []models.AttendanceMark{mark}}},
		gives:    []content{{media: jsonType, example: models.AttendanceOfSession{Items: []models.Attendance{x.example}}}},
		untagged: true, keyed: true,
		refusals: []int{http.StatusForbidden, http.StatusNotFound, http.StatusConflict, http.StatusPreconditionFailed},
	}, func(r *request, in *struct {
		Session int64 `path:"id" minimum:"1" doc:"The id of the training session"`
	}) (*reply, error) {
		var sent models.AttendanceMarks
		if err := s.read(r, s.schemaOf(reflect.TypeFor[models.AttendanceMarks]()), &sent); err != nil {
			return nil, err
		}
		var out models.AttendanceOfSession
		err := s.making(r, func(tx *store.Tx) (ids []int64, err error) {
			out.Items, err = recordAttendance(tx, in.Session, sent.Items)
			for _, a := range out.Items {
				ids = append(ids, a.ID)
			}
			return ids, err
		}, func(tx *store.Tx, made []int64) (err error) {
			all, err := tx.Attendances(models.AttendanceFilter{SessionID: in.Session})
			if err != nil {
				return err
			}
			out.Items, err = stillThere(all, made, "attendance", func(a models.Attendance) int64 { return a.ID })
			return err
		})
		if err != nil {
			return nil, err
		}
		return done(http.StatusOK, "", out)
	})
}

// recordAttendance records players at a session. The error names each row that cannot be.
func recordAttendance(tx *store.Tx, session int64, marks []models.AttendanceMark) ([]models.Attendance, error) {
	items, all := make([]models.Attendance, len(marks)), make([]*models.Attendance, len(marks))
	for n, m := range marks {
		items[n] = models.Attendance{Record: models.Record{Version: m.Version}, PlayerID: m.PlayerID, Status: m.Status,
			Minutes: m.Minutes, WithoutContact: m.WithoutContact, Reason: m.Reason}
		all[n] = &items[n]
	}
	refused, err := tx.RecordAttendance(session, all)
	if err != nil {
		return nil, err
	}
	var faults models.Faults
	for n, err := range refused {
		if err := faults.Add(fmt.Sprintf("body.items[%d]", n), err); err != nil {
			return nil, err
		}
	}
	return items, faults.Err("no attendance was recorded; the errors say which rows are wrong and why")
}
