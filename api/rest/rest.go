package rest

import (
	"log/slog"
	"reflect"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humagin"
	"github.com/gin-gonic/gin"

	"throughline/models/store"
	"throughline/reports/paper"
	"throughline/reports/paper/pdf"
)

// Path is what the addresses of all resources begin with.
const Path = "/api/v1"

// Version is that of what the service promises to programs, by semantic versioning: it is not the program's. The page
// on compatibility says what may change within the first number.
const Version = "1.0.0"

// Service answers programs.
type Service struct {
	store   *store.Store
	papers  paper.Papers
	printer *pdf.Printer // nil where there is no Chromium
	log     *slog.Logger
	now     func() time.Time

	api     huma.API
	schemas huma.Registry
	shapes  map[reflect.Type]shape
	toSend  []func() // what is still to be done to the examples of request bodies
	openAPI []byte
	working inWork
}

// New returns the service over a store, with its papers and what prints them.
func New(s *store.Store, papers paper.Papers, printer *pdf.Printer, log *slog.Logger, now func() time.Time) *Service {
	return &Service{store: s, papers: papers, printer: printer, log: log, now: now, schemas: newSchemas(),
		shapes: map[reflect.Type]shape{}}
}

// Register adds the operations to a router, their description at /openapi.json, and the pages that show it under /docs
// and /problems. Cookie is the name of the session's cookie.
func (s *Service) Register(router *gin.Engine, cookie string) {
	s.api = huma.NewGroup(humagin.New(router, s.config(cookie)), Path)
	for _, register := range []func(*Service){
		items, seasons, squads, catalogue, skills, indicators,
		players, memberships, availability,
		matches, matchEvents, teamTotals, appearances,
		logs, involvements, matchTotals,
		ratingRounds, ratings, shownGrades, selfRatings, goals, checkIns, reviewNotes, reviews, reviewCycle,
		trainingSessions, attendances, trainingObservations, meetings, recommendations, corrections, feedback, contactActions,
		observations, carryCells, trends, account, func(s *Service) { s.offer(s.papers) }, reportPacks,
		settings, consents, guardians, headContacts, standDowns, minutesLimits, noteAnswers, reviewAnswers, retention,
		auditEntries, dataRequests, playerMerges,
		users, accessTokens, academies,
	} {
		register(s)
	}
	s.complete()
	router.GET("/openapi.json", published{media: openAPIType, content: s.openAPI}.answer)
	s.registerDocs(router)
}
