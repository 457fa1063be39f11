package rest_test

import (
	"bytes"
	"os"
	"os/exec"
	"strings"
	"testing"

	"throughline/api/apitest"
	"throughline/models/store"
	"throughline/models/store/storetest"
)

// TestTheWalkThroughWorks runs the commands of walkthrough.md, as a reader would.
func TestTheWalkThroughWorks(t *testing.T) {
	if _, err := exec.LookPath("curl"); err != nil {
		if os.Getenv("THROUGHLINE_REQUIRE") != "" {
			t.Fatalf("the walk-through needs curl: %v", err)
		}
		t.Skipf("the walk-through needs curl: %v", err)
	}
	guide, err := os.ReadFile("walkthrough.md")
	if err != nil {
		t.Fatal(err)
	}
	_, commands, begins := strings.Cut(string(guide), "```sh\n")
	commands, _, ends := strings.Cut(commands, "```\n")
	if !begins || !ends {
		t.Fatal("walkthrough.md has no commands")
	}
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		a := apitest.Serve(t, s)
		sh := exec.CommandContext(t.Context(), "sh", "-eu")
		sh.Stdin = strings.NewReader(commands)
		sh.Env = append(os.Environ(), "BASE="+a.URL, "TOKEN="+a.Token("mabyn"), "NO_PROXY=127.0.0.1")
		var said, failed bytes.Buffer
		sh.Stdout, sh.Stderr = &said, &failed
		if err := sh.Run(); err != nil {
			t.Fatalf("%v: %s\n%s", err, failed.String(), said.String())
		}
		// Two of four contacts won: counted by hand from the commands.
		for _, want := range []string{`"code":"contact_won"`,
			`"matches":1,"numerator":2,"denominator":4,"dispersion":1,"season":0.5`,
			"contact_won,2,4,log"} {
			if !strings.Contains(said.String(), want) {
				t.Errorf("the walk-through printed\n%s\nwant %s in it", said.String(), want)
			}
		}
	})
}
