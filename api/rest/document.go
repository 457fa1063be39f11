package rest

import (
	"bytes"
	"encoding/json"
	"maps"
	"net/http"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"throughline/models"
)

// part is a chapter of the description.
type part string

// The parts.
const (
	setup         part = "Setting up"
	people        part = "People"
	matchDay      part = "Matches"
	logging       part = "Logging"
	development   part = "Development"
	selectionPart part = "Selection"
	learned       part = "Findings"
	safety        part = "Keeping people safe"
	access        part = "Access"
)

var parts = []*huma.Tag{
	{Name: string(setup), Description: "Seasons, squads, and the vocabulary: what is counted, rated and logged, and " +
		"what each code means."},
	{Name: string(people), Description: "Players, their squads, and when they can train and play."},
	{Name: string(matchDay), Description: "Matches, what happened in them, who appeared and for how long."},
	{Name: string(logging), Description: "What one player did in one match: each involvement, logged from video, or " +
		"totals from any source."},
	{Name: string(development), Description: "What coaches think, and what they agree with a player: ratings, goals, " +
		"notes, remarks from training."},
	{Name: string(selectionPart), Description: "What selectors decided and why."},
	{Name: string(learned), Description: "What is computed from the records. None of it is entered by hand."},
	{Name: string(safety), Description: "Consents and guardians, head contacts and stand-downs, limits on minutes, and " +
		"how long records are kept. Safeguarding and your country's data protection law come first."},
	{Name: string(
		access), Description: "Users, their one-time links and access tokens, and the academies on this server."},
}

const introduction = `This API gives programs what a rugby academy records about its players, and what it
learns from those records.

**Access.** Send an access token with every request: ` + "`Authorization: Bearer throughline_…`" + `. The service
reads the token from that header only, never from the address. A read-only token cannot change anything (403). Every
token expires (401). You see what the token's user may see; anything else looks as if it did not exist (404). Changing
a record that the user may only read is refused (403).

**Lists** come in pages, in a fixed order. ` + "`limit`" + ` sets the most items on a page. To get the next page, send
the answer's ` + "`next`" + ` as ` + "`cursor`" + `; the Link header has the whole address (RFC 8288). Filters have
the same names everywhere. With ` + "`Accept: text/csv`" + ` a list comes as a table (RFC 4180): an empty cell was not
recorded, and text that a spreadsheet would run as a formula begins with an apostrophe.

**Records** have an id, a version, and the times they were created and last changed. These four are ignored in
requests. Each answer has an ETag. Send it in ` + "`If-None-Match`" + ` to get the record only if it has changed (304
otherwise). To replace or delete a record, send the ETag you read in ` + "`If-Match`" + `. Without it the answer is
428. If the record has changed since, the answer is 412 (RFC 9110 §13).

**Not recorded** is never the same as no or zero: leave out what was not recorded. Nothing is null, neither in
requests nor in answers.

**Sending again.** If you do not know whether a request arrived, send it again. Give each request that creates
something an ` + "`Idempotency-Key`" + ` of its own. For a day, the same request with the same key creates nothing
new: the answer is the record as it is now. A different request with that key is refused (422). A log or an
involvement can also have a ` + "`key`" + ` of its own, which stays with the record. If the same record is sent again,
the answer is the one created the first time; a different record with that key is refused (409). A deleted record does
not come back either way (410).

**JSON** is read strictly: UTF-8, each name once, names are case-sensitive, unknown names are refused. Times are RFC
3339 in UTC, dates ISO 8601. A clock is the half and the seconds on the running match clock.

**Limits.** The headers RateLimit-Policy and RateLimit of every answer say how many requests you have left. After that
the answer is 429, and Retry-After says how many seconds to wait.

**Errors** are problem documents (RFC 9457). Each type is an address on this server that never changes and explains
the problem. The errors say where it is, such as ` + "`body.covers[0].from`" + `, and what would be right. Every
answer has an X-Request-Id; the server logs the request under it. HEAD works wherever GET does, and OPTIONS lists the
methods of an address.`

