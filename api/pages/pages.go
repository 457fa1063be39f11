// Package pages is what people see: one file for each page, which reads the request, asks the store or a paper, and
// fills a template. Pages need no script, except the involvement log. Small ones let a reader sort tables, read charts
// by pointer or keys, move through a grid and keep what they typed. They share their look with the papers they show.
package pages

import (
	"bytes"
	"context"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"log/slog"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/gin-gonic/gin"

	"throughline/api/auth"
	"throughline/models"
	"throughline/models/store"
	"throughline/reports/paper"
	"throughline/reports/paper/pdf"
)

//go:embed templates
var templates embed.FS

// Pages answers people.
type Pages struct {
	store   *store.Store
	auth    *auth.Auth
	papers  paper.Papers
	printer *pdf.Printer // nil where there is no Chromium
	log     *slog.Logger
	now     func() time.Time
	views   map[string]*template.Template
	static  map[string]asset
}

// New returns the pages over a store, with its papers and what prints them.
func New(s *store.Store, people *auth.Auth, papers paper.Papers, printer *pdf.Printer, log *slog.Logger,
	now func() time.Time) *Pages {
	p := &Pages{store: s, auth: people, papers: papers, printer: printer, log: log, now: now,
		views: map[string]*template.Template{}, static: assets()}
	for _, name := range []string{
		"agreement",
		"sign-in", "code", "join", "account", "second-factor", "home", "paper", "player", "goals", "goal", "safety", "audit",
		"data-requests", "people", "link", "academies", "cautions", "failure", "reviews", "review",
		"meetings", "meeting", "skills", "skill", "round", "rounds", "round-form",
		"review-form", "search", "my-grades", "my-reviews", "logging", "help", "match-grades", "next-season",
		"first-run", "set-up", "settings", "seasons", "squads", "squad", "player-edit", "matches", "match",
		"log", "log-keys", "unsent", "merges", "merge", "elsewhere",
		"training", "training-session", "match-totals", "work", "work-kind", "consent-form",
		"squad-consents", "kept", "pack",
	} {
		// The templates are embedded: a test, not a reader, meets one that does not parse.
		t := template.Must(paper.Template(nil))
		t = template.Must(t.Funcs(template.FuncMap{"static": p.address, "day": day, "keyName": keyName,
			"input": inputOf, "positions": positionChoices, "sides": sides, "choice": choiceOf,
			"questions": questions, "upper": paper.Upper,
			"chance": func(p *float64) string { return paper.Chance(*p) }}).ParseFS(templates,
			"templates/layout.html", "templates/"+name+".html"))
		p.views[name] = t
	}
	return p
}

