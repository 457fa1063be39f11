package store

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"throughline/models"
)

// This file says what waits in an academy: the managers' list of work. Items (items.go) wait for one user.

// workSource gives the work of one kind. Shows is the kind of record about a player that a line tells of; empty if it
// tells of none.
type workSource struct {
	kind  models.WorkKind
	shows string
	work  func(*workList) ([]models.Work, error)
}

func workSources() []workSource {
	return []workSource{
		{models.WorkHeadContacts, "head contact", (*workList).headContacts},
		{models.WorkConsents, "consent", (*workList).consents},
		{models.WorkBirthdays, "consent", (*workList).birthdays},
		{models.WorkLimits, "", (*workList).limits},
		{models.WorkReviews, "review", (*workList).reviews},
		{models.WorkMinutes, "", (*workList).minutes},
		{models.WorkLogs, "", (*workList).logs},
		{models.WorkGrades, "", (*workList).grades},
		{models.WorkAccounts, "", (*workList).accounts},
	}
}

// workList is what several kinds of work are made from, each read once.
type workList struct {
	tx      *Tx
	season  *models.Season // nil: none has begun
	today   models.Date
	members *[]memberNow
	played  *[]matchWork
}

// memberNow is a player in a squad of the season.
type memberNow struct {
	ID     int64
	Name   string
	BornOn *models.Date
	Stays  bool // in a squad today or later
}

func (m memberNow) player() models.Player {
	return models.Player{Record: models.Record{ID: m.ID}, Name: m.Name, BornOn: m.BornOn}
}

// matchWork is a match of one of the academy's squads that is over, with how far its record is.
type matchWork struct {
	ID             int64
	Date           models.Date
	Opponent       string
	Squad          string
	Played         int // how many appeared
	Untimed        int // of them without minutes
	Logged, Graded bool
}

func (m matchWork) name() string { return m.Squad + " against " + m.Opponent + ", " + m.Date.InWords() }

// WorkCounts returns how much of each kind waits in the academy on a day, in the order of the kinds. Season is the one
// that the day belongs to; nil if none has begun. It is Forbidden to callers other than managers.
func (tx *Tx) WorkCounts(season *models.Season, today models.Date) ([]models.WorkCount, error) {
	if err := tx.managesWork(); err != nil {
		return nil, err
	}
	list := &workList{tx: tx, season: season, today: today}
	all := make([]models.WorkCount, 0, len(models.Works()))
	for _, info := range models.Works() {
		one, err := list.of(info.Code)
		if err != nil {
			return nil, err
		}
		all = append(all, models.WorkCount{WorkInfo: info, N: len(one)})
	}
	return all, nil
}

// Work returns what of one kind waits in the academy on a day, the most urgent first. It is Forbidden to callers other
// than managers, and NotFound for a kind that there is not.
func (tx *Tx) Work(kind models.WorkKind, season *models.Season, today models.Date) ([]models.Work, error) {
	if err := tx.managesWork(); err != nil {
		return nil, err
	}
	if !slices.Contains(kind.Codes(), kind) {
		return nil, models.Errorf(models.NotFound, "there is no such list of work")
	}
	all, err := (&workList{tx: tx, season: season, today: today}).of(kind)
	for _, s := range workSources() {
		for _, w := range all {
			if s.kind == kind && s.shows != "" {
				tx.saw(s.shows, w.PlayerID)
			}
		}
	}
	return all, err
}

// managesWork refuses callers who do not see to the whole academy.
func (tx *Tx) managesWork() error {
	if tx.who.Reach(models.Write, models.AreaSetup) != models.ReachAcademy {
		return models.Errorf(models.Forbidden, "%s may not read the academy's list of work", tx.role())
	}
	return nil
}

func (l *workList) of(kind models.WorkKind) ([]models.Work, error) {
	for _, s := range workSources() {
		if s.kind == kind {
			return s.work(l)
		}
	}
	return nil, fmt.Errorf("work of kind %s has no source", kind)
}

