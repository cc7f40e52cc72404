package demo

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"ferrule/store"
)

// The first names of the firm; the case book holds pseudonyms only.
var technicians = []string{"Ada", "Bram", "Cleo", "Dov", "Esme", "Finn", "Gwen", "Hal", "Ines"}

// Streets of Eastmere, which does not exist.
var streets = []string{
	"Tallow Row", "Quillmere Street", "Ferrow Lane", "Ostlers Reach", "Brackwater Road", "Pinmaker Street", "Hollowbell Lane",
	"Candlerise", "Saltern Walk", "Dunlin Hythe", "Weirgate End", "Cobbler Steps", "Thimble Yard", "Ravelin Court", "Larkwarden Road",
	"Mossgate Row", "Tinsmith Rise", "Oakapple Lane", "Netmender Quay", "Barleymow Yard", "Starling Hithe", "Woolcomber Street",
	"Copperas Lane", "Fishwife Steps", "Merrow Parade", "Sedgeley Drift", "Anvil Close End", "Turnstone Walk", "Glover Hythe",
	"Harbinger Row", "Kestrel Drift", "Lanthorn Lane", "Mullion Street", "Nightingale Drift",
}

const sitesPerStreet = 10

func pseudonym(name string) string {
	sum := sha256.Sum256([]byte("lantern yard alarms/" + name))
	return "p-" + hex.EncodeToString(sum[:6])
}

func siteRef(street string, number int) store.SiteRef {
	return store.SiteRef(fmt.Sprintf("%d-%s", number, strings.ReplaceAll(strings.ToLower(street), " ", "-")))
}

// trouble is the site that keeps the firm busy.
var trouble = siteRef("Pinmaker Street", 3)

// sites is the register of the firm.
func sites(r *rand.Rand) []store.Site {
	panels := []string{"Moor Small", "Moor Large", "Moor Onboard"}
	hubs := []string{"Fen", "Fen Wide", "Fen Solo"}
	var out []store.Site
	for _, street := range streets {
		for n := range sitesPerStreet {
			panel := panels[r.IntN(len(panels))]
			equipment := []string{panel}
			if panel != "Moor Onboard" && r.IntN(3) > 0 {
				equipment = append(equipment, hubs[r.IntN(len(hubs))], "Rill-P")
				if r.IntN(2) == 0 {
					equipment = append(equipment, "Wick-W")
				}
			} else {
				equipment = append(equipment, "Wick-C", "Sedge-8")
			}
			out = append(out, store.Site{
				Ref: siteRef(street, n+1), Name: fmt.Sprintf("%d %s", n+1, street), Grade: 1 + r.IntN(3), Equipment: equipment,
				BatteryDate:     time.Date(2020+r.IntN(6), time.Month(1+r.IntN(12)), 1, 0, 0, 0, 0, time.UTC),
				NextMaintenance: time.Date(2026+r.IntN(2), time.Month(1+r.IntN(12)), 1, 0, 0, 0, 0, time.UTC),
			})
		}
	}
	return out
}
