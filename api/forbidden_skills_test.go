package api_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"throughline/models"
)

// allGroups are the fields of a skill's form that say that every position group is graded in it.
const allGroups = "suits_front_row=1&suits_second_row=1&suits_back_row=1&suits_half_back=1&suits_centre=1&" +
	"suits_back_three=1&"

// lowGrade has a coach give a grade to a player of the under 18s, for a training block of its own.
func (s *stage) lowGrade(t *testing.T, by string, p models.Player, skill string, grade int,
	block string) models.Rating {
	t.Helper()
	r := models.Rating{PlayerID: p.ID, Skill: skill, Grade: grade, Date: "2025-11-20", Block: block}
	s.as(t, by, func(tx txOf) error { return tx.CreateRating(&r) })
	return r
}

// actionOf is the only action that waits for a player.
func (s *stage) actionOf(t *testing.T, p models.Player) (a models.ContactAction) {
	t.Helper()
	s.as(t, "mabyn", func(tx txOf) error {
		open, err := tx.ContactActions(models.ContactActionFilter{PlayerID: p.ID, OpenOnly: true})
		if err == nil && len(open) != 1 {
			return fmt.Errorf("%d actions wait; want 1", len(open))
		}
		if err == nil {
			a = open[0]
		}
		return err
	})
	return a
}

// actionsFor are the texts of the actions before contact that wait for a user.
func (s *stage) actionsFor(t *testing.T, login string) []string {
	t.Helper()
	return itemsOf(t, s.Academy, login, models.ItemContactAction)
}

// skillSteps are steps about skills' words and about what a low grade asks for.
func skillSteps() []forbidden {
	waiting := func(led bool) func(t *testing.T, s *stage) given {
		return func(t *testing.T, s *stage) given {
			p := s.player(t, "Wat Sedge")
			s.lowGrade(t, "mabyn", p, "tackle", 1, "Pre-season")
			return given{"player": p.ID, "action": s.actionOf(t, p).ID}
		}
	}
	settle := func(who, name, body, form, reason string, rest, page int,
		setup func(t *testing.T, s *stage) given) forbidden {
		return forbidden{name: name, who: who, setup: setup,
			rest:   restStep{method: http.MethodPost, path: "/contact-actions/{action}/settle", body: body, want: rest},
			page:   pageStep{path: "/players/{player}/actions/{action}/settle", form: form, want: page},
			reason: reason, unchanged: []string{"/contact-actions/{action}"}}
	}
	const word, typed = `{"word": "Coached on head height."}`, "word=Coached+on+head+height."
	settled := func(t *testing.T, s *stage) given {
		made := waiting(true)(t, s)
		s.as(t, "mabyn", func(tx txOf) error {
			_, err := tx.SettleContactAction(made["action"].(int64), "Coached on Tuesday.")
			return err
		})
		return made
	}
	words := `["A", "B", "C", "D", "E"]`
	grades := "grade_1=A&grade_2=B&grade_3=C&grade_4=D&grade_5=E"
	// The academy edits a skill once for all rows that need its version.
	edited := func(t *testing.T, s *stage) given {
		made := given{}
		s.as(t, "mabyn", func(tx txOf) error {
			own, err := tx.OwnSkills()
			if err != nil {
				return err
			}
			for _, k := range own {
				if k.Code == "maul" {
					made["id"] = k.ID
					return nil
				}
			}
			k, _ := models.SkillOf("maul")
			if err := tx.CreateSkill(&k); err != nil {
				return err
			}
			made["id"] = k.ID
			k.Label = "Maul, both sides"
			return tx.UpdateSkill(&k)
		})
		return made
	}
	return []forbidden{
		settle("ansel", "a coach who does not lead the squad settles no action", word, typed,
			"only the squad's lead coach or a manager", http.StatusForbidden, http.StatusForbidden, waiting(false)),
		settle("sorrel", "a selector settles no action", word, typed, "only the squad's lead coach or a manager",
			http.StatusForbidden, http.StatusForbidden, waiting(false)),
		settle("bryn", "a player settles no action", word, typed, "there is no action before contact",
			http.StatusNotFound, http.StatusNotFound, waiting(false)),
		settle("mabyn", "an action is not settled without a word", `{"word": " "}`, "word=+",
			"say in a word what was done", http.StatusUnprocessableEntity, http.StatusUnprocessableEntity, waiting(false)),
		func() forbidden {
			f := settle("mabyn", "an action is not settled twice", word, typed, "Mabyn Orrell already settled this",
				http.StatusConflict, http.StatusUnprocessableEntity, settled)
			return f
		}(),
		{name: "a coach does not change the words of a skill", who: "ansel", setup: edited,
			rest: restStep{method: http.MethodPut, path: "/skills/{id}", match: "*",
				body: `{"code": "maul", "label": "Mine", "grades": ` + words + `}`, want: http.StatusForbidden},
			page: pageStep{path: "/skills/maul", form: "version=2&label=Mine&act_up_to=0&contact_up_to=0&" + allGroups + grades,
				want: http.StatusForbidden},
			reason: "a coach may not change skill records", unchanged: []string{"/skills/{id}", "/skills/{id}/earlier"}},
		{name: "words made from an older version do not replace newer ones", who: "mabyn", setup: edited,
			rest: restStep{method: http.MethodPut, path: "/skills/{id}", match: `"1"`,
				body: `{"code": "maul", "label": "Mauls", "grades": ` + words + `}`, want: http.StatusPreconditionFailed},
			page: pageStep{path: "/skills/maul", form: "version=1&label=Mauls&act_up_to=0&contact_up_to=0&" + allGroups +
				grades,
				keeps: `value="Mauls"`, want: http.StatusPreconditionFailed},
			reason: "Maul, both sides", unchanged: []string{"/skills/{id}", "/skills/{id}/earlier"}},
		{name: "a grade has words", who: "mabyn", setup: edited,
			rest: restStep{method: http.MethodPut, path: "/skills/{id}", match: "*",
				body: `{"code": "maul", "label": "Mauls", "grades": ["A", "B", "C", "D", ""]}`,
				want: http.StatusUnprocessableEntity},
			page: pageStep{path: "/skills/maul", form: "version=2&label=Mauls&act_up_to=0&contact_up_to=0&" + allGroups +
				"grade_1=A&grade_2=B&grade_3=C&grade_4=D&grade_5=", keeps: `value="Mauls"`,
				want: http.StatusUnprocessableEntity},
			reason: "empty", unchanged: []string{"/skills/{id}"}},
	}
}

