// Package starter embeds the pack that ships with the program.
package starter

import "embed"

// FS holds the starter pack's YAML files.
//
//go:embed *.yaml
var FS embed.FS
