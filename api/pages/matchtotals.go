package pages

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
)

// typedTotals is where counts come from that were typed into the grid.
const typedTotals = "typed on the match’s page"

// usualCounts are the columns of a squad that has recorded none yet.
var usualCounts = []string{"carries", "passes", "tackles_made", "tackles_missed", "ruck_arrivals", "turnovers_won",
	"penalties_conceded", "errors"}

// totalsPage is the grid of a match: a row for each player of the team sheet, a column for each count.
type totalsPage struct {
	Form    Form
	Match   models.Match
	Squad   string
	Columns []models.Count
	Rows    []totalsRow
	Choices []countChoices
	Logged  bool // some cells are counted from a log
	Mixed   bool // some of those have a total on file too
	Saved   bool
}

// totalsRow is a player's counts in a match.
type totalsRow struct {
	Player int64
	Name   string
	Shirt  string
	Was    string // the cells as the form was made from them, with a space between
	Cells  []totalsCell
	Wrong  string
	Stop   string // why the totals count for no figure
	gone   bool   // no longer on the team sheet
	totals *models.MatchTotals
	logged models.Counts
}

// totalsCell is one count of one player. What a finished log counts is shown, and not typed.
type totalsCell struct {
	Name, Label string
	Value       string
	Logged      string // as the log has it; empty if no log covers it
	OnFile      string // the total beside a log that says something else
	Wrong       string
}

// countChoices are counts of one sort, to choose columns from.
type countChoices struct {
	Label  string
	Counts []countChoice
}

type countChoice struct {
	models.Count
	Chosen bool
}

// keepsTotals refuses callers who may record no totals.
func keepsTotals(who models.Who) error {
	if who.Reach(models.Write, models.AreaPerformance) == models.ReachNone {
		return models.Errorf(models.Forbidden, "only managers and coaches keep totals")
	}
	return nil
}

func (p *Pages) totals(c *gin.Context, who models.Who) error { return p.totalsWith(c, who, Form{}) }

// totalsWith is GET /matches/:match/totals.
func (p *Pages) totalsWith(c *gin.Context, who models.Who, form Form) error {
	if err := keepsTotals(who); err != nil {
		return err
	}
	match, err := id(c, "match")
	if err != nil {
		return err
	}
	page := totalsPage{Form: form, Saved: c.Query("saved") != ""}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		if err := page.read(tx, match, form.sent); err != nil {
			return err
		}
		wish := c.Request.URL.Query()["count"]
		if form.Name != "" {
			wish = form.sent["count"]
		}
		if page.Columns = columnsOf(wish); len(page.Columns) == 0 {
			page.Columns, err = page.usual(tx)
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("totals of match %d: %w", match, err)
	}
	page.fill()
	page.choices()
	return p.render(c, form.status(), "match-totals", "Totals: "+page.Squad+" against "+page.Match.Opponent, page)
}

// columnsOf are the counts of the codes, each once, in the order of the catalogue: those of a core log first.
func columnsOf(codes []string) (columns []models.Count) {
	for _, depth := range []models.Depth{models.Core, models.Full} {
		for _, one := range models.CountCatalogue() {
			if one.Depth == depth && slices.Contains(codes, one.Code) {
				columns = append(columns, one)
			}
		}
	}
	return columns
}

// usual are the columns of a page on which none were chosen: the counts of the match's totals, or those of the squad's
// latest match that has some.
func (page *totalsPage) usual(tx *store.Tx) ([]models.Count, error) {
	had := map[string]bool{}
	for _, row := range page.Rows {
		if row.totals != nil {
			for code := range row.totals.Counts {
				had[code] = true
			}
		}
	}
	if len(had) == 0 && page.Match.SquadID != nil {
		all, err := tx.Totals(models.TotalsFilter{SeasonID: page.Match.SeasonID, SquadID: *page.Match.SquadID})
		if err != nil {
			return nil, err
		}
		for _, t := range all { // by the date of the match
			if t.MatchID != all[len(all)-1].MatchID {
				continue
			}
			for code := range t.Counts {
				had[code] = true
			}
		}
	}
	if len(had) == 0 {
		return columnsOf(usualCounts), nil
	}
	return columnsOf(slices.Collect(maps.Keys(had))), nil
}

