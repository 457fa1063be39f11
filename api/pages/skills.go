package pages

import (
	"cmp"
	"errors"
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
type skillsPage struct {
	Skills  []models.Skill
	MayEdit bool
}

// skillPage is one skill: its words now, those before, and for managers the form that changes them.
type skillPage struct {
	Form    Form
	Skill   models.Skill
	New     bool // the form makes a skill of the academy's own
	BuiltIn bool // the program has it; the academy may have words of its own
	Own     bool // the academy has words of its own
	Groups  []groupOfSkill
	Earlier []earlierWords // the last first
	MayEdit bool
}

// groupOfSkill is a position group, with the label and words of its own, if it has any.
type groupOfSkill struct {
	models.GroupWords
	Code, Name string
	Suits      bool // the skill is graded for it
	Differs    bool
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
	page := skillsPage{MayEdit: editsSkills(who)}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		page.Skills, err = tx.Skills()
		return err
	})
	if err != nil {
		return fmt.Errorf("page of skills: %w", err)
	}
	return p.render(c, http.StatusOK, "skills", "Skills", page)
}

// editsSkills says whether a user may change skills.
func editsSkills(who models.Who) bool {
	return who.Reach(models.Write, models.AreaSetup) == models.ReachAcademy
}

// newSkill is GET /new-skill: the form for a skill of the academy's own.
func (p *Pages) newSkill(c *gin.Context, who models.Who) error { return p.newSkillWith(c, who, Form{}) }

func (p *Pages) newSkillWith(c *gin.Context, who models.Who, form Form) error {
	if !editsSkills(who) {
		return models.Errorf(models.Forbidden, "only managers make new skills")
	}
	page := skillPage{Form: form, New: true, MayEdit: true}
	page.layGroups()
	return p.render(c, form.status(), "skill", "New skill", page)
}

// skill is GET /skills/:code.
func (p *Pages) skill(c *gin.Context, who models.Who) error { return p.skillWith(c, who, Form{}) }

func (p *Pages) skillWith(c *gin.Context, who models.Who, form Form) error {
	if !who.Staff() {
		return models.Errorf(models.Forbidden, "this page is for staff")
	}
	page := skillPage{Form: form, MayEdit: editsSkills(who)}
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
	page.layGroups()
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
			page.Earlier = append(page.Earlier, earlierWords{dayOf(tx.Who().Local(was.At)), names[was.UserID], was.Skill})
		}
		if found {
			page.Earlier = append(page.Earlier, earlierWords{Until: dayOf(tx.Who().Local(page.Skill.CreatedAt)), Skill: builtIn})
		}
	}
	return nil
}

// layGroups lists the position groups with what differs for them.
func (page *skillPage) layGroups() {
	for _, g := range models.Groups() {
		of := groupOfSkill{Code: string(g.Code), Name: g.Label,
			Suits: len(page.Skill.Groups) == 0 || slices.Contains(page.Skill.Groups, g.Code)}
		for _, w := range page.Skill.ByGroup {
			if w.Group == g.Code {
				of.GroupWords, of.Differs = w, true
			}
		}
		page.Groups = append(page.Groups, of)
	}
}

// Value is what stands in a field of the form: what was sent, or else the words of now.
func (page skillPage) Value(field, now string) string {
	if page.Form.Name != "" {
		return page.Form.sent.Get(field)
	}
	return now
}

// Refused is what was wrong with the form as a whole.
func (page skillPage) Refused() []errorLine { return page.Form.summary() }

// Sent says whether the form stands on the page with what was sent.
func (page skillPage) Sent() bool { return page.Form.Name != "" }

// Ticked says whether the form has the skill for a position group.
func (page skillPage) Ticked(g groupOfSkill) bool {
	return page.Value("suits_"+g.Code, map[bool]string{true: "yes"}[g.Suits]) != ""
}

// Open says whether the form shows the fields for a position group at once.
func (page skillPage) Open(g groupOfSkill) bool {
	if !page.Sent() {
		return g.Differs
	}
	for field, sent := range page.Form.sent {
		if strings.HasPrefix(field, g.Code+"_") && strings.Join(sent, "") != "" {
			return true
		}
	}
	return false
}

