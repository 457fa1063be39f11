package pages

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"throughline/api/files"
	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
)

// squadsPage lists the squads with how many players they have in a season.
type squadsPage struct {
	Form   Form
	Season *models.Season
	Squads []squadRow
	Months []field
}

// squadRow is a squad of the list.
type squadRow struct {
	models.Squad
	Players int
	Lead    string
}

func (p *Pages) squads(c *gin.Context, who models.Who) error { return p.squadsWith(c, who, Form{}) }

// squadsWith is GET /squads.
func (p *Pages) squadsWith(c *gin.Context, who models.Who, form Form) error {
	if err := manages(who); err != nil {
		return err
	}
	page := squadsPage{Form: form, Months: months()}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		seasons, err := tx.Seasons(models.SeasonFilter{})
		if err != nil {
			return err
		}
		if page.Season, err = p.pick(tx.Who(), seasons, c.Query("season")); err != nil {
			return err
		}
		squads, err := tx.Squads(models.SquadFilter{})
		if err != nil {
			return err
		}
		names, err := tx.UserNames()
		if err != nil {
			return err
		}
		var members []models.Membership
		if page.Season != nil {
			if members, err = tx.Memberships(models.MembershipFilter{SeasonID: page.Season.ID}); err != nil {
				return err
			}
		}
		for _, s := range squads {
			lead, err := tx.LeadCoach(s.ID)
			if err != nil {
				return err
			}
			page.Squads = append(page.Squads, squadRow{s, len(playersIn(members, s.ID)), names[lead]})
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("squads: %w", err)
	}
	return p.render(c, form.status(), "squads", "Squads", page)
}

// playersIn are the players that memberships put into a squad.
func playersIn(members []models.Membership, squad int64) map[int64]bool {
	in := map[int64]bool{}
	for _, m := range members {
		if m.SquadID == squad {
			in[m.PlayerID] = true
		}
	}
	return in
}

// months are the months in which an age band's year can begin.
func months() []field {
	all := []field{{"0", "not set"}}
	for i, name := range []string{"January", "February", "March", "April", "May", "June", "July", "August", "September",
		"October", "November", "December"} {
		all = append(all, field{strconv.Itoa(i + 1), "1 " + name})
	}
	return all
}

func squadOf(f *fields) models.Squad {
	return models.Squad{Name: f.text("name"), AgeBand: f.whole("age_band"), BandMonth: f.whole("band_month"),
		ReviewWeeks: f.whole("review_weeks")}
}

// addSquad is POST /squads.
func (p *Pages) addSquad(c *gin.Context, who models.Who, f *fields) (string, error) {
	s := squadOf(f)
	if err := f.err(); err != nil {
		return "", err
	}
	err := p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error { return tx.CreateSquad(&s) })
	return squadAddress(s.ID), err
}

func squadAddress(squad int64) string { return "/squads/" + strconv.FormatInt(squad, 10) }

// squadPage is a squad in a season: its form, its players, and the forms that add some.
type squadPage struct {
	Form    Form
	Squad   models.Squad
	Season  *models.Season
	Seasons []models.Season
	Members []memberRow
	Coaches []field
	Lead    string
	Months  []field
	Preview *playersPreview
	Saved   string
}

// memberRow is a player of a squad with their time in it.
type memberRow struct {
	models.Player
	Positions   string
	From, Until *models.Date
	Left        bool
}

// playersPreview is what saving a pasted list comes to.
type playersPreview struct {
	Rows                 []plannedPlayer
	Fresh, Joins, Listed int
	Left                 []string // columns that are left out
}

// plannedPlayer is a row of a pasted list, and what becomes of it.
type plannedPlayer struct {
	Line      int
	Player    models.Player
	Positions string
	What      string
	joins     bool
	changed   bool
}

func (p *Pages) squad(c *gin.Context, who models.Who) error { return p.squadWith(c, who, Form{}) }

// squadWith is GET /squads/:squad.
func (p *Pages) squadWith(c *gin.Context, who models.Who, form Form) error {
	return p.showSquad(c, who, squadPage{Form: form, Saved: c.Query("saved")})
}

// squadID is the squad that the address names: forms call it id.
func squadID(c *gin.Context) (int64, error) {
	if c.Param("squad") != "" {
		return id(c, "squad")
	}
	return id(c, "id")
}

