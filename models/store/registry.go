package store

import (
	"reflect"
	"slices"

	"gorm.io/gorm"

	"throughline/models"
)

// table is what the store knows of one table of the database, taken from its kind of record or, for a table without one, written in
// besideKinds. Whatever must know every table reads it from tables.
type table struct {
	name   string // in the database
	row    any    // a zero value of its Go type
	called string // as a person calls a row of it
	file   string // where it is declared, for the tests that say what is missing
	known  string // the column by which people know a row: "id" unless it says otherwise
	kind   bool   // its rows are records of a kind
	order  string
	player string   // the column with the player whom its rows are about: see kind.subject
	users  []string // the columns that name a user: see kind.users
	holds  []hold
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
		trainingObservations().declared(),
		skills().declared(),
		indicators().declared(),
		ratings().declared(),
		selfRatings().declared(),
		ratingRounds().declared(),
		meetings().declared(),
		goals().declared(),
		checkIns().declared(),
		reviewNotes().declared(),
		noteAnswers().declared(),
		settings().declared(),
		consents().declared(),
		guardians().declared(),
		headContacts().declared(),
		standDowns().declared(),
		minutesLimits().declared(),
		retentionReviews().declared(),
		dataRequests().declared(),
		users().declared(),
		accessTokens(&Tx{}).declared(),
		links().declared(),
	}
}

// besideKinds are the tables without a kind: rows that belong to a record, that follow from records, or that only the program reads.
func besideKinds() []table {
	const file = "models/store/registry.go"
	return []table{
		{name: "academies", row: models.Academy{}, called: "academy", file: file},
		{name: "squad_staff", row: models.SquadStaff{}, called: "squad's staff", file: file, users: []string{"user_id"}},
		{name: "stints", row: models.Stint{}, called: "stint", file: file},
		{name: "observations", row: models.Observation{}, called: "observation", file: file, player: "observations.player_id"},
		{name: "carry_cells", row: models.CarryCell{}, called: "carry cell", file: file, player: "carry_cells.player_id"},
		{name: "candidates", row: models.Candidate{}, called: "meeting", known: "meeting_id", file: file, player: "candidates.player_id"},
		{name: "squad_seasons", row: models.SquadSeason{}, called: "squad's season", file: file},
		{name: "trends", row: models.Trend{}, called: "trend", file: file, player: "trends.player_id"},
		{name: "publications", row: models.Publication{}, called: "publication", file: file, player: "publications.player_id"},
		{name: "sessions", row: models.Session{}, called: "session", file: file, users: []string{"user_id"}},
		{name: "audit_entries", row: models.AuditEntry{}, called: "entry of the audit trail", known: "number", file: file,
			player: "audit_entries.player_id", users: []string{"user_id"}},
	}
}

// declared is what a kind says of its table.
func (k *kind[T]) declared() table {
	var row T
	return table{
		name: k.table, row: row, called: k.name, known: "id", kind: true, order: k.order, player: k.subject(), users: k.users, holds: k.holds,
		file: "the kind " + reflect.TypeFor[T]().Name() + " in models/store",
	}
}

// texts are the columns of a row's type in which people write freely: all that are a plain string, or are kept as JSON with a plain string in
// it. The tag `texts:"-"` leaves one out, such as a code or a hash. A column of JSON is read as text.
func (tx *Tx) texts(of any) ([]string, error) {
	statement := &gorm.Statement{DB: tx.db}
	if err := statement.Parse(of); err != nil {
		return nil, tx.done("look where people write freely", err)
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

// hasText says whether a value of a type may hold what a person wrote. A type of its own that is a string is a code or a day; the keys
// of a map are codes.
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
