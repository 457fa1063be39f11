package rest

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"throughline/models"
	"throughline/models/store"
)

// statusOf says which status each of our error codes is answered with. What is not among them is internal.
var statusOf = map[models.Code]int{
	models.Invalid:   http.StatusUnprocessableEntity,
	models.NotFound:  http.StatusNotFound,
	models.Forbidden: http.StatusForbidden,
	models.Conflict:  http.StatusConflict,
	models.Stale:     http.StatusPreconditionFailed,
	models.Gone:      http.StatusGone,
	models.TooOften:  http.StatusTooManyRequests,
}

// problemOf turns the error of an operation into the problem that is answered. What is not a *models.Error is logged,
// and not shown.
func (s *Service) problemOf(ctx context.Context, err error) error {
	var ready *huma.ErrorModel
	if errors.As(err, &ready) {
		return ready
	}
	status, ok := statusOf[models.CodeOf(err)]
	if !ok {
		status = http.StatusInternalServerError
		if errors.Is(err, store.ErrUnavailable) {
			status = http.StatusServiceUnavailable
		}
		if !errors.Is(err, context.Canceled) { // by a person who did not wait for the answer
			s.log.ErrorContext(ctx, "request failed", "error", err)
		}
	}
	var known *models.Error
	if errors.As(err, &known) && (known.Changed != nil || known.Questions != nil) {
		return &fullerProblem{problem(status, err), known.Changed, known.Questions}
	}
	return problem(status, err)
}

// fullerProblem is a problem with members of our own (RFC 9457 §3.2): what has changed in a record since the caller
// read it, or what is asked before it is saved.
type fullerProblem struct {
	*huma.ErrorModel
	Changed   *models.Changed   `json:"changed,omitempty"`
	Questions []models.Question `json:"questions,omitempty"`
}

// problem describes an error; only a *models.Error has a message that may be shown.
func problem(status int, err error) *huma.ErrorModel {
	p := &huma.ErrorModel{Type: typeOf(status), Status: status, Title: http.StatusText(status),
		Detail: refusalOf(status).detail()}
	var known *models.Error
	if errors.As(err, &known) {
		if known.Message != "" {
			p.Detail = known.Message
		}
		for _, f := range known.Fields[:min(len(known.Fields), mostPlaces)] {
			p.Errors = append(p.Errors, &huma.ErrorDetail{Location: f.Where, Message: f.Message})
		}
	}
	return p
}

// Fail answers a request that never reached an operation. The message of a *models.Error is shown; any other error is
// logged.
func (s *Service) Fail(w http.ResponseWriter, r *http.Request, status int, err error) {
	if err != nil && models.CodeOf(err) == "" {
		s.log.ErrorContext(r.Context(), "request failed", "error", err)
	}
	if status == http.StatusUnauthorized {
		w.Header().Set("WWW-Authenticate", "Bearer")
	}
	w.Header().Set("Content-Type", "application/problem+json")
	w.WriteHeader(status)
	// If this fails, the client has gone.
	_ = json.NewEncoder(w).Encode(problem(status, err))
}

// refusedByLibrary is all that the library says about a parameter that breaks its schema, beside where.
const refusedByLibrary = "validation failed"

// withoutValues leaves out of problems what was sent: the library repeats it, a password in a malformed body included.
func withoutValues(_ huma.Context, _ string, v any) (any, error) {
	if fuller, ok := v.(*fullerProblem); ok {
		cleaned, err := withoutValues(nil, "", fuller.ErrorModel)
		return &fullerProblem{cleaned.(*huma.ErrorModel), fuller.Changed, fuller.Questions}, err
	}
	p, ok := v.(*huma.ErrorModel)
	if !ok {
		return v, nil
	}
	kept := *p
	if kept.Type == "" {
		kept.Type = typeOf(kept.Status)
	}
	if kept.Detail == refusedByLibrary {
		kept.Detail = refusalOf(kept.Status).detail()
	}
	kept.Errors = make([]*huma.ErrorDetail, 0, len(p.Errors))
	for _, e := range p.Errors {
		kept.Errors = append(kept.Errors, &huma.ErrorDetail{Message: inOurWords(e.Message), Location: e.Location})
	}
	return &kept, nil
}