// A lead coach reads it at once on home page, player page and report; a coach who has not graded yet learns nothing
// more from it than that action is needed; players learn nothing.
func TestALowGradeAsksTheLeadCoachForActionAtOnceAndNamesNeitherGradeNorCoach(t *testing.T) {
	eachStage(t, func(t *testing.T, s *stage) {
		second := s.coach(t, "isolde", s.Under18.ID)
		s.lowGrade(t, "isolde", s.Bryn, "tackle", 2, "Pre-season")
		s.lowGrade(t, "isolde", s.Bryn, "scrum", 3, "Pre-season")
		for _, login := range []string{"mabyn", "ansel", "isolde"} {
			if got := s.actionsFor(t, login); len(got) != 0 {
				t.Errorf("tackle 2 and scrum 3 ask %s for %q", login, got)
			}
		}
		s.lowGrade(t, "isolde", s.Bryn, "tackle", 1, "Autumn")
		const tackle = "Action needed before contact: tackle, Bryn Calder. Say what was done"
		if got := s.actionsFor(t, "mabyn"); len(got) != 1 || got[0] != tackle {
			t.Errorf("without a lead coach the manager is asked for %q", got)
		}
		ansel := s.user(t, "ansel").UserID
		s.as(t, "mabyn", func(tx txOf) error { return tx.SetLeadCoach(ansel, s.Under18.ID) })
		for login, want := range map[string]int{"mabyn": 0, "ansel": 1, "isolde": 0, "sorrel": 0, "bryn": 0} {
			if got := s.actionsFor(t, login); len(got) != want {
				t.Errorf("%s is asked for %q; want %d", login, got, want)
			}
		}
		s.lowGrade(t, "isolde", s.Bryn, "scrum", 2, "Winter")
		if got := s.actionsFor(t, "ansel"); len(got) != 2 || !strings.Contains(got[1], "contact: scrum") {
			t.Errorf("scrum 2 asks for %q", got)
		}

		report := given{"p": s.Bryn.ID, "s": s.Season.ID}.fill("/players/{p}/seasons/{s}")
		player := given{"p": s.Bryn.ID}.fill("/players/{p}")
		for _, login := range []string{"mabyn", "ansel", "sorrel"} {
			for _, address := range []string{"/", player, report} {
				got := spoken(s.browser(t, login).Get(address).Body)
				if !strings.Contains(got, "Action needed before contact: tackle") {
					t.Errorf("%s at %s reads nothing of it: %.300s", login, address, got)
				}
			}
		}
		staff := s.Program(t, "ansel").Get("/api/v1/contact-actions").Body
		if len(items(staff)) != 2 || strings.Contains(staff, "grade") || strings.Contains(staff, "rat") ||
			strings.Contains(staff, fmt.Sprintf(":%d,", second)) {
			t.Errorf("the coach reads more than that action is needed: %s", staff)
		}
		for _, address := range []string{player, report, "/"} {
			if got := s.browser(t, "bryn").Get(address).Body; strings.Contains(strings.ToLower(got), "before contact") {
				t.Errorf("the player reads of it at %s", address)
			}
		}
		if got := s.Program(t, "bryn").Get("/api/v1/contact-actions"); got.Status != http.StatusForbidden {
			t.Errorf("the player lists actions: %d %s", got.Status, got.Body)
		}
	})
}

