package auth

import (
	"context"
	"crypto/subtle"
	"encoding/base32"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"

	"throughline/models"
)

// FirstRun lets one person make the first academy of an empty deployment: the holder of a setup code, once.
type FirstRun struct {
	mu   sync.Mutex
	hash []byte // of the code; nil once it was used
	used func() // called when it was used
}

// codeGroup is how many characters of a setup code stand together, so that a person can copy it from a screen.
const codeGroup = 5

// NewFirstRun makes a setup code of 100 bits from random, such as K3MQ7-XWJ2P-4VDRS-ZL6TA, and what accepts it once.
// Used is called after that.
func NewFirstRun(random io.Reader, used func()) (code string, f *FirstRun, err error) {
	chance := make([]byte, 13)
	if _, err := io.ReadFull(random, chance); err != nil {
		return "", nil, fmt.Errorf("make a setup code: %w", err)
	}
	text := base32.StdEncoding.EncodeToString(chance)[:4*codeGroup]
	var groups []string
	for at := 0; at < len(text); at += codeGroup {
		groups = append(groups, text[at:at+codeGroup])
	}
	return strings.Join(groups, "-"), &FirstRun{hash: hashOf(text), used: used}, nil
}

// right says whether a code is the one, in the same time for every wrong one.
func (f *FirstRun) right(code string) bool {
	typed := strings.NewReplacer("-", "", " ", "").Replace(strings.ToUpper(strings.TrimSpace(code)))
	return f.hash != nil && subtle.ConstantTimeCompare(hashOf(typed), f.hash) == 1
}

// Founding is what the first person of a deployment says.
type Founding struct {
	Code                           string
	Academy, Name, Login, Password string
}

// AwaitsFirstRun says whether the deployment has no academy yet and this server accepts a setup code.
func (a *Auth) AwaitsFirstRun(ctx context.Context) (bool, error) {
	if a.first == nil {
		return false, nil
	}
	a.first.mu.Lock()
	open := a.first.hash != nil
	a.first.mu.Unlock()
	if !open {
		return false, nil
	}
	academies, err := a.store.Academies(ctx)
	return err == nil && len(academies) == 0, err
}

// Found makes the first academy and its manager, who is signed in then, and uses the setup code up. A wrong code is
// Invalid at "code", and nothing else that was sent is looked at. What is wrong with the rest uses nothing up. It is
// NotFound where there is nothing to set up any more.
func (a *Auth) Found(ctx context.Context, f Founding) error {
	if a.first == nil {
		return noFirstRun()
	}
	a.first.mu.Lock()
	defer a.first.mu.Unlock()
	if a.first.hash == nil {
		return noFirstRun()
	}
	if !a.first.right(f.Code) {
		return &models.Error{Code: models.Invalid, Message: "the setup code is wrong", Fields: []models.FieldError{{
			Where: "code", Message: "is not the setup code of this server; copy the one that “throughline serve” " +
				"printed when it last started"}}}
	}
	u := models.User{Login: strings.ToLower(strings.TrimSpace(f.Login)), Name: strings.TrimSpace(f.Name),
		Role: models.RoleManager}
	academy := models.Academy{Name: strings.TrimSpace(f.Academy)}
	if err := wrongWith(academy, u, f.Password); err != nil {
		return err
	}
	hash, err := a.hash(ctx, f.Password, u.Login, u.Name, academy.Name)
	if err != nil {
		return err
	}
	u.PasswordHash = hash
	who, err := a.store.Found(ctx, academy.Name, &u, from(ctx))
	if models.CodeOf(err) == models.Conflict { // another way has made an academy meanwhile
		a.first.hash = nil
	}
	if err != nil {
		return err
	}
	a.first.hash = nil
	if a.first.used != nil {
		a.first.used()
	}
	_, err = a.signedIn(ctx, u, who)
	return err
}

func noFirstRun() error {
	return models.Errorf(models.NotFound, "this server is set up already; sign in, or ask a manager for a link")
}

// wrongWith is everything that is wrong with what the first person typed, under the names of the fields.
func wrongWith(academy models.Academy, u models.User, password string) error {
	e := &models.Error{Code: models.Invalid, Message: "the form is not valid"}
	e.Fields = append(e.Fields, renamed(academy.Validate(), "name", "academy")...)
	e.Fields = append(e.Fields, renamed(u.Validate(), "", "")...)
	e.Fields = append(e.Fields, renamed(CheckPassword(password, u.Login, u.Name, academy.Name), "", "")...)
	if len(e.Fields) == 0 {
		return nil
	}
	return e
}

func renamed(err error, from, to string) []models.FieldError {
	var all []models.FieldError
	known, _ := errors.AsType[*models.Error](err)
	if known == nil {
		return nil
	}
	for _, f := range known.Fields {
		if from != "" && f.Where == from {
			f.Where = to
		}
		all = append(all, f)
	}
	return all
}
