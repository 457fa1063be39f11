package scenario

import (
	"context"
	"fmt"
	"slices"

	"throughline/models"
	"throughline/models/store"
)

// lastBlock is the training block that the coaches of the demo are grading.
const lastBlock = "Last block"

// Grade opens a rating round for the squad of the demo that closes in a week. One coach has given every grade, the head
// coach those of half the players, the others none: grades wait on their lists. The head coach names moments of the
// player of the demo and shares a comment with them, and has changed one grade since. A round that is there stays.
func Grade(ctx context.Context, s *store.Store, loaded Loaded) error {
	g := grading{loaded: loaded}
	if err := s.Write(ctx, models.Console(loaded.Academy.ID), g.open); err != nil || g.round.ID == 0 {
		return err
	}
	as := func(id int64, name string) models.Who {
		return models.Who{AcademyID: loaded.Academy.ID, UserID: id, Name: name, Role: models.RoleCoach, From: models.Here,
			SquadIDs: []int64{loaded.SquadID}}
	}
	if err := s.Write(ctx, as(loaded.Coach.ID, loaded.Coach.Name), g.half); err != nil {
		return fmt.Errorf("grade as the head coach: %w", err)
	}
	for _, id := range g.others[:min(1, len(g.others))] {
		if err := s.Write(ctx, as(id, g.names[id]), g.all); err != nil {
			return fmt.Errorf("grade as another coach: %w", err)
		}
	}
	return nil
}

// grading is a round that is being graded.
type grading struct {
	loaded Loaded
	round  models.RatingRound // its id is 0 if there is nothing to do
	names  map[int64]string
	others []int64 // the coaches apart from the head coach, by id
}

// open opens the round, if it is not there.
func (g *grading) open(tx *store.Tx) error {
	there, err := tx.RatingRounds(models.RatingRoundFilter{SeasonID: g.loaded.SeasonID, SquadID: g.loaded.SquadID})
	is := func(r models.RatingRound) bool { return r.Block == lastBlock }
	if err != nil || slices.ContainsFunc(there, is) {
		return err
	}
	if g.names, err = tx.SquadCoaches(g.loaded.SquadID); err != nil {
		return err
	}
	for id := range g.names {
		if id != g.loaded.Coach.ID {
			g.others = append(g.others, id)
		}
	}
	slices.Sort(g.others)
	begins := blocks[len(blocks)-1].last.AddDays(-28)
	g.round = models.RatingRound{SeasonID: g.loaded.SeasonID, SquadID: g.loaded.SquadID, Name: "End of the season",
		Block: lastBlock, Begins: &begins, Date: lastDay, Closes: max(models.DateOf(tx.Now()), lastDay).AddDays(7),
		Skills: []string{"footwork_into_contact", "pass_or_carry", "tackle"}}
	return tx.CreateRatingRound(&g.round)
}

// half grades the player of the demo and half of the others, and then changes one grade.
func (g *grading) half(tx *store.Tx) error {
	asked, err := tx.Asked(&g.round)
	if err != nil {
		return err
	}
	moments, err := g.moments(tx)
	if err != nil {
		return err
	}
	for n, a := range asked {
		r := g.rating(a, 3+n%2)
		if own := a.PlayerID == g.loaded.PlayerID; !own && n >= len(asked)/2 {
			continue
		} else if own && a.Skill == "footwork_into_contact" {
			r.Comment, r.CommentShared = "You find the space beside the tackler now. Keep the feet going after it.", true
			r.Evidence = moments[:min(2, len(moments))]
		}
		if err := tx.CreateRating(&r); err != nil {
			return err
		}
		if r.CommentShared {
			if r.Grade = 5; n%2 == 0 {
				r.Grade = 4
			}
			if err := tx.UpdateRating(&r); err != nil {
				return err
			}
		}
	}
	return nil
}

// all gives every grade that the round asks for.
func (g *grading) all(tx *store.Tx) error {
	asked, err := tx.Asked(&g.round)
	if err != nil {
		return err
	}
	for n, a := range asked {
		r := g.rating(a, 3+n%3%2)
		if err := tx.CreateRating(&r); err != nil {
			return err
		}
	}
	return nil
}

func (g *grading) rating(a models.OwedGrade, grade int) models.Rating {
	return models.Rating{PlayerID: a.PlayerID, Skill: a.Skill, Grade: grade, Date: g.round.Date, Block: lastBlock}
}

// moments are those of the player of the demo from the block.
func (g *grading) moments(tx *store.Tx) (ids []int64, err error) {
	f := models.InvolvementFilter{PlayerID: g.loaded.PlayerID, SeasonID: g.loaded.SeasonID, MomentsOnly: true}
	found, err := tx.Involvements(f)
	if err != nil {
		return nil, err
	}
	for _, i := range found {
		log, err := tx.Log(i.LogID)
		if err != nil {
			return nil, err
		}
		m, err := tx.Match(log.MatchID)
		if err != nil {
			return nil, err
		}
		if g.round.HasMoment(m.Date) {
			ids = append(ids, i.ID)
		}
	}
	return ids, nil
}
