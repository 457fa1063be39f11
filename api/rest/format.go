package rest

import (
	"github.com/danielgtaylor/huma/v2"
	"github.com/go-json-experiment/json"
)

// format reads JSON strictly, so that a program's mistake is an error and not a guess: names count with their case, no name comes
// twice, and text is valid UTF-8. It writes as usual.
var format = huma.Format{
	Marshal:   huma.DefaultJSONFormat.Marshal,
	Unmarshal: func(data []byte, v any) error { return json.Unmarshal(data, v) },
}
