package rest

import (
	"net/http"
	"reflect"
	"slices"

	"github.com/danielgtaylor/huma/v2"

	"throughline/models"
)

// problemPath is what the addresses of the kinds of problem begin with. They are the types of problem documents: RFC
// 9457 §3.1.1 allows a relative reference and recommends that it has the whole path. They stay the same for ever, on
// every server; people read there what to do.
const problemPath = "/problems/"

// refusal is a way in which a request can fail.
type refusal struct {
	status  int
	slug    string // the last part of the address that says what it is
	name    string // in the description
	when    string // what happened
	remedy  string // what the caller can do
	headers []string
	errors  []*huma.ErrorDetail // of the example
	plain   bool                // answered by the server below, as plain text
}

// refusals are all of them, by the status they are answered with. Those of one status under several types have the
// general one first.
var refusals = []refusal{
	{status: http.StatusBadRequest, slug: "not-readable", name: "NotReadable",
		when: "The request cannot be read: the address is not valid text, a header has the wrong form, or the body is " +
			"not valid JSON.",
		remedy: "Correct what the errors name. The same request would fail again.",
		errors: []*huma.ErrorDetail{{Location: "body.name", Message: "appears twice; send each name once"}}},
	{status: http.StatusUnauthorized, slug: "not-signed-in", name: "NotSignedIn", headers: []string{"WWW-Authenticate"},
		when:   "The access token is missing, has expired or was deleted.",
		remedy: "Send a valid access token as “Authorization: Bearer …”. Users create tokens on their account page."},
	{status: http.StatusForbidden, slug: "not-allowed", name: "NotAllowed",
		when:   "You may see this record but not do this with it, your role does not allow it, or the token is read only.",
		remedy: "Ask a manager of the academy, or use a token that may write."},
	{status: http.StatusNotFound, slug: "not-found", name: "NotThere",
		when:   "The record or address does not exist, or you may not see it. The service does not say which.",
		remedy: "Check the address and the id. Deleted records do not come back."},
	{status: http.StatusMethodNotAllowed, slug: "wrong-method", name: "WrongMethod",
		when:   "The address exists but does not support this method.",
		remedy: "Use a method listed in the Allow header."},
	{status: http.StatusRequestTimeout, slug: "too-slow", name: "TooSlow",
		when:   "The body did not arrive in time. Nothing was changed.",
		remedy: "Send it again over a faster connection, or in smaller parts."},
	{status: http.StatusConflict, slug: "conflict", name: "InTheWay",
		when:   "This request conflicts with another record; the detail says which.",
		remedy: "Change or delete the other record first, or change this request."},
	{status: http.StatusGone, slug: "deleted", name: "Deleted",
		when:   "The request has the key of a deleted record. Sending it again does not bring the record back.",
		remedy: "Choose another key to create a new record.",
		errors: []*huma.ErrorDetail{{Location: "body.key",
			Message: `"tablet-4:17" is the key of a deleted involvement, which does not come back; choose another key to ` +
				`make a new one`}}},
	{status: http.StatusPreconditionFailed, slug: "stale", name: "Stale",
		when: "The record has changed since the version named in If-Match.",
		remedy: "The member changed says who changed it, when, and which fields differ: what your version had, what you " +
			"sent and what stands now. Read the record again, make your change to the new version, and send it with the " +
			"new ETag."},
	{status: http.StatusRequestEntityTooLarge, slug: "too-large", name: "TooLarge",
		when:   "The body is larger than 1 MiB.",
		remedy: "Send less at once, for example in smaller batches."},
	{status: http.StatusUnsupportedMediaType, slug: "not-json", name: "NotJSON",
		when:   "The body is not JSON in UTF-8.",
		remedy: "Send uncompressed JSON with the header Content-Type: application/json."},
	{status: http.StatusUnprocessableEntity, slug: "not-valid", name: "NotValid",
		when:   "Something in the request breaks a rule. Nothing was changed.",
		remedy: "The errors say where, what is wrong, and what would be right. The same request would fail again.",
		errors: []*huma.ErrorDetail{{Location: "body.ends",
			Message: "2025-06-30 is before the season starts, on 2025-08-01"}}},
	{status: http.StatusPreconditionRequired, slug: "if-match-missing", name: "NoCondition",
		when: "A change or deletion needs the If-Match header. It keeps two people who edit at the same time from " +
			"overwriting each other.",
		remedy: "Read the record and send its ETag in If-Match."},
	{status: http.StatusTooManyRequests, slug: "too-many-requests", name: "TooMany", headers: []string{"Retry-After"},
		when: "You, or your network address, sent too many requests.",
		remedy: "Wait as many seconds as the Retry-After header says. The RateLimit header of every answer says how many " +
			"requests you have left."},
	{status: http.StatusRequestHeaderFieldsTooLarge, slug: "headers-too-large", name: "HeadTooLarge", plain: true,
		when:   "The headers are too large. The answer is plain text.",
		remedy: "Send fewer or shorter headers."},
	{status: http.StatusInternalServerError, slug: "failed", name: "Failed",
		when:   "Something went wrong on the server. The server logged it under the number in the X-Request-Id header.",
		remedy: "Try again later. If it fails again, send that number to the people who run the server."},
	{status: http.StatusServiceUnavailable, slug: "unavailable", name: "Unavailable", headers: []string{"Retry-After"},
		when:   "The database cannot be reached, or the server is too busy.",
		remedy: "Wait as many seconds as the Retry-After header says, then send the same request again."},
}