// squadMembers reads the players of the season, by name.
func (l *workList) squadMembers() ([]memberNow, error) {
	if l.season == nil {
		return nil, nil
	}
	if l.members == nil {
		all, err := rows[memberNow](l.tx, "read the players of a season", `SELECT p.id, p.name, p.born_on,
			max(CASE WHEN m.until_date IS NULL OR m.until_date >= ? THEN 1 ELSE 0 END) = 1 AS stays
			FROM memberships AS m JOIN players AS p ON p.academy_id = m.academy_id AND p.id = m.player_id
			WHERE m.academy_id = ? AND m.season_id = ? AND m.deleted_at IS NULL AND p.deleted_at IS NULL
			GROUP BY p.id, p.name, p.born_on ORDER BY p.name, p.id`, l.today, l.tx.who.AcademyID, l.season.ID)
		if err != nil {
			return nil, err
		}
		l.members = &all
	}
	return *l.members, nil
}

func (l *workList) headContacts() ([]models.Work, error) {
	type contact struct {
		PlayerID       int64
		Name, Opponent string
		Date           models.Date
	}
	open, err := rows[contact](l.tx, "find head contacts not yet reported", `SELECT h.player_id, p.name, h.date,
		COALESCE(m.opponent, '') AS opponent FROM head_contacts AS h
		JOIN players AS p ON p.academy_id = h.academy_id AND p.id = h.player_id
		LEFT JOIN matches AS m ON m.academy_id = h.academy_id AND m.id = h.match_id
		WHERE h.academy_id = ? AND h.told_at IS NULL AND h.deleted_at IS NULL ORDER BY h.date, h.id`, l.tx.who.AcademyID)
	var all []models.Work
	for _, c := range open {
		said := c.Date.InWords()
		if c.Opponent != "" {
			said += ", against " + c.Opponent
		}
		all = append(all, models.Work{PlayerID: c.PlayerID, Name: c.Name, Said: said, Do: "Record who was told",
			Link: "/safety#head-contacts"})
	}
	return all, err
}

// consents are the players without a consent that the academy requires. None is required of a player who has left.
func (l *workList) consents() ([]models.Work, error) {
	rules, err := l.tx.settled()
	if err != nil || len(rules.Requires) == 0 {
		return nil, err
	}
	members, err := l.squadMembers()
	if err != nil {
		return nil, err
	}
	members = slices.DeleteFunc(slices.Clone(members), func(m memberNow) bool {
		return !m.Stays
	})
	if len(members) == 0 {
		return nil, nil
	}
	given, err := consents().find(l.tx, where{}, that("consents.purpose IN ?", rules.Requires))
	if err != nil {
		return nil, err
	}
	of := map[int64][]models.Consent{}
	for _, c := range given {
		of[c.PlayerID] = append(of[c.PlayerID], c)
	}
	labels := map[models.Purpose]string{}
	for _, p := range models.ConsentPurposes() {
		labels[p.Code] = p.Label
	}
	var all, adults []models.Work // a minor's come first: something is refused without them
	for _, m := range members {
		var lacks []string
		for _, p := range rules.Lacks(m.player(), of[m.ID], l.today) {
			lacks = append(lacks, labels[p])
		}
		if len(lacks) > 0 {
			w := models.Work{PlayerID: m.ID, Name: m.Name, Said: strings.Join(lacks, ", "),
				Do: "Enter the consent", Link: fmt.Sprintf("/players/%d#consents", m.ID)}
			if m.player().MinorOn(l.today) {
				all = append(all, w)
				continue
			}
			w.Said = "the player’s own: " + w.Said
			adults = append(adults, w)
		}
	}
	return append(all, adults...), nil
}