// Only a person can say that the player may go into contact: a grade that is changed or deleted settles nothing.
func TestAnActionWaitsUntilAPersonSettlesItWithAWord(t *testing.T) {
	eachStage(t, func(t *testing.T, s *stage) {
		first := s.lowGrade(t, "ansel", s.Bryn, "tackle", 1, "Pre-season")
		s.lowGrade(t, "ansel", s.Bryn, "tackle", 1, "Autumn") // one that waits is enough
		a := s.actionOf(t, s.Bryn)
		first.Grade = 4
		s.as(t, "ansel", func(tx txOf) error { return tx.UpdateRating(&first) })
		s.as(t, "ansel", func(tx txOf) error { return tx.DeleteRating(first.ID, first.Version) })
		s.actionOf(t, s.Bryn)
		path := given{"p": s.Bryn.ID, "a": a.ID}.fill("/players/{p}/actions/{a}/settle")
		if got := s.browser(t, "mabyn").Post(path, formOf("word=Coached+on+Tuesday.")); got.Status != http.StatusSeeOther {
			t.Fatalf("settle: %d %s", got.Status, spoken(got.Body))
		}
		if got := s.actionsFor(t, "mabyn"); len(got) != 0 {
			t.Errorf("it is settled, and %q waits", got)
		}
		now := s.read(t, given{"a": a.ID}.fill("/contact-actions/{a}"))
		if !strings.Contains(now, `"word":"Coached on Tuesday."`) || !strings.Contains(now, `"settled_by"`) {
			t.Errorf("it does not say what was done, and by whom: %s", now)
		}
		s.lowGrade(t, "ansel", s.Bryn, "tackle", 1, "Winter")
		if b := s.actionOf(t, s.Bryn); b.ID == a.ID {
			t.Error("a new low grade does not ask again")
		}
	})
}

