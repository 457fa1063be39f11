package main_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"throughline/models"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// squadSeason reads how the trends of the only squad's only season stand.
func squadSeason(t *testing.T, s *store.Store) (now models.SquadSeason) {
	t.Helper()
	err := s.Read(t.Context(), models.Console(1), func(tx *store.Tx) error {
		seasons, err := tx.Seasons(models.SeasonFilter{})
		if err != nil || len(seasons) == 0 {
			return err
		}
		squads, err := tx.Squads(models.SquadFilter{})
		if err != nil || len(squads) == 0 {
			return err
		}
		now, err = tx.SquadSeason(seasons[0].ID, squads[0].ID)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return now
}

func TestAServerKeepsTrendsCurrentAlsoAfterItWasKilled(t *testing.T) {
	storetest.EachURL(t, func(t *testing.T, url string) {
		folder := t.TempDir()
		file := filepath.Join(folder, "season.csv")
		keep := func(text string) {
			t.Helper()
			if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
			got := runIn(t, folder, "import", "totals", file, "--academy", "Harbour Academy", "--database", url)
			if got.code != 0 {
				t.Fatalf("%s%s", got.out, got.err)
			}
		}
		s, err := store.Open(t.Context(), url, store.Options{})
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		current := func(when string) {
			t.Helper()
			ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
			defer cancel()
			look := time.NewTicker(50 * time.Millisecond)
			defer look.Stop()
			for now := squadSeason(t, s); now.Fitted != now.Revision || now.Revision == 0; now = squadSeason(t, s) {
				select {
				case <-ctx.Done():
					t.Fatalf("%s, the trends are still behind: %+v", when, now)
				case <-look.C:
				}
			}
		}
		serve := func() *process {
			p := start(t, folder, "serve", "--database", url, "--addr", "127.0.0.1:0", "--admin-addr", "127.0.0.1:0")
			p.address()
			return p
		}
		keep(little)
		p := serve()
		current("after an import")
		p.signal(syscall.SIGKILL)
		p.end()
		keep(strings.ReplaceAll(little, ",8\n", ",9\n"))
		if now := squadSeason(t, s); now.Fitted == now.Revision {
			t.Fatalf("%+v, want the trends behind while nobody serves", now)
		}
		p = serve()
		current("after the server was killed and started again")
		p.signal(syscall.SIGTERM)
		got := p.end()
		if got.code != 0 || strings.Contains(got.out, "level=WARN") || strings.Contains(got.out, "level=ERROR") {
			t.Errorf("exit %d\n%s", got.code, got.out)
		}
		keep(strings.ReplaceAll(little, ",8\n", ",7\n"))
		got = runIn(t, folder, "trends", "--database", url)
		if got.code != 0 || !strings.HasPrefix(got.out, "1 squads' seasons fitted") {
			t.Errorf("exit %d: %s%s", got.code, got.out, got.err)
		}
		if now := squadSeason(t, s); now.Fitted != now.Revision {
			t.Errorf("after the command: %+v", now)
		}
	})
}
