package pages

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/api/files"
	"throughline/models"
	"throughline/models/store"
)

// The lines of a team sheet's form: a squad of a match day, and room for those who came back on.
const (
	matchDaySquad = 23
	spareLines    = 3
	mostLines     = 60
)

// teamSheet is who played in a match, as lines to type into.
type teamSheet struct {
	Lines   []sheetLine
	Names   []string // of players, to choose from
	Was     string   // which records the form was made from
	Length  int      // of the match, in minutes
	Here    int      // how many players are on file
	Outside []field  // players who are not of the squad, to choose a guest from
	filed   []sheetLine
	players map[string][]models.Player
}

// sheetLine is a player's time on the pitch, as typed.
type sheetLine struct {
	Number                           int
	Shirt, Player, On, Off, Position string
	Kept                             string // the id of an appearance whose minutes came without times
	Minutes                          string // what is on file
	player                           int64
}

func (l sheetLine) empty() bool { return l.Shirt+l.Player+l.On+l.Off+l.Position == "" }

// readSheet reads the team sheet that is on file, and who can be on it.
func readSheet(tx *store.Tx, m models.Match) (teamSheet, error) {
	s := teamSheet{Length: m.FullMatch(), players: map[string][]models.Player{}}
	players, err := tx.Players(models.PlayerFilter{})
	if err != nil {
		return s, err
	}
	byID := map[int64]string{}
	for _, p := range players {
		s.players[foldName(p.Name)] = append(s.players[foldName(p.Name)], p)
	}
	for _, p := range players {
		byID[p.ID] = s.nameOf(p)
		s.players[foldName(byID[p.ID])] = appendPlayer(s.players[foldName(byID[p.ID])], p)
	}
	in := map[int64]bool{}
	if m.SquadID != nil {
		members, err := tx.Memberships(models.MembershipFilter{SeasonID: m.SeasonID, SquadID: *m.SquadID})
		if err != nil {
			return s, err
		}
		in = playersIn(members, *m.SquadID)
	}
	all, err := tx.Appearances(models.AppearanceFilter{MatchID: m.ID})
	if err != nil {
		return s, err
	}
	s.Here, s.Was = len(all), fingerprint(all)
	for _, a := range all {
		in[a.PlayerID] = true
		if byID[a.PlayerID] == "" { // of a squad that the reader does not work with
			name := fmt.Sprintf("Guest, player %d", a.PlayerID)
			byID[a.PlayerID] = name
			s.players[foldName(name)] = []models.Player{{Record: models.Record{ID: a.PlayerID}, Name: name}}
		}
	}
	for _, p := range players {
		if in[p.ID] || m.SquadID == nil {
			s.Names = append(s.Names, byID[p.ID])
		} else {
			s.Outside = append(s.Outside, field{strconv.FormatInt(p.ID, 10), byID[p.ID]})
		}
	}
	for _, a := range all {
		s.filed = append(s.filed, linesOf(a, byID[a.PlayerID], m)...)
	}
	return s, nil
}

func appendPlayer(all []models.Player, p models.Player) []models.Player {
	if slices.ContainsFunc(all, func(o models.Player) bool { return o.ID == p.ID }) {
		return all
	}
	return append(all, p)
}

// nameOf is a player's name as a team sheet has it: with the birth date where two players have the name.
func (s *teamSheet) nameOf(p models.Player) string {
	if len(s.players[foldName(p.Name)]) > 1 && p.BornOn != nil {
		return p.Name + ", born " + string(*p.BornOn)
	}
	return p.Name
}

// fingerprint says which records a form of a team sheet was made from.
func fingerprint(all []models.Appearance) string {
	var parts []string
	for _, a := range all {
		parts = append(parts, fmt.Sprintf("%d.%d", a.ID, a.Version))
	}
	slices.Sort(parts)
	return strings.Join(parts, " ")
}

