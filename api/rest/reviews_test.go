package rest_test

import (
	"fmt"
	"net/http"
	"strings"

	"throughline/api/apitest"
	"throughline/api/rest"
)

// reviewing has a coach write a review, keep it as a draft, share it and change it, and the player read and answer it.
func (w *walk) reviewing() {
	w.t.Helper()
	manager, coach, selector, bryn, owen := w.a.Program(w.t, "mabyn"), w.a.Program(w.t, "ansel"),
		w.a.Program(w.t, "sorrel"), w.a.Program(w.t, "bryn"), w.a.Program(w.t, "owen")
	const all, one = rest.Path + "/reviews", rest.Path + "/reviews/{id}"
	note := func(shared bool, player int64) any {
		return w.act(rest.Path+"/review-notes", rest.Path+"/review-notes", object{"player_id": player,
			"date": "2025-09-08", "shared": shared, "text": "Feet first.", "follow_up": "2025-09-22"}, 201)["id"]
	}
	seen, staffs := note(true, w.a.Bryn.ID), note(false, w.a.Bryn.ID)
	body := object{"player_id": w.a.Bryn.ID, "season_id": w.a.Season.ID, "squad_id": w.a.Under18.ID,
		"date": "2025-10-20", "summary": "Better feet.", "note_ids": []any{seen}, "staff_note_ids": []any{staffs}}
	draft := w.expect(coach, "a draft", 201, http.MethodPost, all, all, text(body))
	at := draft.Header.Get("Location")
	for what, c := range map[string]*apitest.Client{"the player": bryn, "a selector": selector, "another": owen} {
		w.expect(c, "a draft, by "+what, 404, http.MethodGet, one, at, "")
	}
	for what, wrong := range map[string]object{
		"a note for staff in what the player reads": {"note_ids": []any{staffs}},
		"another player's note":                     {"note_ids": []any{note(true, w.a.Owen.ID)}},
		"a note twice":                              {"note_ids": []any{seen, seen}},
		"no next step":                              {"shared": true},
		"another squad":                             {"squad_id": w.a.Under16.ID},
		"another player":                            {"player_id": w.a.Owen.ID},
		"a follow-up before it":                     {"follow_up": "2025-10-19"},
	} {
		changed := body
		for name, v := range wrong {
			changed = merged(changed, name, v)
		}
		w.expect(coach, what, 422, http.MethodPut, one, at, text(changed), "If-Match", "*")
	}
	shared := merged(merged(body, "shared", true), "next_step", "Two looks.")
	w.expect(coach, "shared", 200, http.MethodPut, one, at, text(shared), "If-Match", "*")
	read := w.expect(bryn, "shared", 200, http.MethodGet, one, at, "")
	if !strings.Contains(read.Body, fmt.Sprintf(`"note_ids":[%v],"staff_note_ids":[]`, seen)) {
		w.t.Errorf("the player reads %s; want the shared note alone", read.Body)
	}
	if got := w.expect(bryn, "its past", 200, http.MethodGet, one+"/earlier", at+"/earlier", ""); !strings.Contains(
		got.Body, `"items":[]`) {
		w.t.Errorf("the player reads the draft in the past of the review: %s", got.Body)
	}
	w.expect(coach, "by the coach", 403, http.MethodPost, one+"/read", at+"/read", "")
	w.expect(owen, "by another", 404, http.MethodPost, one+"/read", at+"/read", "")
	w.expect(bryn, "their own", 200, http.MethodPost, one+"/read", at+"/read", "")
	w.expect(coach, "with the tag from before it was read", 412, http.MethodPut, one, at, text(shared), "If-Match",
		read.Header.Get("ETag"))
	w.expect(coach, "once it was read", 409, http.MethodDelete, one, at, "", "If-Match", "*")
	changed := w.expect(coach, "changed", 200, http.MethodPut, one, at,
		text(merged(shared, "summary", "Much better feet.")), "If-Match", "*")
	if !strings.Contains(changed.Body, "changed_since_read_at") || strings.Contains(changed.Body, `"read_at"`) {
		w.t.Errorf("a review that was read is changed: %s; want it unread, and when it was changed", changed.Body)
	}
	if got := w.expect(bryn, "its past", 200, http.MethodGet, one+"/earlier", at+"/earlier", ""); !strings.Contains(
		got.Body, "Better feet.") || !strings.Contains(got.Body, `"staff_note_ids":[]`) {
		w.t.Errorf("the player reads the past %s; want the text that they read, without the note for staff", got.Body)
	}
	w.expect(coach, "taken back", 409, http.MethodPut, one, at, text(merged(shared, "shared", false)), "If-Match", "*")

	// Answers.
	const answers, answer = one + "/answers", rest.Path + "/review-answers/{id}"
	said := decode[object](w.t, w.expect(bryn, "by the player", 201, http.MethodPost, answers, at+"/answers",
		`{"text":"Two looks, yes."}`))
	w.expect(owen, "by another", 404, http.MethodPost, answers, at+"/answers", `{"text":"Me too."}`)
	w.expect(selector, "by a selector", 403, http.MethodPost, answers, at+"/answers", `{"text":"Fine."}`)
	w.listAt(manager, answers, at+"/answers")
	own := fmt.Sprintf(rest.Path+"/review-answers/%v", said["id"])
	w.expect(coach, "read", 200, http.MethodGet, answer, own, "")
	w.expect(owen, "another's", 404, http.MethodGet, answer, own, "")
	w.expect(coach, "by the review's author", 403, http.MethodPost, answer+"/seen", own+"/seen", "")
	w.act(own+"/seen", answer+"/seen", nil, 200)

	// What is bundled stays, and a follow-up is its author's to mark.
	w.expect(manager, "bundled", 409, http.MethodDelete, rest.Path+"/review-notes/{id}",
		fmt.Sprintf(rest.Path+"/review-notes/%v", seen), "", "If-Match", "*")
	w.expect(coach, "without a day", 409, http.MethodPost, one+"/followed-up", at+"/followed-up", "")
	w.expect(coach, "with a day", 200, http.MethodPut, one, at, text(merged(shared, "follow_up", "2025-11-03")),
		"If-Match", "*")
	w.expect(bryn, "by the player", 403, http.MethodPost, one+"/followed-up", at+"/followed-up", "")
	w.expect(coach, "by its author", 200, http.MethodPost, one+"/followed-up", at+"/followed-up", "")
	const noteDone = rest.Path + "/review-notes/{id}/followed-up"
	of := fmt.Sprintf(rest.Path+"/review-notes/%v/followed-up", seen)
	w.expect(coach, "another's", 403, http.MethodPost, noteDone, of, "")
	w.expect(manager, "their own", 200, http.MethodPost, noteDone, of, "")

	// Who is due: six weeks from 20 October without a pause are 1 December.
	const cycle = rest.Path + "/review-cycle"
	w.listAt(manager, cycle, cycle)
	for what, c := range map[string]*apitest.Client{"a selector": selector, "a player": bryn} {
		w.expect(c, "by "+what, 403, http.MethodGet, cycle, cycle, "")
	}
	got := w.expect(coach, "of a player", 200, http.MethodGet, cycle, fmt.Sprintf("%s?player=%d", cycle, w.a.Bryn.ID), "")
	if !strings.Contains(got.Body, `"due":"2025-12-01"`) || !strings.Contains(got.Body, `"by_because":"last_author"`) {
		w.t.Errorf("the cycle says %s; want 1 December, by the author", got.Body)
	}
}
