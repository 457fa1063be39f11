package pages

import (
	"fmt"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
)

// trainingPage lists a squad's training sessions of a season, with a form for another.
type trainingPage struct {
	Form     Form
	Name     string // of the form
	Today    models.Date
	Squad    models.Squad
	Season   *models.Season
	Others   []models.Season
	Sessions []sessionLine // the last first
	MayAdd   bool
	Typed    sessionTyped
}

// sessionLine is a session with who was there.
type sessionLine struct {
	models.TrainingSession
	Address string
	Count   models.AttendanceCount
}

// sessionTyped is what a form of a session shows: what was typed, or else what is on file.
type sessionTyped struct {
	Date, Start, Minutes, Purpose, ContactMinutes string
	Contact                                       bool
}

// registerTraining adds the pages of training.
func (p *Pages) registerTraining(router *gin.Engine) {
	router.GET("/squads/:squad/training", p.known(func(c *gin.Context, who models.Who) error {
		squad, err := id(c, "squad")
		if err != nil {
			return err
		}
		return p.trainingWith(c, who, squad, Form{})
	}))
	router.POST("/squads/:id/training", p.sent("training", func(c *gin.Context, who models.Who, form Form) error {
		squad, err := id(c, "id")
		if err != nil {
			return err
		}
		return p.trainingWith(c, who, squad, form)
	}, p.addSession))
	router.GET("/training-sessions/:id", p.known(func(c *gin.Context, who models.Who) error {
		return p.sessionWith(c, who, Form{})
	}))
	router.POST("/training-sessions/:id", p.sent("session", p.sessionWith, p.changeSession))
	router.POST("/training-sessions/:id/marks", p.sent("marks", p.sessionWith, p.markSession))
	router.POST("/training-sessions/:id/delete", p.sent("delete", p.sessionWith, p.deleteSession))
}

func trainingAddress(squad int64) string { return fmt.Sprintf("/squads/%d/training", squad) }

func sessionAddress(session int64) string { return fmt.Sprintf("/training-sessions/%d", session) }

func (p *Pages) trainingWith(c *gin.Context, who models.Who, squad int64, form Form) error {
	page := trainingPage{Form: form, Name: "training-" + strconv.FormatInt(squad, 10), Today: who.Day(p.now()),
		MayAdd: who.Reach(models.Write, models.AreaTraining) == models.ReachAcademy ||
			who.Reach(models.Write, models.AreaTraining) == models.ReachSquads && slices.Contains(who.SquadIDs, squad)}
	reach := who.Reach(models.Read, models.AreaTraining)
	if reach != models.ReachAcademy && reach != models.ReachSquads {
		return models.Errorf(models.Forbidden, "this page is for staff; your own training is on your page")
	}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		if page.Squad, err = tx.Squad(squad); err != nil {
			return err
		}
		if reach == models.ReachSquads && !slices.Contains(who.SquadIDs, squad) {
			return models.Errorf(models.NotFound, "%s is not one of your squads", page.Squad.Name)
		}
		seasons, err := tx.Seasons(models.SeasonFilter{})
		if err != nil {
			return err
		}
		if page.Season, err = p.pick(tx.Who(), seasons, c.Query("season")); err != nil || page.Season == nil {
			return err
		}
		page.Typed = sessionTyped{Minutes: "75"}
		if page.Season.Has(page.Today) {
			page.Typed.Date = string(page.Today)
		}
		page.Typed = page.Typed.or(form, page.Name)
		page.Others = slices.DeleteFunc(seasons, func(s models.Season) bool { return s.ID == page.Season.ID })
		return page.readSessions(tx)
	})
	if err != nil {
		return fmt.Errorf("training of squad %d: %w", squad, err)
	}
	return p.render(c, form.status(), "training", "Training, "+page.Squad.Name, page)
}