func (p *Pages) showSquad(c *gin.Context, who models.Who, page squadPage) error {
	if err := manages(who); err != nil {
		return err
	}
	squad, err := squadID(c)
	if err != nil {
		return err
	}
	page.Months = months()
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		if page.Squad, err = tx.Squad(squad); err != nil {
			return err
		}
		if page.Seasons, err = tx.Seasons(models.SeasonFilter{}); err != nil {
			return err
		}
		wish := cmp.Or(page.Form.sent.Get("season_id"), c.Query("season"))
		if page.Season, err = p.pick(tx.Who(), page.Seasons, wish); err != nil {
			return err
		}
		if err := page.readCoaches(tx); err != nil {
			return err
		}
		return page.readMembers(tx, who.Day(p.now()))
	})
	if err != nil {
		return err
	}
	return p.render(c, page.Form.status(), "squad", page.Squad.Name, page)
}

func (page *squadPage) readCoaches(tx *store.Tx) error {
	lead, err := tx.LeadCoach(page.Squad.ID)
	if err != nil {
		return err
	}
	names, err := tx.UserNames()
	if err != nil {
		return err
	}
	page.Lead = names[lead]
	staff, err := tx.SquadStaff(page.Squad.ID)
	for _, s := range staff {
		page.Coaches = append(page.Coaches, field{strconv.FormatInt(s.UserID, 10), names[s.UserID]})
	}
	return err
}

func (page *squadPage) readMembers(tx *store.Tx, today models.Date) error {
	if page.Season == nil {
		return nil
	}
	members, err := tx.Memberships(models.MembershipFilter{SeasonID: page.Season.ID, SquadID: page.Squad.ID})
	if err != nil {
		return err
	}
	players, err := tx.Players(models.PlayerFilter{SeasonID: page.Season.ID, SquadID: page.Squad.ID})
	if err != nil {
		return err
	}
	for _, player := range players {
		row := memberRow{Player: player, Positions: positions(player)}
		var own []models.Membership
		for _, m := range members {
			if m.PlayerID == player.ID {
				own = append(own, m)
				row.From, row.Until = &m.From, m.Until
			}
		}
		row.Left = models.Left(own, today)
		page.Members = append(page.Members, row)
	}
	return nil
}

// changeSquad is POST /squads/:id.
func (p *Pages) changeSquad(c *gin.Context, who models.Who, f *fields) (string, error) {
	squad, err := squadID(c)
	if err != nil {
		return "", err
	}
	s := squadOf(f)
	s.ID, s.Version = squad, f.version()
	if err := f.err(); err != nil {
		return "", err
	}
	return squadAddress(squad), p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		return tx.UpdateSquad(&s)
	})
}

// deleteSquad is POST /squads/:id/delete.
func (p *Pages) deleteSquad(c *gin.Context, who models.Who, f *fields) (string, error) {
	squad, err := squadID(c)
	if err != nil {
		return "", err
	}
	return "/squads", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		return tx.DeleteSquad(squad, f.version())
	})
}

// playerOf reads a player from a form. Positions are those that were chosen, the main one first.
func playerOf(f *fields) models.Player {
	f.called(map[string]string{"positions[0]": "position", "positions[1]": "position_2", "positions[2]": "position_3"})
	player := models.Player{Name: f.text("name"), KnownAs: f.text("known_as"), BornOn: f.dayIfAny("born_on"),
		Positions: []models.Position{}}
	for _, name := range []string{"position", "position_2", "position_3"} {
		position := models.Position(f.text(name))
		if position != "" && !slices.Contains(player.Positions, position) {
			player.Positions = append(player.Positions, position)
		}
	}
	return player
}

// addToSquad is POST /squads/:id/players, with one player who is new.
func (p *Pages) addToSquad(c *gin.Context, who models.Who, f *fields) (string, error) {
	squad, err := squadID(c)
	if err != nil {
		return "", err
	}
	player := playerOf(f)
	next := squadAddress(squad) + "?season=" + f.text("season_id") + "#players"
	return next, p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		season, err := seasonSent(tx, f)
		if err != nil {
			return err
		}
		if err := tx.CreatePlayer(&player); err != nil {
			return err
		}
		return tx.CreateMembership(&models.Membership{SeasonID: season.ID, SquadID: squad, PlayerID: player.ID,
			From: cmp.Or(f.day("from"), season.Starts)})
	})
}

