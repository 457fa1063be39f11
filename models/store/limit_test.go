package store_test

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"throughline/models"
	"throughline/models/store"
)

// validated are the types of records that check themselves.
func validated(t *testing.T) (all []reflect.Type) {
	t.Helper()
	for _, d := range store.DeclaredTables() {
		if _, checks := d.Row.(interface{ Validate() error }); checks && !slices.Contains(all, reflect.TypeOf(d.Row)) {
			all = append(all, reflect.TypeOf(d.Row))
		}
	}
	if len(all) < 30 {
		t.Fatalf("only %d types check themselves", len(all))
	}
	return all
}

// place is a field of a record, or of the one element of a list in it.
type place struct {
	record reflect.Type
	list   string // the field of the list; empty for the record's own
	owner  reflect.Type
	field  reflect.StructField
	member string // as findings call it
}

// placesOf are all fields of a record that programs send.
func placesOf(record reflect.Type) (all []place) {
	for _, f := range reflect.VisibleFields(record) {
		member, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if f.Anonymous || member == "-" || member == "" {
			continue
		}
		all = append(all, place{record: record, owner: record, field: f, member: member})
		if f.Type.Kind() != reflect.Slice || f.Type.Elem().Kind() != reflect.Struct {
			continue
		}
		for _, inner := range reflect.VisibleFields(f.Type.Elem()) {
			if name, _, _ := strings.Cut(inner.Tag.Get("json"), ","); name != "-" && name != "" {
				all = append(all, place{record, f.Name, f.Type.Elem(), inner, member + "[0]." + name})
			}
		}
	}
	return all
}

// refusal is what Validate says at the place about the limit of a field, with everything else as it is in an empty
// record.
func (p place) refusal(value reflect.Value) string {
	for _, f := range p.findings(value) {
		if m := f.Message; strings.Contains(m, "write ") || strings.Contains(m, "give at ") {
			return f.Message
		}
	}
	return ""
}

// refused says whether Validate finds anything wrong at the place.
func (p place) refused(value reflect.Value) bool { return len(p.findings(value)) > 0 }

// findings are what Validate finds at the place, with everything else as it is in an empty record.
func (p place) findings(value reflect.Value) []models.FieldError {
	r := reflect.New(p.record).Elem()
	owner := r
	if p.list != "" {
		list := r.FieldByName(p.list)
		list.Set(reflect.MakeSlice(list.Type(), 1, 1))
		owner = list.Index(0)
	}
	field := owner.FieldByName(p.field.Name)
	if field.Kind() == reflect.Pointer {
		field.Set(reflect.New(field.Type().Elem()))
		field = field.Elem()
	}
	field.Set(value.Convert(field.Type()))
	var e *models.Error
	if !errors.As(r.Interface().(interface{ Validate() error }).Validate(), &e) {
		return nil
	}
	return slices.DeleteFunc(e.Fields, func(f models.FieldError) bool {
		return f.Where != p.member && f.Where != p.member+"[0]"
	})
}

// timesOfDay are the fields with a time on a clock of 24 hours: their form leaves only one length.
var timesOfDay = map[string]bool{"KickOff": true, "Start": true}

// sized is a value of a field's type that is or has so much of what its limit counts.
func (p place) sized(n float64) reflect.Value {
	t := p.field.Type
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch t.Kind() {
	case reflect.String:
		if timesOfDay[p.field.Name] && int(n) == len("14:30") {
			return reflect.ValueOf("14:30")
		}
		return reflect.ValueOf(strings.Repeat("a", int(n)))
	case reflect.Array: // of texts
		texts := reflect.New(t).Elem()
		texts.Index(0).SetString(strings.Repeat("a", int(n)))
		return texts
	case reflect.Slice:
		return reflect.MakeSlice(t, int(n), int(n))
	case reflect.Map:
		m := reflect.MakeMap(t)
		for i := range int(n) {
			m.SetMapIndex(reflect.ValueOf(fmt.Sprint("code_", i)).Convert(t.Key()), reflect.Zero(t.Elem()))
		}
		return m
	}
	return reflect.ValueOf(n)
}

func TestValidateAllowsALimitsEndsAndRefusesWhatIsBeyond(t *testing.T) {
	tried := 0
	for _, record := range validated(t) {
		for _, p := range placesOf(record) {
			name, _, _ := strings.Cut(p.field.Tag.Get("json"), ",")
			l, limited := models.LimitOf(p.owner, name)
			if !limited {
				continue
			}
			tried++
			countable := l.Form != models.LimitNumber
			step := 1.0
			if kind := p.field.Type.Kind(); kind == reflect.Float64 || kind == reflect.Pointer &&
				p.field.Type.Elem().Kind() == reflect.Float64 {
				step = 0.25
			}
			within, beyond := []float64{l.Least}, []float64{l.Least - step}
			if l.OrNone {
				within = append(within, 0)
			}
			if l.Each {
				beyond = nil // which is less than no text
			}
			if countable && l.Least == 0 {
				within, beyond = nil, nil // without limits: other rules decide
			}
			if name == "time_zone" {
				within = nil // only names of time zones are allowed
			}
			if !math.IsInf(l.Most, 1) && name == "time_zone" {
				beyond = append(beyond, l.Most+step)
			} else if !math.IsInf(l.Most, 1) {
				within, beyond = append(within, l.Most), append(beyond, l.Most+step)
			}
			for _, n := range within {
				if said := p.refusal(p.sized(n)); said != "" {
					t.Errorf("%v.%s of %v: %s; its limit allows that", p.record, p.member, n, said)
				}
			}
			for _, n := range beyond {
				if p.refusal(p.sized(n)) == "" {
					t.Errorf("%v.%s of %v is allowed; its limit is %+v: does Validate begin with f.limits(\"\", &record)?", p.record,
						p.member, n, l)
				}
			}
		}
	}
	if tried < 80 {
		t.Errorf("only %d limits were tried", tried)
	}
}

