//go:build race

package diagnosis

// raced tells that the race detector makes everything many times slower.
const raced = true
