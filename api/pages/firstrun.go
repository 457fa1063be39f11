package pages

import (
	"errors"
	"net/http"

	"github.com/gin-gonic/gin"

	"throughline/api/auth"
	"throughline/models"
)

// FirstRunPath is where an empty server is set up, with the setup code that serving it prints.
const FirstRunPath = "/first-run"

// firstRunPage fills the form of the first academy and its first manager.
type firstRunPage struct{ Form Form }

// emptyServer sends a stranger to the first run if the server has no academy and accepts a setup code. It says whether
// it has answered.
func (p *Pages) emptyServer(c *gin.Context) bool {
	empty, err := p.auth.AwaitsFirstRun(c.Request.Context())
	if err != nil {
		p.failed(c, err)
		return true
	}
	if empty {
		c.Redirect(http.StatusSeeOther, FirstRunPath)
	}
	return empty
}

// firstRunForm is GET /first-run. Once there is an academy there is no such page.
func (p *Pages) firstRunForm(c *gin.Context) {
	if err := p.showFirstRun(c, Form{}); err != nil {
		p.failed(c, err)
	}
}

func (p *Pages) showFirstRun(c *gin.Context, form Form) error {
	empty, err := p.auth.AwaitsFirstRun(c.Request.Context())
	if err != nil {
		return err
	}
	if !empty {
		return models.Errorf(models.NotFound, "this server is set up already: sign in, or ask a manager for a link")
	}
	return p.render(c, form.status(), "first-run", "Set up this server", firstRunPage{Form: form})
}

// firstRun is POST /first-run, with the setup code, the academy's name, and the first manager's name, username and
// password.
func (p *Pages) firstRun(c *gin.Context) {
	values, ok := p.form(c)
	if !ok {
		return
	}
	err := p.auth.Found(c.Request.Context(), auth.Founding{Code: values.Get("code"), Academy: values.Get("academy"),
		Name: values.Get("name"), Login: values.Get("login"), Password: values.Get("password")})
	var known *models.Error
	switch {
	case err == nil:
		c.Redirect(http.StatusSeeOther, "/")
		return
	case errors.As(err, &known) && known.Code == models.Invalid:
		values.Del("password")
		form := Form{Name: "first-run", Wrong: []string{"Nothing was made yet. Mend what is marked " +
			"below, type the password again and send the form again."}, sent: values}
		nothing := form.Wrong
		form.take(known, nil)
		form.Wrong = append(nothing, form.Wrong...)
		refuse(c, form)
		err = p.showFirstRun(c, form)
	}
	if err != nil {
		p.failed(c, err)
	}
}
