package browsertest_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"throughline/api/pages/browsertest"
)

func serve(t *testing.T, page string) string {
	t.Helper()
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		io.WriteString(w, `<!doctype html><link rel="icon" href="data:,"><title>t</title>`+page)
	}))
	t.Cleanup(s.Close)
	return s.URL
}

// The other tests trust the browser to notice; so it must.
func TestNoticesWhatAPageMustNotDo(t *testing.T) {
	for name, c := range map[string]struct{ page, want string }{
		"console":       {`<script>console.error("no")</script>`, "console"},
		"failed script": {`<script>nothing.here</script>`, "script failed"},
		"other host":    {`<img src="http://127.0.0.2:9/picture.png">`, "127.0.0.2"},
		"policy": {`<meta http-equiv="Content-Security-Policy" content="style-src 'none'"><p style="color:red">red`,
			"style"},
	} {
		t.Run(name, func(t *testing.T) {
			base := serve(t, c.page)
			b := browsertest.Open(t, base)
			b.Open(base)
			if said := strings.Join(b.Problems(), "\n"); !strings.Contains(said, c.want) {
				t.Errorf("problems are %q; want one with %q", said, c.want)
			}
		})
	}
}

func TestAGoodPageHasNoProblem(t *testing.T) {
	base := serve(t, `<p>A page.`)
	b := browsertest.Open(t, base)
	b.Open(base)
	if said := b.Problems(); len(said) > 0 {
		t.Errorf("problems are %q; want none", said)
	}
}

func TestMeasuresWhatHasToBeScrolledSideways(t *testing.T) {
	base := serve(t, `<meta name="viewport" `+
		`content="width=device-width"><style>body{margin:0}div{width:500px}</style><div>wide</div>`)
	b := browsertest.Open(t, base)
	b.Width(360)
	b.Open(base)
	if got := b.Overflow(); got != 140 {
		t.Errorf("a box of 500 pixels in a window of 360 sticks out by %d; want 140", got)
	}
	b.Width(600)
	if got := b.Overflow(); got != 0 {
		t.Errorf("a box of 500 pixels in a window of 600 sticks out by %d; want 0", got)
	}
}

func TestKeysReachTheFocusAndLinksAreFollowed(t *testing.T) {
	base := serve(t, `<a href="?next">on</a> <input id="i">`)
	b := browsertest.Open(t, base)
	b.Open(base)
	b.Type("\t\tq")
	if got := browsertest.Eval[string](b, `document.getElementById("i").value`); got != "q" {
		t.Errorf("the second field holds %q after two tabs and q; want q", got)
	}
	browsertest.Eval[bool](b, `document.querySelector("a").focus() || true`)
	b.Leave("\r")
	if got := browsertest.Eval[string](b, `location.search`); got != "?next" {
		t.Errorf("the address ends in %q after Enter on the link; want ?next", got)
	}
}
