package scenario

import (
	"context"
	"fmt"
	"slices"

	"throughline/models"
	"throughline/models/store"
)

// Review has the squad of the demo use its review cycle: on the last day of the season one player is due, one is due
// soon, one is stood down, so that their clock stands still, and the others are overdue. The player of the demo has
// answered one review, and read another that the coach changed afterwards. What was written before stays.
func Review(ctx context.Context, s *store.Store, loaded Loaded) error {
	as := func(u models.User) models.Who {
		return models.Who{AcademyID: loaded.Academy.ID, UserID: u.ID, Name: u.Name, Role: u.Role, From: models.Here}
	}
	coach, player := as(loaded.Coach), as(loaded.Player)
	coach.SquadIDs, player.PlayerID = []int64{loaded.SquadID}, loaded.PlayerID
	r := reviewing{loaded: loaded, coach: coach, player: player}
	err := s.Write(ctx, coach, r.write)
	if err != nil || len(r.shown) == 0 {
		return err
	}
	if err := s.Write(ctx, player, r.read); err != nil {
		return fmt.Errorf("read the reviews: %w", err)
	}
	return s.Write(ctx, coach, r.change)
}

// reviewing is who reviews and is reviewed in the demo.
type reviewing struct {
	loaded        Loaded
	coach, player models.Who
	shown         []models.Review // those of the player of the demo
}

// The days of reviews: six weeks before the season's last day, and a few days after that.
var (
	dueReviewed  = seasonEnd.AddDays(-7 * models.UsualReviewWeeks)
	soonReviewed = dueReviewed.AddDays(4)
)

// write has the coach write reviews, if none is there.
func (r *reviewing) write(tx *store.Tx) error {
	there, err := tx.Reviews(models.ReviewFilter{SeasonID: r.loaded.SeasonID})
	if err != nil || len(there) > 0 {
		return err
	}
	of := func(player int64, day models.Date, summary, next string) (models.Review, error) {
		review := models.Review{PlayerID: player, SeasonID: r.loaded.SeasonID, SquadID: r.loaded.SquadID, Date: day,
			Summary: summary, NextStep: next, Shared: true}
		return review, tx.CreateReview(&review)
	}
	for _, said := range []struct {
		day           models.Date
		summary, next string
	}{
		{"2026-02-10", "You get in behind them more often than not. Your feet did that, and the extra ten minutes on " +
			"Tuesdays. After contact the ball is still under you too often.", "Five falls a side before each session, " +
			"until the ball comes back long without thinking about it."},
		{"2026-03-31", "The ball comes back long now. You see the team-mate next to you earlier, and you still carry when " +
			"a pass was on.", "Two looks before each ball. Call what you saw."},
	} {
		review, err := of(r.loaded.PlayerID, said.day, said.summary, said.next)
		if err != nil {
			return fmt.Errorf("review the player of the demo: %w", err)
		}
		r.shown = append(r.shown, review)
	}
	members, err := tx.Memberships(models.MembershipFilter{SeasonID: r.loaded.SeasonID, SquadID: r.loaded.SquadID})
	if err != nil {
		return err
	}
	members = slices.DeleteFunc(members, func(m models.Membership) bool {
		return m.PlayerID == r.loaded.PlayerID || m.Until != nil
	})
	if len(members) < 3 {
		return nil
	}
	if _, err := of(members[0].PlayerID, dueReviewed,
		"You are the calm one when we are behind. More of your voice, please.",
		"Speak first after each stoppage."); err != nil {
		return err
	}
	if _, err := of(members[1].PlayerID, soonReviewed,
		"Your tackle is lower and you are up quicker to help the next one.",
		"Choose the shoulder early."); err != nil {
		return err
	}
	return tx.CreateStandDown(&models.StandDown{PlayerID: members[2].PlayerID, From: lastDay.AddDays(1)})
}

// read has the player read both reviews and answer the first.
func (r *reviewing) read(tx *store.Tx) error {
	for _, review := range r.shown {
		if err := tx.MarkReviewRead(review.ID); err != nil {
			return err
		}
	}
	return tx.AnswerReview(&models.ReviewAnswer{ReviewID: r.shown[0].ID,
		Text: "Five falls a side, yes. Can I do them with Tuesday's group?"})
}

// change has the coach change the last review, which the player has read.
func (r *reviewing) change(tx *store.Tx) error {
	last, err := tx.Review(r.shown[len(r.shown)-1].ID)
	if err != nil {
		return err
	}
	last.NextStep = "Two looks before each ball, in training first. Call what you saw."
	return tx.UpdateReview(&last)
}