// read reads the match, who played in it, their totals, and what logs count of them. Players of a form that was sent
// keep their row when they left the team sheet meanwhile.
func (page *totalsPage) read(tx *store.Tx, match int64, sent url.Values) (err error) {
	if page.Match, err = tx.Match(match); err != nil {
		return err
	}
	if page.Squad, err = teamOf(tx, page.Match); err != nil {
		return err
	}
	appearances, err := tx.Appearances(models.AppearanceFilter{MatchID: match})
	if err != nil {
		return err
	}
	names, err := playersNamed(tx, appearances, sent)
	if err != nil {
		return err
	}
	totals, err := tx.Totals(models.TotalsFilter{MatchID: match})
	if err != nil {
		return err
	}
	logs, err := page.logs(tx)
	if err != nil {
		return err
	}
	for _, a := range appearances {
		row := totalsRow{Player: a.PlayerID, Name: names[a.PlayerID]}
		if row.Name == "" {
			continue // erased: nothing more is recorded about them
		}
		delete(names, a.PlayerID)
		if a.Shirt != nil {
			row.Shirt = strconv.Itoa(*a.Shirt)
		}
		if i := slices.IndexFunc(totals, func(t models.MatchTotals) bool { return t.PlayerID == a.PlayerID }); i >= 0 {
			row.totals = &totals[i]
		}
		if logged := logs[a.PlayerID]; len(logged) > 0 {
			row.logged = models.Play{Match: page.Match, Appearance: a, Logs: logged}.Counted()
		}
		if a.Stop != nil {
			row.Stop = a.Stop.Words
		}
		page.Rows = append(page.Rows, row)
	}
	for player, name := range names {
		page.Rows = append(page.Rows, totalsRow{Player: player, Name: name, gone: true})
	}
	slices.SortStableFunc(page.Rows, func(a, b totalsRow) int {
		return cmp.Or(cmp.Compare(shirtOrder(a.Shirt), shirtOrder(b.Shirt)), cmp.Compare(a.Name, b.Name))
	})
	return nil
}

// teamOf is the name of the team that played a match.
func teamOf(tx *store.Tx, m models.Match) (string, error) {
	if m.SquadID == nil {
		return m.OtherTeam, nil
	}
	squad, err := tx.Squad(*m.SquadID)
	return squad.Name, err
}

// playersNamed are the names of the players who appeared, and of those for whom a form has counts.
func playersNamed(tx *store.Tx, appearances []models.Appearance, sent url.Values) (map[int64]string, error) {
	var ids []int64
	for _, a := range appearances {
		ids = append(ids, a.PlayerID)
	}
	for name, values := range sent {
		rest, cell := strings.CutPrefix(name, "c-")
		player, _, _ := strings.Cut(rest, "-")
		if n, err := strconv.ParseInt(player, 10, 64); cell && err == nil && !slices.Contains(ids, n) &&
			strings.TrimSpace(strings.Join(values, "")) != "" {
			ids = append(ids, n)
		}
	}
	names := map[int64]string{}
	if len(ids) == 0 {
		return names, nil
	}
	players, err := tx.Players(models.PlayerFilter{IDs: ids})
	for _, p := range players {
		names[p.ID] = p.Name
	}
	return names, err
}

// shirtOrder puts players without a number last.
func shirtOrder(shirt string) int {
	n, err := strconv.Atoi(shirt)
	if err != nil {
		return math.MaxInt
	}
	return n
}

// logs are the match's logs by player, with their involvements.
func (page *totalsPage) logs(tx *store.Tx) (map[int64][]models.LoggedPlay, error) {
	logs, err := tx.Logs(models.LogFilter{MatchID: page.Match.ID})
	if err != nil || len(logs) == 0 {
		return nil, err
	}
	involvements, err := tx.Involvements(models.InvolvementFilter{MatchID: page.Match.ID})
	if err != nil {
		return nil, err
	}
	all := map[int64][]models.LoggedPlay{}
	for _, l := range logs {
		play := models.LoggedPlay{Log: l}
		for _, i := range involvements {
			if i.LogID == l.ID {
				play.Involvements = append(play.Involvements, i)
			}
		}
		all[l.PlayerID] = append(all[l.PlayerID], play)
	}
	return all, nil
}

