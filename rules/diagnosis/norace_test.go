//go:build !race

package diagnosis

const raced = false
