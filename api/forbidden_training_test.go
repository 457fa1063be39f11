package api_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"throughline/models"
)

// trains adds a training session of the under 18s with contact, at a time of its own, and a player of the squad.
func (s *stage) trains(t *testing.T, name string) (models.TrainingSession, models.Player, given) {
	t.Helper()
	p := s.player(t, name)
	one := models.TrainingSession{SquadID: s.Under18.ID, Date: "2025-11-18", Minutes: 75, Purpose: "Live attack",
		Start: fmt.Sprintf("%02d:%02d", p.ID/60%24, p.ID%60), Contact: true}
	s.as(t, "mabyn", func(tx txOf) error { return tx.CreateTrainingSession(&one) })
	return one, p, given{"session": one.ID, "player": p.ID, "version": one.Version, "start": one.Start,
		"squad": s.Under18.ID}
}

// trainingSteps are steps about training sessions, who was there and what was seen.
func trainingSteps() []forbidden {
	plain := func(t *testing.T, s *stage) given { _, _, made := s.trains(t, "Wat Sedge"); return made }
	with := func(do func(tx txOf, one *models.TrainingSession, p models.Player, made given) error) func(*testing.T,
		*stage) given {
		return func(t *testing.T, s *stage) given {
			one, p, made := s.trains(t, "Wat Sedge")
			s.as(t, "mabyn", func(tx txOf) error { return do(tx, &one, p, made) })
			return made
		}
	}
	down := with(func(tx txOf, _ *models.TrainingSession, p models.Player, _ given) error {
		return tx.CreateStandDown(&models.StandDown{PlayerID: p.ID, From: "2025-11-10"})
	})
	present := with(func(tx txOf, one *models.TrainingSession, p models.Player, made given) error {
		a := models.Attendance{SessionID: one.ID, PlayerID: p.ID, Status: models.AttendedPresent}
		err := tx.CreateAttendance(&a)
		made["attendance"] = a.ID
		return err
	})
	mark := func(name, who, body, form, reason string, rest, page int, setup func(*testing.T, *stage) given) forbidden {
		f := forbidden{name: name, who: who, setup: setup, reason: reason,
			rest: restStep{method: http.MethodPost, path: "/training-sessions/{session}/attendance",
				body: `{"items": [{"player_id": {player}, ` + body + `}]}`, want: rest},
			page: pageStep{path: "/training-sessions/{session}/marks", want: page,
				form: "version={version}&t-{player}=Kept+as+typed.&" + form},
			unchanged: []string{"/training-sessions/{session}", "/attendances?session={session}",
				"/training-observations?session={session}"}}
		if page == http.StatusUnprocessableEntity || page == http.StatusPreconditionFailed {
			f.page.keeps = `value="Kept as typed."`
		}
		return f
	}
	const no, conflict, gone, stale = http.StatusForbidden, http.StatusConflict, http.StatusNotFound,
		http.StatusPreconditionFailed
	const bad = http.StatusUnprocessableEntity
	remark := func(name, body, form, reason string, setup func(*testing.T, *stage) given) forbidden {
		return forbidden{name: name, who: "ansel", setup: setup, reason: reason,
			rest: restStep{method: http.MethodPost, path: "/training-observations", want: bad,
				body: `{"player_id": {player}, "date": "2025-11-18", "training_session_id": {session}, ` + body + `}`},
			page: pageStep{path: "/training-sessions/{session}/marks", want: bad,
				form: "version={version}&a-{player}=present&m-{player}=&" + form, keeps: `selected>present`},
			unchanged: []string{"/attendances?session={session}", "/training-observations?session={session}"}}
	}
	session := func(name, who, path, body, form, reason string, rest, page int,
		setup func(*testing.T, *stage) given) forbidden {
		method, match := http.MethodPost, ""
		if path != "" {
			method, match = http.MethodPut, `"{version}"`
		}
		address := "/squads/{squad}/training"
		if path != "" {
			address = path
		}
		return forbidden{name: name, who: who, setup: setup, reason: reason,
			rest: restStep{method: method, path: "/training-sessions" + strings.TrimPrefix(path, "/training-sessions"),
				match: match, body: `{"squad_id": {squad}, "minutes": 75, ` + body + `}`, want: rest},
			page:      pageStep{path: address, form: "version={version}&minutes=75&" + form, want: page},
			unchanged: []string{"/training-sessions?squad={squad}", "/attendances?session={session}"}}
	}
	const same = "/training-sessions/{session}"
	return []forbidden{
		mark("a player who is stood down is not present at a session with contact", "ansel", `"status": "present"`,
			"a-{player}=present", "modified, without contact, or as absent", conflict, bad, down),
		mark("a player who is stood down takes no part in contact with changes either", "ansel", `"status": "modified"`,
			"a-{player}=modified", "modified, without contact, or as absent", conflict, bad, down),
		mark("a selector records no attendance", "sorrel", `"status": "present"`, "a-{player}=present",
			"a selector may not change", no, no, plain),
		mark("a player records no attendance", "bryn", `"status": "present"`, "a-{player}=present",
			"there is no training session", gone, gone, plain),
		mark("another squad's coach records no attendance", "orla.under16", `"status": "present"`, "a-{player}=present",
			"there is no training session", gone, gone, func(t *testing.T, s *stage) given {
				s.coach(t, "orla.under16", s.Under16.ID)
				return plain(t, s)
			}),
		mark("no one trains longer than the session", "ansel", `"status": "modified", "minutes": 76`,
			"a-{player}=modified&m-{player}=76", "76 is more than the session's 75 minutes", bad, bad, plain),
		mark("an absent player has no minutes", "ansel", `"status": "absent", "minutes": 20`,
			"a-{player}=absent&m-{player}=20", "leave it out, or write modified", bad, bad, plain),
		mark("contact is left out with changes alone", "ansel", `"status": "present", "without_contact": true`,
			"a-{player}=present&w-{player}=yes", "write the status modified", bad, bad, plain),
		mark("attendance that was changed meanwhile is not overwritten", "ansel", `"status": "absent", "version": 7`,
			"a-{player}=absent&v-{player}=7", "someone else recorded present", stale, stale, present),
		mark("attendance that someone recorded meanwhile is not overwritten", "ansel", `"status": "absent"`,
			"a-{player}=absent", "someone else recorded present", stale, stale, present),
		remark("an observation has words", `"skill": "tackle", "text": " "`, "o-{player}=skill-tackle", "missing", plain),
		remark("an observation is on no other player's goal", `"goal_id": {goal}, "text": "Low."`,
			"o-{player}=goal-{goal}&t-{player}=Low.", "another player's", with(func(tx txOf, _ *models.TrainingSession,
				p models.Player, made given) error {
				all, err := tx.Players(models.PlayerFilter{Name: "Bryn Calder"})
				if err != nil {
					return err
				}
				g := models.Goal{PlayerID: all[0].ID, Skill: "tackle", SetOn: "2025-11-01", By: "2026-05-01", Target: 4,
					Why: "Every tackle low.", Insist: models.AskFewMatches.Codes(), InsistReason: "No grades yet."}
				err = tx.CreateGoal(&g)
				made["goal"] = g.ID
				return err
			})),
		remark("an observation is on a skill that there is", `"skill": "juggling", "text": "Low."`,
			"o-{player}=skill-juggling&t-{player}=Low.", "there is no skill", plain),
		session("a coach adds no session to another squad", "ansel", "",
			`"date": "2025-11-19", "purpose": "Ours", "contact": false`,
			"date=2025-11-19&purpose=Ours", "may not change this squad's training sessions", no, no,
			func(t *testing.T, s *stage) given {
				made := plain(t, s)
				made["squad"] = s.Under16.ID
				return made
			}),
		session("a squad has one session at a time", "ansel", "",
			`"date": "2025-11-18", "start": "{start}", "purpose": "Twice", "contact": false`,
			"date=2025-11-18&start={start}&purpose=Twice",
			"there is already a session", conflict, bad, plain),
		session("a session is in a season", "ansel", "", `"date": "2031-11-18", "purpose": "Far off", "contact": false`,
			"date=2031-11-18&purpose=Far+off", "is in no season", bad, bad, plain),
		session("a session without contact has no minutes of it", "ansel", "",
			`"date": "2025-11-19", "purpose": "Skills", "contact": false, "contact_minutes": 10`,
			"date=2025-11-19&purpose=Skills&contact_minutes=10", "cannot be given for a session without contact", bad, bad,
			plain),
		session("a session is not changed from an old version", "ansel", same,
			`"date": "2025-11-18", "start": "{start}", "purpose": "Mine", "contact": true`,
			"date=2025-11-18&start={start}&purpose=Mine&contact=yes", "Set piece", stale, stale,
			with(func(tx txOf, one *models.TrainingSession, _ models.Player, _ given) error {
				one.Purpose = "Set piece"
				return tx.UpdateTrainingSession(one)
			})),
		session("contact is not brought into a session of a player who is stood down", "ansel", same,
			`"date": "2025-11-18", "start": "{start}", "purpose": "Live", "contact": true`,
			"date=2025-11-18&start={start}&purpose=Live&contact=yes", "attendance of Wat Sedge does not fit", conflict, bad,
			with(func(tx txOf, one *models.TrainingSession, p models.Player, made given) error {
				one.Contact = false
				if err := tx.UpdateTrainingSession(one); err != nil {
					return err
				}
				made["version"] = one.Version
				if err := tx.CreateStandDown(&models.StandDown{PlayerID: p.ID, From: "2025-11-10"}); err != nil {
					return err
				}
				return tx.CreateAttendance(&models.Attendance{SessionID: one.ID, PlayerID: p.ID,
					Status: models.AttendedPresent})
			})),
		{name: "a session with observations is not deleted", who: "ansel", reason: "while it has training observations",
			setup: with(func(tx txOf, one *models.TrainingSession, p models.Player, _ given) error {
				return tx.CreateTrainingObservation(&models.TrainingObservation{PlayerID: p.ID, Date: one.Date,
					SessionID: &one.ID, Text: "Low."})
			}),
			rest: restStep{method: http.MethodDelete, path: same, match: "*", want: conflict},
			page: pageStep{path: same + "/delete", form: "version={version}", want: bad}, unchanged: []string{same}},
	}
}

