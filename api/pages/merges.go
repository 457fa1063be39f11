package pages

import (
	"fmt"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
)

// mergesPage is where a manager finds two records of one person: those that look alike, any two by name, and the
// merges that were done.
type mergesPage struct {
	Form    Form
	Alike   []alikeRow
	Players []field
	First   string // the record that the reader came from, if any
	Done    []mergeRow
}

// alikeRow are two records that may be one person's.
type alikeRow struct {
	Player, Other models.Player
	Squads        [2]string
	Because       string
}

// mergeRow is a merge that was done.
type mergeRow struct {
	models.PlayerMerge
	By, On, Undone string
}

// mergePage shows two records side by side before they are merged.
type mergePage struct {
	Form     Form
	Plan     models.MergePlan
	Facts    []mergeFact
	Refused  []string
	Settled  []string
	UndoDays int
}

// mergeFact is a line of the comparison.
type mergeFact struct{ Title, Player, Other string }

func (p *Pages) registerMerges(router *gin.Engine) {
	router.GET("/merges", p.known(p.merges))
	router.GET("/merges/compare", p.known(p.compareRecords))
	router.POST("/merges", p.sent("merge", p.compareWith, p.mergeRecords))
	router.POST("/merges/:id/undo", p.sent("undo", p.mergesWith, p.undoMerge))
}

func (p *Pages) merges(c *gin.Context, who models.Who) error { return p.mergesWith(c, who, Form{}) }

// mergesWith is GET /merges.
func (p *Pages) mergesWith(c *gin.Context, who models.Who, form Form) error {
	if err := mayMerge(who); err != nil {
		return err
	}
	page := mergesPage{Form: form, First: c.Query("player"), Players: []field{{"", "choose"}}}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		players, err := tx.Players(models.PlayerFilter{})
		if err != nil {
			return err
		}
		for _, one := range players {
			label := one.Name
			if one.BornOn != nil {
				label += ", born " + day(one.BornOn)
			}
			page.Players = append(page.Players, field{strconv.FormatInt(one.ID, 10), label})
		}
		found, err := p.found(tx, players)
		if err != nil {
			return err
		}
		page.Alike = alikeAmong(players, found)
		return page.readDone(tx)
	})
	if err != nil {
		return fmt.Errorf("merges: %w", err)
	}
	return p.render(c, form.status(), "merges", "Duplicate records", page)
}

func mayMerge(who models.Who) error {
	if who.Reach(models.Write, models.AreaMerges) != models.ReachAcademy {
		return models.Errorf(models.Forbidden, "only managers merge the records of players")
	}
	return nil
}

// mostPairs is how many pairs that look alike the page lists.
const mostPairs = 30

// alikeAmong are the pairs of players that look alike, with the squads that were found for them.
func alikeAmong(players []models.Player, found []foundPlayer) (all []alikeRow) {
	names := make([]string, len(players))
	for i := range players {
		names[i] = strings.Join(strings.Fields(folded(players[i].Name)), " ")
	}
	for i := range players {
		for k := i + 1; k < len(players) && len(all) < mostPairs; k++ {
			if because := models.Alike(players[i], players[k], names[i], names[k]); because != "" {
				all = append(all, alikeRow{players[i], players[k], [2]string{found[i].Squads, found[k].Squads}, because})
			}
		}
	}
	return all
}

// readDone lists the merges that were done, the latest first.
func (page *mergesPage) readDone(tx *store.Tx) error {
	all, err := tx.PlayerMerges()
	if err != nil {
		return err
	}
	names, err := tx.UserNames()
	if err != nil {
		return err
	}
	for _, m := range slices.Backward(all) {
		row := mergeRow{PlayerMerge: m, By: "the console", On: dayOf(m.CreatedAt)}
		if m.MergedBy != nil {
			row.By = names[*m.MergedBy]
		}
		if m.UndoneAt != nil {
			row.Undone = dayOf(*m.UndoneAt)
		}
		page.Done = append(page.Done, row)
	}
	return nil
}

func (p *Pages) compareRecords(c *gin.Context, who models.Who) error {
	return p.compareWith(c, who, Form{})
}

