package models

// FollowUp is something that its author wanted to come back to on a day, which has come.
type FollowUp struct {
	PlayerID int64  `json:"player_id"`
	On       Date   `json:"on"`                  // the day of the follow-up
	NoteID   *int64 `json:"note_id,omitempty"`   // the review note it is of
	ReviewID *int64 `json:"review_id,omitempty"` // the review it is of
	Since    Date   `json:"since"`               // the date of the note or review
	Text     string `json:"text"`                // its text
}

// Activity is a day on which an author wrote about a player.
type Activity struct {
	PlayerID int64
	Date     Date
}

// Settled says whether a later note, review or check-in by the author on the player has followed it up: one dated on
// the day of the follow-up or after it. Where that day is the one on which it was written, only a mark settles it.
func (f FollowUp) Settled(later []Activity) bool {
	for _, a := range later {
		if a.PlayerID == f.PlayerID && a.Date >= f.On && f.On > f.Since {
			return true
		}
	}
	return false
}
