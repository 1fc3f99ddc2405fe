package verify

import "testing"

func TestEvaporation(t *testing.T) {
	assertClimatic(t, "09_evaporation_mass.json", evaporationChecks)
}
