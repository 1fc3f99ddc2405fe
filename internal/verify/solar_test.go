package verify

import "testing"

func TestSolar(t *testing.T) {
	assertClimatic(t, "07_solar_longwave.json", solarChecks)
}
