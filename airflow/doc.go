// Package airflow computes how air moves through a box with openings, cracks,
// seams and plumes.
//
// The pressure network (Network, State, Conditions) has one unknown gauge
// pressure per air node and one monotone law per link, driven by stack and wind.
// Openings are cut in height strips (OpeningStrips), so that air which enters low
// and leaves high through one and the same opening comes out by itself. The other
// files hold the published closed forms: two openings, neutral level, doorway,
// horizontal opening, plumes, displacement ventilation, filling and draining.
//
// Everything is SI: lengths in m, pressures in Pa, mass flows in kg/s, volume
// flows in m³/s, densities in kg/m³, dynamic viscosities in Pa·s. The package
// takes numbers and knows nothing of hives.
package airflow

// Gravity is the standard acceleration of gravity [m/s²], exact by definition
// (CGPM 1901).
const Gravity = 9.80665
