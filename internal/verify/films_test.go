package verify

import "testing"

func TestFilmsChecks(t *testing.T) {
	assertThermalChecks(t, "08_convection_radiation.json", filmsChecks)
}
