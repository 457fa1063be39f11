package rest

import (
	"net/http"
	"reflect"
	"strconv"
	"strings"

	"throughline/models"
	"throughline/models/store"
)

// Page is what every list may be asked for beside its filters.
type Page struct {
	Limit  int    `query:"limit" minimum:"1" maximum:"500" default:"100" doc:"Most items on a page."`
	Cursor string `query:"cursor" maxLength:"2000" doc:"next from the previous page; leave it out for the first page."`
}

func (p *Page) asked() *Page { return p }

// pages is what the parameters of a list have: a Page.
type pages interface{ asked() *Page }

// List is what a list is answered with.
type List[T any] struct {
	Items []T    `json:"items" doc:"The items on this page, in the list's order"`
	Next  string `json:"next,omitempty" doc:"The cursor of the next page; absent on the last page"`
}

// resource is a kind of record as programs see it: at the address of all of them it is listed and made, and at that of
// one, which ends in its id, it is read, replaced and deleted. What a resource cannot do is nil.
type resource[T, F any] struct {
	name, many string // one and many of them, as a person reads it
	path       string
	part       part
	about      string // what it is, for a stranger
	order      string // of the list, such as "by date"
	list       func(*store.Tx, *F) ([]T, error)
	get        func(*store.Tx, int64) (T, error)
	create     func(*store.Tx, *T) error
	update     func(*store.Tx, *T) error
	remove     func(tx *store.Tx, id, version int64) error
	record     func(*T) *models.Record
	// keep copies what a program cannot set, or has left out for it to stay, from a record as it is to what was sent. It
	// may be nil.
	keep func(now, sent *T)
	// tag is the entity tag of a record where its version does not say all. It may be nil.
	tag      func(*T) string
	optional []string // members that may be left out of what is sent although every answer has them
	fixed    []string // members that only the service sets
	// derived says that the tag has more than the version because members follow from other records: a change goes by the
	// version alone.
	derived bool
	// kept says that earlier versions are kept, under the name of the resource: see earlier.go.
	kept    bool
	example T
}

// one is the input of an operation on one record.
type one struct {
	ID int64 `path:"id" minimum:"1" doc:"The id of the record"`
}

// edit is one, for a change.
type edit struct {
	ID      int64  `path:"id" minimum:"1" doc:"The id of the record"`
	IfMatch string `header:"If-Match" doc:"The ETag of the version to change. A list allows any of them; * allows all."`
}

