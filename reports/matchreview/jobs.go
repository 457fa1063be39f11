package matchreview

import (
	"cmp"
	"slices"

	"throughline/models"
	"throughline/reports/paper"
)

// Effect is what an involvement did for the player's side, by the detail that decides it.
type Effect string

// The effects.
const (
	Gained  Effect = "gained"
	Even    Effect = "even"
	Lost    Effect = "lost"
	Unknown Effect = "not_recorded"
)

// Codes lists the effects.
func (Effect) Codes() []Effect { return []Effect{Gained, Even, Lost, Unknown} }

// deciding is the core detail that says what an involvement did.
func deciding(k models.Kind) string {
	switch k {
	case models.KindCarry:
		return "contact"
	case models.KindReposition:
		return "in_place"
	case models.KindPass, models.KindOffload, models.KindKick, models.KindCatch, models.KindTackle:
		return "result"
	}
	return "effect"
}

// effects of the codes of those details. Codes mean the same in every kind.
var effects = map[string]Effect{
	"won": Gained, "even": Even, "lost": Lost, "none": Even, "missed": Lost, // carry, tackle, support line
	"accurate": Gained, "recoverable": Even, // pass, offload
	"charged_down": Lost, "regained": Gained, "touch": Gained, "space": Gained, "returned": Even, // kick
	"clean": Gained, "juggled": Even, "spilled": Lost, "beaten": Lost, // catch
	"cleared": Gained, "secured": Gained, "ineffective": Even, "penalised": Lost, // attack ruck
	"turnover": Gained, "slowed": Gained, "no_effect": Even, // defence ruck
	"gained": Gained, "held": Even, // scrum, lineout, maul
	"created": Gained, "option": Gained, // support line
	"yes": Gained, "no": Lost, "no_time": Even, // reposition
}

// effectOf is the effect of an involvement. A penalty, an error or a ball lost makes it lost whatever else it was.
func effectOf(i *models.Involvement) Effect {
	for _, r := range i.Results {
		switch r {
		case models.ResultPenaltyConceded, models.ResultTurnoverConceded, models.ResultError:
			return Lost
		}
	}
	if len(i.Dangers) > 0 {
		return Lost
	}
	code, recorded := i.Details[deciding(i.Kind)]
	if !recorded {
		return Unknown
	}
	return cmp.Or(effects[code], Unknown)
}

// Job is one involvement.
type Job struct {
	ID      int64        `json:"id"`
	Clock   models.Clock `json:"clock"`
	Kind    models.Kind  `json:"kind"`
	Label   string       `json:"label"`
	Effect  Effect       `json:"effect"`  // what it led to
	Details []string     `json:"details"` // in words, such as "contact: won"
	// the quarter of the player's own time, 1 to 4; 0 if it is not known when the player was on the pitch
	Quarter int `json:"quarter"`
	// seconds to the player's next involvement, where all kinds were watched in between
	Gap        *int `json:"gap,omitempty"`
	Possession *int `json:"possession,omitempty"` // the number of the possession
	Phase      *int `json:"phase,omitempty"`      // the phase in it
	// what the player could have done instead, as the logger wrote it
	Options   string   `json:"options,omitempty"`
	VideoFile string   `json:"video_file,omitempty"`
	VideoFrom *float64 `json:"video_from,omitempty"` // seconds from the start of the file

	of     models.Involvement
	missed bool
}

// Tally is how the involvements of a kind went.
type Tally struct {
	Kind    models.Kind `json:"kind"`
	Label   string      `json:"label"`
	N       int         `json:"n"`            // how many involvements
	Gained  int         `json:"gained"`       // those that gained something
	Even    int         `json:"even"`         // those that neither gained nor lost
	Lost    int         `json:"lost"`         // those that lost something
	Unknown int         `json:"not_recorded"` // those whose effect is not recorded
}

