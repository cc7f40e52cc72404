package starter_test

import (
	"testing"

	"ferrule/knowledge"
	"ferrule/knowledge/starter"
)

func TestLoads(t *testing.T) {
	if _, err := knowledge.Load(starter.FS); err != nil {
		t.Fatal(err)
	}
}
