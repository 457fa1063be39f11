package consistency

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"throughline/models"
	"throughline/reports/paper"
)

// mostCompared is how many players' matches are compared, the latest ones: each takes a look at all that was logged.
const mostCompared = 20

// LogAgreement is how far people who logged the same player in the same match agree.
type LogAgreement struct {
	// players' matches that two people or more logged, the latest first
	Doubles  []Double `json:"doubles"`
	Compared int      `json:"compared"` // how many pairs of logs were compared; those of the 20 latest matches at most
	Matched  int      `json:"matched"`  // how many involvements are in both logs of a pair, over all of them
	Only     int      `json:"only"`     // how many are in one log of a pair only
	Share    float64  `json:"share"`    // the share that is in both, 0 to 1; 0 without involvements
	// the definition that most pairs read differently; absent if none is read so by two pairs or more
	Misread *Misread `json:"misread,omitempty"`
}

// Double is one player's match that two people or more logged.
type Double struct {
	PlayerID int64       `json:"player_id"` // the player who was logged
	Player   string      `json:"player"`    // the player's name
	MatchID  int64       `json:"match_id"`
	Opponent string      `json:"opponent"` // the other team
	Date     models.Date `json:"date"`     // the day of the match
	Pairs    []Pair      `json:"pairs"`    // every two of the logs
}

// Pair is two logs of the same player and match, by two people.
type Pair struct {
	FirstLog  int64  `json:"first_log"`  // the id of the first log
	SecondLog int64  `json:"second_log"` // the id of the second log
	First     string `json:"first"`      // the first logger's name for managers; otherwise “you”, or a number
	Second    string `json:"second"`     // the same of the second logger
	// what both have, in the minutes and kinds that both cover; absent if the pair was not compared
	Found *Found `json:"found,omitempty"`
}

// Found is what two logs have alike.
type Found struct {
	Minutes    float64  `json:"minutes"`         // the minutes that both cover
	Either     int      `json:"either"`          // how many involvements either log has
	Matched    int      `json:"matched"`         // how many involvements are in both logs
	OnlyFirst  int      `json:"only_first"`      // how many are in the first log only
	OnlySecond int      `json:"only_second"`     // how many are in the second log only
	Kappa      *float64 `json:"kappa,omitempty"` // Cohen's kappa of the kinds, at the moments that both have
	// the definition that the two read most differently; absent if none stands out
	Misread *Misread `json:"misread,omitempty"`
}

// Misread is a definition that loggers read differently.
type Misread struct {
	Kind   models.Kind `json:"kind,omitempty"`   // the kind that it is about; absent if it is the choice of the kind
	Detail string      `json:"detail,omitempty"` // the detail's code; absent if it is the choice of the kind
	Words  string      `json:"words"`            // what it is called: “contact” of a carry
	Pairs  int         `json:"pairs"`            // how many pairs of logs read it most differently
	Both   int         `json:"both"`             // how many involvements both logs have it for
	// on how many of them they differ
	Disagreed int `json:"disagreed"`
}

// readLoggers lists what two people logged, and compares the latest.
func (r *Report) readLoggers(src Source, of record) error {
	r.Loggers = LogAgreement{Doubles: []Double{}}
	called := r.called.loggers(of)
	for _, d := range of.doubles {
		double := Double{PlayerID: d.player.ID, Player: d.player.Name, MatchID: d.match.ID, Opponent: d.match.Opponent,
			Date: d.match.Date}
		var plays []models.LoggedPlay
		if len(r.Loggers.Doubles) < mostCompared {
			var err error
			if plays, err = playsOf(src, d.logs); err != nil {
				return err
			}
		}
		names := called.ofLogs(d.logs)
		for i := range d.logs {
			for j := i + 1; j < len(d.logs); j++ {
				pair := Pair{FirstLog: d.logs[i].ID, SecondLog: d.logs[j].ID, First: names[i], Second: names[j]}
				if plays != nil {
					pair.Found = found(models.Agree(d.match, plays[i], plays[j]))
				}
				double.Pairs = append(double.Pairs, pair)
			}
		}
		r.Loggers.Doubles = append(r.Loggers.Doubles, double)
	}
	r.Loggers.sum()
	return nil
}

// playsOf reads what logs of one player and match hold.
func playsOf(src Source, logs []models.Log) ([]models.LoggedPlay, error) {
	all, err := src.Involvements(models.InvolvementFilter{MatchID: logs[0].MatchID, PlayerID: logs[0].PlayerID})
	if err != nil {
		return nil, err
	}
	plays := make([]models.LoggedPlay, len(logs))
	for i, l := range logs {
		plays[i].Log = l
		for _, v := range all {
			if v.LogID == l.ID {
				plays[i].Involvements = append(plays[i].Involvements, v)
			}
		}
	}
	return plays, nil
}