// readSessions reads the season's sessions with who was there, the last first.
func (page *trainingPage) readSessions(tx *store.Tx) error {
	all, err := tx.TrainingSessions(models.TrainingSessionFilter{SquadID: page.Squad.ID, SeasonID: page.Season.ID})
	if err != nil {
		return err
	}
	there, err := tx.Attendances(models.AttendanceFilter{SquadID: page.Squad.ID, SeasonID: page.Season.ID})
	if err != nil {
		return err
	}
	of := map[int64][]models.Attendance{}
	for _, a := range there {
		of[a.SessionID] = append(of[a.SessionID], a)
	}
	for _, s := range slices.Backward(all) {
		page.Sessions = append(page.Sessions, sessionLine{s, sessionAddress(s.ID), models.CountAttendance(of[s.ID])})
	}
	return nil
}

// or returns what was typed into a form of a session, if it was sent.
func (t sessionTyped) or(form Form, name string) sessionTyped {
	if form.Name != name {
		return t
	}
	v := func(field string) string { return form.Value(name, field) }
	return sessionTyped{v("date"), v("start"), v("minutes"), v("purpose"), v("contact_minutes"), v("contact") != ""}
}

// typedOf is what a form shows of a session on file.
func typedOf(s models.TrainingSession) sessionTyped {
	t := sessionTyped{Date: string(s.Date), Start: s.Start, Minutes: strconv.Itoa(s.Minutes), Purpose: s.Purpose,
		Contact: s.Contact}
	if s.ContactMinutes != nil {
		t.ContactMinutes = strconv.Itoa(*s.ContactMinutes)
	}
	return t
}

// readSession fills a session from a form.
func readSession(f *fields, s *models.TrainingSession) error {
	s.Date, s.Start, s.Purpose, s.Contact = f.day("date"), f.text("start"), f.text("purpose"), f.checked("contact")
	if minutes := f.wholeIfAny("minutes"); minutes != nil {
		s.Minutes = *minutes
	} else {
		f.refuse("minutes", "write how many minutes it lasted, such as 75")
	}
	s.ContactMinutes = f.wholeIfAny("contact_minutes")
	return f.err()
}

// wholeIfAny reads a whole number; nil where the field is empty.
func (f *fields) wholeIfAny(name string) *int {
	text := f.text(name)
	if text == "" {
		return nil
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		f.refuse(name, "write a whole number, such as 40")
		return nil
	}
	return &n
}

// addSession is POST /squads/:id/training.
func (p *Pages) addSession(c *gin.Context, who models.Who, f *fields) (next string, err error) {
	squad, err := id(c, "id")
	if err != nil {
		return "", err
	}
	err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if _, err := tx.Squad(squad); err != nil {
			return err
		}
		s := models.TrainingSession{SquadID: squad}
		if err := tx.MayTrain(squad); err != nil {
			return err
		}
		if err := readSession(f, &s); err != nil {
			return err
		}
		err := tx.CreateTrainingSession(&s)
		next = sessionAddress(s.ID)
		return err
	})
	return next, err
}

// changeSession is POST /training-sessions/:id.
func (p *Pages) changeSession(c *gin.Context, who models.Who, f *fields) (string, error) {
	session, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return sessionAddress(session), p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		s, err := tx.TrainingSession(session)
		if err != nil {
			return err
		}
		if err := tx.MayTrain(s.SquadID); err != nil {
			return err
		}
		if err := readSession(f, &s); err != nil {
			return err
		}
		s.Version = f.version()
		return tx.UpdateTrainingSession(&s)
	})
}

// deleteSession is POST /training-sessions/:id/delete.
func (p *Pages) deleteSession(c *gin.Context, who models.Who, f *fields) (next string, err error) {
	session, err := id(c, "id")
	if err != nil {
		return "", err
	}
	err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		s, err := tx.TrainingSession(session)
		if err != nil {
			return err
		}
		next = trainingAddress(s.SquadID)
		return tx.DeleteTrainingSession(session, f.version())
	})
	return next, err
}
