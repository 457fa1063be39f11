package rest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"mime"
	"net"
	"net/http"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humagin"
	"github.com/danielgtaylor/huma/v2/negotiation"

	"throughline/api/auth"
	"throughline/models"
)

// largestBody is far above the largest thing that is sent: a batch of involvements, each with every detail.
const largestBody = 1 << 20

// Media types.
const (
	jsonType = "application/json"
	csvType  = "text/csv"
	htmlType = "text/html"
)

// request is one request of a person who is known.
type request struct {
	context.Context
	who    models.Who
	header http.Header
	raw    *http.Request
	body   []byte // as it was sent, once it was read
	writer http.ResponseWriter
}

// reply is what a request is answered with.
type reply struct {
	Status      int
	ContentType string `header:"Content-Type"`
	ETag        string `header:"ETag"`
	Location    string `header:"Location"`
	Link        string `header:"Link"`
	Disposition string `header:"Content-Disposition"`
	RetryAfter  string `header:"Retry-After"`
	Body        []byte
}

// operation is what a program may ask for.
type operation struct {
	method, path string
	id           string // unique, for programs that are generated from the description
	summary      string
	about        string // what a stranger must know to use it
	part         part
	params       []*huma.Param // those of its address, where its input does not declare them
	takes        *content      // what is sent; nil for nothing
	gives        []content     // what is answered, by media type; none: no content
	keyed        bool          // it makes something, and takes an Idempotency-Key: see making
	created      bool          // it makes something: 201, with its address
	untagged     bool          // what is answered is not at an address of its own, and has no entity tag
	remade       bool          // what is answered may be in the making, and then says when to ask again
	refusals     []int         // the errors besides those that all operations have
}

// content is a body of some media type. Its example's type is the body's.
type content struct {
	media   string
	example any
	schema  *huma.Schema // where it is not that of the example's type
}

type httpKey struct{}

// does registers an operation. It is called with the caller; a stranger gets no further.
func does[I any](s *Service, o operation, answer func(*request, *I) (*reply, error)) {
	op := huma.Operation{
		Method: o.method, Path: o.path, OperationID: o.id, Summary: o.summary, Description: o.about,
		Tags:          []string{string(o.part)},
		DefaultStatus: http.StatusOK, Parameters: o.params, Middlewares: huma.Middlewares{s.known, s.once, carried},
	}
	huma.Register(s.api, op, func(ctx context.Context, in *I) (*reply, error) {
		who, _ := auth.Who(ctx)
		c := humagin.Unwrap(ctx.Value(httpKey{}).(huma.Context))
		r := &request{Context: ctx, who: who, header: c.Request.Header, raw: c.Request, writer: c.Writer}
		out, err := answer(r, in)
		if err != nil {
			var known *models.Error
			if errors.As(err, &known) && known.Code == models.TooOften {
				r.writer.Header().Set("Retry-After", strconv.Itoa(int(math.Ceil(known.After.Seconds()))))
			}
			return nil, s.problemOf(ctx, err)
		}
		return out, nil
	})
	s.document(o)
}

// carried hands the request itself on to the operation.
func carried(ctx huma.Context, next func(huma.Context)) { next(huma.WithValue(ctx, httpKey{}, ctx)) }

// known answers strangers before anything else about their request is checked.
func (s *Service) known(ctx huma.Context, next func(huma.Context)) {
	if _, ok := auth.Who(ctx.Context()); !ok {
		c := humagin.Unwrap(ctx)
		s.Fail(c.Writer, c.Request, http.StatusUnauthorized, nil)
		return
	}
	next(ctx)
}

// once refuses repeated parameters, because one would be ignored, and empty ones, because they would ask for
// everything.
func (s *Service) once(ctx huma.Context, next func(huma.Context)) {
	url := ctx.URL()
	bad := &models.Error{Code: models.Invalid, Message: "the address is not valid"}
	for name, values := range url.Query() {
		switch {
		case len(values) > 1:
			bad.Fields = append(bad.Fields, models.FieldError{Where: "query." + clip(name), Message: "appears twice; send " +
				"each parameter once"})
		case values[0] == "":
			bad.Fields = append(bad.Fields, models.FieldError{Where: "query." + clip(name), Message: "is empty; give it a " +
				"value or leave it out"})
		}
	}
	if len(bad.Fields) > 0 {
		slices.SortFunc(bad.Fields, func(a, b models.FieldError) int { return strings.Compare(a.Where, b.Where) })
		c := humagin.Unwrap(ctx)
		s.Fail(c.Writer, c.Request, http.StatusUnprocessableEntity, bad)
		return
	}
	next(ctx)
}