// addSkill is POST /skills: a skill of the academy's own.
func (p *Pages) addSkill(c *gin.Context, who models.Who, f *fields) (string, error) {
	if !editsSkills(who) {
		return "", models.Errorf(models.Forbidden, "a %s may not change skill records", who.Role)
	}
	s := models.Skill{Code: f.text("code")}
	return "/skills/" + s.Code, p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		f.skill(&s)
		if err := f.err(); err != nil {
			return err
		}
		if _, err := skillAt(tx, s.Code); err == nil {
			f.refuse("code", "there is already a skill with the code "+s.Code+": choose another, or edit that skill")
			return f.err()
		}
		return besideSkillFields(tx.CreateSkill(&s), s)
	})
}

// saveSkill is POST /skills/:code: the whole skill as it is worded from now on.
func (p *Pages) saveSkill(c *gin.Context, who models.Who, f *fields) (string, error) {
	code := c.Param("code")
	return "/skills/" + code, p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if !editsSkills(who) {
			return models.Errorf(models.Forbidden, "a %s may not change skill records", who.Role)
		}
		s, err := skillAt(tx, code)
		if err != nil {
			return err
		}
		s.Version = f.version()
		f.skill(&s)
		if err := f.err(); err != nil {
			return err
		}
		if s.ID != 0 {
			return besideSkillFields(tx.UpdateSkill(&s), s)
		}
		if s.Version != 0 {
			return models.Errorf(models.Stale, "the academy's own words of this skill were deleted after you opened the "+
				"page: open it again, then make your change")
		}
		return besideSkillFields(tx.CreateSkill(&s), s)
	})
}

// skill reads the fields of a skill, all but its code.
func (f *fields) skill(s *models.Skill) {
	s.Label, s.How = f.text("label"), f.text("how")
	s.ActUpTo, s.ContactUpTo = f.upTo("act_up_to"), f.upTo("contact_up_to")
	s.Grades = f.gradeWords("grade")
	s.Groups, s.ByGroup = nil, nil
	all := models.Groups()
	for _, g := range all {
		if f.checked("suits_" + string(g.Code)) {
			s.Groups = append(s.Groups, g.Code)
		}
		w := models.GroupWords{Group: g.Code, Label: f.text(string(g.Code) + "_label"),
			Grades: f.gradeWords(string(g.Code))}
		if w.Label != "" || w.Worded() {
			s.ByGroup = append(s.ByGroup, w)
		}
	}
	if len(s.Groups) == 0 {
		f.refuse("groups", "choose at least one position group")
	}
	if len(s.Groups) == len(all) {
		s.Groups = nil
	}
}

// gradeWords reads the words of the five grades.
func (f *fields) gradeWords(name string) (words [5]string) {
	for n := range words {
		words[n] = f.text(fmt.Sprintf("%s_%d", name, n+1))
	}
	return words
}

// besideSkillFields names the fields of the form instead of those of the record.
func besideSkillFields(err error, s models.Skill) error {
	var e *models.Error
	if !errors.As(err, &e) || e.Code != models.Invalid {
		return err
	}
	named := *e
	named.Fields = slices.Clone(e.Fields)
	names := map[string]string{}
	for n := range s.Grades {
		names[fmt.Sprintf("grades[%d]", n)] = fmt.Sprintf("grade_%d", n+1)
		for i, w := range s.ByGroup {
			names[fmt.Sprintf("by_group[%d].grades[%d]", i, n)] = fmt.Sprintf("%s_%d", w.Group, n+1)
			names[fmt.Sprintf("by_group[%d].label", i)] = string(w.Group) + "_label"
		}
	}
	for i := range named.Fields {
		named.Fields[i].Where = cmp.Or(names[named.Fields[i].Where], named.Fields[i].Where)
	}
	return &named
}

// upTo reads the highest grade that something holds for, 0 for none.
func (f *fields) upTo(name string) int {
	n, err := strconv.Atoi(f.text(name))
	if err != nil {
		f.refuse(name, "choose a grade, or none")
	}
	return n
}
