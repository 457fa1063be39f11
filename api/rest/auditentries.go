package rest

import (
	"net/http"
	"strings"
	"time"

	"throughline/models"
	"throughline/models/store"
)

type auditEntriesWanted struct {
	Page
	Player int64  `query:"player" minimum:"1" doc:"Only entries about this player."`
	User   int64  `query:"user" minimum:"1" doc:"Only what this user did."`
	Action string `query:"action" maxLength:"50" doc:"Only this action, such as change or read."`
	Kind   string `query:"kind" maxLength:"50" doc:"Only entries about this kind of record, such as review note."`
	Record int64  `query:"record" minimum:"1" doc:"Only entries about the record with this id; give its kind too."`
	From   string `query:"from" format:"date" doc:"Only entries from this day on, in UTC."`
	To     string `query:"to" format:"date" doc:"Only entries up to this day, in UTC."`
}

func (in *auditEntriesWanted) filter() models.AuditFilter {
	f := models.AuditFilter{PlayerID: in.Player, UserID: in.User, Action: models.AuditAction(in.Action), Kind: in.Kind,
		RecordID: in.Record}
	f.From, f.Until = dayOf(in.From), dayOf(in.To)
	return f
}

func auditEntries(s *Service) {
	example := models.AuditEntry{
		Number: 4211, At: time.Date(2025, time.September, 8, 7, 0, 0, 0, time.UTC), UserID: exampleUser,
		Role: models.RoleCoach, Action: models.AuditChange,
		Kind: "review note", RecordID: 15, PlayerID: examplePlayer,
		Payload: some(
			`{"salt":"q83vEjRWeJCrze8SNFZ4kA==","from":"192.0.2.7","before":{"text":"Feet first."},` +
				`"after":{"text":"Feet first, then shoulder."}}`),
		PayloadHash: []byte(strings.Repeat("p", 32)), Hash: []byte(strings.Repeat("h", 32)),
	}
	does(s, operation{
		method: http.MethodGet, path: "/audit-entries", id: "list-audit-entries", summary: "List entries of the audit trail",
		part: people,
		about: "The audit trail says who changed which record, when and from where, with the record before and after. It " +
			"also says what staff read of a minor's record. Entries are only ever added. Each entry carries the SHA-256 of " +
			"its payload and a hash over itself and the entry before it, so any change or removal shows: \"throughline audit " +
			"verify\" checks this. When a person's data are erased, the payloads about them are left out; the chain still " +
			"verifies.\n\nOrdered by number.",
		gives: listed(example), refusals: []int{http.StatusForbidden},
	}, func(r *request, in *auditEntriesWanted) (*reply, error) {
		return paged(s, r, &in.Page, func(tx *store.Tx) ([]models.AuditEntry, error) { return tx.AuditEntries(in.filter()) })
	})
}
