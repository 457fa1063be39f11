// Package pdftest reads back what a Chromium printed, for tests.
package pdftest

import (
	"bytes"
	"compress/zlib"
	"encoding/hex"
	"io"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"throughline/reports/paper/pdf"
)

// Printer returns a printer until the test ends. Where there is no Chromium the test is skipped, or fails when
// THROUGHLINE_REQUIRE names "browser".
func Printer(t testing.TB) *pdf.Printer {
	t.Helper()
	printer, err := pdf.Find("")
	if err != nil {
		t.Fatal(err)
	}
	if printer == nil {
		if strings.Contains(os.Getenv("THROUGHLINE_REQUIRE"), "browser") {
			t.Fatal(printer.Missing())
		}
		t.Skip(printer.Missing())
	}
	t.Cleanup(printer.Close)
	return printer
}

var (
	onePage   = regexp.MustCompile(`/Type\s*/Page\b`)
	object    = regexp.MustCompile(`(?m)^(\d+) 0 obj\b`)
	unicodeOf = regexp.MustCompile(`/ToUnicode (\d+) 0 R`)
	one       = regexp.MustCompile(`<([0-9A-F]+)> <([0-9A-F]+)>`)
	several   = regexp.MustCompile(`<([0-9A-F]+)> <([0-9A-F]+)> <([0-9A-F]+)>`)
	shown     = regexp.MustCompile(`/F(\d+) [\d.]+ Tf|<([0-9A-F]+)> ?Tj|\[(.*?)\] ?TJ|\bET\b`)
	letters   = regexp.MustCompile(`<([0-9A-F]+)>`)
)

// Pages returns the number of pages.
func Pages(file []byte) int { return len(onePage.FindAll(file, -1)) }

// Text returns the text that the pages show, in the order in which it was drawn, with a line for each piece.
//
// It reads what Chromium writes: objects beside each other, streams in Flate, and fonts named after the number of
// their object, each with a table from its signs to Unicode (ISO 32000-1, 9.4.3 and 9.10.3).
func Text(t testing.TB, file []byte) string {
	t.Helper()
	objects := map[string][]byte{}
	at := object.FindAllSubmatchIndex(file, -1)
	for i, from := range at {
		to := len(file)
		if i+1 < len(at) {
			to = at[i+1][0]
		}
		objects[string(file[from[2]:from[3]])] = file[from[1]:to]
	}
	fonts := map[string]map[string]string{}
	for number, o := range objects {
		if m := unicodeOf.FindSubmatch(o); m != nil && bytes.Contains(o, []byte("/Type0")) {
			fonts[number] = signs(t, string(content(t, objects[string(m[1])])))
		}
	}
	var text strings.Builder
	for _, from := range at {
		drawn := content(t, objects[string(file[from[2]:from[3]])])
		if !bytes.Contains(drawn, []byte(" Tf")) {
			continue
		}
		var font map[string]string
		for _, m := range shown.FindAllSubmatch(drawn, -1) {
			switch {
			case m[1] != nil:
				font = fonts[string(m[1])]
			case m[2] != nil:
				write(&text, font, string(m[2]))
			case m[3] != nil:
				for _, part := range letters.FindAllSubmatch(m[3], -1) {
					write(&text, font, string(part[1]))
				}
			default:
				text.WriteString("\n")
			}
		}
	}
	return text.String()
}

// write adds signs of two bytes each.
func write(text *strings.Builder, font map[string]string, code string) {
	for ; len(code) >= 4; code = code[4:] {
		text.WriteString(font[code[:4]])
	}
}

// content returns what is in an object's stream; nothing where it has none, or one of a picture or a font.
func content(t testing.TB, o []byte) []byte {
	t.Helper()
	head, stream, is := bytes.Cut(o, []byte("stream\n"))
	if !is || !bytes.Contains(head, []byte("/FlateDecode")) || bytes.Contains(head, []byte("/Subtype")) {
		return nil
	}
	r, err := zlib.NewReader(bytes.NewReader(stream))
	if err != nil {
		t.Fatal(err)
	}
	all, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// signs reads a font's table to Unicode.
func signs(t testing.TB, table string) map[string]string {
	t.Helper()
	all := map[string]string{}
	for _, block := range regexp.MustCompile(`(?s)beginbfchar(.*?)endbfchar`).FindAllStringSubmatch(table, -1) {
		for _, m := range one.FindAllStringSubmatch(block[1], -1) {
			all[m[1]] = utf16BE(t, m[2])
		}
	}
	for _, block := range regexp.MustCompile(`(?s)beginbfrange(.*?)endbfrange`).FindAllStringSubmatch(table, -1) {
		for _, m := range several.FindAllStringSubmatch(block[1], -1) {
			from, to, first := number(t, m[1]), number(t, m[2]), number(t, m[3])
			for code := from; code <= to; code++ {
				all[strings.ToUpper(hex.EncodeToString([]byte{byte(code >> 8), byte(code)}))] = string(rune(first + code - from))
			}
		}
	}
	return all
}

func number(t testing.TB, digits string) int64 {
	t.Helper()
	n, err := strconv.ParseInt(digits, 16, 64)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func utf16BE(t testing.TB, digits string) string {
	t.Helper()
	var units []uint16
	for ; len(digits) >= 4; digits = digits[4:] {
		units = append(units, uint16(number(t, digits[:4])))
	}
	return string(utf16.Decode(units))
}
