package pages

import (
	"errors"
	"net/http"

	"github.com/gin-gonic/gin"

	"throughline/models"
)

// joinPage fills the page of a one-time link.
type joinPage struct {
	Path    string
	Name    string
	Login   string
	Academy string // empty for an operator, who is of none
	Wrong   string // what is wrong with the password that was chosen
}

// joinForm is GET /join/{secret}. It uses nothing up: programs that look at links in messages do this too.
func (p *Pages) joinForm(c *gin.Context) {
	if err := p.showJoin(c, http.StatusOK, ""); err != nil {
		p.failed(c, err)
	}
}

func (p *Pages) showJoin(c *gin.Context, status int, wrong string) error {
	invited, err := p.auth.Invited(c.Request.Context(), c.Param("secret"))
	if err != nil {
		return err
	}
	return p.render(c, status, "join", "Choose a password", joinPage{
		Path: c.Request.URL.EscapedPath(), Name: invited.User.Name, Login: invited.User.Login, Academy: invited.Academy,
		Wrong: wrong,
	})
}

// join is POST /join/{secret}, with the password that was chosen.
func (p *Pages) join(c *gin.Context) {
	form, ok := p.form(c)
	if !ok {
		return
	}
	code, err := p.auth.Join(c.Request.Context(), c.Param("secret"), form.Get("password"))
	switch wrong := wrongAt(err, "password"); {
	case wrong != "":
		err = p.showJoin(c, http.StatusUnprocessableEntity, wrong)
	case err == nil:
		err = p.in(c, code, "/", "")
	}
	if err != nil {
		p.failed(c, err)
	}
}

// wrongAt is what an error says about one field, or nothing if it does not.
func wrongAt(err error, field string) string {
	var known *models.Error
	if errors.As(err, &known) {
		for _, f := range known.Fields {
			if f.Where == field {
				return f.Message
			}
		}
	}
	return ""
}
