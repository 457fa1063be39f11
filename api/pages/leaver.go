package pages

import (
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"throughline/models"
	"throughline/models/store"
)

// leaving says whether a player is in a squad today or later, or when they left.
type leaving struct {
	Here bool
	Left string      // the last day, where they have left
	Last models.Date // the same, as a date
	In   string      // the squad that they were in last
}

// leavingOf works out from the memberships of a player, and the seasons, whether they have left.
func leavingOf(members []models.Membership, seasons []models.Season, today models.Date) (l leaving) {
	for _, m := range members {
		end := lastDay(m, seasons)
		l.Here = l.Here || end >= today
		if end >= l.Last {
			l.Last, l.In = end, strconv.FormatInt(m.SquadID, 10)
		}
	}
	if l.Last != "" {
		l.Left = day(l.Last)
	}
	return l
}

// lastDay is the last day of a membership.
func lastDay(m models.Membership, seasons []models.Season) models.Date {
	if m.Until != nil {
		return *m.Until
	}
	i := slices.IndexFunc(seasons, func(s models.Season) bool { return s.ID == m.SeasonID })
	if i < 0 {
		return ""
	}
	return seasons[i].Ends
}

// leave is POST /players/:player/leave: the memberships that run on the last day end on it, and those that begin later
// go.
func (p *Pages) leave(c *gin.Context, who models.Who, f *fields) (string, error) {
	last := f.day("last")
	return p.onLeaver(c, who, func(tx *store.Tx, player int64, seasons []models.Season) error {
		if _, err := last.Time(); err != nil {
			return leaverError("last", "write the last day in the academy, such as 2025-11-30")
		}
		members, err := tx.Memberships(models.MembershipFilter{PlayerID: player})
		if err != nil {
			return err
		}
		// a slip in the year must not take a player out of every squad
		if !slices.ContainsFunc(members, func(m models.Membership) bool {
			return m.From <= last && last <= lastDay(m, seasons)
		}) {
			return leaverError("last", "the player is in no squad on that day; write a day on which they were in one")
		}
		for _, m := range members {
			switch {
			case m.From > last:
				err = tx.DeleteMembership(m.ID, m.Version)
			case lastDay(m, seasons) > last:
				m.Until = &last
				err = tx.UpdateMembership(&m)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// comeBack is POST /players/:player/return: the player is in a squad again, from a day on.
func (p *Pages) comeBack(c *gin.Context, who models.Who, f *fields) (string, error) {
	first, squad := f.day("first"), f.idIfAny("squad_id")
	return p.onLeaver(c, who, func(tx *store.Tx, player int64, seasons []models.Season) error {
		i := slices.IndexFunc(seasons, func(s models.Season) bool { return s.Has(first) })
		switch {
		case squad == nil:
			return leaverError("squad_id", "choose the squad that the player comes back to")
		case i < 0:
			return leaverError("first", "no season has this day; write a day of a season that is on file")
		}
		return tx.CreateMembership(&models.Membership{SeasonID: seasons[i].ID, SquadID: *squad, PlayerID: player,
			From: first})
	})
}

func leaverError(field, message string) error {
	return &models.Error{Code: models.Invalid, Fields: []models.FieldError{{Where: field, Message: message}}}
}

func (p *Pages) onLeaver(c *gin.Context, who models.Who,
	do func(tx *store.Tx, player int64, seasons []models.Season) error) (string, error) {
	player, err := id(c, "player")
	if err != nil {
		return "", err
	}
	return playerEditAddress(c) + "#leaving", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		if _, err := tx.Player(player); err != nil {
			return err
		}
		if who.Reach(models.Write, models.AreaPlayers) != models.ReachAcademy {
			return models.Errorf(models.Forbidden, "only managers change players and squads")
		}
		seasons, err := tx.Seasons(models.SeasonFilter{})
		if err != nil {
			return err
		}
		return do(tx, player, seasons)
	})
}
