package pages

import (
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/api/auth"
	"throughline/api/rest"
	"throughline/models"
)

// A form that is sent after its session has ended changes nothing. Where scripts are on, it is not sent at all
// (static/forms.js). Where they are off, the answer is the page to sign in, which carries what was typed, sealed for
// the user whose session it was. Once that user has signed in, they see it and may send it again.

// LargestKept is how many bytes a form may have that is kept: with its seal it must fit into the form to sign in.
const LargestKept = 24 << 10

// notKept are the paths whose forms are not kept: they ask for a password or a code, or are for strangers.
var notKept = []string{"/sign-in", "/sign-out", "/account", strings.TrimSuffix(auth.JoinPath, "/"), FirstRunPath,
	rest.Path, strings.TrimSuffix(StaticPath, "/")}

// neverKept are the fields without which a form would not be the same, and which are never written into a page.
var neverKept = []string{"password", "before"}

// keeps says whether forms for an address can be kept. To erase a player for good is to be meant at that moment.
func keeps(address string) bool {
	at, err := url.Parse(address)
	if err != nil || local(address) != address {
		return false
	}
	path := at.Path
	return !strings.HasSuffix(path, "/erasure") &&
		!slices.ContainsFunc(notKept, func(p string) bool { return path == p || strings.HasPrefix(path, p+"/") })
}

// MayKeep says whether the form of a stranger is worth reading: it is small, it has been sent from a page of this
// server, and the browser has had a session.
func (p *Pages) MayKeep(r *http.Request) bool {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	_, program := r.Header["Authorization"]
	return r.Method == http.MethodPost && err == nil && kind == "application/x-www-form-urlencoded" && !program &&
		r.ContentLength > 0 && r.ContentLength <= LargestKept && fromOurs(r) && keeps(r.URL.RequestURI()) &&
		p.auth.SentSession(r)
}

// fromOurs says whether a browser tells that a request comes from a page of this server. One that tells nothing is
// let through elsewhere, since programs tell nothing either; it is not enough here.
func fromOurs(r *http.Request) bool {
	if site := r.Header.Get("Sec-Fetch-Site"); site != "" {
		return site == "same-origin"
	}
	from, err := url.Parse(r.Header.Get("Origin"))
	return err == nil && from.Host != "" && from.Host == r.Host
}

// KeepForm answers a form that came after its session had ended with the page to sign in. What was typed is in it,
// sealed. What cannot be kept is answered like any other request of a stranger.
func (p *Pages) KeepForm(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, LargestKept)
	if err := r.ParseForm(); err != nil {
		p.Fail(w, r, http.StatusBadRequest, nil)
		return
	}
	late := lateForm{To: r.URL.RequestURI(), sent: r.PostForm}
	if !late.valid() {
		p.Fail(w, r, http.StatusUnauthorized, nil)
		return
	}
	sealed, ok, err := p.auth.Seal(r.Context(), []byte(late.To+"\n"+late.sent.Encode()))
	if err != nil {
		p.Fail(w, r, http.StatusInternalServerError, err)
		return
	}
	if !ok {
		p.Fail(w, r, http.StatusUnauthorized, nil)
		return
	}
	w.Header().Set("WWW-Authenticate", "Bearer")
	if err := p.write(w, r, http.StatusUnauthorized, "sign-in", "Sign in", signInPage{Next: "/", Kept: sealed,
		Late: true}); err != nil {
		p.Fail(w, r, http.StatusInternalServerError, err)
	}
}

// lateForm is a form that came after its session had ended.
type lateForm struct {
	To   string // the address on this server that it was sent to
	sent url.Values
}

// valid says whether a form may be kept and has something that is worth it.
func (l lateForm) valid() bool {
	for _, name := range neverKept {
		if l.sent.Has(name) {
			return false
		}
	}
	return keeps(l.To) && len(l.Typed()) > 0
}

// All are the fields of the form, in the order of their names.
func (l lateForm) All() (all []field) {
	for _, name := range sortedNames(l.sent) {
		for _, value := range l.sent[name] {
			all = append(all, field{name, value})
		}
	}
	return all
}

// Typed are the fields that a reader knows: those with a value, without what only tells the server which record it is.
func (l lateForm) Typed() (all []field) {
	for _, f := range l.All() {
		if strings.TrimSpace(f.Value) == "" || f.Name == "version" || f.Name == "id" || strings.HasSuffix(f.Name, "_id") {
			continue
		}
		all = append(all, field{sentenceCase(models.CodeInWords(f.Name)), f.Value})
	}
	return all
}

// showKept answers a user who has just signed in with the form that they sent too late, if the page to sign in carried
// one. Another user is told that it is not theirs.
func (p *Pages) showKept(c *gin.Context, sealed string) (answered bool, err error) {
	if sealed == "" {
		return false, nil
	}
	forgetLog(c)
	r, err := p.auth.Again(c.Request)
	if err != nil {
		return false, err
	}
	c.Request = r
	var late lateForm
	if plain, ok := p.auth.Unseal(r.Context(), sealed); ok {
		to, sent, _ := strings.Cut(string(plain), "\n")
		late.To = to
		if late.sent, err = url.ParseQuery(sent); err != nil || !late.valid() {
			late = lateForm{}
		}
	}
	return true, p.render(c, http.StatusOK, "kept", "What you typed", late)
}