// wholeSession is a form for a whole session of a squad of so many players: two absent, one with changes, everyone
// else present, and an observation for each, every other shared.
func wholeSession(players []models.Player, version int64) url.Values {
	form := url.Values{"version": {strconv.FormatInt(version, 10)}, "rest": {"present"}}
	for n, p := range players {
		id := strconv.FormatInt(p.ID, 10)
		form.Set("t-"+id, fmt.Sprintf("Seen of player %d.", n))
		form.Set("o-"+id, "skill-tackle")
		if n%2 == 0 {
			form.Set("s-"+id, "player")
		}
		switch n {
		case 0, 1:
			form.Set("a-"+id, "absent")
			form.Set("r-"+id, "school")
		case 2:
			form.Set("a-"+id, "modified")
			form.Set("m-"+id, "40")
			form.Set("w-"+id, "yes")
		}
	}
	return form
}

func TestOneFormRecordsAWholeSessionAllOrNothingAndSentAgainChangesNothing(t *testing.T) {
	eachStage(t, func(t *testing.T, s *stage) {
		var players []models.Player
		for n := range 30 {
			players = append(players, s.player(t, fmt.Sprintf("Player %02d", n)))
		}
		unavailable := players[29]
		s.as(t, "mabyn", func(tx txOf) error {
			return tx.CreateSpell(&models.Spell{PlayerID: unavailable.ID, Status: models.Unavailable, From: "2025-11-01"})
		})
		one := models.TrainingSession{SquadID: s.Under18.ID, Date: "2025-11-18", Minutes: 75, Purpose: "Live attack",
			Contact: true}
		s.as(t, "ansel", func(tx txOf) error { return tx.CreateTrainingSession(&one) })
		at := given{"s": one.ID}.fill("/training-sessions/{s}")
		coach := s.browser(t, "ansel")
		page := coach.Get(at)
		if page.Status != http.StatusOK || strings.Count(page.Body, "<fieldset class=\"mark\"") != 32 { // Bryn and Owen too
			t.Fatalf("the form: %d, %d rows; want 32", page.Status, strings.Count(page.Body, "<fieldset class=\"mark\""))
		}
		recorded := func() (there []models.Attendance, said []models.TrainingObservation) {
			s.as(t, "mabyn", func(tx txOf) (err error) {
				if there, err = tx.Attendances(models.AttendanceFilter{SessionID: one.ID}); err != nil {
					return err
				}
				said, err = tx.TrainingObservations(models.TrainingObservationFilter{SessionID: one.ID})
				return err
			})
			return there, said
		}

		form := wholeSession(players[:29], one.Version)
		wrong := "m-" + strconv.FormatInt(players[2].ID, 10)
		form.Set(wrong, "400")
		refused := coach.Post(at+"/marks", form)
		words := spoken(refused.Body)
		if refused.Status != http.StatusUnprocessableEntity || !strings.Contains(words, "Player 02, Minutes, if not all") ||
			!strings.Contains(refused.Body, `value="400"`) || !strings.Contains(refused.Body, `value="Seen of player 28."`) {
			t.Errorf("one row of 400 minutes: %d %.600s", refused.Status, words)
		}
		if there, said := recorded(); len(there)+len(said) != 0 {
			t.Fatalf("the other rows were saved: %d, %d", len(there), len(said))
		}

		form.Set(wrong, "40")
		for range 2 {
			if got := coach.Post(at+"/marks", form); got.Status != http.StatusSeeOther {
				t.Fatalf("save: %d %.600s", got.Status, spoken(got.Body))
			}
		}
		there, said := recorded()
		count := models.CountAttendance(there)
		if count != (models.AttendanceCount{Present: 28, Modified: 1, Absent: 2}) || len(said) != 29 {
			t.Errorf("%+v and %d observations; want 28 present, Bryn and Owen too, 1 modified, 2 absent, 29 observations",
				count, len(said))
		}
		for _, a := range there {
			if a.PlayerID == unavailable.ID || a.Version != 1 {
				t.Errorf("%+v: an unavailable player is not marked present, and nothing is written twice", a)
			}
		}

		// Edited later: one mark taken back, one observation changed, and the rest as it was.
		form = wholeSession(players[:29], one.Version)
		form.Del("rest")
		for _, a := range there {
			id := strconv.FormatInt(a.PlayerID, 10)
			form.Set("v-"+id, "1")
			if form.Get("a-"+id) == "" {
				form.Set("a-"+id, string(a.Status))
			}
		}
		for _, o := range said {
			form.Set("ov-"+strconv.FormatInt(o.PlayerID, 10), "1")
		}
		first, second := strconv.FormatInt(players[3].ID, 10), strconv.FormatInt(players[4].ID, 10)
		form.Set("a-"+first, "")
		form.Set("t-"+second, "Said otherwise.")
		if got := coach.Post(at+"/marks", form); got.Status != http.StatusSeeOther {
			t.Fatalf("edit: %d %.600s", got.Status, spoken(got.Body))
		}
		there, said = recorded()
		changed := 0
		for _, o := range said {
			if o.Version > 1 {
				changed++
			}
		}
		if len(there) != 30 || len(said) != 29 || changed != 1 {
			t.Errorf("after the edit: %d attendances, %d observations of which %d changed; want 30, 29, 1", len(there),
				len(said), changed)
		}
		staff := spoken(coach.Get(given{"p": players[1].ID}.fill("/players/{p}")).Body)
		for _, want := range []string{"0 present, 1 absent", "absent, school or work", "Seen of player 1.", "staff only"} {
			if !strings.Contains(staff, want) {
				t.Errorf("the player's page does not say %q", want)
			}
		}
	})
}

