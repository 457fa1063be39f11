package rest

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"throughline/models"
)

// tags are the entity tags that a request names in If-Match or If-None-Match (RFC 9110 §13.1).
type tags struct {
	sent bool     // the header is there
	any  bool     // it is "*"
	list []string // as sent, with their quotes and W/
}

// tagsOf reads a header that lists entity tags; lines of the same header count as one (RFC 9110 §5.3). What is neither
// a list nor "*" is Invalid at the header.
func tagsOf(h http.Header, name string) (tags, error) {
	lines, sent := h[http.CanonicalHeaderKey(name)]
	t := tags{sent: sent}
	rest := strings.Trim(strings.Join(lines, ","), " \t")
	if !sent || rest == "*" {
		t.any = sent
		return t, nil
	}
	for rest != "" {
		if rest[0] == ',' || rest[0] == ' ' || rest[0] == '\t' {
			rest = rest[1:]
			continue
		}
		tag, left, ok := cutTag(rest)
		if !ok {
			return t, &models.Error{Code: models.Invalid, Message: "a header of the request cannot be read",
				Fields: []models.FieldError{{
					Where: "header." + name, Message: `must be "*" or a list of entity tags such as "3", each in double quotes`,
				}}}
		}
		t.list, rest = append(t.list, tag), left
	}
	return t, nil
}

// cutTag takes the entity tag off the front of a list (RFC 9110 §8.8.3).
func cutTag(s string) (tag, rest string, ok bool) {
	quoted := strings.TrimPrefix(s, "W/")
	if len(quoted) == 0 || quoted[0] != '"' {
		return "", "", false
	}
	for i := 1; i < len(quoted); i++ {
		switch c := quoted[i]; {
		case c == '"':
			end := len(s) - len(quoted) + i + 1
			rest = strings.TrimLeft(s[end:], " \t")
			return s[:end], rest, rest == "" || rest[0] == ','
		case c < 0x21 || c == 0x7f:
			return "", "", false
		}
	}
	return "", "", false
}

// strong says whether one of the tags is the strong tag given, by the strong comparison (RFC 9110 §8.8.3.2), or
// whether any will do.
func (t tags) strong(tag string) bool { return t.any || slices.Contains(t.list, tag) }

// weak is strong with the weak comparison, for which W/ does not count.
func (t tags) weak(tag string) bool {
	return t.any || slices.ContainsFunc(t.list, func(s string) bool { return strings.TrimPrefix(s, "W/") == tag })
}

// versionTag is the entity tag of a record's version. A record's answer is the same as long as its version is.
func versionTag(version int64) string { return `"` + strconv.FormatInt(version, 10) + `"` }
