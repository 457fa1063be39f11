package api_test

import (
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"throughline/api"
	"throughline/api/apitest"
	"throughline/api/auth"
	"throughline/models"
	"throughline/models/scenario"
	"throughline/models/store"
	"throughline/models/store/storetest"
	"throughline/reports/fits"
)

// loadedDemo is a SQLite file with the demonstration and its trends, and what it holds.
type loadedDemo struct {
	file []byte
	scenario.Loaded
}

// loadDemo makes the demonstration once for all tests: each gets a copy of its file. Everybody's password is
// apitest.Password.
var loadDemo = sync.OnceValues(func() (demo loadedDemo, err error) {
	folder, err := os.MkdirTemp("", "throughline-demo-")
	if err != nil {
		return demo, err
	}
	defer os.RemoveAll(folder)
	path, ctx := filepath.Join(folder, "demo.db"), context.Background()
	if _, err := store.Migrate(ctx, "sqlite:"+path); err != nil {
		return demo, err
	}
	s, err := store.Open(ctx, "sqlite:"+path, store.Options{Now: storetest.Now})
	if err != nil {
		return demo, err
	}
	hash, err := auth.HashPassword(apitest.Password)
	if err == nil {
		demo.Loaded, err = scenario.Load(ctx, s, scenario.Simulate(scenario.Seed), func(models.User) string { return hash },
			nil)
	}
	if err == nil {
		_, err = api.RefitAll(ctx, s, fits.NewKeeper(api.Records{Store: s}, longAgo, slog.New(slog.DiscardHandler)))
	}
	if closed := s.Close(); err == nil {
		err = closed
	}
	if err == nil {
		demo.file, err = os.ReadFile(path)
	}
	return demo, err
})

// demoServed serves a copy of the demonstration, with trends that are up to date, beside the academies of every test.
func demoServed(t testing.TB) (*apitest.Academy, scenario.Loaded) {
	t.Helper()
	demo, err := loadDemo()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "demo.db")
	if err := os.WriteFile(path, demo.file, 0o600); err != nil {
		t.Fatal(err)
	}
	return apitest.Serve(t, storetest.With(t, "sqlite:"+path, store.Options{Now: storetest.Now})), demo.Loaded
}
