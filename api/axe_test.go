package api_test

import (
	"os"
	"testing"

	"throughline/api/pages/browsertest"
)

// axeRun runs rules of axe-core on the page that is open, and gives each place in which one is broken a line. All rules
// run on the light page; of the dark one only that of colours can say anything else.
const axeRun = `axe.run(document, {resultTypes: ["violations"], ...(matchMedia("(prefers-color-scheme: dark)").matches ?
	{runOnly: ["color-contrast"]} : {})}).then((r) => r.violations.flatMap((v) =>
	v.nodes.map((n) => v.id + " (" + v.impact + "): " + n.target.join(" ") + ": " + n.html.slice(0, 160))))`

// TestAxeFindsNothingOnAnyPage runs axe-core, which knows what makes pages hard to use with assistive technology, on
// every page, light and dark, as wide as a desk and a phone. It needs axe-core, which is no part of the program:
// .ci/axe fetches it and names its file in THROUGHLINE_AXE.
func TestAxeFindsNothingOnAnyPage(t *testing.T) {
	file := os.Getenv("THROUGHLINE_AXE")
	if file == "" {
		t.Skip("no axe-core: run .ci/axe")
	}
	axe, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	everyPage(t, func(b *browsertest.Browser, path, who string) {
		browsertest.Eval[bool](b, string(axe)+"; true")
		browsertest.Eval[bool](b, `document.querySelectorAll("details").forEach((d) => { d.open = true }), true`)
		for _, scheme := range []string{"light", "dark"} {
			b.Scheme(scheme)
			for _, width := range []int64{1280, 360} {
				b.Width(width)
				for _, found := range browsertest.Await[[]string](b, axeRun) {
					t.Errorf("%s, as %s, %s, at %d px: %s", path, who, scheme, width, found)
				}
			}
		}
	})
}
