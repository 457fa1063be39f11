package pages

import (
	"cmp"
	"crypto/rand"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"throughline/api/auth"
	"throughline/models"
	"throughline/models/store"
)

// peoplePage lists who may sign in, for those who manage that: the users of an academy, or the operators of the
// deployment.
type peoplePage struct {
	Form      Form
	Operators bool
	People    []person
	Squads    []models.Squad
	Players   []models.Player // who have no user yet
}

// person is a user with the squads they work with.
type person struct {
	models.User
	Squads []squadOfStaff // that they work with
	Others []models.Squad // that they could work with
	Since  string         // since when a second factor is asked for; empty if none is
	Own    bool           // it is the caller
	Joined bool           // they have chosen a password
}

// squadOfStaff is a squad that a user works with.
type squadOfStaff struct {
	models.Squad
	Leads bool  // they are its lead coach
	Lead  int64 // the user who leads it, 0 for none
}

// inOrder is how roles follow one another on the page.
var inOrder = []models.Role{models.RoleOperator, models.RoleManager, models.RoleCoach, models.RoleSelector,
	models.RolePlayer}

// people is GET /people.
func (p *Pages) people(c *gin.Context, who models.Who) error { return p.peopleWith(c, who, Form{}) }

func (p *Pages) peopleWith(c *gin.Context, who models.Who, form Form) error {
	page := peoplePage{Form: form, Operators: who.Role == models.RoleOperator}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		users, err := tx.Users(models.UserFilter{})
		if err != nil {
			return err
		}
		var staff []models.SquadStaff
		if !page.Operators {
			if page.Squads, err = tx.Squads(models.SquadFilter{}); err != nil {
				return err
			}
			if staff, err = tx.SquadStaff(0); err != nil {
				return err
			}
			if page.Players, err = tx.Players(models.PlayerFilter{}); err != nil {
				return err
			}
		}
		leads := map[int64]int64{}
		for _, w := range staff {
			if w.Leads {
				leads[w.SquadID] = w.UserID
			}
		}
		for _, u := range users {
			one := person{User: u, Own: u.ID == who.UserID, Joined: u.PasswordHash != ""}
			if u.SecondFactorSince != nil {
				one.Since = dayOf(who.Local(*u.SecondFactorSince))
			}
			if u.Role == models.RoleCoach || u.Role == models.RoleSelector {
				for _, s := range page.Squads {
					i := slices.IndexFunc(staff, func(w models.SquadStaff) bool {
						return w.UserID == u.ID && w.SquadID == s.ID
					})
					if i >= 0 {
						one.Squads = append(one.Squads, squadOfStaff{s, staff[i].Leads, leads[s.ID]})
					} else {
						one.Others = append(one.Others, s)
					}
				}
			}
			if u.PlayerID != nil {
				page.Players = slices.DeleteFunc(page.Players, func(p models.Player) bool { return p.ID == *u.PlayerID })
			}
			page.People = append(page.People, one)
		}
		slices.SortStableFunc(page.People, func(a, b person) int {
			return slices.Index(inOrder, a.Role) - slices.Index(inOrder, b.Role)
		})
		return nil
	})
	if err != nil {
		return fmt.Errorf("page of people: %w", err)
	}
	return p.render(c, form.status(), "people", "People", page)
}

// linkPage shows a one-time link, once.
type linkPage struct {
	Name, Login, Path, Until, Back string
}

// showLink answers with a one-time link.
func (p *Pages) showLink(c *gin.Context, u models.User, secret string, l models.Link, back string) error {
	who, _ := auth.Who(c.Request.Context())
	return p.render(c, http.StatusOK, "link", "One-time link", linkPage{
		Name: u.Name, Login: u.Login, Path: auth.JoinPath + secret, Until: moment(who.Local(l.ExpiresAt)), Back: back,
	})
}

// addPerson is POST /people.
func (p *Pages) addPerson(c *gin.Context, who models.Who, f *fields) (string, error) {
	secret, hash, err := auth.NewSecret(rand.Reader)
	if err != nil {
		return "", err
	}
	u := models.User{Login: f.text("login"), Name: f.text("name"), Role: models.Role(f.text("role"))}
	if who.Role == models.RoleOperator {
		u.Role = models.RoleOperator
	}
	l := models.Link{Hash: hash}
	err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if u.Role == models.RolePlayer {
			if u.PlayerID = f.idIfAny("player_id"); u.PlayerID != nil && u.Name == "" {
				player, err := tx.Player(*u.PlayerID)
				if err != nil {
					return err
				}
				u.Name = player.Name
			}
		}
		if err := f.err(); err != nil {
			return err
		}
		if err := tx.CreateUser(&u); err != nil {
			return err
		}
		if squad := f.idIfAny("squad_id"); squad != nil {
			if err := tx.AddSquadStaff(u.ID, *squad); err != nil {
				return err
			}
		}
		l.UserID = u.ID
		return tx.CreateLink(&l)
	})
	if err != nil {
		return "", err
	}
	return "", p.showLink(c, u, secret, l, "/people")
}

// onPerson is a form about one user, whose id is in the address.
func (p *Pages) onPerson(name string, do func(*store.Tx, models.User, *fields) error) gin.HandlerFunc {
	return p.sent(name, p.peopleWith, func(c *gin.Context, who models.Who, f *fields) (string, error) {
		user, err := id(c, "id")
		if err != nil {
			return "", err
		}
		return "/people#person-" + strconv.FormatInt(user, 10),
			p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
				u, err := tx.User(user)
				if err != nil {
					return err
				}
				return do(tx, u, f)
			})
	})
}

