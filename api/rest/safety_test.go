package rest_test

import (
	"fmt"
	"net/http"
	"strings"

	"throughline/api/rest"
)

// act calls an operation that belongs to no resource: with a forbidden body, as a stranger, for a missing record, and
// then with body. It returns the last answer.
func (w *walk) act(path, template string, body object, status int) object {
	w.t.Helper()
	c := w.a.Program(w.t, "mabyn")
	d, _ := w.spec.operation(http.MethodPost, template)
	w.strangers(d, path)
	sent := ""
	if body != nil {
		sent = text(body)
		schema, _ := w.spec.sent(d)
		w.forbidden(c, d, path, schema, body)
	}
	if strings.Contains(template, "{id}") {
		w.addresses(c, http.MethodPost, template, sent)
	}
	return decode[object](w.t, w.expect(c, "as described", status, http.MethodPost, template, path, sent))
}

// safety asks for what keeps people safe, beyond records that are replaced.
func (w *walk) safety() {
	w.t.Helper()
	manager, coach, selector, bryn, owen := w.a.Program(w.t, "mabyn"), w.a.Program(w.t, "ansel"),
		w.a.Program(w.t, "sorrel"), w.a.Program(w.t, "bryn"), w.a.Program(w.t, "owen")
	at := func(path string, id any) string { return fmt.Sprintf(rest.Path+path, id) }

	// Settings.
	const settings = rest.Path + "/settings"
	before := w.expect(bryn, "read by anybody", 200, http.MethodGet, settings, settings, "")
	if got := decode[object](w.t, before); before.Header.Get("ETag") != `"0"` || got["retention_months"] != 24.0 ||
		text(got["requires"]) != `["filming"]` {
		w.t.Errorf("the settings of an academy that has decided nothing: %s %s", before.Header.Get("ETag"), before.Body)
	}
	decided := object{"retention_months": 3, "requires": []any{"filming"}}
	w.expect(manager, "without a condition", 428, http.MethodPut, settings, settings, text(decided))
	w.expect(coach, "by a coach", 403, http.MethodPut, settings, settings, text(decided), "If-Match", `"0"`)
	w.expect(manager, "a purpose twice", 422, http.MethodPut, settings, settings,
		text(object{"retention_months": 3, "requires": []any{"filming", "filming"}}), "If-Match", `"0"`)
	w.expect(manager, "decided", 200, http.MethodPut, settings, settings, text(decided), "If-Match", `"0"`)
	w.expect(manager, "from before", 412, http.MethodPut, settings, settings, text(decided), "If-Match", `"0"`)
	w.expect(manager, "again", 200, http.MethodPut, settings, settings, text(decided), "If-Match", `"1"`)
	w.list(manager, rest.Path+"/consent-purposes")

	// A head contact stands the player down; whom was told is recorded once, and only a manager lifts it.
	contact := w.act(rest.Path+"/head-contacts", rest.Path+"/head-contacts",
		object{"player_id": w.a.Owen.ID, "date": "2025-11-22", "stand_down": true}, 201)
	one := at("/head-contacts/%v", contact["id"])
	if ask, _ := contact["ask"].(string); !strings.Contains(ask, "Check now that the medical lead knows") {
		w.t.Errorf("a head contact asks %q", ask)
	}
	const contacts, downs = rest.Path + "/head-contacts/{id}", rest.Path + "/stand-downs/{id}"
	w.expect(selector, "by a selector", 403, http.MethodPost, contacts+"/told", one+"/told",
		`{"medical_lead":"Dr Ina Fold"}`)
	w.expect(bryn, "by another player", 404, http.MethodGet, contacts, one, "")
	w.list(manager, rest.Path+"/head-contacts")
	w.list(manager, rest.Path+"/items") // to report it

	// A low grade asks for action before contact, once.
	w.act(rest.Path+"/ratings", rest.Path+"/ratings", object{"player_id": w.a.Bryn.ID, "skill": "tackle", "grade": 1,
		"date": "2025-11-22", "block": "Late autumn"}, 201)
	const actions = rest.Path + "/contact-actions"
	w.list(manager, actions)
	waits := decode[struct{ Items []object }](w.t, manager.Get(actions)).Items[0]
	action := at("/contact-actions/%v", waits["id"])
	w.expect(manager, "one", 200, http.MethodGet, actions+"/{id}", action, "")
	w.act(action+"/settle", actions+"/{id}/settle", object{"word": "Coached on Tuesday."}, 200)
	w.expect(manager, "again", 409, http.MethodPost, actions+"/{id}/settle", action+"/settle",
		`{"word":"Coached on Tuesday."}`)
	w.act(one+"/told", contacts+"/told", object{"medical_lead": "Dr Ina Fold"}, 200)
	w.expect(coach, "told again", 409, http.MethodPost, contacts+"/told", one+"/told", `{"medical_lead":"Dr Ina Fold"}`)
	if got := w.expect(owen, "his own", 200, http.MethodGet, contacts, one, ""); strings.Contains(got.Body, `"ask"`) ||
		!strings.Contains(got.Body, "Dr Ina Fold") {
		w.t.Errorf("after the medical lead was told: %s", got.Body)
	}
	w.list(manager, rest.Path+"/stand-downs")
	found := decode[struct{ Items []object }](w.t, w.expect(owen, "his own", 200, http.MethodGet, rest.Path+
		"/stand-downs", rest.Path+"/stand-downs?open=true", ""))
	if len(found.Items) != 1 {
		w.t.Fatalf("he sees stand-downs %v", found.Items)
	}
	down := at("/stand-downs/%v", found.Items[0]["id"])
	w.expect(owen, "his own", 200, http.MethodGet, downs, down, "")
	lift := object{"on": "2025-12-13", "cleared_by": "Dr Ina Fold"}
	w.expect(coach, "by a coach", 403, http.MethodPost, downs+"/lift", down+"/lift", text(lift))
	w.expect(bryn, "by another player", 404, http.MethodPost, downs+"/lift", down+"/lift", text(lift))
	match := decode[object](w.t, w.expect(manager, "a match", 201, http.MethodPost, rest.Path+"/matches", rest.Path+
		"/matches",
		text(object{"season_id": w.a.Season.ID, "squad_id": w.a.Under18.ID, "date": "2025-11-29", "opponent": "Fellmoor",
			"halves": 2, "half_minutes": 35})))
	plays := text(object{"match_id": match["id"], "player_id": w.a.Owen.ID, "minutes": 20})
	if got := w.expect(coach, "stood down", 409, http.MethodPost, rest.Path+"/appearances", rest.Path+"/appearances",
		plays); !strings.Contains(got.Body, "return-to-play") {
		w.t.Errorf("an appearance of who is stood down: %s", got.Body)
	}
	w.act(down+"/lift", downs+"/lift", lift, 200)
	w.expect(manager, "lifted again", 409, http.MethodPost, downs+"/lift", down+"/lift", text(lift))
	w.act(rest.Path+"/stand-downs", rest.Path+"/stand-downs", object{"player_id": w.a.Tam.ID, "from": "2025-11-22"}, 201)
	w.expect(coach, "in use", 403, http.MethodDelete, contacts, one, "", "If-Match", "*")
	w.expect(manager, "in use", 409, http.MethodDelete, contacts, one, "", "If-Match", "*")
	mistake := decode[object](w.t, w.expect(coach, "by mistake", 201, http.MethodPost, rest.Path+"/head-contacts",
		rest.Path+"/head-contacts", text(object{"player_id": w.a.Bryn.ID, "date": "2025-11-22"})))
	w.expect(manager, "by mistake", 204, http.MethodDelete, contacts, at("/head-contacts/%v", mistake["id"]), "",
		"If-Match", "*")

	// Minutes over all teams.
	load := at("/players/%v/load", w.a.Bryn.ID)
	w.expect(manager, "a limit", 201, http.MethodPost, rest.Path+"/minutes-limits", rest.Path+"/minutes-limits",
		`{"name":"All season","days":0,"minutes":400}`)
	w.listAt(manager, rest.Path+"/players/{id}/load", load)
	if got := w.expect(bryn, "his own", 200, http.MethodGet, rest.Path+"/players/{id}/load", load+"?date=2025-11-30",
		""); !strings.Contains(got.Body, `"now":385`) || !strings.Contains(got.Body, `"near"`) {
		w.t.Errorf("350 minutes for the squad and 35 for school, of 400: %s", got.Body)
	}
	w.expect(bryn, "no day", 422, http.MethodGet, rest.Path+"/players/{id}/load", load+"?date=2025-02-30", "")
	w.expect(owen, "another's", 404, http.MethodGet, rest.Path+"/players/{id}/load", load, "")

	// Answers.
	note := decode[object](w.t, w.expect(coach, "a note", 201, http.MethodPost, rest.Path+"/review-notes", rest.Path+
		"/review-notes",
		text(object{"player_id": w.a.Bryn.ID, "date": "2025-09-08", "shared": true, "text": "Feet first."})))
	const answers, answer = rest.Path + "/review-notes/{id}/answers", rest.Path + "/note-answers/{id}"
	on := at("/review-notes/%v/answers", note["id"])
	w.act(on, answers, object{"text": "Looked at it together."}, 201)
	said := decode[object](w.t, w.expect(bryn, "by the player", 201, http.MethodPost, answers, on,
		`{"text":"I was square on."}`))
	w.expect(owen, "by another", 404, http.MethodPost, answers, on, `{"text":"Me too."}`)
	w.expect(selector, "by a selector", 403, http.MethodPost, answers, on, `{"text":"Fine."}`)
	w.listAt(manager, answers, on)
	silent := w.act(rest.Path+"/review-notes", rest.Path+"/review-notes",
		object{"player_id": w.a.Bryn.ID, "date": "2025-11-20", "shared": true, "text": "Nobody answers this."}, 201)
	if got := w.expect(manager, "of a note that nobody answered", 200, http.MethodGet, answers,
		at("/review-notes/%v/answers", silent["id"]), ""); !strings.Contains(got.Body, `"items":[]`) {
		w.t.Errorf("a note that nobody answered has the answers %s", got.Body)
	}
	w.expect(owen, "another's", 404, http.MethodGet, answers, on, "")
	own := at("/note-answers/%v", said["id"])
	w.expect(coach, "read", 200, http.MethodGet, answer, own, "")
	w.expect(owen, "another's", 404, http.MethodGet, answer, own, "")
	w.expect(bryn, "by the player", 403, http.MethodPost, answer+"/seen", own+"/seen", "")
	w.expect(coach, "by the note's author", 403, http.MethodPost, answer+"/seen", own+"/seen", "")
	w.act(own+"/seen", answer+"/seen", nil, 200)
	w.expect(coach, "withheld", 409, http.MethodPut, rest.Path+"/review-notes/{id}", at("/review-notes/%v", note["id"]),
		text(object{"player_id": w.a.Bryn.ID, "date": "2025-09-08", "shared": false, "text": "Feet first."}), "If-Match",
		"*")
	w.expect(coach, "deleted", 409, http.MethodDelete, rest.Path+"/review-notes/{id}", at("/review-notes/%v", note["id"]),
		"", "If-Match", "*")

	// Whose record is kept.
	gone := decode[object](w.t, w.expect(manager, "who left", 201, http.MethodPost, rest.Path+"/players", rest.Path+
		"/players", `{"name":"Corin Lowe","positions":[]}`))
	w.expect(manager, "last season", 201, http.MethodPost, rest.Path+"/memberships", rest.Path+"/memberships",
		text(object{"season_id": w.a.Earlier.ID, "squad_id": w.a.Under16.ID, "player_id": gone["id"],
			"from": w.a.Earlier.Starts}))
	const retention = rest.Path + "/retention"
	w.listAt(manager, retention, retention)
	w.expect(coach, "by a coach", 403, http.MethodGet, retention, retention, "")
	const calibration = rest.Path + "/calibration"
	w.expect(manager, "what came true", 200, http.MethodGet, calibration, calibration, "")
	w.expect(coach, "by a coach", 403, http.MethodGet, calibration, calibration, "")
	w.expect(coach, "by a coach", 403, http.MethodPost, retention+"/{id}", at("/retention/%v", w.a.Bryn.ID),
		`{"keep_until":"2027-01-01","because":"x"}`)
	w.act(at("/retention/%v", gone["id"]), retention+"/{id}",
		object{"keep_until": "2027-01-01", "because": "Asked for it."}, 200)
	if got := w.expect(manager, "kept", 200, http.MethodGet, retention, retention, ""); strings.Contains(got.Body,
		"Corin Lowe") {
		w.t.Errorf("he is listed although he is kept: %s", got.Body)
	}
}