func (l *workList) limits() ([]models.Work, error) {
	members, err := l.squadMembers()
	if err != nil || len(members) == 0 {
		return nil, err
	}
	ids := make([]int64, len(members))
	for i, m := range members {
		ids[i] = m.ID
	}
	loads, err := l.tx.LoadsNow(l.season.ID, l.today, ids)
	if err != nil {
		return nil, err
	}
	var over, near []models.Work
	for _, m := range members {
		var words []string
		passed := false
		for _, load := range loads[m.ID] {
			if load.WarningNow != models.LoadWithin {
				words = append(words, load.WordsNow)
				passed = passed || load.WarningNow == models.LoadOver
			}
		}
		w := models.Work{PlayerID: m.ID, Name: m.Name, Said: strings.Join(words, "; "), Do: "Open the player",
			Link: fmt.Sprintf("/players/%d", m.ID)}
		switch {
		case passed:
			over = append(over, w)
		case len(words) > 0:
			near = append(near, w)
		}
	}
	return append(over, near...), nil
}

// reviews are those that are overdue, the longest first. Between seasons no review is due.
func (l *workList) reviews() ([]models.Work, error) {
	if l.season == nil || !l.season.Has(l.today) {
		return nil, nil
	}
	cycle, err := l.tx.ReviewCycleOn(models.ReviewCycleFilter{}, l.today)
	if err != nil {
		return nil, err
	}
	cycle = slices.DeleteFunc(cycle, func(d models.DueReview) bool { return d.Status != models.ReviewOverdue })
	if len(cycle) == 0 {
		return nil, nil
	}
	slices.SortStableFunc(cycle, func(a, b models.DueReview) int { return b.OverdueDays - a.OverdueDays })
	members, err := l.squadMembers()
	if err != nil {
		return nil, err
	}
	names := map[int64]string{}
	for _, m := range members {
		names[m.ID] = m.Name
	}
	staff, err := l.tx.UserNames()
	var all []models.Work
	for _, d := range cycle {
		days := "1 day"
		if d.OverdueDays != 1 {
			days = fmt.Sprintf("%d days", d.OverdueDays)
		}
		said := days + " overdue"
		if len(d.By) == 1 && staff[d.By[0]] != "" {
			said += "; " + staff[d.By[0]] + " writes it"
		}
		all = append(all, models.Work{PlayerID: d.PlayerID, Name: names[d.PlayerID], Said: said, Do: "Write the review",
			Link: d.Address()})
	}
	return all, err
}

// matches reads the matches that are over, the latest first.
func (l *workList) matches() ([]matchWork, error) {
	if l.season == nil {
		return nil, nil
	}
	if l.played == nil {
		all, err := rows[matchWork](l.tx, "find what matches lack", `SELECT m.id, m.date, m.opponent, s.name AS squad,
			(SELECT count(*) FROM appearances AS a WHERE a.academy_id = m.academy_id AND a.match_id = m.id
				AND a.deleted_at IS NULL) AS played,
			(SELECT count(*) FROM appearances AS a WHERE a.academy_id = m.academy_id AND a.match_id = m.id
				AND a.deleted_at IS NULL AND a.minutes_not_recorded) AS untimed,
			EXISTS (SELECT 1 FROM logs AS g WHERE g.academy_id = m.academy_id AND g.match_id = m.id AND g.finished
				AND g.deleted_at IS NULL) AS logged,
			EXISTS (SELECT 1 FROM ratings AS r WHERE r.academy_id = m.academy_id AND r.match_id = m.id AND NOT r.self
				AND r.deleted_at IS NULL) AS graded
			FROM matches AS m JOIN squads AS s ON s.academy_id = m.academy_id AND s.id = m.squad_id
			WHERE m.academy_id = ? AND m.season_id = ? AND m.date < ? AND m.deleted_at IS NULL
			ORDER BY m.date DESC, m.id DESC`, l.tx.who.AcademyID, l.season.ID, l.today)
		if err != nil {
			return nil, err
		}
		l.played = &all
	}
	return *l.played, nil
}

// lacking are the matches that lack something, worded by said; an empty text leaves a match out.
func (l *workList) lacking(do, link string, said func(matchWork) string) ([]models.Work, error) {
	matches, err := l.matches()
	var all []models.Work
	for _, m := range matches {
		if words := said(m); words != "" {
			all = append(all, models.Work{Name: m.name(), Said: words, Do: do, Link: fmt.Sprintf(link, m.ID)})
		}
	}
	return all, err
}