func TestThePlayersOwnPageShowsOwnAttendanceAndSharedObservationsAlone(t *testing.T) {
	eachStage(t, func(t *testing.T, s *stage) {
		one := models.TrainingSession{SquadID: s.Under18.ID, Date: "2025-11-18", Minutes: 75, Purpose: "Live attack"}
		s.as(t, "ansel", func(tx txOf) error {
			if err := tx.CreateTrainingSession(&one); err != nil {
				return err
			}
			for _, p := range []models.Player{s.Bryn, s.Owen} {
				a := models.Attendance{SessionID: one.ID, PlayerID: p.ID, Status: models.AttendedPresent}
				if err := tx.CreateAttendance(&a); err != nil {
					return err
				}
				for _, shared := range []bool{true, false} {
					o := models.TrainingObservation{PlayerID: p.ID, Date: one.Date, SessionID: &one.ID, Shared: shared,
						Text: fmt.Sprintf("Of %s, shared %v.", p.Name, shared)}
					if err := tx.CreateTrainingObservation(&o); err != nil {
						return err
					}
				}
			}
			return nil
		})
		for _, address := range []string{"/players/{p}", "/training-sessions/{s}"} {
			got := spoken(s.browser(t, "bryn").Get(given{"p": s.Bryn.ID, "s": one.ID}.fill(address)).Body)
			if !strings.Contains(got, "Of Bryn Calder, shared true.") || !strings.Contains(got, "present") {
				t.Errorf("%s does not show what is shared: %s", address, got)
			}
			for _, never := range []string{"shared false", "Owen", "Who was there"} {
				if strings.Contains(got, never) {
					t.Errorf("%s shows the player %q", address, never)
				}
			}
		}
	})
}

