package trend

import (
	"crypto/sha256"
	"encoding/gob"
	"fmt"
	"sync"
)

// EarlierFits remembers fits of earlier seasons by their rows. Fits of the same season share it: up to now, up to an
// earlier round, and without players who are hidden from a reader. They fit an earlier season again only if a row
// differs: nothing about a hidden player is ever reused.
//
// It holds players' levels in memory only. It belongs to one reading of the record and ends with it: what is erased is
// gone with the next. It may be used from several goroutines.
type EarlierFits struct {
	mu   sync.Mutex
	made map[[sha256.Size]byte]func() (*Earlier, error)
}

// fit is FitEarlier, once for the same rows. A nil EarlierFits remembers nothing.
func (m *EarlierFits) fit(seasons []Data, o Options) (*Earlier, error) {
	if m == nil {
		return FitEarlier(seasons, o)
	}
	digest := sha256.New()
	err := gob.NewEncoder(digest).Encode(struct { // all that FitEarlier reads
		Seasons   []Data
		Limit     bool
		FullMatch float64
		Scales    Scales
	}{seasons, o.Limit, o.FullMatch, o.Scales})
	if err != nil {
		return nil, fmt.Errorf("digest of earlier seasons: %w", err)
	}
	return m.once([sha256.Size]byte(digest.Sum(nil)), func() (*Earlier, error) { return FitEarlier(seasons, o) })()
}

func (m *EarlierFits) once(key [sha256.Size]byte, fit func() (*Earlier, error)) func() (*Earlier, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	made, ok := m.made[key]
	if !ok {
		if m.made == nil {
			m.made = map[[sha256.Size]byte]func() (*Earlier, error){}
		}
		made = sync.OnceValues(fit)
		m.made[key] = made
	}
	return made
}

// Fitted is how many different earlier seasons were fitted.
func (m *EarlierFits) Fitted() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return len(m.made)
}
