package verify

import "testing"

func TestTransientChecks(t *testing.T) {
	assertThermalChecks(t, "05_transient_conduction.json", transientChecks)
}
