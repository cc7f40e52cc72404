package radio_test

import (
	"errors"
	"testing"

	"ferrule/knowledge/units"
)

func refused(t *testing.T, name, quantity string, err error) {
	t.Helper()
	var out *units.OutOfRange
	if !errors.As(err, &out) || out.Quantity != quantity {
		t.Errorf("%s: got %v, want a refusal of the %s", name, err, quantity)
	}
}