// linkPerson is POST /people/:id/link.
func (p *Pages) linkPerson(c *gin.Context, who models.Who, _ *fields) (string, error) {
	user, err := id(c, "id")
	if err != nil {
		return "", err
	}
	secret, hash, err := auth.NewSecret(rand.Reader)
	if err != nil {
		return "", err
	}
	var u models.User
	l := models.Link{UserID: user, Hash: hash}
	err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if u, err = tx.User(user); err != nil {
			return err
		}
		return tx.CreateLink(&l)
	})
	if err != nil {
		return "", err
	}
	return "", p.showLink(c, u, secret, l, "/people")
}

// joinSquad is POST /people/:id/squads, with the squad.
func joinSquad(tx *store.Tx, u models.User, f *fields) error {
	squad := f.idIfAny("squad_id")
	if squad == nil {
		return fieldWrong("squad_id", "choose a squad")
	}
	return tx.AddSquadStaff(u.ID, *squad)
}

// leaveSquad is POST /people/:id/squads/end, with the squad.
func leaveSquad(tx *store.Tx, u models.User, f *fields) error {
	squad := f.idIfAny("squad_id")
	if squad == nil {
		return fieldWrong("squad_id", "choose a squad")
	}
	return tx.RemoveSquadStaff(u.ID, *squad)
}

// leadSquad is POST /people/:id/squads/lead, with the squad and whether they lead it from now on.
func leadSquad(tx *store.Tx, u models.User, f *fields) error {
	squad := f.idIfAny("squad_id")
	if squad == nil {
		return fieldWrong("squad_id", "choose a squad")
	}
	now, err := tx.LeadCoach(*squad)
	if err != nil {
		return err
	}
	if was := f.text("was"); was != strconv.FormatInt(now, 10) {
		names, err := tx.UserNames()
		if err != nil {
			return err
		}
		who := func(id int64) string { return cmp.Or(names[id], "no one") }
		sent := int64(0)
		if f.checked("leads") {
			sent = u.ID
		}
		return inBothWords(models.Errorf(models.Stale, "another leads"), who(sent)+" leads the squad",
			who(now)+" leads it")
	}
	if f.checked("leads") {
		return tx.SetLeadCoach(u.ID, *squad)
	}
	return tx.EndLeadCoach(u.ID, *squad)
}

// endFactor is POST /people/:id/second-factor-off.
func endFactor(tx *store.Tx, u models.User, _ *fields) error { return tx.EndSecondFactorOf(u.ID) }

// removePerson is POST /people/:id/remove.
func removePerson(tx *store.Tx, u models.User, f *fields) error {
	now := fmt.Sprintf("%s, %s, who signs in as %s", u.Name, u.Role, u.Login)
	return inBothWords(tx.DeleteUser(u.ID, f.version()), "remove "+f.text("name")+", "+f.text("role"), now)
}

// academiesPage are the academies of the deployment, for an operator.
type academiesPage struct {
	Form      Form
	Academies []models.Academy
}

// academies is GET /academies.
func (p *Pages) academies(c *gin.Context, who models.Who) error {
	return p.academiesWith(c, who, Form{})
}

func (p *Pages) academiesWith(c *gin.Context, who models.Who, form Form) error {
	page := academiesPage{Form: form}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		page.Academies, err = tx.Academies()
		return err
	})
	if err != nil {
		return fmt.Errorf("page of academies: %w", err)
	}
	return p.render(c, form.status(), "academies", "Academies", page)
}

// addAcademy is POST /academies.
func (p *Pages) addAcademy(c *gin.Context, who models.Who, f *fields) (string, error) {
	a := models.Academy{Name: f.text("name")}
	return "/academies", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error { return tx.CreateAcademy(&a) })
}

// renameAcademy is POST /academies/:id/name.
func (p *Pages) renameAcademy(c *gin.Context, who models.Who, f *fields) (string, error) {
	academy, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return "/academies", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		all, err := tx.Academies()
		if err != nil && models.CodeOf(err) != models.Forbidden { // renaming says what a caller who may not gets
			return err
		}
		for _, a := range all { // an academy has no version; its name is all that there is of it
			if was := f.text("was"); a.ID == academy && a.Name != was {
				return inBothWords(models.Errorf(models.Stale, "renamed"), "from "+was+" to "+f.text("name"), a.Name)
			}
		}
		_, err = tx.RenameAcademy(academy, f.text("name"))
		return err
	})
}

// firstManager is POST /academies/:id/manager.
func (p *Pages) firstManager(c *gin.Context, who models.Who, f *fields) (string, error) {
	academy, err := id(c, "id")
	if err != nil {
		return "", err
	}
	secret, hash, err := auth.NewSecret(rand.Reader)
	if err != nil {
		return "", err
	}
	u, l := models.User{Login: f.text("login"), Name: f.text("name")}, models.Link{Hash: hash}
	if err := p.store.CreateFirstManager(c.Request.Context(), who, academy, &u, &l); err != nil {
		return "", err
	}
	return "", p.showLink(c, u, secret, l, "/academies")
}
