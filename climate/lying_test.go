package climate

import (
	"math"
	"testing"
	"time"
)

// TestLyingFollowsTheDegreeDays gives the depths of SnowCover back to Lying: the
// densities that it finds from depth alone must be those that the full sums have,
// while no rain or thaw blurs them.
func TestLyingFollowsTheDegreeDays(t *testing.T) {
	s := &Series{Latitude: 60, Start: time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC), HasRain: true, Hours: make([]Hour, 30*24)}
	for i := range s.Hours {
		s.Hours[i].TempAir = -6
		if i > 24 && i%97 < 5 && i < 400 {
			s.Hours[i].Rain = 0.8
		}
	}
	full := s.SnowCover()
	lying := s.WithSnow().Lying()
	for i := range full {
		if full[i].Depth == 0 {
			continue
		}
		if math.Abs(lying[i].Density/full[i].Density-1) > 0.02 || lying[i].Depth != full[i].Depth {
			t.Fatalf("hour %d: %.1f kg/m³ at %.3f m, full sums %.1f kg/m³ at %.3f m", i, lying[i].Density, lying[i].Depth, full[i].Density, full[i].Depth)
		}
	}
	if s.Lying() != nil {
		t.Error("snow lies without a depth")
	}
	// Depth that only shrinks settles to 300 kg/m³ and never beyond.
	s.Hours[0].SnowDepth = 0.5
	for i := range s.Hours {
		s.Hours[i].SnowDepth = 0.5 - 0.0004*float64(i)
	}
	old := s.Lying()
	if d := old[len(old)-1].Density; d < 295 || d > 300 {
		t.Errorf("after 30 days %.1f kg/m³, want nearly 300", d)
	}
}

// TestSnowPermeability holds the fit against the range of what it was fitted to:
// 3.0e-10 to 3.1e-9 m² from 367 to 134 kg/m³, "Permeability measurements on new and
// equitemperature snow" (Water Resources Research 29, 1993, 2485).
func TestSnowPermeability(t *testing.T) {
	for _, c := range []struct{ density, want float64 }{{367, 3.0e-10}, {134, 3.1e-9}} {
		if got := SnowPermeability(c.density); math.Abs(got-c.want) > 2.8e-10 {
			t.Errorf("%g kg/m³: %.3g m², measured about %.3g", c.density, got, c.want)
		}
	}
	if SnowAlbedo(60) != 0.84 || math.Abs(SnowAlbedo(400)-0.5) > 1e-12 || RainShare(-1) != 0 || RainShare(5) != 1 || RainShare(1) != 0.5 {
		t.Error("ends of albedo or rain share")
	}
}
