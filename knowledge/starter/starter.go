// Package starter embeds the pack that ships with the program.
package starter

import "embed"

// FS holds the starter pack: its YAML files, and the dialogues that hold it to
// what a technician should hear.
//
//go:embed *.yaml dialogues/*.txt
var FS embed.FS