// prefers returns which of some media types the request would rather have, the first where it does not say.
func (r *request) prefers(offered ...string) string {
	if len(offered) > 1 {
		r.writer.Header().Add("Vary", "Accept")
	}
	accept := strings.ReplaceAll(strings.Join(r.header.Values("Accept"), ","), "*/*", offered[0]) // whatever there is
	best := negotiation.SelectQValue(accept, offered)
	if best == "" {
		return offered[0]
	}
	return best
}

// found answers a read with a body and its entity tag, which is made from the body if it is empty. If the request says
// that the caller has this version, the answer has no body.
func (r *request) found(media, tag string, body []byte) (*reply, error) {
	if tag == "" {
		tag = bodyTag(body)
	}
	wanted, err := tagsOf(r.header, "If-Match")
	if err != nil {
		return nil, err
	}
	if wanted.sent && !wanted.strong(tag) {
		return nil, models.Errorf(models.Stale, "the record has changed since the version in If-Match")
	}
	has, err := tagsOf(r.header, "If-None-Match")
	if err != nil {
		return nil, err
	}
	if has.sent && has.weak(tag) {
		return &reply{Status: http.StatusNotModified, ETag: tag}, nil
	}
	return &reply{Status: http.StatusOK, ContentType: media, ETag: tag, Body: body}, nil
}

// foundJSON is found for a value that is written as JSON.
func (r *request) foundJSON(tag string, v any) (*reply, error) {
	body, err := marshal(v)
	if err != nil {
		return nil, fmt.Errorf("write the answer: %w", err)
	}
	return r.found(jsonType, tag, body)
}

// done answers a request that changed something with the result.
func done(status int, tag string, v any) (*reply, error) {
	body, err := marshal(v)
	if err != nil {
		return nil, fmt.Errorf("write the answer: %w", err)
	}
	return &reply{Status: status, ContentType: jsonType, ETag: tag, Body: body}, nil
}

// read reads the body of a request into v.
func (s *Service) read(r *request, schema *huma.Schema, v any) error {
	media, params, err := mime.ParseMediaType(r.header.Get("Content-Type"))
	charset := params["charset"]
	if err != nil || media != jsonType || charset != "" && !strings.EqualFold(charset, "utf-8") ||
		r.header.Get("Content-Encoding") != "" {
		return problem(http.StatusUnsupportedMediaType, nil)
	}
	data, err := io.ReadAll(http.MaxBytesReader(r.writer, r.raw.Body, largestBody))
	if err != nil {
		var large *http.MaxBytesError
		var network net.Error
		switch {
		case errors.As(err, &large):
			return problem(http.StatusRequestEntityTooLarge, nil)
		case errors.As(err, &network) && network.Timeout():
			return problem(http.StatusRequestTimeout, nil)
		}
		return problem(http.StatusBadRequest, models.Errorf(models.Invalid, "the body was cut off; send it again"))
	}
	r.body = data
	if bad := decode(data, schema, s.schemas, v); bad != nil {
		p := problem(http.StatusUnprocessableEntity, nil)
		if bad.malformed {
			p = problem(http.StatusBadRequest, nil)
		}
		p.Errors = bad.places
		return p
	}
	return nil
}

// schemaOf is the schema of a type.
func (s *Service) schemaOf(t reflect.Type) *huma.Schema { return s.schemas.Schema(t, true, "") }

// inBody puts the errors of a record into the body.
func inBody(err error) error { return within("body.", err) }

// within puts a place in front of the places in an error about what was sent. Other errors stay as they are.
func within(place string, err error) error {
	var e *models.Error
	if !errors.As(err, &e) || len(e.Fields) == 0 {
		return err
	}
	moved := *e
	moved.Fields = make([]models.FieldError, len(e.Fields))
	for i, f := range e.Fields {
		moved.Fields[i] = models.FieldError{Where: strings.TrimSuffix(place+f.Where, "."), Message: f.Message}
	}
	return &moved
}
