// Package rest is the JSON service for programs: one file for each resource, every operation typed and described by OpenAPI 3.1 at
// /openapi.json. Errors are problem documents (RFC 9457).
package rest

import (
	"context"
	"log/slog"
	"net/http"
	"reflect"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humagin"
	"github.com/gin-gonic/gin"

	"throughline/api/auth"
	"throughline/models"
	"throughline/models/store"
)

// Path is what the addresses of all resources begin with.
const Path = "/api/v1"

// Service answers programs.
type Service struct {
	store *store.Store
	log   *slog.Logger
	now   func() time.Time
}

// New returns the service over a store.
func New(s *store.Store, log *slog.Logger, now func() time.Time) *Service {
	return &Service{store: s, log: log, now: now}
}

// Register adds the operations to a router, and their description at /openapi.json and /openapi.yaml. Version is the program's, cookie the name
// of the session's cookie.
func (s *Service) Register(router *gin.Engine, version, cookie string) {
	config := huma.DefaultConfig("Throughline", version)
	config.Info.Description = "What an academy records of its players, and what it learns from that."
	config.Components.Schemas = huma.NewMapRegistry("#/components/schemas/", schemaName)
	config.Components.SecuritySchemes = map[string]*huma.SecurityScheme{
		"token":   {Type: "http", Scheme: "bearer", Description: "An access token, sent with every request."},
		"session": {Type: "apiKey", In: "cookie", Name: cookie, Description: "The cookie of a person who signed in on a page."},
	}
	config.Security = []map[string][]string{{"token": {}}, {"session": {}}}
	config.DocsPath = ""     // its page would load a script from another host
	config.SchemasPath = ""  // everything is in the one description
	config.CreateHooks = nil // no $schema member in answers
	config.RejectUnknownQueryParameters = true
	config.Formats = map[string]huma.Format{"application/json": format, "json": format}
	config.Transformers = []huma.Transformer{withoutValues}

	group := huma.NewGroup(humagin.New(router, config), Path)
	s.registerSeasons(group)
	s.registerPlayers(group)
	s.registerReports(group)
	// Problems never repeat what was sent: see withoutValues.
	delete(config.Components.Schemas.Map()["ErrorDetail"].Properties, "value")
}

// schemaName names a type's schema after the type, with the paper in front for those that a paper declares, since several papers have a
// Report.
func schemaName(t reflect.Type, hint string) string {
	name := huma.DefaultSchemaNamer(t, hint)
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if _, paper, ok := strings.Cut(t.PkgPath(), "/reports/"); ok {
		paper = paper[strings.LastIndex(paper, "/")+1:]
		name = strings.ToUpper(paper[:1]) + paper[1:] + name
	}
	return name
}

// List is what a resource of many is answered with.
type List[T any] struct {
	Items []T `json:"items" doc:"All that match and that the person asking may see, in a stable order"`
}

// one and many are the outputs of operations that answer with one thing and with a list.
type (
	one[T any]  struct{ Body T }
	many[T any] struct{ Body List[T] }
)

// listOf never answers null for nothing.
func listOf[T any](items []T) *many[T] {
	if items == nil {
		items = []T{}
	}
	return &many[T]{Body: List[T]{Items: items}}
}

// get registers an operation that reads. It is called with who is asking; a stranger gets no further.
func get[I, O any](s *Service, api huma.API, path, id, summary string, read func(ctx context.Context, who models.Who, in *I) (*O, error)) {
	op := huma.Operation{
		Method: http.MethodGet, Path: path, OperationID: id, Summary: summary,
		Errors: []int{
			http.StatusBadRequest, http.StatusUnauthorized, http.StatusNotFound, http.StatusUnprocessableEntity, http.StatusServiceUnavailable,
		},
	}
	op.Middlewares = huma.Middlewares{s.known}
	huma.Register(api, op, func(ctx context.Context, in *I) (*O, error) {
		who, _ := auth.Who(ctx)
		out, err := read(ctx, who, in)
		if err != nil {
			return nil, s.problemOf(ctx, err)
		}
		return out, nil
	})
}

// known answers strangers, before anything else about their request is looked at.
func (s *Service) known(ctx huma.Context, next func(huma.Context)) {
	if _, ok := auth.Who(ctx.Context()); !ok {
		c := humagin.Unwrap(ctx)
		s.Fail(c.Writer, c.Request, http.StatusUnauthorized, nil)
		return
	}
	next(ctx)
}
