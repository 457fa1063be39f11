package models

// The counts of passages.
const (
	passagePhases = "passage_phases"
	passageWork   = "passage_work"
)

// mostInPhase is more involvements than any player has in one phase.
const mostInPhase = 30

// countPassages counts the player's work by phase. A log knows a phase only if the player did something in it, so it
// knows the number of a possession's phases up to the player's last action. That last phase is left out: it is known
// only because the player acted in it, and with it every player would look busy in the latest known phase. The earlier
// phases are fair: they count whether or not the player acted in them.
func (t *tally) countPassages() {
	var seen []*happening
	for n := range t.done {
		if h := &t.done[n]; h.Possession != nil && h.Phase != nil {
			seen = append(seen, h)
		}
	}
	for from := 0; from < len(seen); {
		to := from + 1
		for to < len(seen) && seen[to].Clock.Half == seen[from].Clock.Half &&
			*seen[to].Possession == *seen[from].Possession {
			to++
		}
		countPassage(seen[from:to])
		from = to
	}
}

// countPassage counts one possession where the last of it was seen.
func countPassage(seen []*happening) {
	last := 0
	for _, h := range seen {
		last = max(last, *h.Phase)
	}
	into := seen[len(seen)-1].piece
	for part := wholeOf; part < len(parts); part++ {
		if part != wholeOf && parts[part].Quarter > 0 {
			continue
		}
		within := func(phase int) bool { return phase < last && (part == wholeOf || parts[part].spans(phase)) }
		counted := into.of(part)
		for phase := 1; phase < last; phase++ {
			if within(phase) {
				counted[countNumber[passagePhases]]++
			}
		}
		for _, h := range seen {
			if within(*h.Phase) && h.isWork() {
				counted[countNumber[passageWork]]++
			}
		}
	}
}

// isWork says whether the count of passages counts a happening.
func (h *happening) isWork() bool {
	p := &plans[h.Kind.number()]
	l := p.look(h.Involvement, h.out)
	for n := range p.counts {
		if c := &p.counts[n]; c.Code == passageWork {
			return c.counts(h.Involvement, &l)
		}
	}
	return false
}

// spans says whether a phase of a possession lies in the part.
func (p *Part) spans(phase int) bool {
	return phase >= p.FromPhase && (p.ToPhase == 0 || phase <= p.ToPhase)
}
