package api

import (
	"fmt"
	"math"
	"net/http"
	"strings"

	"throughline/api/rest"
)

// tell adds the fields of draft-ietf-httpapi-ratelimit-headers-10 to answers to programs: a caller may make q requests
// at once, which are free again after w seconds; r are left now, and all of them in t seconds. Each limit is its own
// item. Without a limit it adds nothing.
func (b *buckets) tell(w http.ResponseWriter, r *http.Request, name string, key any) {
	if b.rate <= 0 || !strings.HasPrefix(r.URL.Path, rest.Path+"/") {
		return
	}
	left := b.left(key)
	size := b.size()
	w.Header().Add("RateLimit-Policy", fmt.Sprintf("%q;q=%d;w=%d", name, size, int(math.Ceil(float64(size)/b.rate))))
	w.Header().Add("RateLimit", fmt.Sprintf("%q;r=%d;t=%d", name, int(left), int(math.Ceil((float64(size)-left)/b.rate))))
}

// size is how many requests one caller may make at one go. With fewer than a sign-in costs no one could sign in.
func (b *buckets) size() int { return max(signInCost, int(math.Ceil(b.rate*burst))) }

// left is how many tokens a caller has.
func (b *buckets) left(key any) float64 {
	b.mu.Lock()
	defer b.mu.Unlock()
	e := b.held[key]
	if e == nil {
		return float64(b.size())
	}
	return max(0, e.Value.(*bucket).limiter.TokensAt(b.now()))
}
