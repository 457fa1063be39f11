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

// reviewsPage lists who is due a review in the squads that the caller works with, and what they wanted to follow up.
type reviewsPage struct {
	Form      Form
	Squads    []squadCycle
	FollowUps []followUpItem
	MaySet    bool // set a squad's cycle
}

// squadCycle is a squad's review cycle: its members by how they stand, the most urgent first.
type squadCycle struct {
	models.Squad
	Parts []cyclePart
}

// cyclePart is the members who stand alike.
type cyclePart struct {
	Status  models.ReviewStatus
	Heading string
	Members []dueItem
	Alike   []dueAlike // the members, those of whom the same is said together
}

// dueAlike are members of whom the same is said.
type dueAlike struct {
	Words, By string
	Members   []dueItem
}

// Rest says that nothing is to be done about the members now: the day of the next review is all there is to say.
func (c cyclePart) Rest() bool { return c.Status == models.ReviewNotDue }

// dueItem is a member of a squad in its cycle.
type dueItem struct {
	models.DueReview
	Player, Address, By string
	Last                string // the address of the last review
}

// followUpItem is a follow-up whose day has come, with where it is marked as done.
type followUpItem struct {
	models.FollowUp
	Player, Address, Done string
}

// cycleHeadings are the headings of members by how they stand.
var cycleHeadings = map[models.ReviewStatus]string{
	models.ReviewOverdue: "Overdue", models.ReviewDue: "Due today", models.ReviewDueSoon: "Due within a week",
	models.ReviewPaused: "Paused", models.ReviewNotDue: "Not due yet", models.ReviewLeaving: "Leaving the squad",
}

// reviews is GET /reviews.
func (p *Pages) reviews(c *gin.Context, who models.Who) error { return p.reviewsWith(c, who, Form{}) }

func (p *Pages) reviewsWith(c *gin.Context, who models.Who, form Form) error {
	page := reviewsPage{Form: form, MaySet: who.Reach(models.Write, models.AreaSetup) == models.ReachAcademy}
	err := p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		all, err := tx.ReviewCycle(models.ReviewCycleFilter{})
		if err != nil {
			return err
		}
		return page.read(tx, all)
	})
	if err != nil {
		return fmt.Errorf("page of reviews: %w", err)
	}
	return p.render(c, form.status(), "reviews", "Reviews", page)
}

func (page *reviewsPage) read(tx *store.Tx, all []models.DueReview) error {
	everybody, err := tx.Players(models.PlayerFilter{})
	if err != nil {
		return err
	}
	names := map[int64]string{}
	for _, p := range everybody {
		names[p.ID] = p.Name
	}
	staff, err := tx.UserNames()
	if err != nil {
		return err
	}
	squads, err := tx.Squads(models.SquadFilter{})
	if err != nil {
		return err
	}
	for _, s := range squads {
		members := slices.DeleteFunc(slices.Clone(all), func(d models.DueReview) bool { return d.SquadID != s.ID })
		if len(members) > 0 {
			page.Squads = append(page.Squads, squadCycle{s, partsOf(members, names, staff)})
		}
	}
	waiting, err := tx.FollowUps(tx.Who().Day(tx.Now()))
	for _, f := range waiting {
		item := followUpItem{FollowUp: f, Player: names[f.PlayerID], Address: playerAddress(f.PlayerID) + "#notes"}
		if f.ReviewID != nil {
			item.Address = fmt.Sprintf("/reviews/%d", *f.ReviewID)
			item.Done = item.Address + "/followed-up"
		} else {
			item.Done = fmt.Sprintf("/review-notes/%d/followed-up", *f.NoteID)
		}
		page.FollowUps = append(page.FollowUps, item)
	}
	return err
}

// partsOf puts the members of a squad, who are in order, into parts.
func partsOf(members []models.DueReview, names, staff map[int64]string) (parts []cyclePart) {
	for _, d := range members {
		item := dueItem{DueReview: d, Player: names[d.PlayerID], Address: playerAddress(d.PlayerID),
			By: writersInWords(d, staff)}
		if d.LastReviewID != nil {
			item.Last = fmt.Sprintf("/reviews/%d", *d.LastReviewID)
		}
		if n := len(parts); n == 0 || parts[n-1].Status != d.Status {
			parts = append(parts, cyclePart{Status: d.Status, Heading: cycleHeadings[d.Status]})
		}
		last := &parts[len(parts)-1]
		last.Members = append(last.Members, item)
		last.say(item)
	}
	return parts
}