// countText is a count as it is typed; empty if it is not recorded.
func countText(counts models.Counts, code string) string {
	v, recorded := counts[code]
	if !recorded {
		return ""
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

func (row *totalsRow) onFile(code string) string {
	if row.totals == nil {
		return ""
	}
	return countText(row.totals.Counts, code)
}

func cellName(player int64, column int) string { return fmt.Sprintf("c-%d-%d", player, column) }

func rowOfTotals(player int64) string { return fmt.Sprintf("row-%d", player) }

// fill sets the cells: from what is on file, or as they were sent where the form was refused.
func (page *totalsPage) fill() {
	wrong := map[string]string{}
	for _, f := range page.Form.fields {
		wrong[f.Where] = f.Message
	}
	for i := range page.Rows {
		row := &page.Rows[i]
		var was []string
		row.Wrong = wrong[rowOfTotals(row.Player)]
		for n, column := range page.Columns {
			cell := totalsCell{Name: cellName(row.Player, n), Label: column.Label, Value: row.onFile(column.Code)}
			was = append(was, cmp.Or(cell.Value, "-"))
			if sent, typed := row.sentTo(page.Form.sent, n); typed {
				cell.Value = sent
			}
			cell.Wrong = wrong[cell.Name]
			if cell.Logged = countText(row.logged, column.Code); cell.Logged != "" && cell.Wrong == "" {
				page.Logged = true
				if cell.OnFile = row.onFile(column.Code); cell.OnFile == cell.Logged {
					cell.OnFile = ""
				}
				page.Mixed = page.Mixed || cell.OnFile != ""
			}
			row.Cells = append(row.Cells, cell)
		}
		row.Was = strings.Join(was, " ")
	}
	if len(page.Form.fields) > 0 {
		page.Form.Wrong = append([]string{"Nothing is saved yet. What you typed is still in the cells."}, page.Form.Wrong...)
	}
}

// sentTo is what was typed into a cell of a form; false if its user left the cell as it was.
func (row *totalsRow) sentTo(values url.Values, column int) (text string, typed bool) {
	name := cellName(row.Player, column)
	if !values.Has(name) {
		return "", false
	}
	text = strings.TrimSpace(values.Get(name))
	was := ""
	if all := strings.Fields(values.Get("was-" + strconv.FormatInt(row.Player, 10))); column < len(all) &&
		all[column] != "-" {
		was = all[column]
	}
	return text, text != was
}

// choices are all counts to choose columns from: what a core log has first, and what says how much was recorded last.
func (page *totalsPage) choices() {
	core, full := countChoices{Label: "Counts of a core log"}, countChoices{Label: "Counts of a full log"}
	recorded := countChoices{Label: "How many of them were looked at"}
	for _, one := range models.CountCatalogue() {
		to := &core
		switch {
		case one.Recorded:
			to = &recorded
		case one.Depth == models.Full:
			to = &full
		}
		to.Counts = append(to.Counts, countChoice{one, slices.ContainsFunc(page.Columns, func(c models.Count) bool {
			return c.Code == one.Code
		})})
	}
	page.Choices = []countChoices{core, full, recorded}
}

func totalsAddress(match int64) string { return matchAddress(match) + "/totals" }

// saveTotals is POST /matches/:match/totals: all cells that were typed, or none.
func (p *Pages) saveTotals(c *gin.Context, who models.Who, f *fields) (string, error) {
	if err := keepsTotals(who); err != nil {
		return "", err
	}
	match, err := id(c, "match")
	if err != nil {
		return "", err
	}
	columns := columnsOf(f.values["count"])
	next := url.Values{"saved": {"yes"}}
	for _, column := range columns {
		next.Add("count", column.Code)
	}
	return totalsAddress(match) + "?" + next.Encode(), p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		var page totalsPage
		if err := page.read(tx, match, f.values); err != nil {
			return err
		}
		if len(columns) == 0 {
			return models.Errorf(models.Invalid, "choose the counts to type first")
		}
		f.places, f.merges = page.place, true
		k := totalsKeeper{columns: columns, values: f.values}
		for i := range page.Rows {
			if err := k.keep(tx, match, &page.Rows[i]); err != nil {
				return err
			}
		}
		return k.err()
	})
}

// place names the player of a row in which no one cell is wrong.
func (page *totalsPage) place(where string) (control, as string) {
	for _, row := range page.Rows {
		if where == rowOfTotals(row.Player) {
			return "", row.Name
		}
	}
	return "", ""
}

// totalsKeeper writes the rows of a grid, and collects why cells are refused.
type totalsKeeper struct {
	columns []models.Count
	values  url.Values
	wrong   []models.FieldError
	stale   bool
}

