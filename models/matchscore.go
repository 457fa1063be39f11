package models

// MatchScore is the score of a match, added up from its events. It is shown beside the match and is not used for any
// figure, because figures are about the player's own play.
type MatchScore struct {
	MatchID int64 `json:"-"`
	Ours    int   `json:"ours"`   // our points
	Theirs  int   `json:"theirs"` // the opponents' points
}

// ScoreEvents are how many events of a kind a match had for one side.
type ScoreEvents struct {
	MatchID int64
	Kind    EventKind
	Ours    bool
	Times   int
}

// Points are what an event scores: World Rugby, Laws of the Game, Law 8 (from memory). A try is scored without its
// conversion, a penalty try with it.
func (k EventKind) Points() int {
	switch k {
	case EventTry:
		return 5
	case EventConversion:
		return 2
	case EventPenaltyGoal, EventDropGoal:
		return 3
	case EventPenaltyTry:
		return 7
	}
	return 0
}

// ScoresOf adds up the scores of matches. A match without any scoring event has none: no one wrote it down.
func ScoresOf(events []ScoreEvents) map[int64]MatchScore {
	scores := map[int64]MatchScore{}
	for _, e := range events {
		points := e.Kind.Points() * e.Times
		if points == 0 {
			continue
		}
		s := scores[e.MatchID]
		s.MatchID = e.MatchID
		if e.Ours {
			s.Ours += points
		} else {
			s.Theirs += points
		}
		scores[e.MatchID] = s
	}
	return scores
}