// say puts a member with those of whom the same is said.
func (c *cyclePart) say(item dueItem) {
	n := slices.IndexFunc(c.Alike, func(a dueAlike) bool { return a.Words == item.Words && a.By == item.By })
	if n < 0 {
		n = len(c.Alike)
		c.Alike = append(c.Alike, dueAlike{Words: item.Words, By: item.By})
	}
	c.Alike[n].Members = append(c.Alike[n].Members, item)
}

// writersInWords names who is to write a review.
func writersInWords(d models.DueReview, staff map[int64]string) string {
	by := make([]string, len(d.By))
	for i, id := range d.By {
		by[i] = staff[id]
	}
	return strings.Join(by, " or ")
}

// setReviewWeeks is POST /squads/:id/review-weeks.
func (p *Pages) setReviewWeeks(c *gin.Context, who models.Who, f *fields) (string, error) {
	squad, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return "/reviews", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		s, err := tx.Squad(squad)
		if err != nil {
			return err
		}
		weeks, err := strconv.Atoi(f.text("weeks"))
		if err != nil || weeks < 1 || weeks > 52 {
			f.refuse("weeks", "write how many weeks, 1 to 52; six is usual")
			return f.err()
		}
		s.ReviewWeeks, s.Version = weeks, f.version()
		return tx.UpdateSquad(&s)
	})
}

// NotFollowedUp says why a follow-up was not marked as done. It may not be listed any more.
func (page reviewsPage) NotFollowedUp() []errorLine {
	if strings.HasPrefix(page.Form.Name, "follow-up-") {
		return page.Form.summary()
	}
	return nil
}

// followedUp is POST /review-notes/:id/followed-up and POST /reviews/:id/followed-up.
func (p *Pages) followedUp(mark func(*store.Tx, int64) error) func(*gin.Context, models.Who, *fields) (string, error) {
	return func(c *gin.Context, who models.Who, _ *fields) (string, error) {
		record, err := id(c, "id")
		if err != nil {
			return "", err
		}
		return "/reviews#follow-ups", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
			return mark(tx, record)
		})
	}
}

// registerReviews adds the pages of reviews.
func (p *Pages) registerReviews(router *gin.Engine) {
	router.GET("/reviews", p.known(p.reviews))
	router.POST("/squads/:id/review-weeks", p.sent("weeks", p.reviewsWith, p.setReviewWeeks))
	router.POST("/review-notes/:id/followed-up", p.sent("follow-up", p.reviewsWith,
		p.followedUp((*store.Tx).FollowedUpNote)))
	router.POST("/reviews/:id/followed-up", p.sent("follow-up", p.reviewWith, p.followedUp((*store.Tx).FollowedUpReview)))
	router.GET("/players/:player/reviews/new", p.known(p.newReview))
	router.POST("/players/:player/reviews", p.sent("review", p.newReviewWith, p.addReview))
	router.GET("/reviews/:id", p.known(p.review))
	router.GET("/reviews/:id/edit", p.known(p.editReview))
	router.POST("/reviews/:id", p.sent("review", p.editReviewWith, p.changeReview))
	router.POST("/reviews/:id/delete", p.sent("delete", p.reviewWith, p.deleteReview))
	router.POST("/reviews/:id/read", p.sent("read", p.reviewWith, p.readReview))
	router.POST("/reviews/:id/answers", p.sent("answer", p.reviewWith, p.answerReview))
	router.POST("/safety/review-answers/:id/seen", p.sent("review-seen", p.safetyWith, p.reviewAnswerSeen))
}

// reviewAnswerSeen is POST /safety/review-answers/:id/seen.
func (p *Pages) reviewAnswerSeen(c *gin.Context, who models.Who, _ *fields) (string, error) {
	answer, err := id(c, "id")
	if err != nil {
		return "", err
	}
	return "/safety", p.store.Write(c.Request.Context(), who, func(tx *store.Tx) error {
		_, err := tx.SeeReviewAnswer(answer)
		return err
	})
}
