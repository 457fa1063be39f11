package pages

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
)

// nextSeasonPage starts a season from the one before it: who goes on in which squad, and who leaves.
type nextSeasonPage struct {
	Form    Form
	Of      models.Season
	Next    models.Season // as proposed
	Squads  []models.Squad
	Members []goingOn
}

// goingOn is a member of a squad, with the squad proposed for the next season.
type goingOn struct {
	Field, Name, In string
	Age             string // on the band's day of the next season
	To              int64  // 0: leaves
	Moves           bool
}

// Key names the form.
func (page nextSeasonPage) Key() string { return fmt.Sprintf("next-%d", page.Of.ID) }

// nextSeason is GET /seasons/:id/next.
func (p *Pages) nextSeason(c *gin.Context, who models.Who) error {
	return p.nextSeasonWith(c, who, Form{})
}

func (p *Pages) nextSeasonWith(c *gin.Context, who models.Who, form Form) error {
	if err := manages(who); err != nil {
		return err
	}
	season, err := id(c, "id")
	if err != nil {
		return err
	}
	page := nextSeasonPage{Form: form}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		if page.Of, err = tx.Season(season); err != nil {
			return err
		}
		page.Next = following(page.Of)
		members, err := goingOnFrom(tx, page.Of)
		if err != nil {
			return err
		}
		return page.propose(tx, members)
	})
	if err != nil {
		return fmt.Errorf("season after season %d: %w", season, err)
	}
	return p.render(c, form.status(), "next-season", "Start the season after "+page.Of.Name, page)
}

// following proposes a season that begins on the day after another and lasts as long, a year later.
func following(s models.Season) models.Season {
	next := models.Season{Name: yearLater(s.Name)}
	starts, err := s.Starts.Time()
	if err != nil {
		return next
	}
	ends, err := s.Ends.Time()
	if err != nil {
		return next
	}
	next.Starts, next.Ends = models.DateOf(starts.AddDate(1, 0, 0)), models.DateOf(ends.AddDate(1, 0, 0))
	if next.Starts <= s.Ends {
		next.Starts = s.Ends.AddDays(1)
	}
	return next
}

// yearLater adds one to each number of a name: 2026-27 after 2025-26.
func yearLater(name string) string {
	var b strings.Builder
	digits := ""
	flush := func() {
		if n, err := strconv.Atoi(digits); err == nil {
			fmt.Fprintf(&b, "%0*d", len(digits), n+1)
		}
		digits = ""
	}
	for _, r := range name {
		if r >= '0' && r <= '9' && len(digits) < 4 {
			digits += string(r)
			continue
		}
		flush()
		b.WriteRune(r)
	}
	flush()
	return b.String()
}

// goingOnFrom are the memberships of a season that last to its end.
func goingOnFrom(tx *store.Tx, season models.Season) ([]models.Membership, error) {
	all, err := tx.Memberships(models.MembershipFilter{SeasonID: season.ID})
	return slices.DeleteFunc(all, func(m models.Membership) bool { return m.Until != nil && *m.Until < season.Ends }), err
}

func memberField(m models.Membership) string { return "m-" + strconv.FormatInt(m.ID, 10) }

// propose says for each member where they belong in the next season.
func (page *nextSeasonPage) propose(tx *store.Tx, members []models.Membership) error {
	squads, err := tx.Squads(models.SquadFilter{})
	if err != nil {
		return err
	}
	players, err := tx.Players(models.PlayerFilter{SeasonID: page.Of.ID})
	if err != nil {
		return err
	}
	page.Squads = squads
	for _, s := range squads {
		for _, p := range players {
			at := slices.IndexFunc(members, func(m models.Membership) bool {
				return m.PlayerID == p.ID && m.SquadID == s.ID
			})
			if at < 0 {
				continue
			}
			one := goingOn{Field: memberField(members[at]), Name: p.Name, In: s.Name}
			if age, known := p.AgeOn(s.BandDay(page.Next)); known {
				one.Age = strconv.Itoa(age)
			}
			if to, found := models.NextSquad(p, s, squads, page.Next); found {
				one.To, one.Moves = to.ID, to.ID != s.ID
			} else {
				one.Moves = true
			}
			if page.Form.Name == page.Key() {
				one.To, _ = strconv.ParseInt(page.Form.Value(page.Key(), one.Field), 10, 64)
			}
			page.Members = append(page.Members, one)
		}
	}
	return nil
}

// startNextSeason is POST /seasons/:id/next: the season with all its memberships, or nothing.
func (p *Pages) startNextSeason(c *gin.Context, who models.Who, f *fields) (string, error) {
	if err := manages(who); err != nil {
		return "", err
	}
	season, err := id(c, "id")
	if err != nil {
		return "", err
	}
	next := seasonTyped(f)
	return "/squads", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		of, err := tx.Season(season)
		if err != nil {
			return err
		}
		if err := tx.CreateSeason(&next); err != nil {
			return err
		}
		members, err := goingOnFrom(tx, of)
		if err != nil {
			return err
		}
		in := map[[2]int64]bool{}
		for _, m := range members {
			text := f.text(memberField(m))
			if text == "leaves" {
				continue
			}
			to, err := strconv.ParseInt(text, 10, 64)
			if err != nil {
				player, _ := tx.Player(m.PlayerID)
				f.refuse(memberField(m), player.Name+": choose a squad, or that they leave")
				continue
			}
			if in[[2]int64{m.PlayerID, to}] {
				continue // of two squads into one
			}
			in[[2]int64{m.PlayerID, to}] = true
			err = tx.CreateMembership(&models.Membership{SeasonID: next.ID, SquadID: to, PlayerID: m.PlayerID,
				From: next.Starts})
			if err != nil {
				return err
			}
		}
		return f.err()
	})
}