// linesOf are the lines of an appearance: one for each stint.
func linesOf(a models.Appearance, name string, m models.Match) (lines []sheetLine) {
	line := sheetLine{Player: name, Position: a.Position.Label(), player: a.PlayerID, Minutes: minutesInWords(a)}
	if a.Shirt != nil {
		line.Shirt = strconv.Itoa(*a.Shirt)
	}
	if len(a.Stints) == 0 {
		line.Kept = strconv.FormatInt(a.ID, 10)
		return []sheetLine{line}
	}
	for i, stint := range a.Stints {
		one := line
		one.On, one.Off = minuteOf(stint.On), minuteOf(stint.Off)
		if stint.Off.Second >= m.FullMatch()*60 {
			one.Off = ""
		}
		if stint.Position != "" {
			one.Position = stint.Position.Label()
		}
		if i > 0 {
			one.Minutes = ""
		}
		lines = append(lines, one)
	}
	return lines
}

func minutesInWords(a models.Appearance) string {
	if a.MinutesNotRecorded {
		return "not recorded"
	}
	return strconv.FormatFloat(float64(int(a.Minutes*10+0.5))/10, 'f', -1, 64)
}

// minuteOf is a clock as a team sheet has it: minutes, with seconds only where there are some.
func minuteOf(c models.Clock) string {
	if c.Second%60 == 0 {
		return strconv.Itoa(c.Second / 60)
	}
	return c.Time()
}

// fill sets the lines of the form, with empty ones up to a whole squad of a match day.
func (s *teamSheet) fill(lines []sheetLine) {
	s.Lines = slices.Clone(lines)
	for len(s.Lines) < matchDaySquad || len(s.Lines) < len(lines)+spareLines && len(s.Lines) < mostLines {
		s.Lines = append(s.Lines, sheetLine{})
	}
	for i := range s.Lines {
		s.Lines[i].Number = i + 1
	}
}

// sheetPlaces says which cell of the form a fault is in: "line 3, on and off" is in the first of both.
func sheetPlaces(where string) (control, as string) {
	line, column, _ := strings.Cut(strings.TrimPrefix(where, "line "), ", ")
	if _, err := strconv.Atoi(line); err != nil || column == "" {
		return "", ""
	}
	column, _, _ = strings.Cut(column, " ")
	return column + "-" + line, ""
}

// lineOf is the number of the line that a place begins with; 0 for a place without one.
func lineOf(where string) (n int) {
	if _, err := fmt.Sscanf(where, "line %d", &n); err != nil {
		return 0
	}
	return n
}

// linesSent are the lines of a form that was sent, empty ones among them, so that each error stays beside its line.
func linesSent(values url.Values) (lines []sheetLine) {
	last := 0
	for n := 1; n <= mostLines; n++ {
		at := "-" + strconv.Itoa(n)
		line := sheetLine{Number: n, Kept: strings.TrimSpace(values.Get("kept" + at))}
		for name, cell := range map[string]*string{"shirt": &line.Shirt, "player": &line.Player, "on": &line.On,
			"off": &line.Off, "position": &line.Position} {
			*cell = strings.TrimSpace(values.Get(name + at))
		}
		lines = append(lines, line)
		if !line.empty() {
			last = n
		}
	}
	return lines[:last]
}

// saveSheet is POST /matches/:match/sheet: it fills the form from pasted rows, or saves the sheet as a whole.
func (p *Pages) saveSheet(c *gin.Context, who models.Who, f *fields) (string, error) {
	if f.text("do") == "fill" {
		return "", p.fillSheet(c, who, f)
	}
	f.places = sheetPlaces
	next, err := p.onMatch(c, who, func(tx *store.Tx, m models.Match) error {
		sheet, err := readSheet(tx, m)
		if err != nil {
			return err
		}
		if sheet.Was != f.values.Get("was") {
			return staleSheet(sheet)
		}
		plan, err := sheet.plan(m, linesSent(f.values))
		if err != nil {
			return err
		}
		return replaceSheet(tx, m, plan)
	})
	return next + "#sheet", err
}