func TestEveryTextThatIsSentHasALimit(t *testing.T) {
	// by the program alone
	made := []reflect.Type{reflect.TypeFor[models.Mention](), reflect.TypeFor[models.PlayerStop](),
		reflect.TypeFor[models.ReportOpening](), reflect.TypeFor[models.StepTaken]()}
	for _, record := range validated(t) {
		for _, p := range placesOf(record) {
			name, _, _ := strings.Cut(p.field.Tag.Get("json"), ",")
			_, limited := models.LimitOf(p.owner, name)
			reference := p.field.Tag.Get("texts") == "-" && p.owner == reflect.TypeFor[models.Indicator]() // to a count of ours
			if p.field.Type == reflect.TypeFor[string]() && !limited && !reference && p.field.Name != "Ask" &&
				!slices.Contains(made, p.owner) {
				t.Errorf("models: the field %s of %v has no limit: write one in its tag, such as limit:\"name 1..100\" for one "+
					"line or limit:\"text 0..1000\" for several, "+
					"and begin Validate with f.limits; it is checked and published from there", p.field.Name, p.owner)
			}
		}
	}
}

// unlimited are numbers that need no limit of their own, and why.
var unlimited = map[string]string{
	"models.Meeting.total_weight":  "the store adds it up",
	"models.Meeting.revision":      "the store fills it in",
	"models.DataRequest.payloads":  "the store counts it",
	"models.PlayerStop.minutes":    "the program counts them",
	"models.Goal.baseline":         "Validate checks it on the scale of the goal's indicator or skill",
	"models.Goal.target":           "Validate checks it on the scale of the goal's indicator or skill",
	"models.Involvement.linked_to": "an id, which the store looks up",
	"models.NoteAnswer.seen_by":    "an id, which the store fills in",
	"models.Link.made_by":          "an id, which the store fills in",
}

// A number without a limit is stored whatever it is, and the description of the service promises nothing.
func TestEveryNumberThatIsSentHasALimit(t *testing.T) {
	for _, d := range store.DeclaredTables() {
		if _, checks := d.Row.(interface{ Validate() error }); !checks {
			continue
		}
		for _, p := range placesOf(reflect.TypeOf(d.Row)) {
			name, _, _ := strings.Cut(p.field.Tag.Get("json"), ",")
			_, limited := models.LimitOf(p.owner, name)
			id := name == "id" || name == "version" || strings.HasSuffix(name, "_id") || slices.Contains(d.Users, name)
			called := fmt.Sprintf("%v.%s", p.owner, name)
			if !limited && !id && unlimited[called] == "" && isNumber(p.field.Type) {
				t.Errorf("models: the number %s of %v has no limit: write one in its tag, such as limit:\"0..100\", and begin "+
					"Validate with f.limits; it is checked and published from there. Where it names a user, write it in users "+
					"of its kind instead", p.field.Name, p.owner)
			}
		}
	}
}

func isNumber(t reflect.Type) bool {
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	return reflect.Zero(t).CanInt() || reflect.Zero(t).CanFloat()
}

// A date without a check is stored whatever it is; what dates have in common is published with their type.
func TestEveryDateThatIsSentIsChecked(t *testing.T) {
	for _, record := range validated(t) {
		for _, p := range placesOf(record) {
			day := p.field.Type
			if day.Kind() == reflect.Pointer {
				day = day.Elem()
			}
			if day != reflect.TypeFor[models.Date]() {
				continue
			}
			if !p.refused(reflect.ValueOf("2025-02-30")) {
				t.Errorf("models: the date %s of %v may be 2025-02-30: check it in Validate, with f.date(%q, …) where it must be "+
					"there and f.dateIfAny where it may be left out", p.field.Name, p.owner, p.member)
			}
		}
	}
}

// A code without a check is stored whatever it is, by a form or a file: the description of the service knows the codes,
// and refuses others for programs alone.
func TestEveryCodeThatIsSentIsChecked(t *testing.T) {
	tried := 0
	for _, record := range validated(t) {
		for _, p := range placesOf(record) {
			code, sent := p.field.Type, reflect.ValueOf("no_such_code")
			for code.Kind() == reflect.Pointer || code.Kind() == reflect.Slice {
				code = code.Elem()
			}
			if _, coded := code.MethodByName("Codes"); !coded {
				continue
			}
			tried++
			if p.field.Type.Kind() == reflect.Slice {
				all := reflect.MakeSlice(p.field.Type, 1, 1)
				all.Index(0).SetString(sent.String())
				sent = all
			}
			if !p.refused(sent) {
				t.Errorf("models: the code %s of %v may be no_such_code: check it in Validate, with oneOf(&f, %q, …)", p.field.Name,
					p.owner, p.member)
			}
		}
	}
	if tried < 20 {
		t.Errorf("only %d codes were tried", tried)
	}
}