// add registers the operations of a resource.
func add[T, F any](s *Service, x resource[T, F]) {
	id := strings.ReplaceAll(x.many, " ", "-")
	single := strings.ReplaceAll(x.name, " ", "-")
	example := content{media: jsonType, example: x.example}
	s.shapes[reflect.TypeFor[T]()] = shape{optional: x.optional, fixed: x.fixed}
	if x.list != nil {
		does(s, operation{
			method: http.MethodGet, path: x.path, id: "list-" + id, summary: "List " + x.many, part: x.part,
			about: x.about + "\n\nOrdered " + x.order + ".",
			gives: listed(x.example),
		}, func(r *request, in *F) (*reply, error) {
			return paged(s, r, any(in).(pages).asked(), func(tx *store.Tx) ([]T, error) {
				return store.Narrow(tx, narrowOf(in), func() ([]T, error) { return x.list(tx, in) })
			})
		})
	}
	if x.create != nil {
		does(s, operation{
			method: http.MethodPost, path: x.path, id: "create-" + single, summary: "Create " + article(x.name), part: x.part,
			about: x.about,
			takes: &example, gives: []content{example}, created: true, keyed: true,
			refusals: append([]int{http.StatusForbidden, http.StatusConflict}, gone[T]()...),
		}, func(r *request, _ *struct{}) (*reply, error) {
			return x.created(s, r, func(*store.Tx, *T) error { return nil })
		})
	}
	if x.get != nil {
		does(s, operation{
			method: http.MethodGet, path: x.path + "/{id}", id: "get-" + single, summary: "Read " + article(x.name),
			part: x.part, about: x.about,
			gives: []content{example}, refusals: []int{http.StatusNotFound},
		}, func(r *request, in *one) (*reply, error) {
			var found T
			err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
				found, err = x.get(tx, in.ID)
				return err
			})
			if err != nil {
				return nil, err
			}
			return r.foundJSON(x.tagOf(&found), found)
		})
	}
	if x.kept {
		x.addEarlier(s)
	}
	changing := []int{http.StatusForbidden, http.StatusNotFound, http.StatusConflict, http.StatusPreconditionFailed,
		http.StatusPreconditionRequired}
	if x.update != nil {
		does(s, operation{
			method: http.MethodPut, path: x.path + "/{id}", id: "replace-" + single, summary: "Replace " + article(x.name),
			part:  x.part,
			about: "Replaces the whole record: anything left out is removed. " + x.about,
			takes: &example, gives: []content{example}, refusals: changing,
		}, func(r *request, in *edit) (*reply, error) { return x.changed(s, r, in.ID) })
	}
	if x.remove != nil {
		does(s, operation{
			method: http.MethodDelete, path: x.path + "/{id}", id: "delete-" + single, summary: "Delete " + article(x.name),
			part:     x.part,
			about:    "Also deletes the record's own items. Refused while other records use it. " + x.about,
			refusals: changing,
		}, func(r *request, in *edit) (*reply, error) { return x.deleted(s, r, in.ID) })
	}
}

// article puts one in front of a name.
func article(name string) string {
	if strings.ContainsRune("aeiou", rune(name[0])) && !strings.HasPrefix(name, "user") {
		return "an " + name
	}
	return "a " + name
}

// gone is the refusal of what has a key and was deleted.
func gone[T any]() []int {
	if _, keyed := reflect.TypeFor[T]().FieldByName("Key"); keyed {
		return []int{http.StatusGone}
	}
	return nil
}

// listed are the media types of a list.
func listed[T any](example T) []content {
	return []content{{media: jsonType, example: List[T]{Items: []T{example}, Next: "WyIyMDI1LTA5LTA2IiwxMl0"}},
		{media: csvType, example: csvExample(example)}}
}

func csvExample[T any](example T) string {
	text, err := asCSV([]T{example})
	if err != nil {
		panic(err) // the example is ours
	}
	return string(text)
}

// paged answers with a page of a list, as JSON or as CSV.
func paged[T any](s *Service, r *request, p *Page, list func(*store.Tx) ([]T, error)) (*reply, error) {
	var items []T
	var next string
	err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
		items, next, err = store.Page(tx, p.Cursor, p.Limit, func() ([]T, error) { return list(tx) })
		return err
	})
	if err != nil {
		return nil, within("query.", err)
	}
	return page(r, items, next)
}

// whole answers with a page of a list that is short, or computed as a whole; key is what tells its items apart.
func whole[T any](r *request, p *Page, items []T, key func(T) string) (*reply, error) {
	begin := 0
	if p.Cursor != "" {
		for begin < len(items) && key(items[begin]) != p.Cursor {
			begin++
		}
		if begin == len(items) {
			return nil, &models.Error{Code: models.Invalid, Message: "the page cannot be found", Fields: []models.FieldError{
				{Where: "query.cursor", Message: "is not a cursor of this list; leave it out to get the first page"},
			}}
		}
		begin++
	}
	items = items[begin:]
	next := ""
	if len(items) > p.Limit {
		items = items[:p.Limit]
		next = key(items[p.Limit-1])
	}
	return page(r, items, next)
}