// fillSheet shows the form filled from pasted rows. Nothing is saved yet.
func (p *Pages) fillSheet(c *gin.Context, who models.Who, f *fields) error {
	rows, left, err := files.ReadTeamSheet(f.values.Get("rows"))
	wrong, err := refusedRows(err)
	if err != nil {
		return atRows(err)
	}
	if len(rows) > mostLines {
		return models.Errorf(models.Invalid, "%d rows are too many; a team sheet has at most %d", len(rows), mostLines)
	}
	match, err := id(c, "match")
	if err != nil {
		return err
	}
	lines := make([]sheetLine, len(rows))
	for i, r := range rows {
		lines[i] = sheetLine{Number: i + 1, Shirt: r.Shirt, Player: r.Player, On: r.On, Off: r.Off, Position: r.Position}
	}
	form := Form{Name: "sheet", sent: f.values, fine: true}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		m, err := tx.Match(match)
		if err != nil {
			return err
		}
		sheet, err := readSheet(tx, m)
		if err != nil {
			return err
		}
		_, err = sheet.plan(m, lines)
		return err
	})
	refused := map[int]bool{} // lines with a cell that was refused as pasted
	for i, r := range rows {
		refused[i+1] = slices.ContainsFunc(wrong, func(e models.FieldError) bool { return rowOf(e.Where) == r.Line })
	}
	if e, ok := refusal(err); ok {
		for _, one := range e.Fields {
			if !refused[lineOf(one.Where)] {
				wrong = append(wrong, one)
			}
		}
		err = nil
	}
	if len(wrong) > 0 {
		err = &models.Error{Code: models.Invalid, Message: "the team sheet was not saved", Fields: wrong}
	}
	if e, ok := refusal(err); ok {
		form.fine = false
		form.take(e, sheetPlaces)
		refuse(c, form)
	} else if err != nil {
		return err
	}
	return p.showMatch(c, who, form, lines, left...)
}

// staleSheet says what stands on file now, because someone changed the team sheet since the form was made.
func staleSheet(now teamSheet) error {
	var on []string
	for _, l := range now.filed {
		on = append(on, strings.TrimSpace(fmt.Sprintf("%s %s %s–%s", l.Shirt, l.Player, l.On, l.Off)))
	}
	words := "nothing"
	if len(on) > 0 {
		words = strings.Join(on, "; ")
	}
	return models.Errorf(models.Stale, "This team sheet was changed after you opened the page, so yours was not saved. "+
		"What you sent is still in the form. On file now: %s. If yours is still right, send it again.", words)
}

// plan is what the lines of a team sheet come to, an appearance for each player.
func (s *teamSheet) plan(m models.Match, lines []sheetLine) ([]models.Appearance, error) {
	var all []models.Appearance
	var wrong []models.FieldError
	at := map[int64]int{} // where a player's appearance is
	refuse := func(line sheetLine, column, format string, args ...any) {
		wrong = append(wrong, models.FieldError{Where: fmt.Sprintf("line %d, %s", line.Number, column),
			Message: fmt.Sprintf(format, args...)})
	}
	firstLine := map[int64]sheetLine{}
	for i, line := range lines {
		if line.Number == 0 {
			line.Number = i + 1
		}
		if line.empty() {
			continue
		}
		player, problem := s.find(line.Player)
		if problem != "" {
			refuse(line, "player", "%s", problem)
			continue
		}
		one, stint, problems := line.read(m)
		for _, p := range problems {
			refuse(line, p.Where, "%s", p.Message)
		}
		if stint == nil && line.Kept == "" {
			continue // on the bench all match
		}
		n, there := at[player.ID]
		if !there {
			n = len(all)
			at[player.ID], firstLine[player.ID] = n, line
			one.MatchID, one.PlayerID = m.ID, player.ID
			all = append(all, one)
		} else if one.Shirt != nil && all[n].Shirt != nil && *one.Shirt != *all[n].Shirt {
			refuse(line, "shirt", "%s wears %d in line %d; give the player one number", player.Name, *all[n].Shirt,
				firstLine[player.ID].Number)
		}
		if stint != nil {
			all[n].Stints = append(all[n].Stints, *stint)
			all[n].MinutesNotRecorded = false
		}
	}
	before := map[int]bool{} // lines with a finding: what follows from it is not told
	for _, one := range wrong {
		before[lineOf(one.Where)] = true
	}
	for _, one := range s.check(m, all, firstLine) {
		if !before[lineOf(one.Where)] {
			wrong = append(wrong, one)
		}
	}
	slices.SortStableFunc(wrong, func(a, b models.FieldError) int { return cmp.Compare(lineOf(a.Where), lineOf(b.Where)) })
	if wrong != nil {
		return nil, &models.Error{Code: models.Invalid, Message: "the team sheet was not saved", Fields: wrong}
	}
	return all, nil
}

