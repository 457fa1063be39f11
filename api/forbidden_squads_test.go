package api_test

import (
	"net/http"
	"testing"

	"throughline/models"
)

// leadSteps are steps that would make a squad's lead coach of a person who cannot be.
func leadSteps() []forbidden {
	of := func(login string) func(t *testing.T, s *stage) given {
		return func(t *testing.T, s *stage) given {
			return given{"user": s.user(t, login).UserID, "squad": s.Under16.ID, "under18": s.Under18.ID}
		}
	}
	rest := restStep{method: http.MethodPut, path: "/users/{user}/squads/{squad}/lead",
		want: http.StatusUnprocessableEntity}
	page := pageStep{path: "/people/{user}/squads/lead", form: "squad_id={squad}&was=0&leads=yes",
		want: http.StatusUnprocessableEntity}
	selectors := rest
	selectors.path = "/users/{user}/squads/{under18}/lead"
	byCoach, byCoachsPage := rest, page
	byCoach.want, byCoachsPage.want = http.StatusNotFound, http.StatusNotFound
	unchanged := []string{"/users/{user}/squads"}
	return []forbidden{
		{name: "a coach who does not work with a squad does not lead it", who: "mabyn", setup: of("ansel"), rest: rest,
			page: page, reason: "Ansel Brock does not work with Under 16", unchanged: unchanged},
		{name: "a selector does not lead a squad", who: "mabyn", setup: of("sorrel"), rest: selectors,
			page:   pageStep{path: page.path, form: "squad_id={under18}&was=0&leads=yes", want: page.want},
			reason: "only a coach can lead a squad", unchanged: unchanged},
		{name: "a coach makes no one lead coach", who: "ansel", setup: of("ansel"), rest: byCoach, page: byCoachsPage,
			reason: "there is no user", unchanged: unchanged},
	}
}

func TestOneCoachLeadsASquadUntilTheyLeaveIt(t *testing.T) {
	eachStage(t, func(t *testing.T, s *stage) {
		squad := s.Under18.ID
		second := s.coach(t, "isolde", squad)
		leads := func() (user int64) {
			t.Helper()
			s.as(t, "mabyn", func(tx txOf) (err error) { user, err = tx.LeadCoach(squad); return err })
			return user
		}
		ansel := s.user(t, "ansel").UserID
		s.as(t, "mabyn", func(tx txOf) error { return tx.SetLeadCoach(ansel, squad) })
		s.as(t, "mabyn", func(tx txOf) error { return tx.SetLeadCoach(second, squad) })
		if got := leads(); got != second {
			t.Errorf("%d leads; want %d, in place of %d", got, second, ansel)
		}
		s.as(t, "mabyn", func(tx txOf) error { return tx.RemoveSquadStaff(second, squad) })
		s.as(t, "mabyn", func(tx txOf) error { return tx.AddSquadStaff(second, squad) })
		if got := leads(); got != 0 {
			t.Errorf("%d left the squad and leads it", got)
		}
		s.as(t, "mabyn", func(tx txOf) error { return tx.SetLeadCoach(second, squad) })
		s.as(t, "mabyn", func(tx txOf) error {
			u, err := tx.User(second)
			if err != nil {
				return err
			}
			u.Role = models.RoleSelector
			return tx.UpdateUser(&u)
		})
		if got := leads(); got != 0 {
			t.Errorf("%d is a selector and leads the squad", got)
		}
	})
}

func TestAPageMadeBeforeAnotherLeadCoachWasChosenChangesNothing(t *testing.T) {
	eachStage(t, func(t *testing.T, s *stage) {
		squad, ansel := s.Under18.ID, s.user(t, "ansel").UserID
		second := s.coach(t, "isolde", squad)
		s.as(t, "mabyn", func(tx txOf) error { return tx.SetLeadCoach(ansel, squad) })
		form := given{"squad": squad, "user": second}
		got := s.browser(t, "mabyn").Post(form.fill("/people/{user}/squads/lead"), formOf(form.fill(
			"squad_id={squad}&was=0&leads=yes")))
		if got.Status != http.StatusPreconditionFailed {
			t.Errorf("%d; want 412\n%s", got.Status, spoken(got.Body))
		}
		if now := s.read(t, given{"user": ansel}.fill("/users/{user}/squads")); len(items(now)) != 1 ||
			items(now)[0]["leads"] != true {
			t.Errorf("the lead coach was changed: %s", now)
		}
	})
}
