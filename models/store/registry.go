package store

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"

	"gorm.io/gorm"

	"throughline/models"
)

// table is what the store knows of one table of the database, taken from its kind of record or, for a table without
// one, written in besideKinds. Whatever must know every table reads it from tables.
type table struct {
	name     string // in the database
	row      any    // a zero value of its Go type; nil for the table of a library that reads and writes it itself
	called   string // as a person calls a row of it
	known    string // the column by which people know a row
	replaced bool   // rows are deleted for good when what they follow from changes, or when they are over

	// The rest is what a kind says.

	kind   bool
	order  string
	whose  string // as the kind says it
	player string // the column with the player whom its rows are about: see kind.subject
	users  []string
	holds  []hold
	list   func(*Tx) ([]any, error) // all records that the caller may read
	// the player whom a record is about; nil if the kind does not say
	owner   func(*Tx, any) (int64, error)
	readOut func(*Tx, int64) ([]json.RawMessage, error) // those of a player
	// records by their ids, whatever the caller may read
	byID func(*Tx, []int64) (map[int64]json.RawMessage, error)
	// the earlier versions of a record, and of all records about a player; nil if the kind keeps none
	earlier    func(*Tx, int64) ([]models.EarlierVersion, error)
	earlierOut func(*Tx, int64) ([]json.RawMessage, error)
}

// tables are all tables that the program fills. A test compares them with the database.
func tables() []table {
	return append(kinds(), besideKinds()...)
}

// kinds are all kinds of record. A new one is declared in a file of its own and has its line here.
func kinds() []table {
	return []table{
		seasons().declared(),
		squads().declared(),
		players().declared(),
		memberships().declared(),
		spells().declared(),
		matches().declared(),
		matchEvents().declared(),
		teamTotals().declared(),
		appearances().declared(),
		logs().declared(),
		involvements().declared(),
		matchTotals().declared(),
		trainingSessions().declared(),
		attendances().declared(),
		trainingObservations().declared(),
		skills().declared(),
		indicators().declared(),
		ratings().declared(),
		selfRatings().declared(),
		ratingRounds().declared(),
		contactActions().declared(),
		meetings().declared(),
		recommendations().declared(),
		corrections().declared(),
		feedback().declared(),
		goals().declared(),
		checkIns().declared(),
		reviewNotes().declared(),
		noteAnswers().declared(),
		reviews().declared(),
		reviewAnswers().declared(),
		settings().declared(),
		consents().declared(),
		guardians().declared(),
		headContacts().declared(),
		standDowns().declared(),
		minutesLimits().declared(),
		retentionReviews().declared(),
		dataRequests().declared(),
		playerMerges().declared(),
		users().declared(),
		accessTokens(&Tx{}).declared(),
		links().declared(),
	}
}

// besideKinds are the tables without a kind: rows that belong to a record, that follow from records, or that only the
// program reads.
func besideKinds() []table {
	return []table{
		{name: "academies", row: models.Academy{}, called: "academy", known: "id"},
		{name: "sealing_keys", row: sealingKey{}, called: "key", known: "name"},
		{name: "job_servers", row: jobServer{}, called: "process", known: "id", replaced: true},
		{name: "squad_staff", row: models.SquadStaff{}, called: "squad's staff", known: "user_id",
			users: []string{"user_id"}, replaced: true},
		{name: "stints", row: models.Stint{}, called: "appearance", known: "appearance_id", replaced: true},
		{name: "observations", row: models.Observation{}, called: "match", known: "match_id", replaced: true},
		{name: "carry_cells", row: models.CarryCell{}, called: "match", known: "match_id", replaced: true},
		{name: "candidates", row: models.Candidate{}, called: "meeting", known: "meeting_id", replaced: true},
		{name: "candidate_evidence", row: models.CandidateEvidence{}, called: "meeting", known: "meeting_id",
			replaced: true},
		{name: "report_openings", row: models.OpeningRow{}, called: "player", known: "player_id",
			users: []string{"user_id"}, replaced: true},
		{name: "report_packs", row: models.ReportPack{}, called: "report pack", known: "id",
			users: []string{"user_id"}, replaced: true},
		{name: "packed_reports", row: models.PackedReport{}, called: "report pack", known: "pack_id", replaced: true},
		{name: "trend_draws", row: models.TrendDraws{}, called: "squad", known: "squad_id", replaced: true},
		{name: "squad_seasons", row: models.SquadSeason{}, called: "squad", known: "squad_id"},
		{name: "trends", row: models.Trend{}, called: "squad", known: "squad_id", replaced: true},
		{name: "forecasts", row: models.Forecast{}, called: "squad", known: "squad_id", replaced: true},
		{name: "forecast_pairs", row: models.ForecastPair{}, called: "squad", known: "squad_id", replaced: true},
		{name: "publications", row: models.Publication{}, called: "squad", known: "squad_id", replaced: true},
		{name: "sessions", row: models.Session{}, called: "user", known: "user_id", users: []string{"user_id"},
			replaced: true},
		{name: "devices", row: models.Device{}, called: "user", known: "user_id", users: []string{"user_id"},
			replaced: true},
		{name: "sign_in_attempts", row: models.SignInAttempts{}, called: "user", known: "user_id",
			users: []string{"user_id"}, replaced: true},
		{name: "refused_sign_ins", row: models.RefusedSignIns{}, called: "user", known: "user_id",
			users: []string{"user_id"}, replaced: true},
		{name: "earlier_versions", row: models.EarlierVersion{}, called: "earlier version of record", known: "record_id",
			users: []string{"user_id"}},
		{name: "repeats", row: models.Repeat{}, called: "request that may be sent again", known: "sent_at",
			users: []string{"user_id"}, replaced: true},
		{name: "audit_entries", row: models.AuditEntry{}, called: "entry of the audit trail", known: "number",
			users: []string{"user_id"}},
	}
}

