// Package bottest makes the starter pack ready for the tests of what is built
// around a bot. It takes a second or two, once for a test program.
package bottest

import (
	"fmt"
	"sync"

	"ferrule/bot"
	"ferrule/knowledge"
	"ferrule/knowledge/starter"
	"ferrule/rules"
)

// Starter is the starter pack, ready to converse by.
var Starter = sync.OnceValues(func() (*bot.Prepared, error) {
	p, err := knowledge.Load(starter.FS)
	if err != nil {
		return nil, fmt.Errorf("loading the starter pack: %w", err)
	}
	program, err := rules.Compile(p)
	if err != nil {
		return nil, fmt.Errorf("compiling the starter pack: %w", err)
	}
	return bot.Prepare(program), nil
})
