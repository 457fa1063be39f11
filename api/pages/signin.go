package pages

import (
	"errors"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/api/auth"
	"throughline/models"
)

// LargestForm is more than two of the longest passwords need, however they are written.
const LargestForm = 64 << 10

// form reads the form that was sent. If it cannot, it answers with the error and returns false. Fields are read only
// from the body: a password in an address is not accepted.
func (p *Pages) form(c *gin.Context) (url.Values, bool) {
	c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, LargestForm)
	if err := c.Request.ParseForm(); err != nil {
		var tooLarge *http.MaxBytesError
		if errors.As(err, &tooLarge) {
			p.Fail(c.Writer, c.Request, http.StatusRequestEntityTooLarge, nil)
			return nil, false
		}
		p.Fail(c.Writer, c.Request, http.StatusBadRequest, nil)
		return nil, false
	}
	return c.Request.PostForm, true
}

// tooOften answers a caller who has tried too often for one account, in the same words whether or not it exists.
func (p *Pages) tooOften(c *gin.Context, err error) bool {
	var many *auth.TooMany
	if !errors.As(err, &many) {
		return false
	}
	seconds := strconv.Itoa(int(math.Ceil(many.Wait.Seconds())))
	c.Header("Retry-After", seconds)
	p.Fail(c.Writer, c.Request, http.StatusTooManyRequests,
		models.Errorf(models.Conflict, "too many attempts for this username: try again in %s seconds", seconds))
	return true
}

// signInPage fills the form.
type signInPage struct {
	User    string
	Next    string
	Refused bool
	Kept    string // a form that came too late, sealed
	Late    bool   // this page answers it
}

// signInForm is GET /sign-in.
func (p *Pages) signInForm(c *gin.Context) {
	next := local(c.Query("next"))
	if _, ok := auth.Who(c.Request.Context()); ok {
		c.Redirect(http.StatusSeeOther, next)
		return
	}
	if p.emptyServer(c) {
		return
	}
	if err := p.render(c, http.StatusOK, "sign-in", "Sign in", signInPage{Next: next}); err != nil {
		p.failed(c, err)
	}
}

// signIn is POST /sign-in, with user and password, and where to go next.
func (p *Pages) signIn(c *gin.Context) {
	form, ok := p.form(c)
	if !ok {
		return
	}
	next := local(form.Get("next"))
	code, err := p.auth.SignIn(c.Request.Context(), form.Get("user"), form.Get("password"))
	switch {
	case p.tooOften(c, err):
		return
	case errors.Is(err, auth.ErrRefused):
		c.Header("WWW-Authenticate", "Bearer") // a 401 has to name a way; this one makes no browser ask in a box of its own
		err = p.render(c, http.StatusUnauthorized, "sign-in", "Sign in", signInPage{User: form.Get("user"), Next: next,
			Refused: true, Kept: form.Get("kept")})
	case err == nil:
		err = p.in(c, code, next, form.Get("kept"))
	}
	if err != nil {
		p.failed(c, err)
	}
}

// in sends a user with the right password on: to where they wanted to go, or first to the form for their code. A form
// that came too late is shown to them once they are in.
func (p *Pages) in(c *gin.Context, code bool, next, kept string) error {
	forgetLog(c)
	if code && kept != "" {
		return p.render(c, http.StatusOK, "code", "One-time code", signInPage{Next: next, Kept: kept})
	}
	if code {
		next = "/sign-in/code?" + url.Values{"next": {next}}.Encode()
	} else if answered, err := p.showKept(c, kept); err != nil || answered {
		return err
	}
	c.Redirect(http.StatusSeeOther, next)
	return nil
}

// codeForm is GET /sign-in/code.
func (p *Pages) codeForm(c *gin.Context) {
	next := local(c.Query("next"))
	if !p.auth.AwaitsCode(c.Request.Context()) {
		c.Redirect(http.StatusSeeOther, "/sign-in?"+url.Values{"next": {next}}.Encode())
		return
	}
	if err := p.render(c, http.StatusOK, "code", "One-time code", signInPage{Next: next}); err != nil {
		p.failed(c, err)
	}
}

// code is POST /sign-in/code, with code, and where to go next.
func (p *Pages) code(c *gin.Context) {
	form, ok := p.form(c)
	if !ok {
		return
	}
	next := local(form.Get("next"))
	err := p.auth.SignInCode(c.Request.Context(), form.Get("code"))
	switch {
	case p.tooOften(c, err):
		return
	case errors.Is(err, auth.ErrNoPassword) && form.Get("kept") != "":
		c.Header("WWW-Authenticate", "Bearer")
		err = p.render(c, http.StatusUnauthorized, "sign-in", "Sign in", signInPage{Next: next, Kept: form.Get("kept"),
			Late: true})
	case errors.Is(err, auth.ErrNoPassword):
		c.Redirect(http.StatusSeeOther, "/sign-in?"+url.Values{"next": {next}}.Encode())
		return
	case errors.Is(err, auth.ErrRefused):
		c.Header("WWW-Authenticate", "Bearer")
		err = p.render(c, http.StatusUnauthorized, "code", "One-time code", signInPage{Next: next, Refused: true,
			Kept: form.Get("kept")})
	case err == nil:
		err = p.in(c, false, next, form.Get("kept"))
	}
	if err != nil {
		p.failed(c, err)
	}
}

// signOut is POST /sign-out. A user whose involvements are not all sent is told first.
func (p *Pages) signOut(c *gin.Context) {
	form, ok := p.form(c)
	if !ok {
		return
	}
	who, _ := auth.Who(c.Request.Context())
	if left, some := unsentOf(c.Request, who); some && form.Get("anyway") == "" {
		if err := p.render(c, http.StatusOK, "unsent", "Before you sign out", left); err != nil {
			p.failed(c, err)
		}
		return
	}
	forgetLog(c)
	if err := p.auth.SignOut(c.Request.Context()); err != nil {
		p.failed(c, err)
		return
	}
	c.Redirect(http.StatusSeeOther, "/sign-in")
}

// local returns an address of this server to go to, and the home page for anything else: a link to the sign-in form
// must not be a way to send people elsewhere.
func local(next string) string {
	u, err := url.Parse(next)
	if err != nil || u.Scheme != "" || u.Host != "" || u.User != nil || !strings.HasPrefix(next, "/") ||
		strings.HasPrefix(next, "//") || strings.Contains(next, `\`) {
		return "/"
	}
	return next
}
