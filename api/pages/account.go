package pages

import (
	"bytes"
	"crypto/rand"
	"errors"
	"fmt"
	"image/png"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"throughline/api/auth"
	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
)

// registerAccount adds the pages and forms of one's own account.
func (p *Pages) registerAccount(router *gin.Engine) {
	router.GET("/account", p.known(p.account))
	router.POST("/account/password", p.own(p.changePassword))
	router.POST("/account/second-factor", p.own(p.beginSecondFactor))
	router.GET("/account/second-factor", p.known(p.secondFactor))
	router.GET("/account/second-factor/picture.png", p.known(p.secondFactorPicture))
	router.POST("/account/second-factor/confirm", p.own(p.confirmSecondFactor))
	router.POST("/account/second-factor/off", p.own(p.endSecondFactor))
	router.POST("/account/sessions/end", p.own(p.endSessions))
	router.POST("/account/tokens", p.own(p.makeToken))
	router.POST("/account/tokens/:token/end", p.own(p.endToken))
}

// own handles a form about the caller's own account. The caller must have signed in; an access token is not enough.
func (p *Pages) own(do func(*gin.Context, models.Who, url.Values) error) gin.HandlerFunc {
	return func(c *gin.Context) {
		who, ok := auth.Who(c.Request.Context())
		if !ok {
			c.Redirect(http.StatusSeeOther, "/sign-in?"+url.Values{"next": {"/account"}}.Encode())
			return
		}
		if who.TokenID != 0 {
			p.failed(c, models.Errorf(models.Forbidden,
				"sign in to do this; an access token is not enough"))
			return
		}
		form, ok := p.form(c)
		if !ok {
			return
		}
		if err := do(c, who, form); err != nil && !p.tooOften(c, err) {
			p.failed(c, err)
		}
	}
}

// accountPage fills the page of one's account.
type accountPage struct {
	User                models.User
	Academy             string
	MayHaveSecondFactor bool
	SecondFactorSince   string
	Sessions            []sessionHeld
	Tokens              []tokenHeld
	Done                string            // what was just done
	Token               string            // one that was just made
	Wrong               map[string]string // what is wrong with the form of a part of the page
	Label, Days         string            // as they were sent
}

type sessionHeld struct {
	Since string
	This  bool
}

type tokenHeld struct {
	models.AccessToken
	Made, Expires string
	Expired       bool
}

// said are the words for what was just done.
var said = map[string]string{
	"password": "The password was changed. Your other sessions have ended.",
	"on":       "Two-factor sign-in is on. Your other sessions have ended.",
	"off":      "Two-factor sign-in is off. Your other sessions have ended.",
	"sessions": "The other sessions have ended.",
	"token":    "The access token has ended.",
}

// account is GET /account.
func (p *Pages) account(c *gin.Context, who models.Who) error {
	return p.showAccount(c, who, http.StatusOK, accountPage{Done: said[c.Query("done")]})
}

func (p *Pages) showAccount(c *gin.Context, who models.Who, status int, page accountPage) error {
	if page.Days == "" {
		page.Days = "90"
	}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		if page.User, err = tx.Account(); err != nil {
			return err
		}
		if page.Academy, err = tx.AcademyName(); err != nil {
			return err
		}
		sessions, err := tx.Sessions()
		if err != nil {
			return err
		}
		for _, s := range sessions {
			page.Sessions = append(page.Sessions,
				sessionHeld{Since: moment(who.Local(s.CreatedAt)), This: s.Key == p.auth.Session(c.Request.Context())})
		}
		tokens, err := tx.AccessTokens(who.UserID)
		for _, t := range tokens {
			page.Tokens = append(page.Tokens, tokenHeld{t, dayOf(who.Local(t.CreatedAt)), dayOf(who.Local(t.ExpiresAt)),
				!t.ExpiresAt.After(tx.Now())})
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("account page: %w", err)
	}
	page.MayHaveSecondFactor = who.Staff() || who.Role == models.RoleOperator
	if page.User.SecondFactorSince != nil {
		page.SecondFactorSince = dayOf(who.Local(*page.User.SecondFactorSince))
	}
	return p.render(c, status, "account", "Your account", page)
}

// moment and dayOf print an instant in its own zone: models.Who has that of the academy.
func moment(at time.Time) string { return dayOf(at) + at.Format(", 15:04 MST") }
func dayOf(at time.Time) string  { return paper.Day(string(models.DateOf(at))) }

// back sends users back to their account page, which says what was done.
func back(c *gin.Context, done string) error {
	c.Redirect(http.StatusSeeOther, "/account?done="+done)
	return nil
}

// notIt is the error for a wrong current password.
const notIt = "That is not your current password. Try again."

// changePassword is POST /account/password, with before, password and, where the access tokens are to end too, tokens.
func (p *Pages) changePassword(c *gin.Context, who models.Who, form url.Values) error {
	err := p.auth.ChangePassword(c.Request.Context(), who, form.Get("before"), form.Get("password"),
		form.Get("tokens") != "")
	wrong := wrongAt(err, "password")
	switch {
	case err == nil:
		return back(c, "password")
	case errors.Is(err, auth.ErrRefused):
		wrong = notIt
	case wrong != "":
		wrong = "The new password " + wrong + "."
	default:
		return err
	}
	return p.showAccount(c, who, http.StatusUnprocessableEntity, accountPage{Wrong: map[string]string{"password": wrong}})
}

// beginSecondFactor is POST /account/second-factor.
func (p *Pages) beginSecondFactor(c *gin.Context, who models.Who, _ url.Values) error {
	if err := p.auth.NewSecondFactor(c.Request.Context(), who, rand.Reader); err != nil {
		return err
	}
	c.Redirect(http.StatusSeeOther, "/account/second-factor")
	return nil
}

