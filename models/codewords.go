package models

import (
	"regexp"
	"strings"
	"sync"
)

// joinedCode is what codes of several words look like.
var joinedCode = regexp.MustCompile(`^[a-z0-9]+(_[a-z0-9]+)+$`)

// CodeInWords returns a code of several words, such as attack_ruck, as a person reads it: its label in the catalogues,
// or its words. Every other text stays as it is.
func CodeInWords(text string) string {
	if !joinedCode.MatchString(text) {
		return text
	}
	if label, known := codeLabels()[text]; known {
		return label
	}
	return strings.ReplaceAll(text, "_", " ")
}

// codeLabels are the labels of the catalogues by code.
var codeLabels = sync.OnceValue(func() map[string]string {
	labels := map[string]string{}
	for _, i := range IndicatorCatalogue() {
		labels[i.Code] = i.Label
	}
	for _, c := range CountCatalogue() {
		labels[c.Code] = c.Label
	}
	for _, d := range DetailCatalogue() {
		labels[d.Code] = d.Label
		for _, o := range d.Options {
			labels[o.Code] = o.Label
		}
	}
	for _, s := range SkillCatalogue() {
		labels[s.Code] = s.Label
	}
	for _, r := range Results() {
		labels[string(r.Code)] = r.Label
	}
	for _, k := range Kinds() {
		labels[string(k.Code)] = k.Label
	}
	for _, p := range Positions() {
		labels[string(p.Code)] = p.Label
	}
	for _, g := range Groups() {
		labels[string(g.Code)] = g.Label
	}
	for _, p := range ConsentPurposes() {
		labels[string(p.Code)] = p.Label
	}
	return labels
})
