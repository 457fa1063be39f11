package rest

import "testing"

func TestAKeyIsInWorkUntilItsRequestEnds(t *testing.T) {
	var w inWork
	one, other := workKey{1, 2, [32]byte{3}}, workKey{1, 4, [32]byte{3}} // the same key of two users
	for i, step := range []struct {
		got, want bool
		what      string
	}{
		{w.begin(one), true, "nobody works on it"}, {w.begin(one), false, "it is in work"},
		{w.begin(other), true, "it is another user's"},
	} {
		if step.got != step.want {
			t.Errorf("step %d, %s: begin says %v", i, step.what, step.got)
		}
	}
	w.end(one)
	if !w.begin(one) {
		t.Error("a key stays in work after its request has ended")
	}
}
