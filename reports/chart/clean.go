package chart

import (
	"encoding/xml"
	"errors"
	"fmt"
	"html"
	"io"
	"math"
	"strconv"
	"strings"
)

// The elements and attributes that our SVG may have. Other elements are an error, other attributes are left out: the
// engine's drawing is shown in a page beside a player's record.
var (
	allowedElements = set("svg g defs path rect circle ellipse line polyline polygon text tspan clipPath " +
		"linearGradient radialGradient stop")
	allowedGeometry = set("d x y dx dy x1 y1 x2 y2 cx cy r rx ry width height points transform offset gradientUnits " +
		"gradientTransform clipPathUnits")
	allowedPaint = set("fill fill-opacity fill-rule stroke stroke-width stroke-opacity stroke-dasharray " +
		"stroke-dashoffset stroke-linecap stroke-linejoin stroke-miterlimit opacity clip-path clip-rule paint-order " +
		"stop-color stop-opacity font-size font-style font-weight text-anchor dominant-baseline")
)

func set(words string) map[string]bool {
	m := make(map[string]bool)
	for _, w := range strings.Fields(words) {
		m[w] = true
	}
	return m
}

// cleaner turns one SVG of the engine into one that is safe in a page.
type cleaner struct {
	prefix string // of every id: unique in the page
	ids    map[string]string
	out    strings.Builder
}

// clean writes the SVG under its own root element, with ids that start with the prefix, styles turned into attributes,
// a title and a description, and the drawing's captions and hover texts on top. The result is well-formed XML and
// HTML.
func clean(svg, prefix, class, title, description string, d drawing) (string, error) {
	c := cleaner{prefix: prefix, ids: make(map[string]string)}
	c.out.Grow(len(svg))
	hide := ""
	if class == "narrow" {
		hide = ` display="none"` // a page's style sheet outranks an attribute; without one the wide chart shows
	}
	fmt.Fprintf(&c.out, `<svg xmlns="http://www.w3.org/2000/svg" class="chart-%s" viewBox="0 0 %d %d" role="img" `+
		`aria-labelledby="%s-title %s-desc" font-family="sans-serif" font-size="%d"%s>`+"\n",
		class, d.width, d.height, prefix, prefix, fontSize, hide)
	fmt.Fprintf(&c.out, "<title id=\"%s-title\">%s</title>\n<desc id=\"%s-desc\">%s</desc>\n", prefix, text(title),
		prefix, text(description))
	if err := c.body(svg); err != nil {
		return "", err
	}
	for _, t := range d.captions {
		if t.text == "" {
			continue
		}
		fmt.Fprintf(&c.out, "<text x=\"%g\" y=\"%g\" text-anchor=\"%s\" fill=\"%s\">%s</text>\n", t.x, t.y, t.anchor,
			t.colour, text(t.text))
	}
	for _, h := range d.hovers {
		fmt.Fprintf(&c.out, "<rect x=\"%g\" y=\"%g\" width=\"%g\" height=\"%g\" fill=\"none\" "+
			"pointer-events=\"all\"><title>%s</title></rect>\n", h.x, h.y, h.w, h.h, text(h.text))
	}
	c.out.WriteString("</svg>\n")
	return c.out.String(), nil
}

func text(s string) string { return html.EscapeString(tidy(s)) }

