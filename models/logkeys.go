package models

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// The keys with which a match is logged. They are given by rule from the catalogue, so that a new kind or detail has
// its keys at once. A kind has one key. It opens the kind's steps, core details first. A step shows a board of up to
// four rows and six columns, laid out as the keys lie on the keyboard; one key chooses a place on the board and fills
// one detail, or two or three that are looked at together. A measure is one key too: 0 to 9, then a for 10 up to z for
// 35. What a possession fixes for many involvements is carried forward, and asked only where it changes.

// KeyRows are the keys of a board, row by row.
var KeyRows = [...]string{"123456", "qwerty", "asdfgh", "zxcvbn"}

// SingleMeasures are the keys that stand for a whole number, from 0.
const SingleMeasures = "0123456789abcdefghijklmnopqrstuvwxyz"

// KeyTable is every key of the involvement log.
type KeyTable struct {
	Rows     []string   `json:"rows"`     // KeyRows
	Single   string     `json:"single"`   // SingleMeasures
	Kinds    []KindKeys `json:"kinds"`    // while nothing is open
	Marks    []LogKey   `json:"marks"`    // with Shift, at any time
	Commands []LogKey   `json:"commands"` // while nothing is open; those of the clock also while a board is shown
	Filling  []LogKey   `json:"filling"`  // while an involvement is open
	// SourceOf is the source of the ball in the first phase of a possession, by how the possession began.
	SourceOf map[string]string `json:"source_of"`
}

// KindKeys are the keys of a kind.
type KindKeys struct {
	Kind  Kind   `json:"kind"`
	Key   string `json:"key"`
	Steps []Step `json:"steps"` // in the order in which they are asked
	// Carried are the steps that the possession fills. They are asked only of those who go there.
	Carried []Step `json:"carried"`
}

// LogKey is a key with what it does. Key is the name that browsers give it.
type LogKey struct {
	Key  string `json:"key"`
	Code string `json:"code"`
	Name string `json:"name"`
	Does string `json:"does"`
}

// Step is what one key fills: either one measure, or the details of a board, those of Down by the row and those of
// Across by the column. An empty value leaves a detail out.
type Step struct {
	Depth   Depth      `json:"depth"`
	Measure string     `json:"measure,omitempty"`
	Down    []string   `json:"down,omitempty"`
	Across  []string   `json:"across,omitempty"`
	Rows    [][]string `json:"rows,omitempty"`
	Columns [][]string `json:"columns,omitempty"`
	// Measures says that the values of the board are numbers.
	Measures bool `json:"measures,omitempty"`
}

// Details are the codes that a step fills.
func (s Step) Details() []string {
	if s.Measure != "" {
		return []string{s.Measure}
	}
	return slices.Concat(s.Down, s.Across)
}

// StepKey is the key of a place on a board.
func StepKey(row, column int) string { return KeyRows[row][column : column+1] }

// LogKeys returns the keys of the involvement log.
func LogKeys() KeyTable {
	t := KeyTable{Rows: KeyRows[:], Single: SingleMeasures, Marks: logMarks(), Commands: logCommands(),
		Filling: fillingKeys, SourceOf: sourceOf}
	used := map[string]bool{}
	for _, k := range kinds {
		t.Kinds = append(t.Kinds, KindKeys{Kind: k.Code, Key: freeKey(used, k.Label), Steps: stepsOf(k.Code),
			Carried: carriedSteps()})
	}
	for i := range t.Commands {
		if c := &t.Commands[i]; c.Key == "" {
			c.Key = freeKey(used, c.Name)
		}
	}
	return t
}

// freeKey takes the first letter of a name that is no key yet, or the first free letter of all.
func freeKey(used map[string]bool, name string) string {
	for _, r := range strings.ToLower(name) + "abcdefghijklmnopqrstuvwxyz" {
		if key := string(r); r < unicode.MaxASCII && unicode.IsLetter(r) && !used[key] {
			used[key] = true
			return key
		}
	}
	panic("more names than letters") // the catalogue is ours, and a test builds this
}

// placeCodes and the others of every kind that have boards of their own.
const (
	codeZone, codeWidth, codeSide   = "zone", "width", "side"
	codeSource, codeSpeed           = "source", "speed"
	codePossessionStart, codeEnding = "possession_start", "possession_end"
)

// stepsOf lays out a kind's own details, in the catalogue's order, and then the place.
func stepsOf(k Kind) []Step {
	var own []*Detail
	for _, i := range detailsOf[k.number()] {
		if len(details[i].Kinds) < len(kinds) {
			own = append(own, &details[i])
		}
	}
	slices.SortStableFunc(own, func(a, b *Detail) int { return depthOrder(b.Depth) - depthOrder(a.Depth) })
	var steps []Step
	for len(own) > 0 {
		n := 1
		for n < min(3, len(own)) && fitsBoard(k, own[:n+1]) {
			n++
		}
		steps = append(steps, stepFor(k, own[:n]))
		own = own[n:]
	}
	return append(steps, placeStep())
}