// Work is what stands between the involvements.
type Work struct {
	// gaps between one involvement and the next, where all kinds were watched in between
	Gaps          int           `json:"gaps"`
	MedianGap     *float64      `json:"median_gap,omitempty"`   // seconds
	LongestGap    *int          `json:"longest_gap,omitempty"`  // seconds
	LongestFrom   *models.Clock `json:"longest_from,omitempty"` // where the longest gap begins
	PlacesOwed    int           `json:"places_owed"`            // repositions, without those with no time
	PlacesTaken   int           `json:"places_taken"`           // in place in time
	TacklesTimed  int           `json:"tackles_timed"`          // tackles made after which another involvement is known
	TacklesNext   int           `json:"tackles_next"`           // those followed by a job done within 20 seconds
	Quarters      []Quarter     `json:"quarters"`               // of the own time; none unless all of it was watched
	Chains        []Chain       `json:"chains"`                 // the longest runs of jobs, at most five
	ChainsOfThree int           `json:"chains_of_three"`        // how many runs have three jobs or more
}

// Quarter is a quarter of the player's own time.
type Quarter struct {
	Quarter int     `json:"quarter"` // of the own time, 1 to 4
	Minutes float64 `json:"minutes"`
	Jobs    int     `json:"jobs"`   // involvements in it
	Gained  int     `json:"gained"` // those that gained something
	Lost    int     `json:"lost"`   // those that lost something
}

// Chain is a run of jobs done, each within 20 seconds of the one before.
type Chain struct {
	From  models.Clock `json:"from"`
	To    models.Clock `json:"to"`
	Jobs  int          `json:"jobs"`  // how many jobs follow each other
	Words []string     `json:"words"` // the kinds, in order
}

// chainWithin is the most seconds from one job of a chain to the next: the same as after a tackle, see models.
const chainWithin = 20

// Possession is what a possession with the player led to.
type Possession struct {
	Half   int          `json:"half"`
	Number int          `json:"number"` // the number that the log gives it
	From   models.Clock `json:"from"`
	Jobs   []string     `json:"jobs"`            // the player's, in order
	Start  string       `json:"start,omitempty"` // where it began from, in words
	End    string       `json:"end,omitempty"`   // what it ended in, in words
}

// CarryLine is the carries in one zone and width.
type CarryLine struct {
	Zone     string  `json:"zone"`
	Width    string  `json:"width"`
	Carries  int     `json:"carries"`
	Gained   int     `json:"gained"`   // contacts won
	Measured int     `json:"measured"` // of how many the metres are recorded
	Metres   float64 `json:"metres"`   // of the measured ones
	// the metres made less the metres expected there; absent if it is not known
	OverExpected *float64 `json:"over_expected,omitempty"`
}

// Choices are how the player's choices with the ball compare with what else was on.
type Choices struct {
	Best        int `json:"best"`         // the best option was taken
	Fair        int `json:"fair"`         // a fair one was taken
	BetterOn    int `json:"better_on"`    // a better one was on
	NotRecorded int `json:"not_recorded"` // choices that the logger did not judge
	// the choices with something else on, by the match clock
	Else []Choice `json:"else"`
}

// Choice is a choice with something else on.
type Choice struct {
	Clock  models.Clock `json:"clock"`
	Label  string       `json:"label"`  // the kind
	Choice string       `json:"choice"` // in words
	// what else was on, as the logger wrote it
	Options string `json:"options,omitempty"`
}

// Arrival is how the player came to breakdowns of one side's ball.
type Arrival struct {
	Label       string `json:"label"`        // attack or defence ruck
	First       int    `json:"first"`        // how often the player was the first to arrive
	Second      int    `json:"second"`       // the second
	Later       int    `json:"later"`        // the third or a later one
	NotRecorded int    `json:"not_recorded"` // arrivals whose place was not recorded
	Gained      int    `json:"gained"`       // arrivals that cleared or won the ball
}

