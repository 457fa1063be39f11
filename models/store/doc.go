// Package store keeps what an academy records, in PostgreSQL or in one SQLite file, and lets no caller past the
// policy.
//
// Every read and write is one transaction that knows the caller: [Store.Read] and [Store.Write]. Rows are narrowed
// to the academy and to what the policy allows where they are fetched, so nothing above can forget it. On PostgreSQL
// the database checks the academy a second time, by row-level security; the program works as the role
// throughline_serving, which does not own the tables. SQLite has the store's scoping alone. A record that the caller
// may not see is a *models.Error of code NotFound; one that the caller may see but not change is Forbidden.
//
// A write is checked against the record's own rules and against the rows it refers to, before it is made. Writes of
// one academy happen one after the other on both databases, so what was checked still holds at the commit. They wait
// for their turn before they take a connection (queue.go), so readers find one however many want to write.
// Observations follow from what was written inside the same transaction, and so do the entries of the audit trail.
//
// # Academies and operators
//
// Every row belongs to an academy. Academy 0 (models.Deployment) is the deployment itself. Operators belong to it
// and to nothing else, which the database checks. An operator lists, makes and renames academies and makes the first
// manager of one ([Store.CreateFirstManager]). That is the one transaction in which a caller works in another
// academy, and it answers with the new user and their link alone.
//
// # Before the academy is known
//
// Row-level security is forced on every table with an academy, and a transaction without a caller (models.Who{}) has
// no academy at all. What must be read before the academy is known goes through functions of the tables' owner:
// SECURITY DEFINER, with a pinned search path, for throughline_serving alone. A test finds every such function in
// the database and wants it named here:
//
//	user_by_login(login)                 ids of academy and user: logins are unique in the deployment, and the hash
//	                                     is read within the academy then
//	user_by_token(hash, at)              ids of academy, user and token, and the scope, until the token expires: a
//	                                     program sends nothing else
//	session_by_hash(hash, at)            the session of a cookie, until it expires: a cookie does not say whose it is
//	link_by_hash(hash, at)               ids of academy and user, until the link is used, taken back or expired
//	erase_audit_payloads(player, user)   how many payloads of the audit trail it erased, within the transaction's
//	                                     academy alone, and of an erased player and their
//	                                     users alone: the serving role may not change an entry
//
// # Who did what: the audit trail
//
// Every create, change and delete of a kind of record writes an entry into audit_entries when its transaction
// commits, with the record before and after. SQL beside a kind calls tx.note. Reads of a minor's record by staff are
// entries too: a read transaction remembers what it showed (tx.saw), and a moment later what came together is
// written at once (sights.go), so that no reader waits; the same user, player and kind once an hour. A killed
// program loses that moment's reads and nothing else. Bulk imports leave one entry for each player and match,
// without the involvements.
//
// The hash of an entry covers the one before and the hash of its payload, with salt ([models.AuditEntry.Seal] has
// the formula). So a payload can be erased with a person's data while the chain still verifies. On PostgreSQL the
// serving role may only add entries, and a trigger stops the owner too; on SQLite triggers do. The owner of a
// database can lift a trigger and write the whole trail anew. Only a mark that was noted elsewhere (throughline
// audit verify) shows that.
//
// # Everything kept about one person
//
// traces (personal.go) lists every table in which something about a player is kept: how it is read out, and what
// becomes of it when the player is erased ([Store.ErasePlayer]). A table that names players or users and is not
// listed fails a test. Erasing deletes what says something about a person and unlinks what the figures of others
// stand on. Afterwards a player is a number that played in certain positions, hidden from everyone, whose
// observations still count in the squad's season. The proof ([models.DataRequest]) and its entry in the trail name
// no one. SQLite's file is rewritten at once, or, while a reader holds it, as soon as that can be done: the proof
// says so until then (file_pending; rewrite.go). On PostgreSQL old row versions stay on the disk until VACUUM has
// passed, and backups hold what was erased until they are replaced: tell the person who asked.
//
// # Two records of one person
//
// [Tx.MergePlayers] moves everything that is kept about one player to another, and [Tx.UndoMerge] moves it back. The
// rows of a kind that name a player in player_id move without a word here; mergeRules (mergerules.go) says what
// becomes of the other tables of traces, and where rows of two players meet that cannot both be one person's. A test
// compares the rules with the columns and unique indexes of the database. What a merge does not move, such as the
// audit trail, stays with the id of the other record: an export and an erasure take every id that a person had
// (Tx.persons).
//
// # What readers get of others
//
// A report about a player needs the figures of the squad. The store hands them out without names to staff who may
// read the player (GroupObservations, group.go). Nothing that tells another player's figures leaves the store for
// those who may not read that player:
//
//   - A player reads publications alone (publication.go): their own trend and a band over at least
//     models.LeastOthers others, rounded as printed. Package fits makes them when a round of matches is complete and
//     that many others have new figures in it, and never for a correction. Trends, SquadSeason and OverExpected
//     answer a player from publications, and the archive holds publications instead of trends.
//   - A selector does not read players who are hidden from them, so these leave the group and the expectation of
//     carries too. Trends are fitted a second time without them (LeftOut, selectors.go), and the selector reads those.
//     Until they are made the selector reads none (TrendsWithheld).
//   - A total minus everything that is visible is the figure of who is hidden. So a selector reads no total of the
//     team in a match in which a player hidden from them took part, and no share of one; and the events of that match
//     name no player to them at all: a try of ours that alone had no name would say whose it is. The score stays: it
//     is public.
//   - Figures and trends of skills are made of grades that count, those hidden from no reader any more. So they hold
//     no grade that a reader may not see, and are the same for every reader (models.Rating.Counts).
//
// A new figure that others have a part in goes the same ways.
//
// # Earlier versions
//
// A kind that says keeps: true stores each record as it was before a change or a deletion in earlier_versions, with
// who made the change and when. Tx.Earlier reads them for callers who may read the record; a kind whose rows may have
// been for staff only says earlier: whenShared(…). They are part of the player's archive and are erased with the
// player. An erasure takes the name out of those of others' records; and when a record that its proof lists is
// edited, the text that may name the player is not kept. kept: true of its resource gives GET /{id}/earlier.
//
// A change that comes from an old version is refused as models.Stale, with models.Changed: the fields that differ, and
// who changed them when. Where versions are kept it compares with the one that the caller started from, otherwise with
// what was sent.
//
// # What keeps people safe
//
// models decides, in pure functions, and the store asks before it writes; no handler does.
//
//   - Age is models.Player.MinorOn(day), with the day of what is recorded: the match's date where there is a match.
//     A player without a birth date counts as a minor.
//   - Consent is models.Settings.Consented. The check of every kind that records play calls tx.Consented(player,
//     day, purposes…). A new kind that records how a player plays calls it with PurposeRecords; one that keeps a
//     place in a film, with what Involvement.Uses gives; one that names candidates, with PurposeSelection. It costs
//     one query a transaction where no consent is required.
//   - Selectors are narrowed in SQL by tx.shown, for every kind that declares whose record it is.
//   - A head contact is made by its mark, in the transaction of the mark, once. Unmarking and deleting the mark
//     leave it. It has no column for anything medical, and must get none.
//   - A stand-down is looked at by tx.mayAppear (one appearance), tx.mayMove (another date of a match) and the bulk
//     path.
//   - Minutes are models.MinutesLimit.Load: the fullest window of so many days over all of a player's appearances,
//     whatever the caller may read.
//   - Answers to notes have no update and no delete beyond who has seen them. LeastReaders of the staff must be able
//     to read a minor's.
//
// # Grades that coaches cannot see yet
//
// A coach's grade is hidden from other coaches until they have given theirs, and from them, selectors and players
// until its round has closed (rating.go). A RatingRound of a squad names a match or a training block and the last day
// on which grades are given. A player who has rounds in two squads for the same thing follows the last one. Grades
// without a round are hidden until models.GradesHiddenDays after their date, though coaches may give one later. That
// is one rule for everybody: from the day after, selectors read the grade, players what is shown of it, and it counts
// in figures, trends and papers. The day is that of the transaction, in UTC. No write follows from it, so trends
// remember until when their grades were shown (SquadSeason.GradedUntil) and are behind once more are. A coach could
// see the others' grades by closing a round, or grade after seeing them by opening one again; so both are the
// manager's. A self-rating is a rating too, and the player alone writes it (selfrating.go).
//
// A player never reads a coach's grade: ShownGrades has one grade of all coaches together, where two or more stand
// behind it, with the comments that coaches share (models.ShownGrade). Only the archive of a data request has every
// grade, because the law gives a person everything kept about them.
//
// A round may name the coaches who owe grades, each with position groups; others of the squad may still grade, and
// owe nothing. Readers of the same player may so read different figures, for a time or by their role. The line that
// says so (models/otherreaders.go) stands beside the figure on pages and papers, and as other_readers in JSON. It
// follows from the reader and the day alone: a line that followed from hidden grades would tell of them.
//
// The candidates of a Meeting are rows of a table of their own, replaced as a whole with their meeting, as stints
// are with their appearance: so everything kept about a player is found by the player.
//
// # Meetings, and what was known
//
// A Meeting goes step by step (models.MeetingSteps): criteria, weights and places are locked before its comparison is
// opened. Opening copies the evidence on each candidate with its revision (candidateevidence.go), one row for each
// candidacy, so that reach, consent and erasure hold for the copy as for the trends. Selectors read a second copy that
// was made without the players hidden from them. The copy has draws of each level: trends keep them with each fit
// (trend_draws), and chances of several players come from the same draws. A member of staff who opens a season report
// is remembered once a day (report_openings), and the meeting's record names those who did before the lock.
//
// # Packs of reports
//
// A pack is rows of two tables (reportpack.go): the pack, and a row for each player of the squad's season, which the
// job of reports/pack fills as it makes the reports. It is there for its maker alone, for a day, while they reach every
// player in it: each read asks again, and [Store.SweepReportPacks], which a server calls every few minutes, deletes
// what is over. Any erasure in the academy deletes every pack, because one player's report may tell of another.
//
// # Training
//
// A TrainingSession belongs to a squad, and to the season that its day falls in. Its
// Attendance has one row for each player who was recorded; RecordAttendance writes
// a whole session, all or nothing, and a row that is sent again and is the same
// stays as it is. A stand-down bars a player from contact (models.Down.Bars), as it
// bars them from matches: attendances ask when they are written, and a session
// when its day or its contact changes. Limits of minutes that count contact at
// training read both (Tx.contactOf): for a member of the squad whose attendance
// was not recorded, all of a session's contact may have been theirs.
//
// # A new record
//
// By the example of kit loans: what a player has taken home, when, and who gave it out. These are all the
// files; each step that is left out fails a test that names the file and what to write there.
//
//  1. models/kitloan.go: type KitLoan with Record first, its fields with json and limit tags (see models.Limit), and
//     Validate, which begins with f.limits("", &k). A filter, KitLoanFilter, stands beside it. A field that is one of a
//     few codes has a type with Codes (models.Coded), and Validate calls oneOf: the service publishes the codes.
//  2. migrations/sqlite/000NN_kitloans.sql and
//  3. migrations/postgres/000NN_kitloans.sql: the table, with UNIQUE (academy_id, id), references by (academy_id, …);
//     an index for its order and one for each reference; in SQLite its lines of sqlite_stat1; in PostgreSQL row-level
//     security, the policy own_academy and the GRANT, with DELETE because an erasure deletes the rows.
//  4. models/store/kitloan.go: kitLoans(), a kind: name, table, area, order, record, validate, player, users, within
//     and check, and the functions KitLoan, KitLoans, CreateKitLoan, UpdateKitLoan, DeleteKitLoan. What records how a
//     player plays asks tx.Consented in check.
//  5. models/store/registry.go: its line in kinds.
//  6. models/store/player.go: a hold, because a kit loan refers to a player. Each other kind that it refers to has one
//     too, in that kind's file; a user has none.
//  7. api/rest/kitloans.go: a resource with its filter and an example. What the list takes embeds Page and, of the
//     filters in narrow.go, those that its members allow.
//  8. api/rest/rest.go: its name in the list.
//  9. api/rest/contract_test.go: its name in the list, after what it refers to.
//  10. api/cast_test.go: its line in kinds, with its area; where it has an author, the author's member in authors.
//  11. api/rest/descriptions.json: go test ./api/rest -run TheDescriptions -update
//  12. api/testdata/access.md: go test ./api -run EverybodyReaches -update, and read what changed.
//
// To see what is missing, run
//
//	go test ./models/store -run 'Every|ServingRole|NoQueryReads|PagesOfAList'
//	go test ./api/rest -run 'TheServiceIs|EveryList|TheDescriptions'
//	go test ./api -run EverybodyReaches
//
// An area of its own is one file more: models/policy.go. A test of the record's own rules stands in
// models/store/kitloan_test.go.
//
// What follows without a word: its own player_id says whose a row is, so that selectors are shown no minor without
// consent; an export reads its rows out, and an erasure deletes them, unless traces says otherwise; every plain string
// is searched for an erased name, unless its tag is texts:"-"; its list comes in pages with sealed cursors, and tests
// that read every list, by every filter, find it.
package store
