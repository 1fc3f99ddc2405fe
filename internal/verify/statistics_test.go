package verify

import "testing"

func TestStatisticsChecks(t *testing.T) {
	assertThermalChecks(t, "10_statistics.json", statisticsChecks)
}
