package verify

import "testing"

func TestConduction2dChecks(t *testing.T) {
	assertThermalChecks(t, "03_iso10211_conduction2d.json", conduction2dChecks)
}