// fitsBoard says whether details go onto one board: all of one depth, all choices or two whole numbers.
func fitsBoard(k Kind, all []*Detail) bool {
	for _, d := range all {
		if d.Depth != all[0].Depth || (d.Measure == nil) != (all[0].Measure == nil) {
			return false
		}
	}
	if all[0].Measure != nil {
		return len(all) == 2 && all[0].Measure.Whole && all[1].Measure.Whole
	}
	down, across := split(all)
	for _, d := range all[1:] {
		if len(all) > 2 && excluded(k, all[0], d) { // it needs a column of its own that leaves it out
			return false
		}
	}
	return len(valuesOf(k, down, nil)) <= len(KeyRows) && len(valuesOf(k, across, down)) <= len(KeyRows[0])
}

// split says which details go down a board and which go across: the first goes down unless it is too long.
func split(all []*Detail) (down, across []*Detail) {
	if len(all) == 2 && all[0].Measure == nil && len(all[0].Options) > len(KeyRows) {
		return all[1:], all[:1]
	}
	return all[:1], all[1:]
}

// stepFor is the step of details that fit one board.
func stepFor(k Kind, all []*Detail) Step {
	first := all[0]
	switch {
	case len(all) == 1 && first.Measure != nil:
		return Step{Depth: first.Depth, Measure: first.Code}
	case len(all) == 1:
		return Step{Depth: first.Depth, Across: codesOf(all), Rows: [][]string{{}}, Columns: valuesOf(k, all, nil)}
	case first.Measure != nil:
		return Step{Depth: first.Depth, Down: codesOf(all[:1]), Across: codesOf(all[1:]), Measures: true,
			Rows: counting(len(KeyRows)), Columns: counting(len(KeyRows[0]))}
	}
	down, across := split(all)
	return Step{Depth: first.Depth, Down: codesOf(down), Across: codesOf(across), Rows: valuesOf(k, down, nil),
		Columns: valuesOf(k, across, down)}
}

func codesOf(all []*Detail) []string {
	codes := make([]string, len(all))
	for i, d := range all {
		codes[i] = d.Code
	}
	return codes
}

// counting are the numbers from 0 that a row or a column of a board has room for.
func counting(n int) [][]string {
	all := make([][]string, n)
	for i := range all {
		all[i] = []string{fmt.Sprint(i)}
	}
	return all
}

// valuesOf combines the options of details. Where every option contradicts one of a detail beside them, leaving the
// details out is a choice as well.
func valuesOf(k Kind, all, beside []*Detail) [][]string {
	values := [][]string{{}}
	for _, d := range all {
		var longer [][]string
		for _, v := range values {
			for _, o := range d.Options {
				longer = append(longer, append(slices.Clone(v), o.Code))
			}
		}
		values = longer
	}
	if len(all) == 1 && len(beside) == 1 && excluded(k, beside[0], all[0]) {
		values = append([][]string{{""}}, values...)
	}
	return values
}

// excluded says whether some option of one detail never goes with another detail, whatever its value.
func excluded(k Kind, one, other *Detail) bool {
	return slices.ContainsFunc(contradictions, func(c Contradiction) bool {
		return slices.Contains(c.Kinds, k) && c.This.Detail == one.Code && c.That.Detail == other.Code &&
			len(c.That.Values) == 0
	})
}

// placeStep is the board that is a pitch: the opponents' goal line at the top, the left touchline on the left.
func placeStep() Step {
	s := Step{Depth: Full, Down: []string{codeZone}, Across: []string{codeSide, codeWidth}}
	zones := must(DetailOf(KindCarry, codeZone)).codes()
	for _, zone := range slices.Backward(zones) {
		s.Rows = append(s.Rows, []string{zone})
	}
	widths := must(DetailOf(KindCarry, codeWidth)).codes()
	for _, side := range must(DetailOf(KindCarry, codeSide)).codes() {
		across := slices.Clone(widths)
		if len(s.Columns) == 0 { // the left touchline first
			slices.Reverse(across)
		}
		for _, width := range across {
			s.Columns = append(s.Columns, []string{side, width})
		}
	}
	return s
}

// must is for codes that the catalogue has; a test meets others.
func must(d Detail, there bool) *Detail {
	if !there {
		panic("no such detail")
	}
	return &d
}

// carriedSteps are what the possession fills.
func carriedSteps() []Step {
	source, speed := must(DetailOf(KindCarry, codeSource)), must(DetailOf(KindCarry, codeSpeed))
	ball := Step{Depth: Full, Down: []string{codeSpeed}, Across: []string{codeSource},
		Rows:    append([][]string{{""}}, valuesOf("", []*Detail{speed}, nil)...),
		Columns: valuesOf("", []*Detail{source}, nil)}
	return []Step{ball, AloneStep(codePossessionStart), AloneStep(codeEnding)}
}

