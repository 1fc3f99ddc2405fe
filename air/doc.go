// Package air computes the properties of moist air, and the heat and mass
// transfer between air and water, as plain functions of numbers.
//
// Units are SI with two exceptions: temperatures are in degrees Celsius and
// relative humidity is a fraction. The letters in signatures keep one meaning
// throughout:
//
//	t   temperature                              [°C]
//	p   total pressure                           [Pa]
//	pv  partial pressure of the water vapour     [Pa]
//	w   humidity ratio, water vapour to dry air  [kg/kg]
//
// Moist air is a mixture of two ideal gases. For saturated air at sea level the
// humidity ratio and enthalpy so computed lie up to 0.7 % below those of the
// real gas. "Saturation" is over ice below the triple point of water and over
// liquid above it unless a name says otherwise.
//
// No function fails. Arguments that are NaN give NaN; each comment says what
// lies outside its range of validity.
package air
