package pages

import (
	"fmt"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
)

// agreementPage says how far two people's logs of the same player and match agree.
type agreementPage struct {
	models.Agreement
	Player, Match, First, Second string // First and Second made the logs
	Day                          models.Date
	Kinds                        paper.Table
	Choices, Alike               paper.Table // details: those that they do not record alike every time, and the others
	Read                         string      // how they read one definition, in a sentence
	Pairs                        []logPair   // of all logs of the match, where there are more than two
}

// logPair are two logs of the same player and match.
type logPair struct {
	Address, First, Second string // First and Second made the logs
	Shown                  bool   // it is the pair of the page
}

// pairsOf are all pairs of some logs, in order. Where a person made several, each has its number.
func pairsOf(logs []models.Log, names map[int64]string) (all []logPair) {
	by := map[int64]int{}
	called := make([]string, len(logs))
	for i, l := range logs {
		by[l.LoggerID]++
		called[i] = names[l.LoggerID]
		if n := by[l.LoggerID]; n > 1 {
			called[i] += fmt.Sprintf(" (log %d)", n)
		}
	}
	for i := range logs {
		for j := i + 1; j < len(logs); j++ {
			all = append(all, logPair{Address: agreementAddress(logs[i].ID, logs[j].ID), First: called[i],
				Second: called[j]})
		}
	}
	return all
}

func agreementAddress(first, second int64) string {
	return fmt.Sprintf("/logs/%d/agreement/%d", first, second)
}

// agreement is GET /logs/:log/agreement/:other.
func (p *Pages) agreement(c *gin.Context, who models.Who) error {
	first, err := id(c, "log")
	if err != nil {
		return err
	}
	second, err := id(c, "other")
	if err != nil {
		return err
	}
	var page agreementPage
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error { return page.read(tx, first, second) })
	if err != nil {
		return err
	}
	return p.render(c, http.StatusOK, "agreement", "Two logs of one match", page)
}

func (page *agreementPage) read(tx *store.Tx, first, second int64) error {
	var logs [2]models.LoggedPlay
	for n, log := range []int64{first, second} {
		var err error
		if logs[n], err = tx.LoggedPlay(log); err != nil {
			return err
		}
	}
	a, b := &logs[0].Log, &logs[1].Log
	if a.MatchID != b.MatchID || a.PlayerID != b.PlayerID {
		return models.Errorf(models.NotFound, "the two logs are of different players or matches")
	}
	m, err := tx.Match(a.MatchID)
	if err != nil {
		return err
	}
	player, err := tx.Player(a.PlayerID)
	if err != nil {
		return err
	}
	names, err := tx.UserNames()
	if err != nil {
		return err
	}
	page.Player, page.Match, page.Day = player.Name, m.Opponent, m.Date
	page.First, page.Second = names[a.LoggerID], names[b.LoggerID]
	page.Agreement = models.Agree(m, logs[0], logs[1])
	page.lay()
	return page.readPairs(tx, *a, *b, names)
}

// readPairs lists the other pairs that could be compared.
func (page *agreementPage) readPairs(tx *store.Tx, a, b models.Log, names map[int64]string) error {
	logs, err := tx.Logs(models.LogFilter{MatchID: a.MatchID, PlayerID: a.PlayerID})
	if err != nil || len(logs) < 3 {
		return err
	}
	page.Pairs = pairsOf(logs, names)
	for i := range page.Pairs {
		at := page.Pairs[i].Address
		page.Pairs[i].Shown = at == agreementAddress(a.ID, b.ID) || at == agreementAddress(b.ID, a.ID)
	}
	return nil
}

// lay puts the figures into tables.
func (page *agreementPage) lay() {
	beyond := paper.Column{Label: "Kappa", Numeric: true, Title: "agreement beyond chance: 1 is full, 0 is chance"}
	page.Kinds = paper.Table{ID: "kinds", Stack: true, Caption: "How often each counts each kind.",
		Columns: []paper.Column{{Label: "Kind"}, {Label: page.First, Numeric: true}, {Label: page.Second, Numeric: true},
			{Label: "Counts"}, beyond}}
	labels := map[models.Kind]string{}
	for _, info := range models.Kinds() {
		labels[info.Code] = info.Label
	}
	for _, k := range page.ByKind {
		if k.Matched+k.OnlyA+k.OnlyB == 0 {
			continue
		}
		counts := fmt.Sprintf("%d apart", k.Apart)
		switch k.Apart {
		case 0:
			counts = "equal"
		case 1:
			counts = "within one"
		}
		page.Kinds.Rows = append(page.Kinds.Rows, []paper.Cell{
			{Text: labels[k.Kind], Under: fmt.Sprintf("%d in both", k.Matched)}, {Text: fmt.Sprint(k.Matched + k.OnlyA)},
			{Text: fmt.Sprint(k.Matched + k.OnlyB)}, {Text: counts}, {Text: kappaWords(k.Kappa)}})
	}
	page.Choices = paper.Table{ID: "details", Stack: true, Caption: "How often they choose the same for what both saw.",
		Columns: []paper.Column{{Label: "Detail"}, {Label: "Both recorded", Numeric: true},
			{Label: "The same", Numeric: true}, beyond}}
	page.Alike = page.Choices
	page.Alike.ID, page.Alike.Caption = "alike", "Details that both recorded alike."
	for _, d := range page.Details {
		into := &page.Choices
		if d.Agreed == d.Both {
			into = &page.Alike
		}
		detail, _ := models.DetailOf(d.Kind, d.Detail)
		same := paper.Cell{Text: fmt.Sprint(d.Agreed)}
		if d.WithinOne != nil {
			same.Under = fmt.Sprintf("%d within one", *d.WithinOne)
		}
		into.Rows = append(into.Rows, []paper.Cell{{Text: labels[d.Kind] + ": " + paper.Lower(detail.Label)},
			{Text: fmt.Sprint(d.Both)}, same, {Text: kappaWords(d.Kappa)}})
	}
	if r := page.Misread; r != nil {
		what := fmt.Sprintf("“%s” of a %s", paper.Lower(r.Label), strings.ToLower(labels[r.Kind]))
		if r.Detail == "" {
			what = "which kind it is"
		}
		page.Read = fmt.Sprintf("They read %s most differently: %d of %d are not the same. About %s would be usual for "+
			"these two. Where %s has “%s”, %s mostly has “%s”.",
			what, r.Disagreed, r.Both, paper.Number(r.Expected, 0), page.First, paper.Lower(r.First.Label), page.Second,
			paper.Lower(r.Second.Label))
	}
}

// KappaOfKinds is the kappa of all kinds.
func (page agreementPage) KappaOfKinds() string { return kappaWords(page.Kappa) }

func kappaWords(k *float64) string {
	if k == nil {
		return "–"
	}
	return paper.Number(*k, 2)
}
