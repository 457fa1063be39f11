package pages

import (
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/gin-gonic/gin"

	"throughline/api/auth"
)

func TestWhoSignsInAmongTooManyIsToldToTryAgain(t *testing.T) {
	p := New(nil, auth.New(auth.Options{Now: time.Now}), nil, nil, slog.New(slog.DiscardHandler), time.Now)
	w := httptest.NewRecorder()
	c, _ := gin.CreateTestContext(w)
	c.Request = httptest.NewRequest(http.MethodPost, "/sign-in", nil)
	p.failed(c, fmt.Errorf("sign in: %w", auth.ErrBusy))
	if w.Code != http.StatusServiceUnavailable || !strings.Contains(w.Body.String(), "Too many people are signing in") {
		t.Errorf("%d %.500s; want 503 that says why", w.Code, w.Body)
	}
}