// config is how the library is set up.
func (s *Service) config(cookie string) huma.Config {
	config := huma.DefaultConfig("Throughline", Version)
	config.Info.Description = introduction
	config.Info.Contact = &huma.Contact{Name: "The administrator of this server"}
	config.Info.License = &huma.License{Name: "The program's license", Identifier: "LicenseRef-Throughline"}
	config.Servers = []*huma.Server{{URL: "/", Description: "The server that sent this description"}}
	config.Tags = parts
	config.Components.Schemas = s.schemas
	config.Components.SecuritySchemes = map[string]*huma.SecurityScheme{
		"token": {Type: "http", Scheme: "bearer", Description: "An access token, sent with every request."},
		"session": {Type: "apiKey", In: "cookie", Name: cookie,
			Description: "The session cookie of a person who signed in on a page."},
	}
	config.Components.Responses = map[string]*huma.Response{}
	config.Components.Headers = headers()
	config.Security = []map[string][]string{{"token": {}}, {"session": {}}}
	config.OpenAPIPath = ""  // served by us: complete, and written once
	config.DocsPath = ""     // its page would load a script from another host
	config.SchemasPath = ""  // everything is in the one description
	config.CreateHooks = nil // no $schema member in answers
	config.RejectUnknownQueryParameters = true
	config.Formats = map[string]huma.Format{jsonType: format, "json": format}
	config.Transformers = []huma.Transformer{withoutValues}
	return config
}

func headers() map[string]*huma.Header {
	header := func(about, example string) *huma.Header {
		return &huma.Header{Description: about, Schema: &huma.Schema{Type: huma.TypeString}, Example: example}
	}
	return map[string]*huma.Header{
		"RateLimit-Policy": header("How many requests the caller may send at once (q) and how many seconds it takes for "+
			"all of them to become free again (w), for the person and for the network address "+
			"(draft-ietf-httpapi-ratelimit-headers-10)",
			`"person";q=100;w=10, "address";q=500;w=10`),
		"RateLimit": header("How many requests are left now (r) and how many seconds it takes until all are free again "+
			"(t); absent if there is no limit",
			`"person";r=99;t=1, "address";r=498;t=1`),
		"ETag":     header("The entity tag of this answer, for If-None-Match and If-Match", `"3"`),
		"Location": header("The address of the new record", Path+"/players/12"),
		"Link": header("The address of the next page; absent on the last page",
			`</api/v1/players?cursor=5Q2mZ8c1>; rel="next"`),
		"Retry-After": {Description: "How many seconds to wait before trying again",
			Schema:  &huma.Schema{Type: huma.TypeInteger},
			Example: 5},
		"WWW-Authenticate": header("How to authenticate", "Bearer"),
	}
}