// seasonSent is the season that a form names.
func seasonSent(tx *store.Tx, f *fields) (models.Season, error) {
	season := f.idIfAny("season_id")
	if err := f.err(); err != nil {
		return models.Season{}, err
	}
	if season == nil {
		return models.Season{}, models.Errorf(models.Invalid, "choose a season, or add the first one")
	}
	return tx.Season(*season)
}

// pastePlayers is POST /squads/:id/paste: it shows what saving the pasted list comes to, or saves all of it.
func (p *Pages) pastePlayers(c *gin.Context, who models.Who, f *fields) (string, error) {
	squad, err := squadID(c)
	if err != nil {
		return "", err
	}
	if f.text("do") == "save" {
		var plan []plannedPlayer
		err := p.store.Write(c.Request.Context(), who, func(tx *store.Tx) (err error) {
			plan, err = savePlayers(tx, f, squad)
			return err
		})
		saved := 0
		for _, one := range plan {
			if one.joins {
				saved++
			}
		}
		return squadAddress(squad) + "?season=" + f.text("season_id") + "&saved=" + strconv.Itoa(saved), err
	}
	preview := &playersPreview{}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		if err := manages(who); err != nil {
			return err
		}
		preview.Rows, preview.Left, _, err = planPlayers(tx, f, squad)
		return err
	})
	if err != nil {
		return "", err
	}
	for _, one := range preview.Rows {
		switch {
		case !one.joins:
			preview.Listed++
		case one.Player.ID == 0:
			preview.Fresh++
		default:
			preview.Joins++
		}
	}
	name := "paste-" + strconv.FormatInt(squad, 10)
	return "", p.showSquad(c, who, squadPage{Form: Form{Name: name, sent: f.values, fine: true}, Preview: preview})
}

// savePlayers saves a pasted list as a whole.
func savePlayers(tx *store.Tx, f *fields, squad int64) ([]plannedPlayer, error) {
	plan, _, season, err := planPlayers(tx, f, squad)
	if err != nil {
		return nil, err
	}
	var wrong rowsWrong
	for _, one := range plan {
		switch {
		case one.Player.ID == 0:
			err = tx.CreatePlayer(&one.Player)
		case one.changed:
			err = tx.UpdatePlayer(&one.Player)
		}
		if err == nil && one.joins {
			err = tx.CreateMembership(&models.Membership{SeasonID: season.ID, SquadID: squad, PlayerID: one.Player.ID,
				From: season.Starts})
		}
		if err := wrong.add(one.Line, err); err != nil {
			return nil, err
		}
	}
	return plan, wrong.err()
}

// atRows is an error about pasted rows as a whole, at their field.
func atRows(err error) error {
	if e, ok := asRefusal(err); ok && len(e.Fields) == 0 {
		return fieldWrong("rows", e.Message)
	}
	return err
}

// rowsWrong is everything that is wrong with the rows of a pasted table.
type rowsWrong []models.FieldError

// add notes what is wrong with a row. What is no refusal comes back, and ends the work; so does a conflict, after which
// no more can be written.
func (w *rowsWrong) add(line int, err error) error {
	if code := models.CodeOf(err); err != nil && code != models.Invalid && code != models.Conflict {
		return err
	}
	for _, words := range inWords(err) {
		*w = append(*w, models.FieldError{Where: "row " + strconv.Itoa(line), Message: words})
	}
	if models.CodeOf(err) == models.Conflict {
		return w.err()
	}
	return nil
}

// err is all of it, in the order of the rows; nil if nothing is wrong.
func (w rowsWrong) err() error {
	if len(w) == 0 {
		return nil
	}
	slices.SortStableFunc(w, func(a, b models.FieldError) int { return cmp.Compare(rowOf(a.Where), rowOf(b.Where)) })
	return &models.Error{Code: models.Invalid, Message: "nothing was saved", Fields: w}
}