func (l *workList) minutes() ([]models.Work, error) {
	return l.lacking("Enter the team sheet", "/matches/%d#sheet", func(m matchWork) string {
		switch {
		case m.Played == 0:
			return "no team sheet yet"
		case m.Untimed == 1:
			return "minutes of 1 player not recorded"
		case m.Untimed > 1:
			return fmt.Sprintf("minutes of %d players not recorded", m.Untimed)
		}
		return ""
	})
}

// logs are the matches without a log. One without a team sheet has to wait for that: only who appeared can be logged.
func (l *workList) logs() ([]models.Work, error) {
	return l.lacking("Log a player", "/logging?match=%d", func(m matchWork) string {
		if m.Played == 0 || m.Logged {
			return ""
		}
		return "no finished log"
	})
}

// grades are the matches without a coach's grade. As with logs, the team sheet comes first. There are none in a season
// in which coaches grade training blocks alone.
func (l *workList) grades() ([]models.Work, error) {
	matches, err := l.matches()
	if err != nil || l.season == nil {
		return nil, err
	}
	if !slices.ContainsFunc(matches, func(m matchWork) bool { return m.Graded }) {
		blocks, err := l.onlyBlocks()
		if err != nil || blocks {
			return nil, err
		}
	}
	return l.lacking("Grade the players", "/matches/%d/grades", func(m matchWork) string {
		if m.Played == 0 || m.Graded {
			return ""
		}
		return "no coach’s grade"
	})
}

// onlyBlocks says whether the season's rating rounds are all for training blocks, and there is one; or, without a
// round, whether a coach has graded a block.
func (l *workList) onlyBlocks() (bool, error) {
	type asked struct{ Blocks, Matches, Graded bool }
	found, err := rows[asked](l.tx, "find what coaches grade", `SELECT
		EXISTS (SELECT 1 FROM rating_rounds AS r WHERE r.academy_id = ? AND r.season_id = ? AND r.match_id IS NULL
			AND r.deleted_at IS NULL) AS blocks,
		EXISTS (SELECT 1 FROM rating_rounds AS r WHERE r.academy_id = ? AND r.season_id = ? AND r.match_id IS NOT NULL
			AND r.deleted_at IS NULL) AS matches,
		EXISTS (SELECT 1 FROM ratings AS g WHERE g.academy_id = ? AND g.match_id IS NULL AND g.date BETWEEN ? AND ?
			AND NOT g.self AND g.deleted_at IS NULL) AS graded`,
		l.tx.who.AcademyID, l.season.ID, l.tx.who.AcademyID, l.season.ID, l.tx.who.AcademyID, l.season.Starts,
		l.season.Ends)
	if err != nil || len(found) == 0 {
		return false, err
	}
	return !found[0].Matches && (found[0].Blocks || found[0].Graded), nil
}

func (l *workList) accounts() ([]models.Work, error) {
	type user struct {
		ID        int64
		Name      string
		Role      models.Role
		ExpiresAt *time.Time
	}
	waiting, err := rows[user](l.tx, "find users who have not joined", `SELECT u.id, u.name, u.role, k.expires_at
		FROM users AS u LEFT JOIN links AS k ON k.academy_id = u.academy_id AND k.user_id = u.id AND k.used_at IS NULL
		AND k.deleted_at IS NULL
		WHERE u.academy_id = ? AND u.password_hash = '' AND u.deleted_at IS NULL ORDER BY u.name, u.id`,
		l.tx.who.AcademyID)
	var all []models.Work
	for _, u := range waiting {
		said, do := string(u.Role)+"; ", "Make a new link"
		switch {
		case u.ExpiresAt == nil:
			said += "has no link"
		case u.ExpiresAt.After(l.tx.now):
			said, do = said+"the link works until "+models.DateOf(l.tx.who.Local(*u.ExpiresAt)).InWords(), "Open the user"
		default:
			said += "the link ended on " + models.DateOf(l.tx.who.Local(*u.ExpiresAt)).InWords()
		}
		all = append(all, models.Work{Name: u.Name, Said: said, Do: do, Link: fmt.Sprintf("/people#person-%d", u.ID)})
	}
	return all, err
}
