package store_test

import (
	"fmt"
	"os"
	"testing"

	"throughline/models/store/storetest"
)

func TestMain(m *testing.M) {
	if url := os.Getenv(doomed); url != "" {
		fmt.Fprintln(os.Stderr, toil(url))
		os.Exit(1)
	}
	storetest.Main(m)
}
