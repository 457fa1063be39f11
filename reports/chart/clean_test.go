package chart

import (
	"strings"
	"testing"
)

func TestCleanTurnsStylesIntoAttributesAndPrefixesIds(t *testing.T) {
	in := `<svg width="10" height="10" xmlns="http://www.w3.org/2000/svg" onload="x()">
<defs><linearGradient id="zr0-g0"><stop offset="0" stop-color="red"/></linearGradient>` +
		`<clipPath id="zr0-c0"><rect x="0" y="0" width="5" height="5"/></clipPath></defs>
<rect id="0" fill="none" width="10" height="10"/>
<g clip-path="url(#zr0-c0)" onclick="x()"><path d="M0 0L1 1"` +
		` style="fill:url('#zr0-g0'); stroke : blue;behavior:url(http://x)"` +
		` fill="none" class="a" data-x="1"/></g>
<text style="font-size:14px;font-family:serif" xml:space="preserve" x="1">a &lt;b&gt; ` + "\ue07bc\ue07d" + `</text>
<text style="font-size:12px">12</text>
</svg>`
	got, err := clean(in, "p-wide", "wide", "T", "D", drawing{width: 10, height: 10})
	if err != nil {
		t.Fatal(err)
	}
	want := `<svg xmlns="http://www.w3.org/2000/svg" class="chart-wide" viewBox="0 0 10 10" role="img"` +
		` aria-labelledby="p-wide-title p-wide-desc" font-family="sans-serif" font-size="12">
<title id="p-wide-title">T</title>
<desc id="p-wide-desc">D</desc>
<defs><linearGradient id="p-wide-1"><stop offset="0" stop-color="red"/>
</linearGradient>
<clipPath id="p-wide-2"><rect x="0" y="0" width="5" height="5"/>
</clipPath>
</defs>
<g clip-path="url(#p-wide-2)"><path d="M0 0L1 1" fill="url(#p-wide-1)" stroke="blue"/>
</g>
<text x="1" font-size="14px">a &lt;b&gt; {c}</text>
<text>12</text>
</svg>
`
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestCleanRefusesWhatAPictureNeedsNot(t *testing.T) {
	for _, inside := range []string{
		`<script>x()</script>`, `<style>a{}</style>`, `<foreignObject/>`, `<image href="http://x"/>`, `<a href="x"/>`,
		`<use href="#x"/>`, `<animate/>`,
	} {
		if _, err := clean("<svg>"+inside+"</svg>", "p", "wide", "t", "d", drawing{}); err == nil ||
			!strings.Contains(err.Error(), "is not allowed") {
			t.Errorf("%s: %v", inside, err)
		}
	}
	for _, broken := range []string{`<svg><g></svg>`, `<svg`, `<svg><g>`, `<svg>&nbsp;</svg>`} {
		if _, err := clean(broken, "p", "wide", "t", "d", drawing{}); err == nil {
			t.Errorf("%s: accepted", broken)
		}
	}
}

func TestCleanDropsOutsideReferences(t *testing.T) {
	for _, value := range []string{"url(http://x/y#z)", "URL( 'data:x' )", "red url(#a)", "url(#a"} {
		got, err := clean(`<svg><path d="M0 0" stroke="`+value+`" fill="red"/></svg>`, "p", "wide", "t", "d", drawing{})
		if err != nil || !strings.Contains(got, `stroke="none"`) {
			t.Errorf("%s: %v\n%s", value, err, got)
		}
	}
}
