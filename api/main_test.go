package api_test

import (
	"fmt"
	"os"
	"testing"

	"throughline/models/store/storetest"
)

func TestMain(m *testing.M) {
	if url := os.Getenv(doomedPacks); url != "" {
		fmt.Fprintln(os.Stderr, toilOnPacks(url))
		os.Exit(1)
	}
	storetest.Main(m)
}