// page writes a page.
func page[T any](r *request, items []T, next string) (*reply, error) {
	var out *reply
	var err error
	if r.prefers(jsonType, csvType) == csvType {
		var body []byte
		if body, err = asCSV(items); err == nil {
			out, err = r.found(csvType+"; charset=utf-8; header=present", "", body)
		}
	} else {
		out, err = r.foundJSON("", List[T]{Items: items, Next: next})
	}
	if err == nil && next != "" {
		query := r.raw.URL.Query()
		query.Set("cursor", next)
		out.Link = "<" + r.raw.URL.EscapedPath() + "?" + query.Encode() + `>; rel="next"` // RFC 8288
	}
	return out, err
}

func (x *resource[T, F]) tagOf(r *T) string {
	if x.tag != nil {
		return x.tag(r)
	}
	return versionTag(x.record(r).Version)
}

// created makes a record from the body. Before, within the same transaction, it is made ready.
func (x *resource[T, F]) created(s *Service, r *request, ready func(*store.Tx, *T) error) (*reply, error) {
	var sent T
	if err := s.read(r, s.schemaOf(reflect.TypeFor[T]()), &sent); err != nil {
		return nil, err
	}
	err := s.making(r, func(tx *store.Tx) ([]int64, error) {
		if err := ready(tx, &sent); err != nil {
			return nil, err
		}
		err := inBody(x.create(tx, &sent))
		return []int64{x.record(&sent).ID}, err
	}, func(tx *store.Tx, made []int64) (err error) {
		sent, err = x.get(tx, made[0])
		return err
	})
	if err != nil {
		return nil, err
	}
	out, err := done(http.StatusCreated, x.tagOf(&sent), sent)
	if err != nil {
		return nil, err
	}
	out.Location = Path + x.path + "/" + strconv.FormatInt(x.record(&sent).ID, 10)
	return out, nil
}

// changed replaces a record by the body.
func (x *resource[T, F]) changed(s *Service, r *request, id int64) (*reply, error) {
	var sent T
	if err := s.read(r, s.schemaOf(reflect.TypeFor[T]()), &sent); err != nil {
		return nil, err
	}
	err := x.editing(s, r, id, func(tx *store.Tx, now *T, version int64) error {
		if x.keep != nil {
			x.keep(now, &sent)
		}
		record := x.record(&sent)
		record.ID, record.Version = id, version
		return inBody(x.update(tx, &sent))
	})
	if err != nil {
		return nil, err
	}
	return done(http.StatusOK, x.tagOf(&sent), sent)
}

// deleted deletes a record.
func (x *resource[T, F]) deleted(s *Service, r *request, id int64) (*reply, error) {
	err := x.editing(s, r, id, func(tx *store.Tx, _ *T, version int64) error { return x.remove(tx, id, version) })
	if err != nil {
		return nil, err
	}
	return &reply{Status: http.StatusNoContent}, nil
}

// noVersion is a version that no record has. A change under it fails, but only after the checks that come before a
// condition (RFC 9110 §13.2.1): whether the record exists, and whether the caller may change it.
const noVersion = -1

// editing calls change with a record as it is and the version that it must have for the request's conditions to hold.
// Without any condition the change is refused: two people who edit at the same time must not overwrite each other.
func (x *resource[T, F]) editing(s *Service, r *request, id int64,
	change func(tx *store.Tx, now *T, version int64) error) error {
	wanted, err := tagsOf(r.header, "If-Match")
	if err != nil {
		return err
	}
	unwanted, err := tagsOf(r.header, "If-None-Match")
	if err != nil {
		return err
	}
	err = s.store.Write(r, r.who, func(tx *store.Tx) error {
		now, err := x.get(tx, id)
		if err != nil {
			return err
		}
		version, tag := x.record(&now).Version, x.tagOf(&now)
		holds := wanted.strong(tag) || x.derived && wanted.version(version)
		if !holds || unwanted.sent && unwanted.weak(tag) {
			version = startedFrom(wanted, version)
		}
		return change(tx, &now, version)
	})
	if models.CodeOf(err) == models.Stale && !wanted.sent {
		return problem(http.StatusPreconditionRequired, nil)
	}
	return x.withoutFixed(err)
}