// check completes appearances and says what their own rules find wrong.
func (s *teamSheet) check(m models.Match, all []models.Appearance, lines map[int64]sheetLine) (
	wrong []models.FieldError) {
	worn := map[int]int64{}
	started := 0
	for i := range all {
		a, line := &all[i], lines[all[i].PlayerID]
		slices.SortFunc(a.Stints, func(x, y models.Stint) int { return x.On.Compare(y.On) })
		refuse := func(column, message string) {
			wrong = append(wrong, models.FieldError{Where: fmt.Sprintf("line %d, %s", line.Number, column), Message: message})
		}
		if len(a.Stints) > 0 {
			starts := a.Stints[0].On.Second == 0
			a.Started = &starts
			if e, ok := refusal(a.ValidateIn(m)); ok {
				for _, f := range e.Fields {
					refuse("on and off", f.Message)
				}
			}
		}
		if a.Started != nil && *a.Started {
			if started++; started == models.LawPlayersASide+1 {
				refuse("on", fmt.Sprintf("this is player number %d who starts; at most %d start. Write the minute in which each "+
					"replacement came on", started, models.LawPlayersASide))
			}
		}
		if a.Shirt == nil {
			continue
		}
		if other, twice := worn[*a.Shirt]; twice {
			refuse("shirt", fmt.Sprintf("%d is worn in line %d already; give each player a different number", *a.Shirt,
				lines[other].Number))
		}
		worn[*a.Shirt] = a.PlayerID
	}
	return wrong
}

// find finds the player of a name.
func (s *teamSheet) find(name string) (p models.Player, problem string) {
	if name == "" {
		return p, "is empty; write the player's name, or clear the line"
	}
	found := s.players[foldName(name)]
	switch len(found) {
	case 1:
		return found[0], ""
	case 0:
		near, least := "", -1
		for _, known := range s.Names {
			if d := files.Slips(foldName(name), foldName(known)); least < 0 || d < least {
				near, least = known, d
			}
		}
		problem = fmt.Sprintf("no player “%s” is on file", name)
		if near != "" {
			problem += fmt.Sprintf("; did you mean %s? Correct the name, or", near)
		} else {
			problem += ". Correct the name, or"
		}
		return p, problem + " add the player to the squad first; a manager can add a guest"
	}
	return p, fmt.Sprintf("%d players are called %s; choose one from the list, with the birth date", len(found), name)
}

// read reads the cells of a line: no stint for a replacement who stayed on the bench.
func (l sheetLine) read(m models.Match) (a models.Appearance, stint *models.Stint, wrong []models.FieldError) {
	refuse := func(column, format string, args ...any) {
		wrong = append(wrong, models.FieldError{Where: column, Message: fmt.Sprintf(format, args...)})
	}
	bench := false
	if l.Shirt != "" {
		n, err := strconv.Atoi(l.Shirt)
		if err != nil || n < 1 || n > 99 {
			refuse("shirt", "“%s” is not a shirt number; write 1 to 99", l.Shirt)
		} else {
			a.Shirt, bench = &n, n > models.LawPlayersASide
		}
	}
	switch position, ok := files.PositionIn(l.Position); {
	case ok:
		a.Position = position
	case l.Position != "":
		refuse("position", "“%s” is not a position; choose one from the list", l.Position)
	case l.Kept == "" && a.Shirt != nil:
		a.Position, _ = files.PositionIn(l.Shirt)
	}
	if l.On == "" && l.Off == "" && (bench || l.Kept != "") {
		return a, nil, wrong
	}
	s := models.Stint{On: models.Clock{Half: 1}, Off: models.Clock{Half: m.Halves, Second: m.FullMatch() * 60},
		Position: a.Position}
	if second, ok := minuteIn(l.On); l.On != "" && !ok {
		refuse("on", "“%s” is not a minute of the match; write 52, or 52:30", l.On)
	} else if l.On != "" {
		s.On = clockAt(second, m, false)
	} else if bench {
		refuse("on", "is empty; write the minute in which the replacement came on")
	}
	if second, ok := minuteIn(l.Off); l.Off != "" && !ok {
		refuse("off", "“%s” is not a minute of the match; write 52, or 52:30, or leave it empty for the end", l.Off)
	} else if l.Off != "" {
		s.Off = clockAt(second, m, true)
	}
	return a, &s, wrong
}

