package api_test

import (
	"os"
	"strings"
	"testing"

	"throughline/api/pages/browsertest"
)

// axeRun runs rules of axe-core on the page that is open, and gives each place in which one is broken a line. All rules
// run on the light page; of the dark one only that of colours can say anything else.
const axeRun = `axe.run(document, {resultTypes: ["violations"], ...(matchMedia("(prefers-color-scheme: dark)").matches ?
	{runOnly: ["color-contrast"]} : {})}).then((r) => r.violations.flatMap((v) =>
	v.nodes.map((n) => v.id + " (" + v.impact + "): " + n.target.join(" ") + ": " + n.html.slice(0, 160))))`

// axeCore is axe-core, which knows what makes pages hard to use with assistive technology. It is no part of the
// program: THROUGHLINE_AXE names its file, which .ci/axe fetches. Without it nothing is returned, or the test fails
// where THROUGHLINE_REQUIRE contains "axe".
func axeCore(t *testing.T) string {
	t.Helper()
	file := os.Getenv("THROUGHLINE_AXE")
	if file == "" {
		if strings.Contains(os.Getenv("THROUGHLINE_REQUIRE"), "axe") {
			t.Fatal("no axe-core: run .ci/axe, which fetches it")
		}
		return ""
	}
	axe, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return string(axe)
}

// axeFindsNothing runs axe-core on the page that is open, light and dark, as wide as a desk and a phone, with all that
// is folded open.
func axeFindsNothing(t *testing.T, b *browsertest.Browser, axe, path, who string) {
	t.Helper()
	browsertest.Eval[bool](b, axe+"; true")
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
	b.Scheme("light")
}