// document completes the description of an operation that was registered: what is sent, and every answer that there
// can be.
func (s *Service) document(o operation) {
	described := operationAt(s.api.OpenAPI().Paths[Path+o.path], o.method)
	described.Responses = map[string]*huma.Response{}
	if o.takes != nil {
		described.RequestBody = &huma.RequestBody{Required: true, Content: s.contents([]content{*o.takes}, true)}
		o.refusals = append(o.refusals, sending...)
	}
	good := &huma.Response{Description: "Done", Headers: map[string]*huma.Header{}}
	status := http.StatusNoContent
	if len(o.gives) > 0 {
		status = http.StatusOK
		good.Description, good.Content = o.summaryOfAnswer(), s.contents(o.gives, false)
		if !o.untagged {
			good.Headers["ETag"] = &huma.Header{Ref: "#/components/headers/ETag"}
		}
		if len(o.gives) > 1 && o.gives[1].media == csvType {
			good.Headers["Link"] = &huma.Header{Ref: "#/components/headers/Link"}
		}
	}
	if o.remade {
		good.Headers["Retry-After"] = &huma.Header{Ref: "#/components/headers/Retry-After"}
	}
	if o.created {
		status = http.StatusCreated
		good.Headers["Location"] = &huma.Header{Ref: "#/components/headers/Location"}
	}
	described.Responses[strconv.Itoa(status)] = good
	if o.method == http.MethodGet {
		described.Responses["304"] = &huma.Response{Description: "Nothing has changed since the version named in " +
			"If-None-Match",
			Headers: map[string]*huma.Header{"ETag": {Ref: "#/components/headers/ETag"}}}
		described.Parameters = append(described.Parameters,
			conditionParam("If-None-Match", "The ETags of answers you already have. If one is still current, the answer is "+
				"304, without a body."))
		o.refusals = append(o.refusals, http.StatusPreconditionFailed)
	}
	if o.keyed {
		described.Parameters = append(described.Parameters, keyParam())
		o.refusals = append(o.refusals, http.StatusConflict, http.StatusGone)
	}
	dated(described.Parameters)
	for _, p := range described.Parameters {
		// The service looks at it last and answers 428: see editing. So the library must not look for it first.
		p.Required = p.Required || p.Name == "If-Match" && slices.Contains(o.refusals, http.StatusPreconditionRequired)
	}
	for _, name := range []string{"RateLimit-Policy", "RateLimit"} {
		good.Headers[name] = &huma.Header{Ref: "#/components/headers/" + name}
	}
	for _, status := range append(o.refusals, always...) {
		refused := refusalOf(status)
		described.Responses[strconv.Itoa(status)] = &huma.Response{Ref: "#/components/responses/" + refused.name}
		s.refused(refused)
	}
}

func conditionParam(name, about string) *huma.Param {
	return &huma.Param{Name: name, In: "header", Description: about, Schema: &huma.Schema{Type: huma.TypeString},
		Example: `"3"`}
}

func (o *operation) summaryOfAnswer() string {
	switch {
	case o.created:
		return "Created; this is the new record"
	case o.method == http.MethodPut:
		return "Replaced; this is the record as it is now"
	}
	return "The answer"
}

// refused describes a way to fail among those that operations refer to.
func (s *Service) refused(r refusal) {
	all := s.api.OpenAPI().Components.Responses
	if all[r.name] != nil {
		return
	}
	response := &huma.Response{Description: r.when, Headers: map[string]*huma.Header{}}
	for _, name := range r.headers {
		response.Headers[name] = &huma.Header{Ref: "#/components/headers/" + name}
	}
	if r.plain {
		response.Content = map[string]*huma.MediaType{"text/plain": {Schema: &huma.Schema{Type: huma.TypeString},
			Example: strconv.Itoa(r.status) + " " + http.StatusText(r.status)}}
	} else {
		response.Content = map[string]*huma.MediaType{"application/problem+json": {
			Schema: s.schemaOf(reflect.TypeFor[huma.ErrorModel]()), Example: asExample(r.example()),
		}}
	}
	all[r.name] = response
}

// contents describes bodies. What the service sets by itself is left out of the examples of what is sent.
func (s *Service) contents(all []content, sent bool) map[string]*huma.MediaType {
	described := map[string]*huma.MediaType{}
	for _, c := range all {
		m := &huma.MediaType{Schema: c.schema}
		if text, ok := c.example.(string); ok {
			m.Schema, m.Example = &huma.Schema{Type: huma.TypeString}, text
			described[c.media] = m
			continue
		}
		if m.Schema == nil {
			m.Schema = s.schemaOf(reflect.TypeOf(c.example))
		}
		m.Example = asExample(c.example)
		if sent {
			s.toSend = append(s.toSend, func() {
				m.Example = s.sendable(m.Schema, m.Example)
				m.Schema = s.sending(m.Schema)
			})
		}
		described[c.media] = m
	}
	return described
}

