package pages

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"throughline/api/auth"
	"throughline/models"
	"throughline/models/store"
)

// The involvement log is the one page that needs scripts. Its shell is the same for everybody and names no one: a
// service worker for /log/ alone keeps it, and the page opens while the server is away. Names come by a request of
// their own, and stay in the page.
//
// Its scripts are modules in static/log. log.js is the page, filling.js an involvement that is open, clock.js where the
// match is, store.js the browser's database, send.js what goes to the resources for programs, with keys that make
// sending again safe. What is logged stays in that database until the server has acknowledged it. Rows have an owner,
// a user by ids, and only that user's rows are read. Who that is the server says; while it is away a cookie does, which
// ends with the session. One tab at a time holds the log, by a lock of the browser. A change that meets another user's
// is set aside, and the logger chooses.
const (
	logPath   = "/log/"
	logShell  = logPath + "shell"
	logWorker = logPath + "worker.js"
	logCard   = logPath + "keys"
	logWho    = logPath + "who"
)

// logPolicy lets the log's scripts reach their own server, and no other.
const logPolicy = "; connect-src 'self'; worker-src 'self'"

// logCookie tells the log who signed in, while it cannot ask the server. It opens nothing: it names a user by ids, and
// goes with the browser, at sign-out and when another user signs in.
const logCookie = "throughline-log"

// unsentCookie begins the name of the cookie in which the log notes how much of a user's it still has to send.
const unsentCookie = "throughline-unsent-"

// logAddress is the page on which one player's match is logged.
func logAddress(match, player int64) string { return fmt.Sprintf("%s%d/%d", logPath, match, player) }

func (p *Pages) registerLog(router *gin.Engine) {
	router.GET(logShell, func(c *gin.Context) { p.shell(c) })
	router.GET(logWorker, p.worker)
	router.GET(logCard, p.known(p.keyCard))
	router.GET(logWho, p.known(p.logWho))
	router.GET(logPath+":match/:player", p.known(p.logPage))
	router.GET(logPath+":match/:player/about", p.known(p.aboutLog))
}

// logTable is the catalogue with its keys, as the page embeds it.
type logTable struct {
	Keys           models.KeyTable        `json:"keys"`
	Kinds          []models.KindInfo      `json:"kinds"`
	Details        []models.Detail        `json:"details"`
	Results        []models.ResultInfo    `json:"results"`
	Dangers        []models.DangerInfo    `json:"dangers"`
	Contradictions []models.Contradiction `json:"contradictions"`
	Pitch          pitch                  `json:"pitch"`
	Caution        string                 `json:"caution"` // after a head contact
}

// pitch is what the page draws, in metres.
type pitch struct {
	Length       int `json:"length"`
	Width        int `json:"width"`
	InGoal       int `json:"in_goal"`
	FromGoalLine int `json:"from_goal_line"`
	FromHalfway  int `json:"from_halfway"`
	Wide         int `json:"wide"`
	Close        int `json:"close"`
	Near         int `json:"near"`
}

// line is a line across the pitch, in metres from the top of the drawing.
type line struct {
	At   int
	Name string // of its look
}

// Across are the lines across the pitch, from the opponents' goal line.
func (p pitch) Across() []line {
	top, half := p.InGoal, p.InGoal+p.Length/2
	return []line{{top, "goal"}, {top + p.FromGoalLine, "solid"}, {half - p.FromHalfway, "broken"}, {half, "solid"},
		{half + p.FromHalfway, "broken"}, {top + p.Length - p.FromGoalLine, "solid"}, {top + p.Length, "goal"}}
}

// Along are the broken lines along the pitch.
func (p pitch) Along() []int { return []int{p.Near, p.Wide, p.Width - p.Wide, p.Width - p.Near} }

// Whole is the length with the in-goal areas.
func (p pitch) Whole() int { return p.Length + 2*p.InGoal }

// Box is what the drawing shows, with a metre around it.
func (p pitch) Box() string { return fmt.Sprintf("-1 -1 %d %d", p.Width+2, p.Whole()+2) }

// Top is where the opponents' goal line is named.
func (p pitch) Top() int { return p.InGoal - 2 }

// Bottom is where the goal line of the player's own side is named.
func (p pitch) Bottom() int { return p.End() + 5 }

// End is where the goal line of the player's own side is drawn.
func (p pitch) End() int { return p.Length + p.InGoal }

func thePitch() pitch {
	return pitch{Length: models.LawPitchLength, Width: models.LawPitchWidth, InGoal: models.LawInGoal,
		FromGoalLine: models.LawFromGoalLine, FromHalfway: models.LawFromHalfway, Wide: models.LawFromTouchline,
		Near: models.LawNearTouchline, Close: models.CloseMetres}
}