// readWatched reads what the logs of the match show.
func (r *Report) readWatched(w *models.Watched, m models.Match) {
	r.Basis = PartLog
	if w.Whole {
		r.Basis = WholeLog
	}
	c := &r.Cover
	c.Watched = float64(w.Seconds) / 60
	if w.Played > 0 && c.Minutes > 0 {
		c.Share = min(float64(w.Seconds)/float64(w.Played), 1)
	}
	watched, full := map[models.Kind]bool{}, true
	for _, s := range w.Stretches {
		c.Stretches = append(c.Stretches, s.Span)
		full = full && s.Full
		for _, k := range s.Kinds {
			watched[k] = true
		}
	}
	if c.Depth = models.Core; full {
		c.Depth = models.Full
	}
	for _, k := range models.Kinds() {
		if !watched[k.Code] {
			c.Unwatched = append(c.Unwatched, paper.Lower(k.Label))
		}
	}
	for _, j := range w.Jobs {
		i := j.Involvement
		r.Jobs = append(r.Jobs, Job{ID: i.ID, Clock: i.Clock, Kind: i.Kind, Label: i.Kind.Label(), Effect: effectOf(&i),
			Details: append([]string{}, i.InWords()...), Quarter: j.Quarter, Gap: j.Gap, Possession: i.Possession,
			Phase: i.Phase, Options: i.Options, VideoFile: i.VideoFile, VideoFrom: i.VideoFrom, of: i, missed: j.Missed})
	}
	r.tally()
	r.between(w)
	r.possessions()
	r.carries()
	r.choices()
	r.arrivals()
}

func (r *Report) tally() {
	for _, k := range models.Kinds() {
		t := Tally{Kind: k.Code, Label: k.Label}
		for i := range r.Jobs {
			if r.Jobs[i].Kind == k.Code {
				t.N++
				switch r.Jobs[i].Effect {
				case Gained:
					t.Gained++
				case Even:
					t.Even++
				case Lost:
					t.Lost++
				default:
					t.Unknown++
				}
			}
		}
		if t.N > 0 {
			r.Tallies = append(r.Tallies, t)
		}
	}
}

// between reads what stands between the involvements.
func (r *Report) between(w *models.Watched) {
	k := &r.Work
	k.Quarters, k.Chains = []Quarter{}, []Chain{}
	var gaps []int
	for i := range r.Jobs {
		j := &r.Jobs[i]
		if j.Kind == models.KindReposition && j.Effect != Unknown && j.of.Details["in_place"] != "no_time" {
			k.PlacesOwed++
			if j.Effect == Gained {
				k.PlacesTaken++
			}
		}
		if j.Gap == nil {
			continue
		}
		gaps = append(gaps, *j.Gap)
		if k.LongestGap == nil || *j.Gap > *k.LongestGap {
			k.LongestGap, k.LongestFrom = j.Gap, &j.Clock
		}
		if j.Kind == models.KindTackle && !j.missed && *j.Gap <= chainWithin {
			k.TacklesTimed++
			if next := r.next(i); next != nil && !next.missed && next.of.Details["in_place"] != "no_time" {
				k.TacklesNext++
			}
		}
	}
	if k.Gaps = len(gaps); k.Gaps > 0 {
		slices.Sort(gaps)
		k.MedianGap = new(float64(gaps[(k.Gaps-1)/2]+gaps[k.Gaps/2]) / 2)
	}
	r.chains()
	if r.Basis != WholeLog {
		return
	}
	for n := 1; n <= 4; n++ {
		q := Quarter{Quarter: n, Minutes: float64(w.Played) / 240}
		for i := range r.Jobs {
			if j := &r.Jobs[i]; j.Quarter == n && j.of.LinkedTo == nil {
				q.Jobs++
				switch j.Effect {
				case Gained:
					q.Gained++
				case Lost:
					q.Lost++
				}
			}
		}
		k.Quarters = append(k.Quarters, q)
	}
}

// next is the involvement to which the gap of another is measured.
func (r *Report) next(i int) *Job {
	for n := i + 1; n < len(r.Jobs); n++ {
		if r.Jobs[n].of.LinkedTo == nil {
			return &r.Jobs[n]
		}
	}
	return nil
}

// chains finds runs of jobs that were done. A job that was missed ends one, and so does a longer gap.
func (r *Report) chains() {
	var run []*Job
	all := []Chain{}
	end := func() {
		if len(run) >= 3 {
			c := Chain{From: run[0].Clock, To: run[len(run)-1].Clock, Jobs: len(run)}
			for _, j := range run {
				c.Words = append(c.Words, paper.Lower(j.Label))
			}
			all = append(all, c)
		}
		run = nil
	}
	for i := range r.Jobs {
		j := &r.Jobs[i]
		if j.of.LinkedTo != nil {
			continue
		}
		if j.missed {
			end()
			continue
		}
		if run = append(run, j); j.Gap == nil || *j.Gap > chainWithin {
			end()
		}
	}
	end()
	r.Work.ChainsOfThree = len(all)
	slices.SortStableFunc(all, func(a, b Chain) int { return cmp.Compare(b.Jobs, a.Jobs) })
	r.Work.Chains = all[:min(len(all), 5)]
}

