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
}

// detailOf is what is said about a status where nothing more is known.
var detailOf = map[int]string{
	http.StatusBadRequest:                  "the request cannot be read; the errors say where",
	http.StatusUnauthorized:                "it is not known who is asking: send an access token as \"Authorization: Bearer …\", or sign in",
	http.StatusForbidden:                   "the person asking may not do this",
	http.StatusNotFound:                    "there is nothing at this address",
	http.StatusMethodNotAllowed:            "this address does not answer to that method; the Allow header says to which it does",
	http.StatusRequestTimeout:              "the body did not arrive in time",
	http.StatusConflict:                    "another record stands in the way",
	http.StatusGone:                        "this was deleted",
	http.StatusPreconditionFailed:          "the record was changed by somebody else since it was read: read it again, then make the change",
	http.StatusRequestEntityTooLarge:       "the body is larger than the 1 MiB that is read",
	http.StatusUnsupportedMediaType:        "send JSON in UTF-8, neither compressed nor as a form, with the header Content-Type: application/json",
	http.StatusUnprocessableEntity:         "what was sent breaks a rule; the errors say where, and what would be right",
	http.StatusPreconditionRequired:        "say with If-Match which version is to be changed: its ETag, as it was read; so that nobody overwrites what somebody else has changed meanwhile",
	http.StatusTooManyRequests:             "too many requests came from here; the Retry-After header says in how many seconds to go on",
	http.StatusRequestHeaderFieldsTooLarge: "the headers are larger than what is read",
	http.StatusInternalServerError:         "something went wrong here, and has been logged under the number in the X-Request-Id header",
	http.StatusServiceUnavailable:          "the database cannot be reached at the moment",
}

// problemOf turns the error of an operation into the problem that is answered. What is not a *models.Error is logged, and not shown.
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
		if !errors.Is(err, context.Canceled) { // by somebody who did not wait for the answer
			s.log.ErrorContext(ctx, "request failed", "error", err)
		}
	}
	return problem(status, err)
}

// problem describes an error; only a *models.Error has a message that may be shown.
func problem(status int, err error) *huma.ErrorModel {
	p := &huma.ErrorModel{Status: status, Title: http.StatusText(status), Detail: detailOf[status]}
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

// Fail answers a request that never reached an operation. The message of a *models.Error is shown; any other error is logged.
func (s *Service) Fail(w http.ResponseWriter, r *http.Request, status int, err error) {
	if err != nil && models.CodeOf(err) == "" {
		s.log.ErrorContext(r.Context(), "request failed", "error", err)
	}
	if status == http.StatusUnauthorized {
		w.Header().Set("WWW-Authenticate", "Bearer")
	}
	w.Header().Set("Content-Type", "application/problem+json")
	w.WriteHeader(status)
	// The client may have gone; there is nobody else to tell.
	_ = json.NewEncoder(w).Encode(problem(status, err))
}

// refusedByLibrary is all that the library says of a parameter that breaks its schema, beside where.
const refusedByLibrary = "validation failed"

// withoutValues leaves out of problems what was sent: the library repeats it, a password in a malformed body included.
func withoutValues(_ huma.Context, _ string, v any) (any, error) {
	p, ok := v.(*huma.ErrorModel)
	if !ok {
		return v, nil
	}
	kept := *p
	if kept.Detail == refusedByLibrary {
		kept.Detail = detailOf[kept.Status]
	}
	kept.Errors = make([]*huma.ErrorDetail, 0, len(p.Errors))
	for _, e := range p.Errors {
		kept.Errors = append(kept.Errors, &huma.ErrorDetail{Message: e.Message, Location: e.Location})
	}
	return &kept, nil
}