// The words stand in the grade by REST, on the report and among the disagreements; the label differs for half backs.
func TestAGradeKeepsTheLabelAndWordsItWasGivenUnderAndShowsThem(t *testing.T) {
	eachStage(t, func(t *testing.T, s *stage) {
		built, _ := models.SkillOf("support_lines")
		s.coach(t, "isolde", s.Under18.ID)
		before := s.lowGrade(t, "ansel", s.Bryn, "support_lines", 4, "Pre-season")
		s.lowGrade(t, "isolde", s.Bryn, "support_lines", 1, "Pre-season")
		form := "label=Lines+of+support&how=&act_up_to=0&contact_up_to=0&" + allGroups + "grade_1=One&grade_2=Two" +
			"&grade_3=Three&grade_4=Four&grade_5=Five&half_back_label=Lines+of+a+half&half_back_1=H1&half_back_2=H2" +
			"&half_back_3=H3&half_back_4=H4&half_back_5=H5&centre_label=Lines+of+a+centre"
		got := s.browser(t, "mabyn").Post("/skills/support_lines", formOf("version=0&"+form))
		if got.Status != http.StatusSeeOther {
			t.Fatalf("edit a built-in skill: %d %s", got.Status, spoken(got.Body))
		}
		after := s.lowGrade(t, "ansel", s.Bryn, "support_lines", 4, "Autumn")
		owen := s.lowGrade(t, "ansel", s.Owen, "support_lines", 4, "Autumn") // a fly half
		before.Comment = "Seen again."
		s.as(t, "ansel", func(tx txOf) error { return tx.UpdateRating(&before) })
		for _, want := range []struct {
			r            models.Rating
			label, words string
		}{{before, built.Label, built.Grades[3]}, {after, "Lines of support", "Four"}, {owen, "Lines of a half", "H4"}} {
			got := s.read(t, given{"r": want.r.ID}.fill("/ratings/{r}"))
			if !strings.Contains(got, fmt.Sprintf(`"words":%q`, want.words)) ||
				!strings.Contains(got, fmt.Sprintf(`"label":%q`, want.label)) {
				t.Errorf("%s; want the label %q and the words %q", got, want.label, want.words)
			}
		}
		reportOf := func(p models.Player) string {
			return spoken(s.browser(t, "mabyn").Get(given{"p": p.ID, "s": s.Season.ID}.fill(
				"/players/{p}/seasons/{s}")).Body)
		}
		agree := given{"squad": s.Under18.ID, "s": s.Season.ID}.fill("/squads/{squad}/seasons/{s}/consistency")
		for at, wants := range map[string][]string{
			reportOf(s.Bryn): {"Lines of support", "Then called “Support lines”. " + built.Grades[3], "Four"},
			reportOf(s.Owen): {"Lines of a half"},
			spoken(s.browser(t, "mabyn").Get(agree).Body): {"“Support lines”: " + built.Grades[3],
				"“Support lines”: " + built.Grades[0]},
		} {
			for _, want := range wants {
				if !strings.Contains(at, want) {
					t.Errorf("%.60s… does not say %q", at, want)
				}
			}
		}
		got = s.browser(t, "mabyn").Post("/skills/support_lines", formOf("version=1&"+strings.Replace(form, "Four",
			"Vier", 1)))
		if got.Status != http.StatusSeeOther {
			t.Fatalf("edit it again: %d %s", got.Status, spoken(got.Body))
		}
		page := spoken(s.browser(t, "ansel").Get("/skills/support_lines").Body)
		for _, want := range []string{"Vier", "Lines of support, until 14 Mar 2026, changed by Mabyn Orrell", "Four",
			"Support lines, until 14 Mar 2026", built.Grades[3], "Half backs: “Lines of a half”",
			"Centres: “Lines of a centre” The words are the same."} {
			if !strings.Contains(page, want) {
				t.Errorf("the skill's page lacks %q: %s", want, page)
			}
		}
	})
}

func TestAManagerMakesANewSkillOnAPageAndReadsWhatIsWrongBesideItsField(t *testing.T) {
	eachStage(t, func(t *testing.T, s *stage) {
		mabyn := s.browser(t, "mabyn")
		if got := mabyn.Get("/skills"); !strings.Contains(got.Body, `href="/new-skill"`) {
			t.Error("the list of skills does not lead to the form")
		}
		if got := s.browser(t, "ansel").Get("/new-skill"); got.Status != http.StatusForbidden {
			t.Errorf("a coach opens the form: %d", got.Status)
		}
		form := "code=restart_receipt&label=Receiving+restarts&how=Watch+the+feet.&act_up_to=0&contact_up_to=1&" +
			"suits_second_row=1&suits_back_row=1&grade_1=Late&grade_2=Off+balance&grade_3=Catches&grade_4=Times+it" +
			"&grade_5=Plays+on&second_row_label=Jumping+for+restarts"
		for change, want := range map[string]string{
			"grade_4=Times+it|grade_4=":             `id="grade_4-wrong"`,
			"label=Receiving+restarts|label=":       `id="label-wrong"`,
			"code=restart_receipt|code=Kick+off":    `id="code-wrong"`,
			"code=restart_receipt|code=tackle":      `id="code-wrong">There is already a skill`,
			"suits_second_row=1&suits_back_row=1&|": `id="groups-wrong">Choose at least one`,
			"second_row_label=|second_row_2=Two&x=": `id="second_row_1-wrong"`,
		} {
			was, now, _ := strings.Cut(change, "|")
			got := mabyn.Post("/skills", formOf(strings.Replace(form, was, now, 1)))
			if got.Status != http.StatusUnprocessableEntity || !strings.Contains(got.Body, want) ||
				!strings.Contains(got.Body, "Off balance") {
				t.Errorf("%s: %d; want 422, %s and what was typed\n%s", change, got.Status, want, spoken(got.Body))
			}
		}
		if got := mabyn.Post("/skills", formOf(form)); got.Status != http.StatusSeeOther ||
			got.Header.Get("Location") != "/skills/restart_receipt" {
			t.Fatalf("make it: %d %s", got.Status, spoken(got.Body))
		}
		page := spoken(s.browser(t, "ansel").Get("/skills/restart_receipt").Body)
		for _, want := range []string{"Receiving restarts", "Watch the feet.", "Graded for: Second row, Back row.",
			"Off balance", "Second row: “Jumping for restarts”", "Grade 1 needs action before the next contact session"} {
			if !strings.Contains(page, want) {
				t.Errorf("the new skill's page lacks %q: %s", want, page)
			}
		}
		s.lowGrade(t, "ansel", s.player(t, "Odo Rusk"), "restart_receipt", 1, "Pre-season")
		if got := s.actionsFor(t, "mabyn"); len(got) != 1 || !strings.Contains(got[0], "receiving restarts, Odo Rusk") {
			t.Errorf("its grade 1 asks for %q", got)
		}
	})
}