// A coach meets first what must be done before contact, then who is near a limit.
func TestASessionsPageShowsOpenContactActionsFirstAndWarnsOfLimits(t *testing.T) {
	eachStage(t, func(t *testing.T, s *stage) {
		one := models.TrainingSession{SquadID: s.Under18.ID, Date: "2025-11-18", Minutes: 75, Purpose: "Live attack",
			Contact: true}
		s.lowGrade(t, "ansel", s.Bryn, "tackle", 1, "Pre-season")
		s.as(t, "mabyn", func(tx txOf) error {
			limit := models.MinutesLimit{Name: "Contact in a week", Counts: models.CountsContact, Days: 7, Minutes: 40}
			if err := tx.CreateMinutesLimit(&limit); err != nil {
				return err
			}
			if err := tx.CreateTrainingSession(&one); err != nil {
				return err
			}
			return tx.CreateStandDown(&models.StandDown{PlayerID: s.Owen.ID, From: "2025-11-10"})
		})
		got := spoken(s.browser(t, "ansel").Get(given{"s": one.ID}.fill("/training-sessions/{s}")).Body)
		at := -1
		for _, want := range []string{"Needs action before contact", "Bryn Calder : Action needed before contact: tackle",
			"perhaps near the limit “Contact in a week”", "Who was there, and what you saw", "Bryn Calder", "Owen Tarrant",
			"stood down"} {
			next := strings.Index(got[at+1:], want)
			if next < 0 {
				t.Fatalf("the page lacks %q after the ones before: %s", want, got)
			}
			at += 1 + next
		}
	})
}
