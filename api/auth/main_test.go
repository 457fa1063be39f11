package auth_test

import (
	"testing"

	"throughline/models/store/storetest"
)

func TestMain(m *testing.M) { storetest.Main(m) }