// Register adds the pages to a router.
func (p *Pages) Register(router *gin.Engine) {
	router.GET(FirstRunPath, p.firstRunForm)
	router.POST(FirstRunPath, p.firstRun)
	router.GET("/sign-in", p.signInForm)
	router.POST("/sign-in", p.signIn)
	router.GET("/sign-in/code", p.codeForm)
	router.POST("/sign-in/code", p.code)
	router.POST("/sign-out", p.signOut)
	router.GET("/join/:secret", p.joinForm)
	router.POST("/join/:secret", p.join)
	p.registerAccount(router)
	p.registerSetup(router)
	p.registerMerges(router)
	p.registerMeetings(router)
	p.registerConsents(router)
	p.registerPacks(router)
	router.GET("/cautions", p.cautions)
	router.GET("/", p.known(p.home))
	router.GET("/work", p.known(p.work))
	router.GET("/work/:kind", p.known(p.workOfKind))
	router.GET("/people", p.known(p.people))
	router.POST("/people", p.sent("person", p.peopleWith, p.addPerson))
	router.POST("/people/:id/link", p.sent("link", p.peopleWith, p.linkPerson))
	router.POST("/people/:id/squads", p.onPerson("squads", joinSquad))
	router.POST("/people/:id/squads/end", p.onPerson("squads", leaveSquad))
	router.POST("/people/:id/squads/lead", p.onPerson("squads", leadSquad))
	router.POST("/people/:id/second-factor-off", p.onPerson("factor", endFactor))
	router.POST("/people/:id/remove", p.onPerson("remove", removePerson))
	router.GET("/search", p.known(p.search))
	router.GET("/help", p.known(p.help))
	router.GET("/logging", p.known(p.logging))
	router.GET("/skills", p.known(p.skills))
	router.GET("/new-skill", p.known(p.newSkill))
	router.POST("/skills", p.sent("new-skill", p.newSkillWith, p.addSkill))
	router.GET("/skills/:code", p.known(p.skill))
	router.POST("/skills/:code", p.sent("skill", p.skillWith, p.saveSkill))
	router.GET("/academies", p.known(p.academies))
	router.POST("/academies", p.sent("academy", p.academiesWith, p.addAcademy))
	router.POST("/academies/:id/name", p.sent("rename", p.academiesWith, p.renameAcademy))
	router.POST("/academies/:id/manager", p.sent("manager", p.academiesWith, p.firstManager))
	router.GET("/audit", p.known(p.audit))
	router.GET("/safety", p.known(p.safety))
	router.POST("/safety/head-contacts/:id/told", p.sent("told", p.safetyWith, p.told))
	router.POST("/safety/stand-downs/:id/lift", p.sent("lift", p.safetyWith, p.lift))
	router.POST("/safety/answers/:id/seen", p.sent("seen", p.safetyWith, p.seen))
	router.POST("/safety/retention/:id", p.sent("keep", p.safetyWith, p.keep))
	router.GET("/data-requests", p.known(p.dataRequests))
	p.registerReviews(router)
	p.registerMine(router)
	router.GET("/logs/:log/agreement/:other", p.known(p.agreement))
	p.registerRounds(router)
	p.registerLog(router)
	p.registerTraining(router)
	router.GET("/players/:player", p.known(p.player))
	router.GET("/players/:player/goals", p.known(p.goals))
	router.POST("/players/:player/goals", p.sent("goal", p.goalsWith, p.setGoal))
	router.GET("/goals/:id", p.known(p.goal))
	router.POST("/goals/:id", p.sent("goal", p.goalWith, p.changeGoal))
	router.POST("/goals/:id/close", p.sent("close", p.goalWith, p.closeGoal))
	router.POST("/players/:player/record.zip", p.sent("record", p.playerWith, p.export))
	router.POST("/players/:player/consents", p.onPlayer("consent", "consents", p.giveConsent))
	router.POST("/players/:player/consents/:id/withdraw", p.sent("withdraw", p.playerWith, p.withdrawConsent))
	router.POST("/players/:player/actions/:id/settle", p.sent("action", p.playerWith, p.settleAction))
	router.POST("/players/:player/guardians", p.onPlayer("guardian", "guardians", addGuardian))
	router.POST("/players/:player/head-contacts", p.onPlayer("head-contact", "mark", markHeadContact))
	for name := range p.writes() {
		router.POST("/players/:player/"+name+"s/preview", p.look(name))
		router.POST("/players/:player/"+name+"s", p.keepWritten(name))
	}
	router.POST("/players/:player/erasure", p.sent("erasure", p.playerWith, p.erase))
	for _, one := range p.papers {
		router.GET(pattern(one.Page()), p.known(p.paperPage(one)))
		router.GET(pattern(one.File()), p.known(p.paperFile(one)))
		router.GET(pattern(one.PDF()), p.known(p.paperPDF(one)))
	}
}

// known sends a stranger to sign in, and brings them back afterwards.
func (p *Pages) known(page func(*gin.Context, models.Who) error) gin.HandlerFunc {
	return func(c *gin.Context) {
		who, ok := auth.Who(c.Request.Context())
		if !ok && p.emptyServer(c) {
			return
		}
		if !ok {
			c.Redirect(http.StatusSeeOther, "/sign-in?"+url.Values{"next": {c.Request.URL.RequestURI()}}.Encode())
			return
		}
		if err := page(c, who); err != nil {
			p.failed(c, err)
		}
	}
}

// way is a page that the top of every page leads to.
type way struct{ Address, Name string }

