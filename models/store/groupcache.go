package store

import (
	"slices"
	"sync"
)

// groupsKept is how many squads' seasons are held in memory, each about a megabyte: those of a large academy, or of a
// few.
const groupsKept = 24

// groupCache holds the observations of squads' seasons as last read, each with the revision of its data. All reports
// of a squad use the same thousands of observations, which change once in a hundred reports. Who may read them is
// checked each time.
type groupCache struct {
	mu   sync.Mutex
	held []heldGroup // the one used last at the end
}

type heldGroup struct {
	academy  int64
	of       squadSeason
	revision int64
	group    *group // never changed any more
}

// get returns what was read of a squad's season at a revision, or nil.
func (c *groupCache) get(academy int64, of squadSeason, revision int64) *group {
	c.mu.Lock()
	defer c.mu.Unlock()
	i := c.find(academy, of)
	if i < 0 || c.held[i].revision != revision {
		return nil
	}
	h := c.held[i]
	c.held = append(slices.Delete(c.held, i, i+1), h)
	return h.group
}

// put holds a group, unless a later revision of it is held.
func (c *groupCache) put(h heldGroup) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if i := c.find(h.academy, h.of); i >= 0 {
		if c.held[i].revision > h.revision {
			return // this transaction sees an older state than another saw
		}
		c.held = slices.Delete(c.held, i, i+1)
	}
	c.held = append(c.held, h)
	if len(c.held) > groupsKept {
		c.held = slices.Delete(c.held, 0, 1)
	}
}

func (c *groupCache) find(academy int64, of squadSeason) int {
	return slices.IndexFunc(c.held, func(h heldGroup) bool { return h.academy == academy && h.of == of })
}
