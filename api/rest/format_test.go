package rest

import "testing"

// RFC 8259 §4 wants names to be unique, §8.1 text to be UTF-8.
func TestJSONIsReadStrictly(t *testing.T) {
	type body struct {
		Name string `json:"name"`
	}
	for sent, ok := range map[string]bool{
		`{"name":"Bryn"}`: true, `{"Name":"Bryn"}`: false, `{"name":"a","name":"b"}`: false, "{\"name\":\"\xff\"}": false, `{"name":"Bryn"} x`: false,
	} {
		var loose any
		var v body
		// The library reads twice: for the schema, which refuses unknown names, and into the type.
		err := format.Unmarshal([]byte(sent), &loose)
		if err == nil {
			err = format.Unmarshal([]byte(sent), &v)
		}
		if good := err == nil && v.Name == "Bryn"; good != ok {
			t.Errorf("%q: %v, %q; want it read: %v", sent, err, v.Name, ok)
		}
	}
}