// ways are the pages that a role has.
func ways(who models.Who) []way {
	var all []way
	if who.Role == models.RolePlayer {
		return []way{{"/", "My season"}, {"/#moments", "My moments"},
			{playerAddress(who.PlayerID) + "/goals", "My goals"},
			{"/my-reviews", "My reviews"}, {"/my-grades", "Grade myself"}, {playerAddress(who.PlayerID), "About me"}}
	}
	if who.Reach(models.Read, models.AreaAcademies) == models.ReachAcademy {
		all = append(all, way{"/academies", "Academies"})
	}
	if manages(who) == nil {
		all = append(all, way{"/work", "Work list"}, way{"/squads", "Squads"})
	}
	if keepsMatches(who) == nil {
		all = append(all, way{"/matches", "Matches"})
	}
	if who.Reach(models.Write, models.AreaPerformance) != models.ReachNone {
		all = append(all, way{"/logging", "Logging"})
	}
	if reach := who.Reach(models.Read, models.AreaReviews); reach == models.ReachAcademy || reach == models.ReachSquads {
		all = append(all, way{"/reviews", "Reviews"})
	}
	if who.Reach(models.Read, models.AreaRounds) != models.ReachNone && who.Role != models.RoleSelector {
		all = append(all, way{"/rating-rounds", "Rating rounds"})
	}
	if who.Staff() {
		all = append(all, way{"/meetings", "Meetings"})
		all = append(all, way{"/safety", "Safety"})
		all = append(all, way{"/skills", "Skills"})
	}
	if who.Reach(models.Read, models.AreaUsers) == models.ReachAcademy {
		all = append(all, way{"/people", "People"})
	}
	if who.Reach(models.Write, models.AreaRequests) == models.ReachAcademy {
		all = append(all, way{"/data-requests", "Data requests"})
	}
	if who.Reach(models.Read, models.AreaAudit) == models.ReachAcademy {
		all = append(all, way{"/audit", "Audit trail"})
	}
	return all
}

// view is what every page is filled with.
type view struct {
	Title string
	Ways  []way
	Who   models.Who // the zero Who for a stranger
	Page  any        // what the one page needs

	Unsent bool   // it shows a form again that was sent and not saved
	Idle   string // how long a session lasts that is not used
}

// Owner says to scripts which user a page was made for.
func (v view) Owner() string { return ownerOf(v.Who) }

// day prints a date of ours, given as such or by its address, which is nil for none; an instant as its day where the
// reader's academy is.
func day(date any, reader ...models.Who) string {
	var who models.Who
	if len(reader) > 0 {
		who = reader[0]
	}
	switch d := date.(type) {
	case models.Date:
		return paper.Day(string(d))
	case *models.Date:
		if d != nil {
			return paper.Day(string(*d))
		}
	case time.Time:
		return dayOf(who.Local(d))
	case *time.Time:
		if d != nil {
			return dayOf(who.Local(*d))
		}
	}
	return ""
}

// lasting is a duration of whole hours or minutes in words.
func lasting(d time.Duration) string {
	if d%time.Hour == 0 {
		return paper.Plural(int(d/time.Hour), "hour", "hours")
	}
	return paper.Plural(int(d/time.Minute), "minute", "minutes")
}

// render fills a page and sends it.
func (p *Pages) render(c *gin.Context, status int, name, title string, page any) error {
	return p.write(c.Writer, c.Request, status, name, title, page)
}

