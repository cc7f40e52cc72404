// Package knowledge holds the pack: the readings, symptoms, equipment,
// causes, rules and evidence tables that the support lead edits as YAML.
//
// Load reads a folder of YAML files strictly. Every item keeps the place it
// was written at, so that an error can name file, line and column, and all
// problems are reported at once. Scalars are taken by their written text:
// 4.10 stays 4.10. Package rules compiles what is loaded here.
package knowledge