func (k *totalsKeeper) refuse(where, format string, args ...any) {
	k.wrong = append(k.wrong, models.FieldError{Where: where, Message: fmt.Sprintf(format, args...)})
}

// err is why the grid is not saved.
func (k *totalsKeeper) err() error {
	switch {
	case len(k.wrong) == 0:
		return nil
	case k.stale:
		return &models.Error{Code: models.Stale, Fields: k.wrong, Message: "someone changed cells that you changed too"}
	}
	return &models.Error{Code: models.Invalid, Fields: k.wrong, Message: "the totals are not valid"}
}

// keep writes a player's row, if anything in it was typed.
func (k *totalsKeeper) keep(tx *store.Tx, match int64, row *totalsRow) error {
	before := len(k.wrong)
	counts, changed := k.typed(row)
	if !changed || len(k.wrong) > before {
		return nil
	}
	if row.gone {
		k.refuse(rowOfTotals(row.Player), "is no longer on the team sheet; put the player back on it, or clear the cells")
		return nil
	}
	t := models.MatchTotals{MatchID: match, PlayerID: row.Player, Source: typedTotals}
	if row.totals != nil {
		t = *row.totals
	}
	t.Counts = counts
	var err error
	switch {
	case len(counts) == 0:
		err = tx.DeleteMatchTotals(t.ID, t.Version)
	case t.ID != 0:
		err = tx.UpdateMatchTotals(&t)
	default:
		err = tx.CreateMatchTotals(&t)
	}
	return k.explain(row, err)
}

// typed are the counts of a row as they are to be, and whether any differs from what is on file.
func (k *totalsKeeper) typed(row *totalsRow) (models.Counts, bool) {
	counts, changed := models.Counts{}, false
	if row.totals != nil {
		maps.Copy(counts, row.totals.Counts)
	}
	for n, column := range k.columns {
		text, typed := row.sentTo(k.values, n)
		if !typed {
			continue
		}
		name, now := cellName(row.Player, n), row.onFile(column.Code)
		value, err := strconv.ParseFloat(strings.ReplaceAll(text, ",", "."), 64)
		wanted, logged := "", countText(row.logged, column.Code)
		if text != "" {
			wanted = countText(models.Counts{"": value}, "")
		}
		switch {
		case text != "" && (err != nil || math.IsNaN(value) || math.IsInf(value, 0)):
			k.refuse(name, "“%s” is not a number; write digits, such as 7, or leave the cell empty if it was not counted",
				text)
		case wanted == now: // someone else saved the same
		case k.meanwhile(row, n, now):
			k.stale = true
			k.refuse(name, "someone saved %s after you opened the page, and you typed %s; save again if yours is right",
				cmp.Or(now, "nothing"), cmp.Or(text, "nothing"))
		case logged != "":
			k.refuse(name, "a finished log counts %s, and figures use the log; put back %s", logged,
				cmp.Or(now, "an empty cell"))
		case text == "":
			delete(counts, column.Code)
			changed = true
		default:
			counts[column.Code] = value
			changed = true
		}
	}
	return counts, changed
}

// meanwhile says whether a cell was changed on file after the form was made.
func (k *totalsKeeper) meanwhile(row *totalsRow, column int, now string) bool {
	all := strings.Fields(k.values.Get("was-" + strconv.FormatInt(row.Player, 10)))
	return column < len(all) && all[column] != cmp.Or(now, "-")
}

// explain notes why a row was refused, at the cells it is about. Any other error is returned.
func (k *totalsKeeper) explain(row *totalsRow, err error) error {
	var e *models.Error
	if !errors.As(err, &e) || e.Code == models.NotFound {
		return err
	}
	if len(e.Fields) == 0 {
		k.refuse(rowOfTotals(row.Player), "%s", codesInWords(e.Message))
	}
	for _, f := range e.Fields {
		where := rowOfTotals(row.Player)
		for n, column := range k.columns {
			if f.Where == "counts."+column.Code {
				where = cellName(row.Player, n)
			}
		}
		message := codesInWords(f.Message)
		if code, of := strings.CutPrefix(f.Where, "counts."); of && where == rowOfTotals(row.Player) {
			message = strings.ToLower(models.CodeInWords(code)) + ": " + message
		}
		k.refuse(where, "%s", message)
	}
	return nil
}
