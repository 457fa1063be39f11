package pages

import (
	"slices"

	"throughline/models"
	"throughline/models/store"
)

// playerTraining is the last that is recorded of a player at training, as far as the reader may know it.
type playerTraining struct {
	Count    models.AttendanceCount // of all sessions in the latest season with one
	Season   string
	Sessions []attendedSession // the last first
	Remarks  []trainingRemark  // the last first
}

// attendedSession is a session with how the player took part.
type attendedSession struct {
	Date           models.Date
	Words, Address string
}

// lastAtTraining is how many sessions, and how many observations, the page of a player shows.
const lastAtTraining = 6

// Any says whether there is anything to show.
func (t playerTraining) Any() bool { return len(t.Sessions)+len(t.Remarks) > 0 }

func readPlayerTraining(tx *store.Tx, player int64) (t playerTraining, err error) {
	there, err := tx.Attendances(models.AttendanceFilter{PlayerID: player})
	if err != nil {
		return t, err
	}
	for _, a := range slices.Backward(there[max(0, len(there)-lastAtTraining):]) {
		t.Sessions = append(t.Sessions, attendedSession{a.Date, attendanceInWords(a), sessionAddress(a.SessionID)})
	}
	if len(there) > 0 {
		if err := t.count(tx, there); err != nil {
			return t, err
		}
	}
	said, err := tx.TrainingObservations(models.TrainingObservationFilter{PlayerID: player})
	if err != nil {
		return t, err
	}
	slices.Reverse(said)
	t.Remarks, err = viewRemarks(tx, said[:min(lastAtTraining, len(said))])
	return t, err
}

// count counts the attendance in the season of the last session.
func (t *playerTraining) count(tx *store.Tx, there []models.Attendance) error {
	seasons, err := tx.Seasons(models.SeasonFilter{})
	for _, s := range seasons {
		if s.Has(there[len(there)-1].Date) {
			t.Season = s.Name
			t.Count = models.CountAttendance(slices.DeleteFunc(slices.Clone(there), func(a models.Attendance) bool {
				return !s.Has(a.Date)
			}))
		}
	}
	return err
}
