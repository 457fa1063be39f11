package pages

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
)

// settingsPage has what an academy decides for itself: consents, how long records are kept, limits on minutes.
type settingsPage struct {
	Form     Form
	Settings models.Settings
	Purposes []purposeChoice
	Limits   []limitRow
	Squads   []field
	Counted  []field // what a limit can count
	Zone     string  // the academy's time zone
	ZoneHint string
}

// purposeChoice is a purpose of consent that the academy may require.
type purposeChoice struct {
	models.PurposeInfo
	Required bool
}

// limitRow is a limit on minutes, with its values as its form has them.
type limitRow struct {
	models.MinutesLimit
	Squad, SquadID, Most, Warn string
}

func (p *Pages) settings(c *gin.Context, who models.Who) error { return p.settingsWith(c, who, Form{}) }

// settingsWith is GET /settings.
func (p *Pages) settingsWith(c *gin.Context, who models.Who, form Form) error {
	if err := manages(who); err != nil {
		return err
	}
	page := settingsPage{Form: form, Counted: countedChoices(), Zone: who.TimeZone().String(),
		ZoneHint: "Times on pages and papers are shown in it, and a day ends at its midnight. There it is now " +
			who.Local(p.now()).Format("15:04") + ". Write a name of the IANA list, such as Europe/Dublin"}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) (err error) {
		if page.Settings, err = tx.Settings(); err != nil {
			return err
		}
		squads, err := tx.Squads(models.SquadFilter{})
		if err != nil {
			return err
		}
		page.Squads = append([]field{{"", "all players"}}, squadChoices(squads)...)
		limits, err := tx.MinutesLimits()
		for _, l := range limits {
			page.Limits = append(page.Limits, limitRowOf(l, squads))
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("settings: %w", err)
	}
	for _, info := range models.ConsentPurposes() {
		required := page.Settings.Require(info.Code)
		if form.Name == "settings" { // what was sent
			required = slices.Contains(form.sent["requires"], string(info.Code))
		}
		page.Purposes = append(page.Purposes, purposeChoice{info, required})
	}
	return p.render(c, form.status(), "settings", "Settings", page)
}

func squadChoices(squads []models.Squad) (all []field) {
	for _, s := range squads {
		all = append(all, field{strconv.FormatInt(s.ID, 10), s.Name})
	}
	return all
}

func limitRowOf(l models.MinutesLimit, squads []models.Squad) limitRow {
	row := limitRow{MinutesLimit: l, Squad: "all players", Most: strconv.FormatFloat(l.Minutes, 'f', -1, 64),
		Warn: strconv.Itoa(int(math.Round(100 * l.WarnAt)))}
	if l.SquadID != nil {
		row.SquadID = strconv.FormatInt(*l.SquadID, 10)
		for _, s := range squads {
			if s.ID == *l.SquadID {
				row.Squad = s.Name
			}
		}
	}
	return row
}

// saveSettings is POST /settings.
func (p *Pages) saveSettings(c *gin.Context, who models.Who, f *fields) (string, error) {
	return "/settings", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		s, err := tx.Settings()
		if err != nil {
			return err
		}
		s.Requires = []models.Purpose{}
		for _, code := range f.values["requires"] {
			s.Requires = append(s.Requires, models.Purpose(code))
		}
		s.RetentionMonths = f.whole("retention_months")
		if f.values.Has("time_zone") {
			s.TimeZone = cmp.Or(f.text("time_zone"), time.UTC.String())
		}
		if !slices.Contains(s.SetupDone, models.SetupConsents) {
			s.SetupDone = append(slices.Clone(s.SetupDone), models.SetupConsents)
		}
		s.Version = f.version()
		if err := f.err(); err != nil {
			return err
		}
		return tx.SaveSettings(&s)
	})
}

// whole reads a whole number; 0 where nothing was typed.
func (f *fields) whole(name string) int {
	text := f.text(name)
	if text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		f.refuse(name, "“"+text+"” is not a whole number; write digits only, such as 6")
	}
	return n
}

// countedChoices are what a limit can count.
func countedChoices() []field {
	return []field{{string(models.CountsMatches), "minutes played in matches"},
		{string(models.CountsContact), "minutes of contact at training"}}
}

// limitOf reads a limit on minutes from its form.
func limitOf(f *fields) models.MinutesLimit {
	return models.MinutesLimit{Name: f.text("name"), Counts: models.Counted(f.text("counts")),
		SquadID: f.idIfAny("squad_id"), Days: f.whole("days"), Minutes: float64(f.whole("minutes")),
		WarnAt: float64(f.whole("warn_at")) / 100}
}

// addLimit is POST /limits.
func (p *Pages) addLimit(c *gin.Context, who models.Who, f *fields) (string, error) {
	l := limitOf(f)
	if err := f.err(); err != nil {
		return "", err
	}
	return "/settings#limits", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		return tx.CreateMinutesLimit(&l)
	})
}

// changeLimit is POST /limits/:id.
func (p *Pages) changeLimit(c *gin.Context, who models.Who, f *fields) (string, error) {
	limit, err := id(c, "id")
	if err != nil {
		return "", err
	}
	l := limitOf(f)
	if err := f.err(); err != nil {
		return "", err
	}
	l.ID, l.Version = limit, f.version()
	return "/settings#limits", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		return tx.UpdateMinutesLimit(&l)
	})
}

// deleteLimit is POST /limits/:id/delete.
func (p *Pages) deleteLimit(c *gin.Context, who models.Who, f *fields) (string, error) {
	limit, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return "/settings#limits", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		return tx.DeleteMinutesLimit(limit, f.version())
	})
}
