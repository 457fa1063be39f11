package rest

import "regexp"

// ourWords puts what the library says about a value into words that go with our own messages: each is read after the
// place it is about.
var ourWords = []struct {
	theirs *regexp.Regexp
	ours   string
}{
	{regexp.MustCompile(`^unexpected property$`), "is not a known name; names are case-sensitive"},
	{regexp.MustCompile(`^unknown query parameter$`), "is not a known parameter; names are case-sensitive"},
	{regexp.MustCompile(`^expected required property \S+ to be present$`), "is missing"},
	{regexp.MustCompile(`^required \S+ parameter is missing$`), "is missing"},
	{regexp.MustCompile(`^expected at most one value, but received multiple values$`),
		"appears twice; send each parameter once"},
	{regexp.MustCompile(`^expected boolean$|^invalid boolean$`), "must be true or false"},
	{regexp.MustCompile(`^expected integer$|^invalid integer$`), "must be a whole number"},
	{regexp.MustCompile(`^expected number$|^invalid float.*$`), "must be a number"},
	{regexp.MustCompile(`^expected string$`), "must be text in quotes"},
	{regexp.MustCompile(`^expected array$`), "must be a list"},
	{regexp.MustCompile(`^expected object$`), "must be an object"},
	{regexp.MustCompile(`^expected array items to be unique$`), "contains an item twice; send each item once"},
	{regexp.MustCompile(`^expected array length >= 1$`), "is empty; send at least one item"},
	{regexp.MustCompile(`^expected array length >= (\d+)$`), "has too few items; send at least $1"},
	{regexp.MustCompile(`^expected array length <= (\d+)$`), "has too many items; send at most $1"},
	{regexp.MustCompile(`^expected object with at least 1 properties$`), "is empty; send at least one member"},
	{regexp.MustCompile(`^expected length >= 1$`), "is empty"},
	{regexp.MustCompile(`^expected length >= (\d+)$`), "is too short; write at least $1 characters"},
	{regexp.MustCompile(`^expected length <= (\d+)$`), "is too long; write at most $1 characters"},
	{regexp.MustCompile(`^expected number >= (\S+)$`), "is too small; the minimum is $1"},
	{regexp.MustCompile(`^expected number > (\S+)$`), "is too small; it must be more than $1"},
	{regexp.MustCompile(`^expected number <= (\S+)$`), "is too large; the maximum is $1"},
	{regexp.MustCompile(`^expected number < (\S+)$`), "is too large; it must be less than $1"},
	{regexp.MustCompile(`^expected value to be one of "(.*)"$`), "must be one of $1"},
	{regexp.MustCompile(`^expected string to be RFC 3339 date$`),
		"is not a date; write year, month and day, such as 2026-09-05"},
	{regexp.MustCompile(`^expected string to be RFC 3339 date-time$`),
		"is not a time; write it in UTC, such as 2026-09-05T14:30:00Z"},
	{regexp.MustCompile(`^expected string to match pattern (.*)$`), "does not match the pattern $1"},
	{regexp.MustCompile(`^expected string to be (.*)$`), "is not $1"},
}

// inOurWords returns what the library says about a value in our words. A message that is ours already stays as it is.
func inOurWords(message string) string {
	if words, ok := patternInWords(message); ok {
		return words
	}
	for _, w := range ourWords {
		if w.theirs.MatchString(message) {
			return w.theirs.ReplaceAllString(message, w.ours)
		}
	}
	return message
}