// A head contact, a stand-down and a missing figure wait too: what a player needs before contact stands above them
// all.
func TestAnActionBeforeContactStandsFirstOnStaffPagesAndPapersAndIsSettledByREST(t *testing.T) {
	eachStage(t, func(t *testing.T, s *stage) {
		ansel := s.user(t, "ansel").UserID
		s.as(t, "mabyn", func(tx txOf) error { return tx.SetLeadCoach(ansel, s.Under18.ID) })
		s.as(t, "ansel", func(tx txOf) error {
			return tx.CreateHeadContact(&models.HeadContact{PlayerID: s.Bryn.ID, Date: "2025-11-01"})
		})
		s.lowGrade(t, "ansel", s.Bryn, "tackle", 1, "Pre-season")
		a := s.actionOf(t, s.Bryn)
		of := given{"p": s.Bryn.ID, "s": s.Season.ID, "a": a.ID}
		const needed = "Action needed before contact: tackle"
		for _, address := range []string{"/", "/players/{p}", "/players/{p}/seasons/{s}",
			"/players/{p}/seasons/{s}/report.html"} {
			got := spoken(s.browser(t, "ansel").Get(of.fill(address)).Body)
			action, contact := strings.Index(got, needed), strings.Index(strings.ToLower(got), "head contact")
			if action < 0 || contact < 0 || action > contact {
				t.Errorf("%s: the action stands at %d, the head contact at %d: %s", address, action, contact, got)
			}
		}
		safety := spoken(s.browser(t, "ansel").Get("/safety").Body)
		if at := strings.Index(safety, needed); at < 0 || at > strings.Index(safety, "Head contacts not yet reported") {
			t.Errorf("the safety page has the action at %d: %s", at, safety)
		}
		program := s.Program(t, "ansel")
		if all := items(program.Get("/api/v1/items").Body); len(all) < 2 || all[0]["kind"] != "contact_action" {
			t.Errorf("items %v; want the action first", all)
		}
		report := program.Get(of.fill("/api/v1/players/{p}/seasons/{s}/report")).Body
		if !strings.Contains(report, `"alerts":["`+needed) {
			t.Errorf("the report for programs does not begin its alerts with it: %.400s", report)
		}
		for login, settles := range map[string]bool{"ansel": true, "mabyn": true, "sorrel": false} {
			got := s.browser(t, login).Get(of.fill("/players/{p}")).Body
			if strings.Contains(got, of.fill(`action="/players/{p}/actions/{a}/settle`)) != settles {
				t.Errorf("%s is offered the form: %v; want %v", login, !settles, settles)
			}
		}
		got := program.Do(http.MethodPost, of.fill("/api/v1/contact-actions/{a}/settle"),
			strings.NewReader(`{"word": "Coached on head height."}`), "Content-Type", "application/json")
		if got.Status != http.StatusOK || !strings.Contains(got.Body, `"word":"Coached on head height."`) {
			t.Errorf("settle: %d %s", got.Status, got.Body)
		}
		for _, address := range []string{"/", "/players/{p}", "/players/{p}/seasons/{s}", "/safety"} {
			if got := spoken(s.browser(t, "ansel").Get(of.fill(address)).Body); strings.Contains(got, needed) {
				t.Errorf("%s still has it", address)
			}
		}
	})
}
