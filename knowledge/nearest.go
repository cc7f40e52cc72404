package knowledge

import (
	"fmt"

	"github.com/agnivade/levenshtein"
)

// DidYouMean returns advice that names the nearest of the candidates, or ""
// when none is near enough to be a slip of the finger.
func DidYouMean(word string, candidates []string) string {
	best, distance := "", max(2, len(word)/4)+1
	for _, c := range candidates {
		if d := levenshtein.ComputeDistance(word, c); d < distance {
			best, distance = c, d
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf("did you mean %s?", best)
}