func tableOfLog() logTable {
	return logTable{Keys: models.LogKeys(), Kinds: models.Kinds(), Details: models.DetailCatalogue(),
		Results: models.Results(), Dangers: models.DangerCatalogue(), Contradictions: models.Contradictions(),
		Pitch: thePitch(), Caution: models.HeadContactAsk}
}

// Halves are those that a match can have.
func (logTable) Halves() []int { return []int{1, 2, 3, 4} }

// Starts are the keys of the kinds.
func (t logTable) Starts() []models.LogKey {
	all := make([]models.LogKey, len(t.Kinds))
	for i, k := range t.Kinds {
		all[i] = models.LogKey{Key: t.Keys.Kinds[i].Key, Code: string(k.Code), Name: k.Label, Does: k.Definition}
	}
	return all
}

// shell is GET /log/shell, and the page of every log.
func (p *Pages) shell(c *gin.Context) {
	allow(c, "; script-src 'self'"+logPolicy)
	var b bytes.Buffer
	if err := p.views["log"].ExecuteTemplate(&b, "page", view{Title: "Involvement log", Page: tableOfLog()}); err != nil {
		p.failed(c, fmt.Errorf("fill the page log: %w", err))
		return
	}
	c.Data(http.StatusOK, "text/html; charset=utf-8", b.Bytes())
}

func allow(c *gin.Context, more string) {
	c.Header("Content-Security-Policy", c.Writer.Header().Get("Content-Security-Policy")+more)
}

// logPage is GET /log/:match/:player.
func (p *Pages) logPage(c *gin.Context, who models.Who) error {
	match, player, err := logIDs(c)
	if err != nil {
		return err
	}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		_, _, err := mayLog(tx, who, match, player)
		return err
	})
	if err != nil {
		return err
	}
	setLogCookie(c, ownerOf(who), 0)
	p.shell(c)
	return nil
}

func logIDs(c *gin.Context) (match, player int64, err error) {
	if match, err = id(c, "match"); err != nil {
		return 0, 0, err
	}
	player, err = id(c, "player")
	return match, player, err
}

// mayLog reads whose match is logged. It is Forbidden for those who may read it and not log.
func mayLog(tx *store.Tx, who models.Who, match, player int64) (m models.Match, one models.Player, err error) {
	if one, err = tx.Player(player); err != nil {
		return m, one, err
	}
	if m, err = tx.Match(match); err != nil {
		return m, one, err
	}
	if who.Reach(models.Write, models.AreaPerformance) == models.ReachNone {
		return m, one, models.Errorf(models.Forbidden, "coaches and managers log matches")
	}
	return m, one, nil
}

// ownerOf names a user without a name.
func ownerOf(who models.Who) string { return fmt.Sprintf("%d.%d", who.AcademyID, who.UserID) }

// setLogCookie sets whose log it is; a negative age takes it back. Scripts of the log read it, so it is not HttpOnly.
func setLogCookie(c *gin.Context, owner string, age int) {
	_, err := c.Request.Cookie(auth.SessionCookie(true))
	http.SetCookie(c.Writer, &http.Cookie{Name: logCookie, Value: owner, Path: logPath, MaxAge: age, Secure: err == nil,
		SameSite: http.SameSiteStrictMode})
}

// forgetLog takes back what the log knows of who signed in.
func forgetLog(c *gin.Context) { setLogCookie(c, "", -1) }

// logWho is GET /log/who: whose rows the page may show and send.
func (p *Pages) logWho(c *gin.Context, who models.Who) error {
	c.JSON(http.StatusOK, map[string]string{"owner": ownerOf(who)})
	return nil
}

// logAbout is what the page shows while the server is there, and what it keeps without the names.
type logAbout struct {
	Owner        string               `json:"owner"`
	Player       string               `json:"player"`
	Match        string               `json:"match"`
	Halves       int                  `json:"halves"`
	HalfMinutes  int                  `json:"half_minutes"`
	Appears      bool                 `json:"appears"`
	Log          *models.Log          `json:"log"`
	Involvements []models.Involvement `json:"involvements"`
	Others       []otherLog           `json:"others"`
}

// otherLog is a log of the same player and match that another user made.
type otherLog struct {
	By           string `json:"by"`
	Involvements int    `json:"involvements"`
	Finished     bool   `json:"finished"`
	Compared     string `json:"compared,omitempty"` // where the two logs are compared
}