// minuteIn reads a minute of the match, such as 52 or 52:30, as seconds.
func minuteIn(text string) (second int, ok bool) {
	minutes, seconds, both := strings.Cut(strings.TrimRight(text, "'’"), ":")
	m, err := strconv.ParseUint(minutes, 10, 8)
	s := uint64(0)
	if err == nil && both {
		s, err = strconv.ParseUint(seconds, 10, 8)
	}
	return int(60*m + s), err == nil && s <= 59
}

// clockAt is a moment of regular time as a match clock. What lies between two halves ends the earlier one where a
// player goes off, and begins the later one where a player comes on.
func clockAt(second int, m models.Match, off bool) models.Clock {
	half := m.HalfMinutes * 60
	n := second/half + 1
	if off && second > 0 && second%half == 0 {
		n--
	}
	return models.Clock{Half: min(n, m.Halves), Second: second}
}

// refusal is what a *models.Error that names fields says.
func refusal(err error) (*models.Error, bool) {
	e, ok := asRefusal(err)
	return e, ok && len(e.Fields) > 0
}

// replaceSheet makes the appearances of a match those of a plan. Players who are no longer on it leave; those whose
// number changes lay it down first, so that two can swap.
func replaceSheet(tx *store.Tx, m models.Match, plan []models.Appearance) error {
	now, err := tx.Appearances(models.AppearanceFilter{MatchID: m.ID})
	if err != nil {
		return err
	}
	before := map[int64]models.Appearance{}
	for _, a := range now {
		i := slices.IndexFunc(plan, func(p models.Appearance) bool { return p.PlayerID == a.PlayerID })
		if i < 0 {
			if err := tx.DeleteAppearance(a.ID, a.Version); err != nil {
				return err
			}
			continue
		}
		if a.Shirt != nil && (plan[i].Shirt == nil || *plan[i].Shirt != *a.Shirt) {
			a.Shirt = nil
			if err := tx.UpdateAppearance(&a); err != nil {
				return err
			}
		}
		before[a.PlayerID] = a
	}
	for _, a := range plan {
		old, there := before[a.PlayerID]
		if !there {
			if len(a.Stints) == 0 {
				a.MinutesNotRecorded = true
			}
			if err := tx.CreateAppearance(&a); err != nil {
				return err
			}
			continue
		}
		a.Record = old.Record
		if len(a.Stints) == 0 { // the minutes came without times, and stay
			a.Minutes, a.MinutesNotRecorded, a.Started = old.Minutes, old.MinutesNotRecorded, old.Started
		}
		if sameAppearance(old, a) {
			continue
		}
		if err := tx.UpdateAppearance(&a); err != nil {
			return err
		}
	}
	return nil
}

func sameAppearance(a, b models.Appearance) bool {
	same := func(x, y *int) bool { return x == nil && y == nil || x != nil && y != nil && *x == *y }
	return same(a.Shirt, b.Shirt) && a.Position == b.Position && (a.Started == nil) == (b.Started == nil) &&
		(a.Started == nil || *a.Started == *b.Started) && slices.EqualFunc(a.Stints, b.Stints,
		func(x, y models.Stint) bool { return x.On == y.On && x.Off == y.Off && x.Position == y.Position })
}
