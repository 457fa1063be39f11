package evidence

import (
	"cmp"
	"slices"
	"strings"

	"throughline/models"
	"throughline/reports/paper"
)

// NoteLine is a review note.
type NoteLine struct {
	ID     int64       `json:"id"`
	Date   models.Date `json:"date"`
	Author string      `json:"author"`
	On     string      `json:"on,omitempty"` // the match the note is about
	// which squad the match was for, if the player is in several
	Squad    string       `json:"squad,omitempty"`
	Shared   bool         `json:"shared"`
	Text     string       `json:"text"`
	FollowUp *models.Date `json:"follow_up,omitempty"`
	// what the player and staff replied, in a guardian's print
	Replies []ReplyLine `json:"replies,omitempty"`
}

// Meta says when the note was written, by whom, about which match, and when it is followed up.
func (n NoteLine) Meta() string {
	meta := []string{paper.Day(string(n.Date)), n.Author}
	if n.On != "" {
		meta = append(meta, "about the match with "+n.On)
	}
	if n.Squad != "" {
		meta = append(meta, n.Squad)
	}
	if n.FollowUp != nil {
		meta = append(meta, "follow up on "+paper.Day(string(*n.FollowUp)))
	}
	return strings.Join(meta, ", ")
}

// NoteSource is what ReadNotes reads.
type NoteSource interface {
	ReviewNotes(models.ReviewNoteFilter) ([]models.ReviewNote, error)
	UserNames() (map[int64]string, error)
}

// ReadNotes takes the notes as the source gives them: a player's own source has only the shared ones.
func (p *Player) ReadNotes(src NoteSource) error {
	notes, err := src.ReviewNotes(models.ReviewNoteFilter{PlayerID: p.Person.ID, SeasonID: p.Season.ID})
	if err != nil {
		return err
	}
	names, err := src.UserNames()
	if err != nil {
		return err
	}
	p.Notes = []NoteLine{}
	for _, n := range notes {
		if p.Edition == PlayerEdition && !n.Shared {
			continue // the source should not have given it; a second lock costs nothing
		}
		line := NoteLine{ID: n.ID, Date: n.Date, Author: names[n.AuthorID], Shared: n.Shared, Text: n.Text,
			FollowUp: n.FollowUp}
		if n.MatchID != nil {
			if m := p.Match(*n.MatchID); m != nil {
				line.On, line.Squad = m.Opponent, m.Squad
			}
		}
		p.Notes = append(p.Notes, line)
	}
	slices.SortStableFunc(p.Notes, func(a, b NoteLine) int { return cmp.Compare(b.Date, a.Date) })
	return nil
}

// ReplySource is what ReadReplies reads.
type ReplySource interface {
	NoteAnswers(note int64) ([]models.NoteAnswer, error)
	UserNames() (map[int64]string, error)
}

// ReadReplies adds the replies to the notes that are shared with the player, on days of the reader's academy. Read the
// notes first.
func (p *Player) ReadReplies(src ReplySource, who models.Who) error {
	names, err := src.UserNames() // which has no player's name
	if err != nil {
		return err
	}
	for i := range p.Notes {
		n := &p.Notes[i]
		if !n.Shared {
			continue
		}
		answers, err := src.NoteAnswers(n.ID)
		if err != nil {
			return err
		}
		for _, a := range answers {
			n.Replies = append(n.Replies, ReplyLine{Date: who.Day(a.CreatedAt), Text: a.Text, By: names[a.AuthorID]})
		}
	}
	return nil
}

// MomentLine is an involvement marked as worth showing.
type MomentLine struct {
	ID       int64       `json:"id"`
	MatchID  int64       `json:"match_id"`
	Date     models.Date `json:"date"`
	Opponent string      `json:"opponent"`
	// which squad the match was for, if the player is in several
	Squad     string       `json:"squad,omitempty"`
	Clock     models.Clock `json:"clock"`
	Kind      models.Kind  `json:"kind"`
	Details   []string     `json:"details"` // the details in words, such as "contact: won"
	Note      string       `json:"note,omitempty"`
	VideoFile string       `json:"video_file,omitempty"`
	// the start, in seconds from the start of the file
	VideoFrom *float64 `json:"video_from,omitempty"`
	First     bool     `json:"first"` // whether it is one of the few to look at first
	of        models.Involvement
}

// Shows is models.Indicator.Shows of the moment.
func (m *MomentLine) Shows(in models.Indicator) (counted, among bool) { return in.Shows(&m.of) }

// MomentSource is what ReadMoments reads.
type MomentSource interface {
	Logs(models.LogFilter) ([]models.Log, error)
	Involvements(models.InvolvementFilter) ([]models.Involvement, error)
}

// ReadMoments reads the involvements marked worth showing, in the order of play, and for staff those marked as
// dangerous play.
func (p *Player) ReadMoments(src MomentSource) error {
	logs, err := src.Logs(models.LogFilter{PlayerID: p.Person.ID, SeasonID: p.Season.ID})
	if err != nil {
		return err
	}
	moments, err := src.Involvements(models.InvolvementFilter{PlayerID: p.Person.ID, SeasonID: p.Season.ID,
		MomentsOnly: true})
	if err != nil {
		return err
	}
	var dangers []models.Involvement
	if p.Edition == StaffEdition {
		dangers, err = src.Involvements(models.InvolvementFilter{PlayerID: p.Person.ID, SeasonID: p.Season.ID,
			DangersOnly: true})
		if err != nil {
			return err
		}
	}
	matchOf := make(map[int64]int64, len(logs))
	for _, l := range logs {
		matchOf[l.ID] = l.MatchID
	}
	p.Moments, p.Dangers = p.momentLines(moments, matchOf), p.momentLines(dangers, matchOf)
	return nil
}

// momentLines words involvements, in the order of play.
func (p *Player) momentLines(all []models.Involvement, matchOf map[int64]int64) []MomentLine {
	lines := []MomentLine{}
	for _, i := range all {
		m := p.Match(matchOf[i.LogID])
		if m == nil || m.Stop.Has(i.Clock) { // what follows a head contact is for the safety record and the log alone
			continue
		}
		lines = append(lines, MomentLine{
			ID: i.ID, MatchID: m.ID, Date: m.Date, Opponent: m.Opponent, Squad: m.Squad, Clock: i.Clock, Kind: i.Kind,
			Details:   i.InWords(),
			Note:      i.Note,
			VideoFile: i.VideoFile, VideoFrom: i.VideoFrom, of: i,
		})
	}
	slices.SortStableFunc(lines, func(a, b MomentLine) int {
		return cmp.Or(cmp.Compare(a.Date, b.Date), cmp.Compare(a.MatchID, b.MatchID),
			cmp.Compare(a.Clock.Half, b.Clock.Half), cmp.Compare(a.Clock.Second, b.Clock.Second))
	})
	return lines
}