// compareWith is GET /merges/compare: ?player= is the record that would stay, ?other= the one that would go into it.
func (p *Pages) compareWith(c *gin.Context, who models.Who, form Form) error {
	if err := mayMerge(who); err != nil {
		return err
	}
	of := func(name string) int64 {
		n, _ := strconv.ParseInt(c.DefaultQuery(name, form.sent.Get(name)), 10, 64)
		return n
	}
	player, other := of("player"), of("other")
	if player == 0 || other == 0 || player == other {
		return p.mergesWith(c, who, Form{Name: "compare", Wrong: []string{"Choose two different records of one person."},
			sent: url.Values{"player": {strconv.FormatInt(player, 10)}, "other": {strconv.FormatInt(other, 10)}}})
	}
	page := mergePage{Form: form, UndoDays: models.MergeUndoDays}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		page.Plan, err = tx.MergePlan(player, other)
		return err
	})
	if err != nil {
		return err
	}
	page.compare()
	if page.Form.Name != "" && models.CodeOf(page.Plan.Refusal()) == models.Conflict {
		page.Form.Wrong = nil // the page says it, point by point
	}
	return p.render(c, form.status(), "merge", "Compare two records", page)
}

// compare sets the two records side by side.
func (page *mergePage) compare() {
	a, b := page.Plan.Player, page.Plan.Other
	positions := func(p models.Player) string {
		var all []string
		for _, at := range p.Positions {
			all = append(all, at.Label())
		}
		return strings.Join(all, ", ")
	}
	add := func(title, a, b string) {
		if a != "" || b != "" {
			page.Facts = append(page.Facts, mergeFact{title, a, b})
		}
	}
	add("Name", a.Name, b.Name)
	add("Known as", a.KnownAs, b.KnownAs)
	add("Birth date", day(a.BornOn), day(b.BornOn))
	add("Positions", positions(a), positions(b))
	add("Added on", dayOf(a.CreatedAt), dayOf(b.CreatedAt))
	for _, has := range page.Plan.Has {
		add(has.Title, strconv.Itoa(has.Player), strconv.Itoa(has.Other))
	}
	for _, r := range page.Plan.Refused {
		page.Refused = append(page.Refused, daysInWords(r.Words))
	}
	for _, s := range page.Plan.Settled {
		page.Settled = append(page.Settled, daysInWords(s.Words))
	}
}

var isoDay = regexp.MustCompile(`\b\d{4}-\d{2}-\d{2}\b`)

// daysInWords is a sentence with its days as a page prints them.
func daysInWords(sentence string) string { return isoDay.ReplaceAllStringFunc(sentence, paper.Day) }

// mergedInto is the player into whose record that of the address was merged, 0 for none: an old bookmark leads there.
func (p *Pages) mergedInto(c *gin.Context, who models.Who) (stays int64) {
	player, err := id(c, "player")
	if err != nil {
		return 0
	}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		all, err := tx.PlayerMerges()
		for _, m := range all {
			if m.OtherID == player && m.UndoneAt == nil {
				stays = m.PlayerID
			}
		}
		return err
	})
	if err != nil {
		return 0
	}
	return stays
}

// mergeRecords is POST /merges.
func (p *Pages) mergeRecords(c *gin.Context, who models.Who, f *fields) (string, error) {
	player, other := f.idIfAny("player"), f.idIfAny("other")
	if player == nil || other == nil {
		return "", models.Errorf(models.Invalid, "choose two different records of one person")
	}
	m := models.PlayerMerge{PlayerID: *player, OtherID: *other}
	err := p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error { return tx.MergePlayers(&m, f.text("seen")) })
	return fmt.Sprintf("/merges#merge-%d", m.ID), err
}

// undoMerge is POST /merges/:id/undo.
func (p *Pages) undoMerge(c *gin.Context, who models.Who, _ *fields) (string, error) {
	merge, err := id(c, "id")
	if err != nil {
		return "", err
	}
	var m models.PlayerMerge
	err = p.store.Write(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		m, err = tx.UndoMerge(merge)
		return err
	})
	return fmt.Sprintf("/merges#merge-%d", m.ID), err
}