func found(a models.Agreement) *Found {
	f := &Found{Minutes: a.Minutes, Either: a.Matched + a.OnlyA + a.OnlyB, Matched: a.Matched, OnlyFirst: a.OnlyA,
		OnlySecond: a.OnlyB, Kappa: a.Kappa}
	if m := a.Misread; m != nil {
		f.Misread = &Misread{Words: "which kind it is", Pairs: 1, Both: m.Both, Disagreed: m.Disagreed}
		if m.Detail != "" {
			f.Misread.Kind, f.Misread.Detail = m.Kind, m.Detail
			f.Misread.Words = fmt.Sprintf("“%s” of a %s", paper.Lower(m.Label), strings.ToLower(kindLabel(m.Kind)))
		}
	}
	return f
}

func kindLabel(kind models.Kind) string {
	all := models.Kinds()
	return all[slices.IndexFunc(all, func(k models.KindInfo) bool { return k.Code == kind })].Label
}

// sum adds up all pairs.
func (l *LogAgreement) sum() {
	by := map[string]*Misread{}
	var order []*Misread
	for _, d := range l.Doubles {
		for _, p := range d.Pairs {
			if p.Found == nil {
				continue
			}
			l.Compared++
			l.Matched += p.Found.Matched
			l.Only += p.Found.OnlyFirst + p.Found.OnlySecond
			m := p.Found.Misread
			if m == nil {
				continue
			}
			if by[m.Words] == nil {
				by[m.Words] = &Misread{Kind: m.Kind, Detail: m.Detail, Words: m.Words}
				order = append(order, by[m.Words])
			}
			all := by[m.Words]
			all.Pairs, all.Both, all.Disagreed = all.Pairs+1, all.Both+m.Both, all.Disagreed+m.Disagreed
		}
	}
	if all := l.Matched + l.Only; all > 0 {
		l.Share = float64(l.Matched) / float64(all)
	}
	slices.SortStableFunc(order, func(a, b *Misread) int {
		return cmp.Or(cmp.Compare(b.Pairs, a.Pairs), cmp.Compare(b.Disagreed, a.Disagreed))
	})
	if len(order) > 0 && order[0].Pairs > 1 {
		l.Misread = order[0]
	}
}

// double is a player's match that several people logged.
type double struct {
	player models.Player
	match  models.Match
	logs   []models.Log
}

// doublesOf finds the players' matches that two people or more logged, the latest first.
func (of record) doublesOf(logs []models.Log) (all []double) {
	type play struct{ player, match int64 }
	by := map[play][]models.Log{}
	var order []play
	for _, l := range logs {
		this := play{l.PlayerID, l.MatchID}
		if by[this] = append(by[this], l); len(by[this]) == 2 {
			order = append(order, this)
		}
	}
	for _, play := range order {
		player, in := of.players[play.player]
		match, is := of.matches[play.match]
		if in && is {
			all = append(all, double{player, match, by[play]})
		}
	}
	slices.SortStableFunc(all, func(a, b double) int {
		return cmp.Or(cmp.Compare(b.match.Date, a.match.Date), cmp.Compare(b.match.ID, a.match.ID),
			cmp.Compare(a.player.Name, b.player.Name), cmp.Compare(a.player.ID, b.player.ID))
	})
	return all
}

// logging is what loggers are called to a reader.
type logging struct {
	calling
	order []int64
}

// loggers gives each logger a number. It has nothing to do with a coach's letter: staff may read who made a log, and
// learn no letter by it.
func (c calling) loggers(of record) logging {
	l := logging{calling: c}
	var logs []models.Log
	for _, d := range of.doubles {
		logs = append(logs, d.logs...)
	}
	slices.SortFunc(logs, func(a, b models.Log) int { return cmp.Compare(a.ID, b.ID) })
	for _, log := range logs {
		if !slices.Contains(l.order, log.LoggerID) {
			l.order = append(l.order, log.LoggerID)
		}
	}
	return l
}

// ofLogs is what the makers of some logs are called. Where one made several of them, each has its number too.
func (l logging) ofLogs(logs []models.Log) []string {
	made := map[int64]int{}
	names := make([]string, len(logs))
	for i, log := range logs {
		switch name := l.names[log.LoggerID]; {
		case !l.named && log.LoggerID == l.you:
			names[i] = "You"
		case l.named && name != "":
			names[i] = name
		default:
			names[i] = fmt.Sprintf("Logger %d", slices.Index(l.order, log.LoggerID)+1)
		}
		if made[log.LoggerID]++; made[log.LoggerID] > 1 {
			names[i] += fmt.Sprintf(" (log %d)", made[log.LoggerID])
		}
	}
	return names
}
