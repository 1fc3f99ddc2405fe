package verify

import "testing"

func TestMoistureChecks(t *testing.T) {
	assertThermalChecks(t, "04_moisture.json", moistureChecks)
}
