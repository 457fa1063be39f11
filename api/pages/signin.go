package pages

import (
	"errors"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/api/auth"
)

// largestForm is far more than a name, a password and an address need.
const largestForm = 16 << 10

// signInPage fills the form.
type signInPage struct {
	User    string
	Next    string
	Refused bool
}

// signInForm is GET /sign-in.
func (p *Pages) signInForm(c *gin.Context) {
	next := local(c.Query("next"))
	if _, ok := auth.Who(c.Request.Context()); ok {
		c.Redirect(http.StatusSeeOther, next)
		return
	}
	if err := p.render(c, http.StatusOK, "sign-in", "Sign in", signInPage{Next: next}); err != nil {
		p.failed(c, err)
	}
}

// signIn is POST /sign-in, with user and password, and where to go next.
func (p *Pages) signIn(c *gin.Context) {
	c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, largestForm)
	if err := c.Request.ParseForm(); err != nil {
		var tooLarge *http.MaxBytesError
		if errors.As(err, &tooLarge) {
			p.Fail(c.Writer, c.Request, http.StatusRequestEntityTooLarge, nil)
			return
		}
		p.Fail(c.Writer, c.Request, http.StatusBadRequest, nil)
		return
	}
	form := c.Request.PostForm
	next := local(form.Get("next"))
	err := p.auth.SignIn(c.Request.Context(), form.Get("user"), form.Get("password"))
	switch {
	case errors.Is(err, auth.ErrRefused):
		c.Header("WWW-Authenticate", "Bearer") // a 401 has to name a way; this one makes no browser ask in a box of its own
		err = p.render(c, http.StatusUnauthorized, "sign-in", "Sign in", signInPage{User: form.Get("user"), Next: next, Refused: true})
	case err == nil:
		c.Redirect(http.StatusSeeOther, next)
	}
	if err != nil {
		p.failed(c, err)
	}
}

// signOut is POST /sign-out.
func (p *Pages) signOut(c *gin.Context) {
	if err := p.auth.SignOut(c.Request.Context()); err != nil {
		p.failed(c, err)
		return
	}
	c.Redirect(http.StatusSeeOther, "/sign-in")
}

// local returns an address of this server to go to, and the home page for anything else: a link to the sign-in form must not be a way to
// send people elsewhere.
func local(next string) string {
	u, err := url.Parse(next)
	if err != nil || u.Scheme != "" || u.Host != "" || u.User != nil || !strings.HasPrefix(next, "/") ||
		strings.HasPrefix(next, "//") || strings.Contains(next, `\`) {
		return "/"
	}
	return next
}