// body copies what is inside the engine's root element.
func (c *cleaner) body(svg string) error {
	dec := xml.NewDecoder(strings.NewReader(svg))
	depth, unseen := 0, 0 // unseen counts the open elements of one that paints nothing
	inText := false
	open := false // the last start tag still lacks its end
	for {
		token, err := dec.Token()
		if errors.Is(err, io.EOF) {
			if depth != 0 {
				return fmt.Errorf("clean SVG: it ends inside an element")
			}
			return nil
		}
		if err != nil {
			return fmt.Errorf("clean SVG: %w", err)
		}
		switch t := token.(type) {
		case xml.StartElement:
			if !allowedElements[t.Name.Local] {
				return fmt.Errorf("clean SVG: element %q is not allowed", t.Name.Local)
			}
			depth++
			if depth == 1 {
				continue
			}
			attrs := c.attributes(t.Attr)
			if unseen > 0 || paintsNothing(t.Name.Local, attrs) {
				unseen++
				continue
			}
			if open {
				c.out.WriteString(">")
			}
			inText = t.Name.Local == "text" || t.Name.Local == "tspan"
			c.out.WriteString("<" + t.Name.Local)
			for _, a := range attrs {
				c.out.WriteString(" " + a.name + `="` + html.EscapeString(a.value) + `"`)
			}
			open = true
		case xml.EndElement:
			depth--
			switch {
			case depth == 0:
			case unseen > 0:
				unseen--
			default:
				if open {
					c.out.WriteString("/>")
				} else {
					c.out.WriteString("</" + t.Name.Local + ">")
				}
				open = false
				if t.Name.Local != "tspan" {
					inText = false
					c.out.WriteString("\n")
				}
			}
		case xml.CharData:
			if inText && unseen == 0 {
				if open {
					c.out.WriteString(">")
					open = false
				}
				c.out.WriteString(html.EscapeString(fromEngine.Replace(string(t))))
			}
		}
	}
}

type attribute struct{ name, value string }

// attributes keeps what is allowed, in order, with styles as attributes and ids renamed.
func (c *cleaner) attributes(in []xml.Attr) []attribute {
	var out []attribute
	put := func(name, value string) {
		if !allowedGeometry[name] && !allowedPaint[name] {
			return
		}
		if name == "stroke-width" {
			value = shortNumber(value)
		}
		if name == "font-size" && strings.TrimSuffix(value, "px") == strconv.Itoa(fontSize) {
			return // the root has it
		}
		for i := range out {
			if out[i].name == name {
				out[i].value = value // a style outranks an attribute
				return
			}
		}
		out = append(out, attribute{name, c.localURL(value)})
	}
	style := ""
	for _, a := range in {
		switch {
		case a.Name.Local == "style":
			style = a.Value
		case a.Name.Local == "id" && a.Name.Space == "":
			if a.Value != "" && a.Value != "0" { // the engine's background is number nought
				out = append(out, attribute{"id", c.id(a.Value)})
			}
		case a.Name.Space == "":
			put(a.Name.Local, a.Value)
		}
	}
	for declaration := range strings.SplitSeq(style, ";") {
		if name, value, ok := strings.Cut(declaration, ":"); ok {
			put(strings.ToLower(strings.TrimSpace(name)), c.localURL(strings.TrimSpace(value)))
		}
	}
	return out
}

// shortNumber cuts the engine's seventeen digits to what a screen can show.
func shortNumber(s string) string {
	if v, err := strconv.ParseFloat(s, 64); err == nil {
		return strconv.FormatFloat(math.Round(v*1000)/1000, 'f', -1, 64)
	}
	return s
}

// id gives the n-th id met the name prefix-n: the engine's own numbers depend on what it drew before.
func (c *cleaner) id(old string) string {
	renamed, ok := c.ids[old]
	if !ok {
		renamed = c.prefix + "-" + strconv.Itoa(len(c.ids)+1)
		c.ids[old] = renamed
	}
	return renamed
}

// localURL renames url(#id). Any other url becomes none: a chart loads nothing from elsewhere.
func (c *cleaner) localURL(value string) string {
	start := strings.Index(strings.ToLower(value), "url(")
	if start < 0 {
		return value
	}
	inside, _, closed := strings.Cut(value[start+len("url("):], ")")
	id, local := strings.CutPrefix(strings.Trim(inside, ` "'`), "#")
	if !closed || !local || start != 0 {
		return "none"
	}
	return "url(#" + c.id(id) + ")"
}

// paintsNothing finds the engine's background and the unseen floors of stacked bands.
func paintsNothing(element string, attrs []attribute) bool {
	if element != "path" && element != "rect" {
		return false // a clip path's rectangle has no fill attribute at all
	}
	get := func(name string) string {
		for _, a := range attrs {
			if a.name == name {
				return a.value
			}
		}
		return ""
	}
	stroke := get("stroke")
	noStroke := stroke == "" || stroke == "none" || get("stroke-opacity") == "0" || get("opacity") == "0"
	return get("fill") == "none" && (noStroke || element == "path" && get("d") == "")
}
