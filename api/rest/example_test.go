package rest_test

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"io"
	"log"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"time"

	"github.com/gin-gonic/gin"

	"throughline/api/auth"
	"throughline/api/rest"
	"throughline/models"
	"throughline/models/store"
)

// A program makes a season from nothing, logs a match and reads a trend. The contributor's guide does the same with
// curl.
func ExampleService() {
	p, stop, err := newProgram(context.Background())
	if err != nil {
		log.Fatal(err)
	}
	defer stop()

	season := p.make("/seasons", map[string]any{"name": "2026-27", "starts": "2026-08-01", "ends": "2027-06-30"})
	squad := p.make("/squads", map[string]any{"name": "Under 17", "age_band": 17, "band_month": 9})
	player := p.make("/players", map[string]any{"name": "Wren Tolley", "positions": []string{"flanker"}})
	p.make("/memberships", map[string]any{"season_id": season, "squad_id": squad, "player_id": player,
		"from": "2026-08-01"})
	match := p.make("/matches", map[string]any{
		"season_id": season, "squad_id": squad, "date": "2026-09-05", "opponent": "Fellmoor", "halves": 2,
		"half_minutes": 35,
	})
	p.make("/appearances", map[string]any{"match_id": match, "player_id": player, "minutes": 45})
	carries := p.make("/logs", map[string]any{
		"match_id": match, "player_id": player, "depth": "core", "kinds": []string{"carry"}, "finished": true,
		"key": "example",
	})
	var items []any
	for i, contact := range []string{"won", "lost", "won", "even"} {
		items = append(items, map[string]any{
			"clock": map[string]any{"half": 1, "second": 95 + 600*i}, "kind": "carry",
			"details": map[string]any{"contact": contact},
			"key":     fmt.Sprint("example:", i),
		})
	}
	p.send(http.MethodPost, fmt.Sprintf("/logs/%d/involvements/batch", carries), map[string]any{"items": items})

	var trend struct {
		Label                  string
		Numerator, Denominator float64
	}
	answer := p.send(http.MethodGet, fmt.Sprintf("/players/%d/seasons/%d/trends/contact_won", player, season), nil)
	if err := json.Unmarshal(answer, &trend); err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%s: %v of %v\n", trend.Label, trend.Numerator, trend.Denominator)
	// Output: Contact won: 2 of 4
}

// program is a person's program, with their token.
type program struct{ base, token string }

// newProgram serves an academy that has no one but its manager, and returns their program.
func newProgram(ctx context.Context) (*program, func(), error) {
	folder, err := os.MkdirTemp("", "throughline-example-")
	if err != nil {
		return nil, nil, err
	}
	address := "sqlite:" + filepath.Join(folder, "academy.db")
	if _, err := store.Migrate(ctx, address); err != nil {
		return nil, nil, err
	}
	s, err := store.Open(ctx, address, store.Options{})
	if err != nil {
		return nil, nil, err
	}
	academy, err := s.CreateAcademy(ctx, "Ostrel Vale Rugby Academy")
	if err != nil {
		return nil, nil, err
	}
	token, hash, err := auth.NewToken(rand.Reader)
	if err != nil {
		return nil, nil, err
	}
	err = s.Write(ctx, models.Console(academy.ID), func(tx *store.Tx) error {
		manager := models.User{Login: "orla", Name: "Orla Fenn", Role: models.RoleManager}
		if err := tx.CreateUser(&manager); err != nil {
			return err
		}
		return tx.CreateAccessToken(&models.AccessToken{UserID: manager.ID, Label: "example", Scope: models.ScopeWrite,
			ExpiresAt: tx.Now().AddDate(0, 1, 0), Hash: hash})
	})
	if err != nil {
		return nil, nil, err
	}
	router := gin.New()
	service := rest.New(s, nil, nil, slog.New(slog.DiscardHandler), time.Now)
	service.Register(router, auth.SessionCookie(false))
	server := httptest.NewServer(auth.New(auth.Options{Store: s, Now: time.Now, Fail: service.Fail}).Handler(router))
	return &program{server.URL + rest.Path, token}, func() {
		server.Close()
		_ = s.Close()
		_ = os.RemoveAll(folder)
	}, nil
}

// make makes a record and returns its id.
func (p *program) make(path string, record any) int64 {
	var made struct{ ID int64 }
	if err := json.Unmarshal(p.send(http.MethodPost, path, record), &made); err != nil {
		log.Fatal(err)
	}
	return made.ID
}

// send sends a request and returns the answer.
func (p *program) send(method, path string, body any) []byte {
	sent, err := json.Marshal(body)
	if err != nil {
		log.Fatal(err)
	}
	r, err := http.NewRequestWithContext(context.Background(), method, p.base+path, bytes.NewReader(sent))
	if err != nil {
		log.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+p.token)
	r.Header.Set("Content-Type", "application/json")
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		log.Fatal(err)
	}
	defer answer.Body.Close()
	content, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode >= 300 {
		log.Fatalf("%s %s: %d %s, %v", method, path, answer.StatusCode, content, err)
	}
	return content
}