// rowOf is the number of the row that a place begins with; a place without one comes first, and what counts the rest
// last.
func rowOf(where string) (n int) {
	if _, err := fmt.Sscanf(where, "row %d", &n); err != nil && where == "" {
		return math.MaxInt
	}
	return n
}

// refusedRows are what a pasted table's reader refused, so that the rest can be looked at too; an error that ends the
// work comes back.
func refusedRows(err error) (rowsWrong, error) {
	if e, refused := asRefusal(err); refused && len(e.Fields) > 0 {
		return slices.Clone(e.Fields), nil
	}
	return nil, err
}

// has says whether something is wrong in a place already.
func (w rowsWrong) has(where string) bool {
	return slices.ContainsFunc(w, func(e models.FieldError) bool { return e.Where == where })
}

// planPlayers finds out what becomes of each row of a pasted list. A player on file with the same name and birth date
// is the same player; so is the only one of that name where one of the two birth dates is not known.
func planPlayers(tx *store.Tx, f *fields, squad int64) ([]plannedPlayer, []string, models.Season, error) {
	season, err := seasonSent(tx, f)
	if err != nil {
		return nil, nil, season, err
	}
	if _, err := tx.Squad(squad); err != nil {
		return nil, nil, season, err
	}
	rows, left, err := files.ReadPlayers(f.values.Get("rows"))
	wrong, err := refusedRows(err)
	if err != nil {
		return nil, nil, season, atRows(err)
	}
	known, err := tx.Players(models.PlayerFilter{})
	if err != nil {
		return nil, nil, season, err
	}
	members, err := tx.Memberships(models.MembershipFilter{SeasonID: season.ID, SquadID: squad})
	if err != nil {
		return nil, nil, season, err
	}
	in := playersIn(members, squad)
	byName := map[string][]models.Player{}
	for _, k := range known {
		byName[foldName(k.Name)] = append(byName[foldName(k.Name)], k)
	}
	var plan []plannedPlayer
	for _, row := range rows {
		one, problem := planPlayer(row, byName[foldName(row.Player.Name)], in)
		if born := fmt.Sprintf("row %d, born", row.Line); problem != "" && !wrong.has(born) {
			wrong = append(wrong, models.FieldError{Where: born, Message: problem})
		}
		plan = append(plan, one)
	}
	return plan, left, season, wrong.err()
}

func planPlayer(row files.PastedPlayer, namesakes []models.Player, in map[int64]bool) (one plannedPlayer,
	problem string) {
	one = plannedPlayer{Line: row.Line, Player: row.Player, What: "new player", joins: true}
	defer func() { one.Positions = positions(one.Player) }()
	same, problem := sameAs(row.Player, namesakes)
	if same == nil {
		if len(namesakes) > 0 && problem == "" {
			one.What = fmt.Sprintf("new player; another %s, born %s, is on file", row.Player.Name, day(namesakes[0].BornOn))
		}
		return one, problem
	}
	one.Player = *same
	one.joins = !in[same.ID]
	one.What = map[bool]string{true: "on file already; joins the squad", false: "in the squad already"}[one.joins]
	if same.BornOn == nil && row.Player.BornOn != nil {
		one.Player.BornOn, one.changed = row.Player.BornOn, true
		one.What += "; the birth date is added"
	}
	if len(same.Positions) == 0 && len(row.Player.Positions) > 0 {
		one.Player.Positions, one.changed = row.Player.Positions, true
		one.What += "; the positions are added"
	}
	return one, ""
}

// sameAs is the player on file who is meant, nil for none, or what keeps us from telling.
func sameAs(p models.Player, namesakes []models.Player) (same *models.Player, problem string) {
	for i, k := range namesakes {
		if p.BornOn != nil && k.BornOn != nil && *p.BornOn == *k.BornOn {
			return &namesakes[i], ""
		}
	}
	unsure := len(namesakes) > 0 && (p.BornOn == nil || slices.ContainsFunc(namesakes, func(k models.Player) bool {
		return k.BornOn == nil
	}))
	switch {
	case unsure && len(namesakes) == 1:
		return &namesakes[0], ""
	case unsure:
		return nil, fmt.Sprintf("is needed: %s called %s are on file; write the birth date of the one you mean",
			paper.Plural(len(namesakes), "player", "players"), p.Name)
	}
	return nil, ""
}
