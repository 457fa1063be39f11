package season

import (
	"cmp"
	"slices"

	"throughline/models"
)

// NoteLine is a review note.
type NoteLine struct {
	ID       int64        `json:"id"`
	Date     models.Date  `json:"date"`
	Author   string       `json:"author"`
	On       string       `json:"on,omitempty"` // the match it is about
	Shared   bool         `json:"shared"`
	Text     string       `json:"text"`
	FollowUp *models.Date `json:"follow_up,omitempty"`
}

// readNotes takes the notes as the source gives them: a player's own source has only the shared ones.
func (r *Report) readNotes(src Source, q Request) error {
	notes, err := src.ReviewNotes(models.ReviewNoteFilter{PlayerID: q.PlayerID, SeasonID: q.SeasonID})
	if err != nil {
		return err
	}
	names, err := src.UserNames()
	if err != nil {
		return err
	}
	r.Notes = []NoteLine{}
	for _, n := range notes {
		if r.Edition == PlayerEdition && !n.Shared {
			continue // the source should not have given it; a second lock costs nothing
		}
		line := NoteLine{ID: n.ID, Date: n.Date, Author: names[n.AuthorID], Shared: n.Shared, Text: n.Text, FollowUp: n.FollowUp}
		if n.MatchID != nil {
			if m := r.match(*n.MatchID); m != nil {
				line.On = m.Opponent
			}
		}
		r.Notes = append(r.Notes, line)
	}
	slices.SortStableFunc(r.Notes, func(a, b NoteLine) int { return cmp.Compare(b.Date, a.Date) })
	return nil
}

// MomentLine is an involvement marked worth showing.
type MomentLine struct {
	ID        int64        `json:"id"`
	MatchID   int64        `json:"match_id"`
	Date      models.Date  `json:"date"`
	Opponent  string       `json:"opponent"`
	Clock     models.Clock `json:"clock"`
	Kind      models.Kind  `json:"kind"`
	Details   []string     `json:"details"` // in words, such as "contact: won"
	Note      string       `json:"note,omitempty"`
	VideoFile string       `json:"video_file,omitempty"`
	VideoFrom *float64     `json:"video_from,omitempty"` // seconds
	First     bool         `json:"first"`                // one of the few to look at first
}

// firstMoments is how many moments a reader is sent to first.
const firstMoments = 8

// chooseMoments marks the moments to look at first: the latest of those kinds that the sentences and the open goals are about, those
// with a note before those without.
func (r *Report) chooseMoments() {
	wanted := map[models.Kind]bool{}
	want := func(code string) {
		if in, ok := models.IndicatorOf(code); ok {
			count, _ := models.CountOf(in.Numerator)
			for _, k := range count.Kinds {
				wanted[k] = true
			}
		}
	}
	for _, s := range r.Sentences {
		want(s.Indicator)
	}
	for _, g := range r.Goals {
		if g.ClosedOn == nil {
			want(g.Indicator)
		}
	}
	left := firstMoments
	for _, noted := range []bool{true, false} {
		for i := len(r.Moments) - 1; i >= 0 && left > 0; i-- {
			m := &r.Moments[i]
			if (m.Note != "") == noted && (wanted[m.Kind] || len(wanted) == 0) {
				m.First = true
				left--
			}
		}
	}
}

func (r *Report) readMoments(src Source, q Request) error {
	logs, err := src.Logs(models.LogFilter{PlayerID: q.PlayerID, SeasonID: q.SeasonID})
	if err != nil {
		return err
	}
	moments, err := src.Involvements(models.InvolvementFilter{PlayerID: q.PlayerID, SeasonID: q.SeasonID, MomentsOnly: true})
	if err != nil {
		return err
	}
	r.Moments = []MomentLine{}
	if len(moments) == 0 {
		return nil
	}
	matchOf := make(map[int64]int64, len(logs))
	for _, l := range logs {
		matchOf[l.ID] = l.MatchID
	}
	for _, i := range moments {
		m := r.match(matchOf[i.LogID])
		if m == nil {
			continue
		}
		r.Moments = append(r.Moments, MomentLine{
			ID: i.ID, MatchID: m.ID, Date: m.Date, Opponent: m.Opponent, Clock: i.Clock, Kind: i.Kind, Details: i.InWords(), Note: i.Note,
			VideoFile: i.VideoFile, VideoFrom: i.VideoFrom,
		})
	}
	slices.SortStableFunc(r.Moments, func(a, b MomentLine) int {
		return cmp.Or(cmp.Compare(a.Date, b.Date), cmp.Compare(a.MatchID, b.MatchID), cmp.Compare(a.Clock.Half, b.Clock.Half), cmp.Compare(a.Clock.Second, b.Clock.Second))
	})
	return nil
}
