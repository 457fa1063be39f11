package paper_test

import (
	"crypto/sha256"
	"encoding/base64"
	"math"
	"regexp"
	"strings"
	"testing"

	"throughline/reports/paper"
)

func TestNumbersReadAsPeopleWriteThem(t *testing.T) {
	for _, c := range []struct {
		x        float64
		decimals int
		want     string
	}{
		{0, 0, "0"}, {1518, 0, "1,518"}, {1234567.891, 2, "1,234,567.89"}, {999.5, 0, "1,000"}, {-2.25, 1, "−2.2"},
		{-0.04, 1, "0.0"},
		{math.NaN(), 1, "–"}, {math.Inf(1), 1, "–"},
	} {
		if got := paper.Number(c.x, c.decimals); got != c.want {
			t.Errorf("Number(%v, %d) = %q, want %q", c.x, c.decimals, got, c.want)
		}
	}
}

func TestChancesNeverClaimCertainty(t *testing.T) {
	for p, want := range map[float64]string{0: "less than 1%", 0.004: "less than 1%", 0.5: "50%", 0.99: "99%",
		0.9999: "more than 99%", 1: "more than 99%"} {
		if got := paper.Chance(p); got != want {
			t.Errorf("Chance(%v) = %q, want %q", p, got, want)
		}
	}
}

func TestScalesPrintUnits(t *testing.T) {
	if got := paper.ScaleOf("%").Range(0.354, 0.449); got != "35 to 45%" {
		t.Errorf("a range of percentages: %q", got)
	}
	if got := paper.ScaleOf("m").Value(5.84); got != "5.8 m" {
		t.Errorf("metres: %q", got)
	}
	if got := paper.ScaleOf("per match").Value(12.34); got != "12.3" {
		t.Errorf("a count per match: %q", got)
	}
	if got := paper.ScaleOf("per phase").Range(0.31, 0.362); got != "0.31 to 0.36" {
		t.Errorf("a count per phase: %q", got)
	}
}

func TestDaysReadAsPeopleSayThem(t *testing.T) {
	if got := paper.Day("2025-09-06"); got != "6 Sep 2025" {
		t.Errorf("day %q", got)
	}
	if got := paper.Day("soon"); got != "soon" {
		t.Errorf("what is no date must stay as it is, got %q", got)
	}
}

// The file's own policy must allow its own style sheet, byte for byte as a browser hashes it, or it would print
// unstyled.
func TestFileAllowsItsOwnStyleAndNothingElse(t *testing.T) {
	var b strings.Builder
	if err := paper.WriteFile(&b, paper.Sheet{Title: `A "title" & more`, Body: "<p>words</p>"}); err != nil {
		t.Fatal(err)
	}
	style := regexp.MustCompile(`(?s)<style>(.*?)</style>`).FindStringSubmatch(b.String())
	if style == nil {
		t.Fatal("the file has no style")
	}
	sum := sha256.Sum256([]byte(style[1]))
	hash := strings.ReplaceAll("sha256-"+base64.StdEncoding.EncodeToString(sum[:]), "+", "&#43;")
	if !strings.Contains(b.String(), hash) {
		t.Errorf("the policy does not name the style's hash %s", hash)
	}
	if !strings.Contains(b.String(), "default-src &#39;none&#39;") {
		t.Error("the policy does not forbid the rest")
	}
	if !strings.Contains(b.String(), "<title>A &#34;title&#34; &amp; more</title>") {
		t.Error("the title is not escaped")
	}
}