// detail is what a problem says of itself where nothing more is known.
func (r refusal) detail() string { return r.when + " " + r.remedy }

// example is a problem as it may be answered.
func (r refusal) example() *huma.ErrorModel {
	p := problem(r.status, nil)
	p.Type, p.Detail, p.Errors = problemPath+r.slug, r.detail(), r.errors
	return p
}

// refusalOf returns the general refusal of a status, or of its class if the status is not listed.
func refusalOf(status int) refusal {
	for _, among := range []int{status, status / 100 * 100} {
		if i := slices.IndexFunc(refusals, func(r refusal) bool { return r.status == among }); i >= 0 {
			return refusals[i]
		}
	}
	return refusals[0]
}

// everyRefusal is the general ones and those that only an Idempotency-Key brings about.
func everyRefusal() []refusal { return append(slices.Clone(refusals), keyRefusals...) }

// typeOf is the type of a problem of a status.
func typeOf(status int) string { return problemPath + refusalOf(status).slug }

// always are the ways in which every operation can fail.
var always = []int{
	http.StatusBadRequest, http.StatusUnauthorized, http.StatusForbidden, http.StatusUnprocessableEntity,
	http.StatusTooManyRequests,
	http.StatusRequestHeaderFieldsTooLarge, http.StatusInternalServerError, http.StatusServiceUnavailable,
}

// sending are the ways in which every operation can fail that is sent a body.
var sending = []int{http.StatusRequestTimeout, http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType}

// describeProblems says what a problem looks like, where the library says more or less than is true here.
func (s *Service) describeProblems() {
	all := s.api.OpenAPI().Components.Schemas.Map()
	mistake, problem := all["ProblemPlace"], all["Problem"]
	delete(mistake.Properties, "value") // problems never repeat what was sent: see withoutValues
	mistake.Description = "One error"
	mistake.Properties["location"].Description = "Where the error is, such as body.covers[0].from or query.limit"
	mistake.Properties["message"].Description = "What is wrong, and what would be right"
	mistake.Required = []string{"location", "message"}
	delete(problem.Properties, "instance") // none is ever sent
	problem.Description = "A problem (RFC 9457)"
	problem.Required = []string{"detail", "status", "title", "type"}
	example := notFoundExample()
	about := map[string]struct {
		text    string
		example any
	}{
		"type": {"The type of problem: an address on this server that never changes and says what to do",
			example.Type},
		"title":  {"The type of problem, in short", example.Title},
		"status": {"The HTTP status", example.Status},
		"detail": {"What went wrong this time", example.Detail},
		"errors": {"Each error, and where it is", nil},
		"changed": {"For a change to a record that has changed meanwhile: who changed it, when, and which fields differ",
			nil},
		"questions": {"For a goal that raises questions before it is saved: each with its code and in plain words", nil},
	}
	problem.Properties["changed"] = s.schemaOf(reflect.TypeFor[models.Changed]())
	problem.Properties["questions"] = s.schemaOf(reflect.TypeFor[[]models.Question]())
	for name, p := range problem.Properties {
		p.Nullable, p.Default, p.Examples = false, nil, nil
		p.Description = about[name].text
		if about[name].example != nil {
			p.Examples = []any{about[name].example}
		}
	}
	problem.Properties["type"].Format = "uri-reference"
}

func notFoundExample() *huma.ErrorModel { return problem(http.StatusNotFound, nil) }