// AloneStep is the board of one choice that every kind has.
func AloneStep(code string) Step {
	d := must(DetailOf(KindCarry, code))
	return stepFor("", []*Detail{d})
}

// sourceOf is how the catalogue's sources follow from how a possession began.
var sourceOf = map[string]string{"scrum": "scrum", "lineout": "lineout", "restart": "restart", "kick_return": "kick",
	"turnover": "turnover", "tap": "restart"}

// Codes of the marks that are neither a result nor a danger.
const (
	MarkMoment      = "moment"
	MarkHeadContact = "head_contact"
	MarkLinked      = "linked_to"
)

func logMarks() []LogKey {
	all := []LogKey{
		{Code: MarkMoment, Name: "Moment", Does: "Worth showing."},
		{Code: MarkHeadContact, Name: "Head contact", Does: "A blow to the player’s head, or what may have been one."},
	}
	for _, r := range results {
		all = append(all, LogKey{Code: string(r.Code), Name: r.Label, Does: r.Definition})
	}
	for _, d := range dangers {
		all = append(all, LogKey{Code: string(d.Code), Name: d.Label, Does: d.Definition})
	}
	all = append(all, LogKey{Code: MarkLinked, Name: "Out of a carry",
		Does: "For a pass or an offload: made out of the last carry before it. The two count as one involvement."})
	used := map[string]bool{}
	for i := range all {
		all[i].Key = freeKey(used, all[i].Name)
	}
	return all
}

// logCommands are the commands; those without a key get the first free letter of their name.
func logCommands() []LogKey {
	return []LogKey{
		{Key: " ", Code: "play", Name: "Play or pause", Does: "Starts or stops the video or the clock."},
		{Key: ",", Code: "step_back", Name: "Step back", Does: "A frame of the video, or a second of the clock."},
		{Key: ".", Code: "step_on", Name: "Step on", Does: "A frame of the video, or a second of the clock."},
		{Key: "ArrowLeft", Code: "jump_back", Name: "Jump back", Does: "5 seconds; with Shift 30."},
		{Key: "ArrowRight", Code: "jump_on", Name: "Jump on", Does: "5 seconds; with Shift 30."},
		{Key: "-", Code: "slower", Name: "Slower", Does: "The next lower speed."},
		{Key: "+", Code: "faster", Name: "Faster", Does: "The next higher speed."},
		{Code: "half", Name: "Half begins", Does: "The next half kicks off here: once for each half."},
		{Code: "time", Name: "Jump to a time", Does: "Write the match clock, such as 1234 for 12:34, then press Enter."},
		{Code: "possession", Name: "New possession", Does: "Asks how the last one ended and how this one began."},
		{Code: "phase", Name: "Next phase", Does: "The ball came from a ruck; its speed is not recorded."},
		{Code: "quick", Name: "Quick ball, next phase", Does: "The ball came from a ruck in less than 3 seconds."},
		{Code: "slow", Name: "Wait: slow ball, next phase", Does: "The ball came from a ruck in 3 seconds or more."},
		{Key: "ArrowUp", Code: "before", Name: "The one before", Does: "Chooses an involvement in the list."},
		{Key: "ArrowDown", Code: "after", Name: "The one after", Does: "Chooses an involvement in the list."},
		{Key: "Enter", Code: "edit", Name: "Edit", Does: "Opens the chosen involvement."},
		{Key: "Delete", Code: "delete", Name: "Delete", Does: "Deletes the chosen involvement."},
		{Key: "Backspace", Code: "undo", Name: "Undo", Does: "Takes back the last thing you did."},
		{Code: "view", Name: "View", Does: "Moves the video or the clock to the chosen involvement."},
		{Code: "finish", Name: "Finish", Does: "Says what the log covers."},
		{Code: "guide", Name: "Guide", Does: "Shows or hides every definition."},
	}
}

var fillingKeys = []LogKey{
	{Key: "Enter", Code: "keep", Name: "Keep", Does: "Keeps the involvement with what is filled in."},
	{Key: "ArrowDown", Code: "skip", Name: "Skip",
		Does: "Goes to the next step. What a possession fills comes after the last."},
	{Key: "ArrowUp", Code: "back", Name: "Back", Does: "Goes to the step before."},
	{Key: "Backspace", Code: "clear", Name: "Take back", Does: "Takes back the last key."},
	{Key: "7", Code: "alone", Name: "One at a time", Does: "Splits a board that fills several details."},
	{Key: "-", Code: "number", Name: "Any number", Does: "For a measure: write the number, then press Enter."},
	{Key: "Escape", Code: "leave", Name: "Leave", Does: "Drops the involvement that is open, or the changes to it."},
}
