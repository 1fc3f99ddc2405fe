// Package wall conducts heat through the shell of a box: layered walls through
// time (Chain), their steady and periodic transmittance (Combined, Dynamic),
// the extra heat that edges, corners and rebates lose (Section, Joint), and the
// convective and radiative films on their faces (film.go, radiation.go).
//
// The package takes plain numbers in SI, with temperatures in °C; it knows
// neither hives nor materials. Layers run from the inside to the outside, face
// A is the inner face and face B the outer one, and a heat flux is positive
// into the wall unless a comment says otherwise.
package wall
