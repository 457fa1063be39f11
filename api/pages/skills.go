package pages

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
)

// skillsPage lists the skills that coaches grade, as the academy words them now.
type skillsPage struct{ Skills []models.Skill }

// skillPage is one skill: its words now, those before, and for managers the form that changes them.
type skillPage struct {
	Form    Form
	Skill   models.Skill
	BuiltIn bool // the program has it; the academy may have words of its own
	Own     bool // the academy has words of its own
	Groups  []groupOfSkill
	Earlier []earlierWords // the last first
	MayEdit bool
}

// groupOfSkill is a position group that the skill suits, with the words of its own, if it has any.
type groupOfSkill struct {
	Code, Label string
	Grades      [5]string
	Differs     bool
}

// earlierWords are the words of a skill up to a day.
type earlierWords struct {
	Until, By string // empty for those of the program
	Skill     models.Skill
}

// Grades are the numbers of the grades.
func (skillPage) Grades() []int { return []int{1, 2, 3, 4, 5} }

// skills is GET /skills.
func (p *Pages) skills(c *gin.Context, who models.Who) error {
	if !who.Staff() {
		return models.Errorf(models.Forbidden, "this page is for staff")
	}
	var page skillsPage
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		page.Skills, err = tx.Skills()
		return err
	})
	if err != nil {
		return fmt.Errorf("page of skills: %w", err)
	}
	return p.render(c, http.StatusOK, "skills", "Skills", page)
}

// skill is GET /skills/:code.
func (p *Pages) skill(c *gin.Context, who models.Who) error { return p.skillWith(c, who, Form{}) }

func (p *Pages) skillWith(c *gin.Context, who models.Who, form Form) error {
	if !who.Staff() {
		return models.Errorf(models.Forbidden, "this page is for staff")
	}
	page := skillPage{Form: form, MayEdit: who.Reach(models.Write, models.AreaSetup) == models.ReachAcademy}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		if page.Skill, err = skillAt(tx, c.Param("code")); err != nil {
			return err
		}
		page.Own = page.Skill.ID != 0
		return page.readWords(tx)
	})
	if err != nil {
		return fmt.Errorf("page of a skill: %w", err)
	}
	return p.render(c, form.status(), "skill", page.Skill.Label, page)
}

// skillAt returns the skill with a code, as the academy words it now.
func skillAt(tx *store.Tx, code string) (models.Skill, error) {
	all, err := tx.Skills()
	if err != nil {
		return models.Skill{}, err
	}
	i := slices.IndexFunc(all, func(s models.Skill) bool { return s.Code == code })
	if i < 0 {
		return models.Skill{}, models.Errorf(models.NotFound, "there is no such skill")
	}
	return all[i], nil
}

// readWords reads what the groups have of their own, and what the words were before.
func (page *skillPage) readWords(tx *store.Tx) error {
	for _, g := range models.Groups() {
		if len(page.Skill.Groups) > 0 && !slices.Contains(page.Skill.Groups, g.Code) {
			continue
		}
		of := groupOfSkill{Code: string(g.Code), Label: g.Label}
		for _, w := range page.Skill.ByGroup {
			if w.Group == g.Code {
				of.Grades, of.Differs = w.Grades, true
			}
		}
		page.Groups = append(page.Groups, of)
	}
	builtIn, found := models.SkillOf(page.Skill.Code)
	page.BuiltIn = found
	if page.Own {
		names, err := tx.UserNames()
		if err != nil {
			return err
		}
		kept, err := tx.EarlierSkills(page.Skill.ID)
		if err != nil {
			return err
		}
		for _, was := range slices.Backward(kept) {
			page.Earlier = append(page.Earlier, earlierWords{dayOf(was.At), names[was.UserID], was.Skill})
		}
		if found {
			page.Earlier = append(page.Earlier, earlierWords{Until: dayOf(page.Skill.CreatedAt), Skill: builtIn})
		}
	}
	return nil
}

// Value is what stands in a field of the form: what was sent, or else the words of now.
func (page skillPage) Value(field, now string) string {
	if page.Form.Name == "skill" {
		return page.Form.Value("skill", field)
	}
	return now
}

// saveSkill is POST /skills/:code: the whole skill as it is worded from now on.
func (p *Pages) saveSkill(c *gin.Context, who models.Who, f *fields) (string, error) {
	code := c.Param("code")
	return "/skills/" + code, p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if who.Reach(models.Write, models.AreaSetup) != models.ReachAcademy {
			return models.Errorf(models.Forbidden, "a %s may not change skill records", who.Role)
		}
		s, err := skillAt(tx, code)
		if err != nil {
			return err
		}
		s.Version = f.version()
		s.Label, s.How = f.text("label"), f.text("how")
		s.ActUpTo, s.ContactUpTo = f.upTo("act_up_to"), f.upTo("contact_up_to")
		for n := range s.Grades {
			s.Grades[n] = f.text(fmt.Sprintf("grade_%d", n+1))
		}
		s.ByGroup = nil
		for _, g := range models.Groups() {
			w := models.GroupWords{Group: g.Code}
			for n := range w.Grades {
				w.Grades[n] = f.text(fmt.Sprintf("%s_%d", g.Code, n+1))
			}
			if strings.Join(w.Grades[:], "") != "" {
				s.ByGroup = append(s.ByGroup, w)
			}
		}
		if err := f.err(); err != nil {
			return err
		}
		if s.ID != 0 {
			return tx.UpdateSkill(&s)
		}
		if s.Version != 0 {
			return models.Errorf(models.Stale, "the academy's own words of this skill were deleted after you opened the "+
				"page: open it again, then make your change")
		}
		return tx.CreateSkill(&s)
	})
}

// upTo reads the highest grade that something holds for, 0 for none.
func (f *fields) upTo(name string) int {
	n, err := strconv.Atoi(f.text(name))
	if err != nil {
		f.refuse(name, "choose a grade, or none")
	}
	return n
}