// possessions groups the involvements by possession.
func (r *Report) possessions() {
	at := map[[2]int]int{}
	for i := range r.Jobs {
		j := &r.Jobs[i]
		if j.Possession == nil {
			continue
		}
		key := [2]int{j.Clock.Half, *j.Possession}
		n, known := at[key]
		if !known {
			n = len(r.Possessions)
			at[key] = n
			r.Possessions = append(r.Possessions, Possession{Half: key[0], Number: key[1], From: j.Clock})
		}
		p := &r.Possessions[n]
		p.Jobs = append(p.Jobs, paper.Lower(j.Label))
		p.Start = cmp.Or(p.Start, optionOf(j, "possession_start"))
		p.End = cmp.Or(optionOf(j, "possession_end"), p.End)
	}
}

// optionOf is the label of a detail's choice, empty if it was not recorded.
func optionOf(j *Job, detail string) string {
	d, _ := models.DetailOf(j.Kind, detail)
	o, _ := d.Option(j.of.Details[detail])
	return o.Label
}

func zoneOf(j *Job) string  { return cmp.Or(optionOf(j, "zone"), "not recorded") }
func widthOf(j *Job) string { return cmp.Or(optionOf(j, "width"), "not recorded") }

// carries groups the carries by zone and width, in the catalogue's order. A carry that says neither stands last.
func (r *Report) carries() {
	order := func(detail, code string) int {
		d, _ := models.DetailOf(models.KindCarry, detail)
		return slices.IndexFunc(d.Options, func(o models.Option) bool { return o.Code == code })
	}
	lines := map[[2]string]*CarryLine{}
	var keys [][2]string
	for i := range r.Jobs {
		j := &r.Jobs[i]
		if j.Kind != models.KindCarry {
			continue
		}
		key := [2]string{j.of.Details["zone"], j.of.Details["width"]}
		l := lines[key]
		if l == nil {
			l = &CarryLine{Zone: zoneOf(j), Width: widthOf(j)}
			lines[key] = l
			keys = append(keys, key)
		}
		l.Carries++
		if j.of.Details["contact"] == "won" {
			l.Gained++
		}
		if metres, measured := j.of.Measures["metres"]; measured {
			l.Measured++
			l.Metres += metres
		}
	}
	slices.SortFunc(keys, func(a, b [2]string) int {
		place := func(k [2]string) int { // what is not recorded stands last
			return ((order("zone", k[0])+9)%9)*10 + (order("width", k[1])+9)%9
		}
		return cmp.Compare(place(a), place(b))
	})
	for _, key := range keys {
		r.Carries = append(r.Carries, *lines[key])
	}
}

func (r *Report) choices() {
	c := &r.Choices
	c.Else = []Choice{}
	for i := range r.Jobs {
		j := &r.Jobs[i]
		if _, chooses := models.DetailOf(j.Kind, "choice"); !chooses {
			continue
		}
		switch j.of.Details["choice"] {
		case "best":
			c.Best++
		case "fair":
			c.Fair++
		case "better_on":
			c.BetterOn++
		default:
			c.NotRecorded++
		}
		if j.of.Details["choice"] == "better_on" || j.Options != "" {
			c.Else = append(c.Else, Choice{j.Clock, j.Label, optionOf(j, "choice"), j.Options})
		}
	}
}

func (r *Report) arrivals() {
	for _, kind := range []models.Kind{models.KindAttackRuck, models.KindDefenceRuck} {
		a, n := Arrival{Label: kind.Label()}, 0
		for i := range r.Jobs {
			j := &r.Jobs[i]
			if j.Kind != kind {
				continue
			}
			n++
			if j.Effect == Gained {
				a.Gained++
			}
			switch j.of.Details["arrival"] {
			case "first":
				a.First++
			case "second":
				a.Second++
			case "later":
				a.Later++
			default:
				a.NotRecorded++
			}
		}
		if n > 0 {
			r.Arrivals = append(r.Arrivals, a)
		}
	}
}
