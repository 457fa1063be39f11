package rest

import (
	"net/http"
	"strconv"
	"time"

	"throughline/models"
	"throughline/models/store"
)

type reviewsWanted struct {
	Page
	Dated
	Season int64 `query:"season" minimum:"1" doc:"Only reviews of this season."`
	Squad  int64 `query:"squad" minimum:"1" doc:"Only reviews in the cycle of this squad."`
	Player int64 `query:"player" minimum:"1" doc:"Only reviews of this player."`
}

// markTag is the entity tag of what a reader marks as read and its author as followed up: both leave its version
// alone, but not what is answered.
func markTag(version int64, read, followedUp *time.Time) string {
	tag := strconv.FormatInt(version, 10)
	if read != nil {
		tag += "-read"
	}
	if followedUp != nil {
		tag += "-followed-up"
	}
	return `"` + tag + `"`
}

func reviews(s *Service) {
	x := resource[models.Review, reviewsWanted]{
		name: "review", many: "reviews", path: "/reviews", part: development, order: "by date",
		about: "A review is what a coach writes to a player once in a squad's cycle: a summary, the notes and check-ins " +
			"since the last review, and the next step that both agreed. Until it is shared it is a draft, which only " +
			"managers and coaches see. The notes in note_ids must be shared notes; notes for staff only go into " +
			"staff_note_ids, which players and selectors do not see. If what the player reads changes, the review counts " +
			"as unread again and changed_since_read_at says so; the earlier text is kept. Once it was read or has " +
			"replies, it stays shared and cannot be deleted. It stays with its player, season and squad. Do not write " +
			"about safeguarding concerns in a review: tell the safeguarding lead.",
		list: func(tx *store.Tx, in *reviewsWanted) ([]models.Review, error) {
			return tx.Reviews(models.ReviewFilter{PlayerID: in.Player, SeasonID: in.Season, SquadID: in.Squad})
		},
		get: (*store.Tx).Review, create: (*store.Tx).CreateReview, update: (*store.Tx).UpdateReview,
		remove:   (*store.Tx).DeleteReview,
		record:   func(r *models.Review) *models.Record { return &r.Record },
		kept:     true,
		optional: []string{"author_id", "shared", "note_ids", "staff_note_ids", "check_in_ids"},
		fixed:    []string{"read_at", "changed_since_read_at", "followed_up_at"},
		keep: func(now, sent *models.Review) {
			if sent.AuthorID == 0 {
				sent.AuthorID = now.AuthorID
			}
		},
		tag: func(r *models.Review) string { return markTag(r.Version, r.ReadAt, r.FollowedUpAt) },
		example: models.Review{
			Record: exampleRecord(21), PlayerID: examplePlayer, SeasonID: exampleSeason, SquadID: exampleSquad,
			AuthorID: exampleUser, Date: "2025-10-20",
			Summary:  "You carry with better feet than in September, and you clear rucks you used to watch.",
			NextStep: "Two looks before each ball. We watch your next two matches together.",
			NoteIDs:  []int64{}, StaffNoteIDs: []int64{}, CheckInIDs: []int64{},
			Shared: true, FollowUp: some(models.Date("2025-11-17")),
		},
	}
	add(s, x)
	read := content{media: jsonType, example: x.example}
	mark := func(o operation, do func(*store.Tx, int64) error) {
		o.method, o.part, o.gives = http.MethodPost, development, []content{read}
		does(s, o, func(r *request, in *one) (*reply, error) {
			var now models.Review
			err := s.store.Write(r, r.who, func(tx *store.Tx) (err error) {
				if err := do(tx, in.ID); err != nil {
					return err
				}
				now, err = tx.Review(in.ID)
				return err
			})
			if err != nil {
				return nil, err
			}
			return done(http.StatusOK, x.tagOf(&now), now)
		})
	}
	mark(operation{
		path: "/reviews/{id}/read", id: "mark-review-read", summary: "Mark a review as read",
		about: "The player marks a shared review as read. It is the only change to a review that a player can make. " +
			"Doing it again changes nothing.",
		refusals: []int{http.StatusForbidden, http.StatusNotFound},
	}, (*store.Tx).MarkReviewRead)
	mark(operation{
		path: "/reviews/{id}/followed-up", id: "mark-review-followed-up", summary: "Mark a review as followed up",
		about: "The author, or a manager, marks the follow-up of a review as done, so it waits no longer. Doing it again " +
			"changes nothing.",
		refusals: []int{http.StatusForbidden, http.StatusNotFound, http.StatusConflict},
	}, (*store.Tx).FollowedUpReview)
}

type reviewCycleWanted struct {
	Page
	Season int64 `query:"season" minimum:"1" doc:"Only this season. Default: today's, or the last one."`
	Squad  int64 `query:"squad" minimum:"1" doc:"Only members of this squad."`
	Player int64 `query:"player" minimum:"1" doc:"Only this player."`
}

func reviewCycle(s *Service) {
	due := models.Date("2025-12-01")
	last := models.Date("2025-10-20")
	does(s, operation{
		method: http.MethodGet, path: "/review-cycle", id: "list-review-cycle",
		summary: "List who is due a review", part: development,
		about: "Says how each member of a squad stands in the squad's review cycle today: overdue, due, due within seven " +
			"days, paused or not due, the day, and who is to write the review. A squad's review_weeks sets its cycle; " +
			"without it, it is six weeks. The clock starts with the last shared review in the squad, or with the day on " +
			"which the player joined it. Days on which the player is unavailable or stood down do not count; it says no " +
			"more about them than that. The writer is who wrote the last review, otherwise who owns the player's latest " +
			"open goal, if they still work with the squad; otherwise the squad's lead coach; otherwise each of its coaches; " +
			"a manager if it has none. For a season that is over it " +
			"is the last day of the season that counts.\n\nOrdered by squad, the most urgent first.",
		gives: listed(models.DueReview{PlayerID: examplePlayer, SquadID: exampleSquad, SeasonID: exampleSeason,
			MembershipID: 14, Status: models.ReviewDueSoon, Due: &due,
			LastReviewID: some[int64](21), LastReview: &last, CountedFrom: last,
			By: []int64{exampleUser}, ByBecause: models.ByLastAuthor,
			Words: "Due on 1 Dec 2025. Last review on 20 Oct 2025."}),
		refusals: []int{http.StatusForbidden},
	}, func(r *request, in *reviewCycleWanted) (*reply, error) {
		var all []models.DueReview
		err := s.store.Read(r, r.who, func(tx *store.Tx) (err error) {
			all, err = tx.ReviewCycle(models.ReviewCycleFilter{SeasonID: in.Season, SquadID: in.Squad, PlayerID: in.Player})
			return err
		})
		if err != nil {
			return nil, err
		}
		return whole(r, &in.Page, all, func(d models.DueReview) string {
			return strconv.FormatInt(d.SquadID, 10) + "-" + strconv.FormatInt(d.PlayerID, 10)
		})
	})
}