func (p *Pages) write(w http.ResponseWriter, r *http.Request, status int, name, title string, page any) error {
	who, _ := auth.Who(r.Context())
	var b bytes.Buffer
	if err := p.views[name].ExecuteTemplate(&b, "page", view{Title: title, Ways: ways(who), Who: who,
		Page: page, Unsent: r.Method == http.MethodPost, Idle: lasting(p.auth.Idle())}); err != nil {
		return fmt.Errorf("fill the page %s: %w", name, err)
	}
	body := withFaults(r, b.Bytes())
	if r.Method == http.MethodGet && status == http.StatusOK {
		filled, answered, err := withTables(w, r, title, body)
		if err != nil || answered {
			return err
		}
		body = filled
	}
	policy := w.Header().Get("Content-Security-Policy")
	if policy != "" {
		// The scripts are files under StaticPath. They ask who is signed in.
		w.Header().Set("Content-Security-Policy", policy+"; script-src 'self'; connect-src 'self'")
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Length", strconv.Itoa(len(body)))
	w.WriteHeader(status)
	_, _ = w.Write(body) // if this fails, the reader is gone
	return nil
}

// id reads a record's id from the address. What is not an id names no record.
func id(c *gin.Context, name string) (int64, error) {
	n, err := strconv.ParseInt(c.Param(name), 10, 64)
	if err != nil || n < 1 {
		return 0, models.Errorf(models.NotFound, "no such page")
	}
	return n, nil
}

// failed answers for a page that could not be made.
func (p *Pages) failed(c *gin.Context, err error) {
	status := http.StatusInternalServerError
	switch code := models.CodeOf(err); {
	case errors.Is(err, auth.ErrBusy):
		status, err = http.StatusServiceUnavailable, models.Errorf(models.Conflict,
			"too many people are signing in at this moment: try again in a few seconds")
	case code == models.NotFound:
		status = http.StatusNotFound
	case code == models.Forbidden:
		status = http.StatusForbidden
	case code == models.Invalid:
		status = http.StatusBadRequest
	case code == models.TooOften:
		status = http.StatusTooManyRequests
		var known *models.Error
		if errors.As(err, &known) {
			c.Header("Retry-After", strconv.Itoa(int(math.Ceil(known.After.Seconds()))))
		}
	case code == models.Conflict || code == models.Stale:
		status = http.StatusConflict
	case errors.Is(err, store.ErrUnavailable):
		status = http.StatusServiceUnavailable
	}
	p.Fail(c.Writer, c.Request, status, err)
}

// failure fills the page that says why there is no page.
type failure struct {
	Heading, Text string
	Said          string // what a *models.Error says about it
	Number        string // of the request, where an administrator has to look into the log
	SignIn        bool   // offers to sign in
}

// sentence writes a message as a paragraph of its own: with a capital letter and a full stop.
func sentence(message string) string {
	first, size := utf8.DecodeRuneInString(message)
	if size == 0 {
		return ""
	}
	return ended(string(unicode.ToUpper(first)) + message[size:])
}

// ended is a message with a full stop, or with the mark that it ends with.
func ended(message string) string {
	if last := strings.TrimRight(message, "”)"); last != "" && strings.ContainsAny(last[len(last)-1:], ".?!:") {
		return message
	}
	return message + "."
}

// Fail answers a request with a page that says why there is nothing else. The message of a *models.Error is shown; any
// other error is logged and never shown.
func (p *Pages) Fail(w http.ResponseWriter, r *http.Request, status int, err error) {
	var f failure
	switch status {
	case http.StatusBadRequest:
		f = failure{Heading: "We could not read that address or form",
			Text: "Go back and try again, or start from the home page."}
	case http.StatusUnauthorized:
		w.Header().Set("WWW-Authenticate", "Bearer")
		f = failure{Heading: "That access token is not valid",
			Text: "The access token is wrong or has ended. Sign in with your username and password instead."}
		if r.Header.Get("Authorization") == "" {
			f = failure{Heading: "You are not signed in",
				Text: "You were signed out before the form arrived, so nothing was changed. Sign in in a new tab, go back to " +
					"the form in this one, and send it again.", SignIn: true}
		}
	case http.StatusForbidden:
		f = failure{Heading: "You do not have access to that",
			Text: "Your role in the academy does not include it. If you " +
				"need it, ask the academy's manager."}
	case http.StatusNotFound:
		f = failure{Heading: "We could not find that",
			Text: "There is no such page or record, or you do not have access to it."}
	case http.StatusMethodNotAllowed:
		f = failure{Heading: "You cannot use that page like this", Text: "Start from the home page."}
	case http.StatusConflict:
		f = failure{Heading: "That could not be done",
			Text: "Another record conflicts with this change. Go back, reload and try again."}
	case http.StatusMisdirectedRequest:
		f = failure{Heading: "This is not the academy's address", Text: "Use the address the academy gave you."}
	case http.StatusRequestEntityTooLarge:
		f = failure{Heading: "That was too large to send", Text: "Go back and send less."}
	case http.StatusRequestTimeout:
		f = failure{Heading: "That took too long to arrive", Text: "Your connection may be slow. Go back and send it again."}
	case http.StatusTooManyRequests:
		f = failure{Heading: "Too many requests", Text: "Wait a few seconds, then go on."}
	case http.StatusServiceUnavailable:
		f = failure{
			Heading: "We cannot do that at the moment",
			Text:    "This is not your fault. Nothing is lost. Try again in a few minutes.",
			Number:  w.Header().Get("X-Request-Id"),
		}
	default:
		f = failure{
			Heading: "Something went wrong", Text: "This is not your fault. We have logged it. Try again in a few minutes.",
			Number: w.Header().Get("X-Request-Id"),
		}
	}
	var known *models.Error
	if errors.As(err, &known) {
		f.Said = sentence(known.Message)
		if status == http.StatusNotFound {
			f.Text = "" // the message says it better
		}
	} else if err != nil && !errors.Is(err, context.Canceled) {
		p.log.ErrorContext(r.Context(), "request failed", "error", err)
	}
	if err := p.write(w, r, status, "failure", f.Heading, f); err != nil {
		p.log.ErrorContext(r.Context(), "request failed", "error", err)
		http.Error(w, f.Heading, status)
	}
}
