package pages

import (
	"strings"

	"throughline/models"
)

// keysPage is the printable card of the log's keys.
type keysPage struct {
	Kinds                    []kindOfCard
	Shared                   []stepOfCard // of every kind
	Marks, Commands, Filling []models.LogKey
}

// kindOfCard is a kind with its boards.
type kindOfCard struct {
	Key, Label, Definition string
	Steps                  []stepOfCard
}

// stepOfCard is a board as it is printed, or a measure.
type stepOfCard struct {
	Number  int
	Of      string // the kind, empty for a board of every kind
	Title   string
	Core    bool
	Measure string // its unit
	Columns []string
	Rows    []rowOfCard
}

// rowOfCard is a row of a board.
type rowOfCard struct {
	Name string
	Keys []string
}

// cardOfKeys prints the table of keys with the catalogue's labels.
func cardOfKeys() keysPage {
	table := models.LogKeys()
	card := keysPage{Marks: table.Marks, Commands: table.Commands, Filling: table.Filling}
	for i, info := range models.Kinds() {
		keys := table.Kinds[i]
		kind := kindOfCard{Key: keys.Key, Label: info.Label, Definition: info.Definition}
		for n, s := range keys.Steps[:len(keys.Steps)-1] { // the last is the place, which they share
			step := cardStep(keys.Kind, s, n+1)
			step.Of = info.Label
			kind.Steps = append(kind.Steps, step)
		}
		card.Kinds = append(card.Kinds, kind)
	}
	first := table.Kinds[0]
	for n, s := range append(first.Steps[len(first.Steps)-1:], first.Carried...) {
		card.Shared = append(card.Shared, cardStep(first.Kind, s, n+1))
	}
	return card
}

func cardStep(k models.Kind, s models.Step, number int) stepOfCard {
	card := stepOfCard{Number: number, Core: s.Depth == models.Core}
	var titles []string
	for _, code := range s.Details() {
		d, _ := models.DetailOf(k, code)
		titles = append(titles, d.Label)
		if s.Measure != "" {
			card.Measure = d.Measure.Unit
		}
	}
	card.Title = strings.Join(titles, ", ")
	for _, column := range s.Columns {
		card.Columns = append(card.Columns, labelOf(k, s.Across, column))
	}
	for r, row := range s.Rows {
		line := rowOfCard{Name: labelOf(k, s.Down, row)}
		if len(s.Down) == 0 {
			line.Name = "Key"
		}
		for c := range s.Columns {
			line.Keys = append(line.Keys, models.StepKey(r, c))
		}
		card.Rows = append(card.Rows, line)
	}
	return card
}

// labelOf is the label of values of details: those of measures are numbers, and an empty one leaves the detail out.
func labelOf(k models.Kind, codes, values []string) string {
	var labels []string
	for n, value := range values {
		label := "not recorded"
		if value != "" {
			d, _ := models.DetailOf(k, codes[n])
			if o, there := d.Option(value); there {
				label = o.Label
			} else {
				label = value
			}
		}
		labels = append(labels, label)
	}
	return strings.Join(labels, ", ")
}

// keyNames are those of keys that print no letter.
var keyNames = map[string]string{" ": "Space", "ArrowLeft": "←", "ArrowRight": "→", "ArrowUp": "↑",
	"ArrowDown": "↓", "Escape": "Esc"}

// keyName is a key as it is printed.
func keyName(key string) string {
	if name := keyNames[key]; name != "" {
		return name
	}
	return key
}