// sending is the schema of a request body if it differs from that of the answer: members that only the service sets
// may be sent back as they were read, or left out. (In OpenAPI 3.1 readOnly no longer says this by itself.)
func (s *Service) sending(schema *huma.Schema) *huma.Schema {
	if schema == nil || schema.Ref == "" {
		return schema
	}
	all, name := s.schemas.Map(), strings.TrimPrefix(schema.Ref, schemaPrefix)
	answered, sent := all[name], name+"Sent"
	if all[sent] != nil {
		return &huma.Schema{Ref: schemaPrefix + sent}
	}
	changed := *answered
	changed.Properties = maps.Clone(answered.Properties)
	changed.Required = slices.DeleteFunc(slices.Clone(answered.Required), func(member string) bool {
		return answered.Properties[member].ReadOnly
	})
	differs := len(changed.Required) < len(answered.Required)
	for member, p := range answered.Properties {
		if p.ReadOnly { // a schema of its own: see plainly
			fixed := *p
			changed.Properties[member] = &fixed
		}
		if items := s.sending(p.Items); items != p.Items && items.Ref != p.Items.Ref {
			list := *p
			list.Items = items
			changed.Properties[member], differs = &list, true
		}
	}
	if !differs {
		return schema
	}
	changed.PrecomputeMessages()
	all[sent] = &changed
	return &huma.Schema{Ref: schemaPrefix + sent}
}

// sendable leaves out of an example what only the service sets, once the schemas are complete.
func (s *Service) sendable(schema *huma.Schema, example any) any {
	if schema == nil {
		return example
	}
	if schema.Ref != "" {
		schema = s.schemas.SchemaFromRef(schema.Ref)
	}
	switch v := example.(type) {
	case map[string]any:
		for name := range v {
			if p := schema.Properties[name]; p != nil && p.ReadOnly {
				delete(v, name)
			} else if p != nil {
				v[name] = s.sendable(p, v[name])
			}
		}
	case []any:
		for i := range v {
			v[i] = s.sendable(schema.Items, v[i])
		}
	}
	return example
}

// asExample is a value as its JSON has it.
func asExample(v any) any {
	text, err := marshal(v)
	if err != nil {
		panic(err) // the examples are ours
	}
	d := json.NewDecoder(bytes.NewReader(text))
	var loose any
	if err := d.Decode(&loose); err != nil {
		panic(err)
	}
	return loose
}

// operationAt is the operation of a path that answers to a method.
func operationAt(item *huma.PathItem, method string) *huma.Operation {
	switch method {
	case http.MethodPost:
		return item.Post
	case http.MethodPut:
		return item.Put
	case http.MethodDelete:
		return item.Delete
	}
	return item.Get
}

// complete finishes the description once everything is registered, and writes it.
func (s *Service) complete() {
	// Problems refer to these: see describeProblems.
	s.schemaOf(reflect.TypeFor[models.Changed]())
	s.schemaOf(reflect.TypeFor[models.Question]())
	s.describe()
	for _, fit := range s.toSend {
		fit()
	}
	s.toSend = nil
	doc := s.api.OpenAPI()
	s.describeProblems()
	s.plainly(func() {
		text, err := json.Marshal(doc)
		if err != nil {
			panic(err) // it is made from what is built in
		}
		s.openAPI = text
	})
}

// plainly calls write while members that every answer has are not said to be read-only where they are answered:
// generators take that for "may be missing". What may be sent has a schema of its own, which says it.
func (s *Service) plainly(write func()) {
	var fixed []*huma.Schema
	for _, schema := range s.schemas.Map() {
		for _, member := range schema.Required {
			if p := schema.Properties[member]; p.ReadOnly {
				p.ReadOnly = false
				fixed = append(fixed, p)
			}
		}
	}
	write()
	for _, p := range fixed {
		p.ReadOnly = true
	}
}