// secondFactorPage fills the page on which a second factor is set up.
type secondFactorPage struct{ Secret, Wrong string }

// secondFactor is GET /account/second-factor.
func (p *Pages) secondFactor(c *gin.Context, who models.Who) error {
	return p.showSecondFactor(c, who, http.StatusOK, "")
}

// offered returns the secret that waits to be confirmed. A program never sees it.
func (p *Pages) offered(c *gin.Context, who models.Who) (string, error) {
	if who.TokenID != 0 {
		return "", models.Errorf(models.Forbidden, "sign in to do this; an access token is not enough")
	}
	secret, err := p.auth.Offered(c.Request.Context(), who)
	if err == nil && secret == "" {
		err = models.Errorf(models.NotFound, "nothing is being set up; start two-factor sign-in on your account page")
	}
	return secret, err
}

func (p *Pages) showSecondFactor(c *gin.Context, who models.Who, status int, wrong string) error {
	secret, err := p.offered(c, who)
	if err != nil {
		return err
	}
	var groups strings.Builder // of four, which is easier to type
	for i, sign := range secret {
		if i > 0 && i%4 == 0 {
			groups.WriteByte(' ')
		}
		groups.WriteRune(sign)
	}
	return p.render(c, status, "second-factor", "Two-factor sign-in", secondFactorPage{groups.String(), wrong})
}

// pictureSize is the width and height of the picture in pixels.
const pictureSize = 240

// secondFactorPicture is GET /account/second-factor/picture.png: an address of its own, because pages show no picture
// that is written into them. Like everything it is kept nowhere: see the header Cache-Control.
func (p *Pages) secondFactorPicture(c *gin.Context, who models.Who) error {
	secret, err := p.offered(c, who)
	if err != nil {
		return err
	}
	var login string
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		u, err := tx.Account()
		login = u.Login
		return err
	})
	if err != nil {
		return err
	}
	picture, err := auth.Picture(secret, login, pictureSize)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := png.Encode(&b, picture); err != nil {
		return fmt.Errorf("draw a second factor: %w", err)
	}
	c.Header("Content-Length", strconv.Itoa(b.Len()))
	c.Data(http.StatusOK, "image/png", b.Bytes())
	return nil
}

// confirmSecondFactor is POST /account/second-factor/confirm, with code.
func (p *Pages) confirmSecondFactor(c *gin.Context, who models.Who, form url.Values) error {
	err := p.auth.ConfirmSecondFactor(c.Request.Context(), who, form.Get("code"))
	if errors.Is(err, auth.ErrRefused) {
		return p.showSecondFactor(c, who, http.StatusUnprocessableEntity,
			"Wrong code. Check that your phone’s clock is right, then enter the next code.")
	}
	if err != nil {
		return err
	}
	return back(c, "on")
}

// endSecondFactor is POST /account/second-factor/off, with password and code.
func (p *Pages) endSecondFactor(c *gin.Context, who models.Who, form url.Values) error {
	err := p.auth.EndSecondFactor(c.Request.Context(), who, form.Get("password"), form.Get("code"))
	if errors.Is(err, auth.ErrRefused) {
		return p.showAccount(c, who, http.StatusUnprocessableEntity, accountPage{Wrong: map[string]string{
			"off": "Wrong password or code. Wait for the next code, then try again.",
		}})
	}
	if err != nil {
		return err
	}
	return back(c, "off")
}

// endSessions is POST /account/sessions/end.
func (p *Pages) endSessions(c *gin.Context, who models.Who, _ url.Values) error {
	if err := p.auth.EndOtherSessions(c.Request.Context(), who); err != nil {
		return err
	}
	return back(c, "sessions")
}

// makeToken is POST /account/tokens, with label, scope and days. The token is shown on the page that answers, and
// never again.
func (p *Pages) makeToken(c *gin.Context, who models.Who, form url.Values) error {
	page := accountPage{Label: form.Get("label"), Days: form.Get("days")}
	days, err := strconv.Atoi(page.Days)
	if err != nil || days < 1 || days > 366 {
		page.Wrong = map[string]string{
			"token": "An access token lasts 1 to 366 days. Choose a number of days in that range."}
		return p.showAccount(c, who, http.StatusUnprocessableEntity, page)
	}
	secret, hash, err := auth.NewToken(rand.Reader)
	if err != nil {
		return err
	}
	err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		return tx.CreateAccessToken(&models.AccessToken{
			UserID: who.UserID, Label: page.Label, Scope: models.TokenScope(form.Get("scope")),
			ExpiresAt: tx.Now().AddDate(0, 0, days), Hash: hash,
		})
	})
	if code := models.CodeOf(err); code == models.Invalid || code == models.Conflict {
		page.Wrong = map[string]string{"token": err.Error()}
		return p.showAccount(c, who, http.StatusUnprocessableEntity, page)
	}
	if err != nil {
		return err
	}
	return p.showAccount(c, who, http.StatusCreated, accountPage{Token: secret})
}

// endToken is POST /account/tokens/{token}/end, with the version that was shown.
func (p *Pages) endToken(c *gin.Context, who models.Who, form url.Values) error {
	token, err := id(c, "token")
	if err != nil {
		return err
	}
	version, _ := strconv.ParseInt(form.Get("version"), 10, 64) // what is no number is no version either
	err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		held, err := tx.AccessToken(token)
		if err == nil && held.UserID != who.UserID {
			err = models.Errorf(models.NotFound, "this is not one of your access tokens")
		}
		if err != nil {
			return err
		}
		return tx.DeleteAccessToken(token, version)
	})
	if err != nil {
		return err
	}
	return back(c, "token")
}