// aboutLog is GET /log/:match/:player/about.
func (p *Pages) aboutLog(c *gin.Context, who models.Who) error {
	match, player, err := logIDs(c)
	if err != nil {
		return err
	}
	about := logAbout{Owner: ownerOf(who), Involvements: []models.Involvement{}, Others: []otherLog{}}
	err = p.store.Read(c.Request.Context(), who, func(tx *store.Tx) error {
		m, one, err := mayLog(tx, who, match, player)
		if err != nil {
			return err
		}
		about.Player, about.Halves, about.HalfMinutes = one.Name, m.Halves, m.HalfMinutes
		about.Match = day(m.Date) + ", " + m.Opponent
		return about.read(tx, who, match, player)
	})
	if err != nil {
		return err
	}
	c.JSON(http.StatusOK, about)
	return nil
}

func (about *logAbout) read(tx *store.Tx, who models.Who, match, player int64) error {
	appears, err := tx.Appearances(models.AppearanceFilter{MatchID: match, PlayerID: player})
	if err != nil {
		return err
	}
	about.Appears = len(appears) > 0
	logs, err := tx.Logs(models.LogFilter{MatchID: match, PlayerID: player})
	if err != nil {
		return err
	}
	names, err := tx.UserNames()
	if err != nil {
		return err
	}
	if own := slices.IndexFunc(logs, func(l models.Log) bool { return l.LoggerID == who.UserID }); own >= 0 {
		about.Log = &logs[own]
	}
	for _, l := range logs {
		all, err := tx.Involvements(models.InvolvementFilter{LogID: l.ID})
		switch {
		case err != nil:
			return err
		case l.LoggerID == who.UserID:
			about.Involvements = append(about.Involvements, all...)
			continue
		}
		other := otherLog{By: names[l.LoggerID], Involvements: len(all), Finished: l.Finished}
		if about.Log != nil {
			other.Compared = agreementAddress(about.Log.ID, l.ID)
		}
		about.Others = append(about.Others, other)
	}
	return nil
}

// keyCard is GET /log/keys: every key, to be printed.
func (p *Pages) keyCard(c *gin.Context, who models.Who) error {
	if who.Reach(models.Write, models.AreaPerformance) == models.ReachNone {
		return models.Errorf(models.Forbidden, "coaches and managers log matches")
	}
	return p.render(c, http.StatusOK, "log-keys", "Keys of the involvement log", cardOfKeys())
}

// worker is GET /log/worker.js: the service worker, after the list of what it keeps. Its text changes with any of the
// files, and a browser then fetches them anew.
func (p *Pages) worker(c *gin.Context) {
	kept := []string{logShell}
	for _, name := range p.staticNames() {
		if name == "log/worker.js" {
			continue
		}
		if strings.HasPrefix(name, "log/") || strings.HasSuffix(name, ".css") || strings.HasSuffix(name, ".svg") {
			kept = append(kept, p.address(name))
		}
	}
	list, err := json.Marshal(kept)
	if err != nil {
		p.failed(c, err)
		return
	}
	allow(c, logPolicy)
	script := fmt.Appendf(nil, "const kept = %s;\nconst edition = %q;\n", list, p.edition())
	c.Data(http.StatusOK, "text/javascript; charset=utf-8", append(script, p.static["log/worker.js"].content...))
}

// edition changes with the shell, whose catalogue is no file.
func (p *Pages) edition() string {
	table, err := json.Marshal(tableOfLog())
	if err != nil {
		return "" // it is plain data, and the shell would fail as well
	}
	return digest(append(table, p.address("log/log.js")...))
}

// unsent is what the log noted about a user's rows in this browser.
type unsent struct {
	Count   int
	Address string
}

// unsentOf reads what a user still has to send from this browser; false for nothing.
func unsentOf(r *http.Request, who models.Who) (unsent, bool) {
	noted, err := r.Cookie(unsentCookie + ownerOf(who))
	if err != nil {
		return unsent{}, false
	}
	var numbers [3]int64
	parts := strings.Split(noted.Value, ".")
	if len(parts) != len(numbers) {
		return unsent{}, false
	}
	for i, part := range parts {
		if numbers[i], err = strconv.ParseInt(part, 10, 64); err != nil || numbers[i] < 1 {
			return unsent{}, false
		}
	}
	return unsent{int(numbers[0]), logAddress(numbers[1], numbers[2])}, true
}

// matchToLog is a match of a player's page with the address of its log.
type matchToLog struct{ Full, Log string }

// ToLog are the player's last matches, to be logged.
func (page playerPage) ToLog() []matchToLog {
	var all []matchToLog
	for i := range page.Matches {
		if m := &page.Matches[i]; m.Other == "" {
			all = append(all, matchToLog{m.Full(), logAddress(m.ID, page.Player.ID)})
		}
	}
	return all
}