// declared is what a kind says of its table. A kind that leaves out what every kind needs stops the program.
func (k *kind[T]) declared() table {
	var row T
	for field, missing := range map[string]bool{"name": k.name == "", "table": k.table == "", "area": k.area == "",
		"order": k.order == "", "record": k.record == nil, "within": k.within == nil} {
		if missing {
			panic(fmt.Sprintf("models/store: the kind of %T says no %s: write it where the kind is declared", row, field))
		}
	}
	t := table{name: k.table, row: row, called: k.name, known: "id", kind: true, order: k.order, whose: k.whose,
		player: k.subject(), users: k.users, holds: k.holds}
	t.list = func(tx *Tx) ([]any, error) {
		all, err := k.list(tx)
		rows := make([]any, len(all))
		for i := range all {
			rows[i] = all[i]
		}
		return rows, err
	}
	t.byID = func(tx *Tx, ids []int64) (map[int64]json.RawMessage, error) {
		all, err := k.find(tx, where{}, that(k.table+".id IN ?", ids))
		found := make(map[int64]json.RawMessage, len(all))
		for i := range all {
			if err == nil {
				found[k.record(&all[i]).ID], err = json.Marshal(all[i])
			}
		}
		return found, err
	}
	if k.player != nil {
		t.owner = func(tx *Tx, row any) (int64, error) { r := row.(T); return k.player(tx, &r) }
	}
	if k.keeps {
		t.earlier, t.earlierOut = k.earlierOf, k.earlierOut
	}
	if t.player != "" {
		t.readOut = read(k, t.player+" = ?")
	}
	return t
}

// texts are the columns of a row's type in which people write freely: all that are a plain string, or are kept as JSON
// with a plain string in it. The tag `texts:"-"` leaves one out, such as a code or a hash. A column of JSON is read as
// text.
func (tx *Tx) texts(of any) ([]string, error) {
	statement := &gorm.Statement{DB: tx.db}
	if err := statement.Parse(of); err != nil {
		return nil, tx.done("search free text", err)
	}
	var free []string
	for _, c := range statement.Schema.Fields {
		switch {
		case c.DBName == "" || c.Tag.Get("texts") == "-" || !hasText(c.FieldType):
		case c.Serializer != nil && tx.dialect.postgres():
			free = append(free, "CAST("+c.DBName+" AS text)")
		default:
			free = append(free, c.DBName)
		}
	}
	return free, nil
}

// hasText says whether a value of a type may hold what a person wrote. A type of its own that is a string is a code or
// a day; the keys of a map are codes.
func hasText(t reflect.Type) bool {
	switch t.Kind() {
	case reflect.String:
		return t == reflect.TypeFor[string]()
	case reflect.Pointer, reflect.Slice, reflect.Array, reflect.Map:
		return hasText(t.Elem())
	case reflect.Struct:
		return slices.ContainsFunc(reflect.VisibleFields(t), func(f reflect.StructField) bool {
			return f.IsExported() && f.Tag.Get("texts") != "-" && hasText(f.Type)
		})
	}
	return false
}
