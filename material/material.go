// Package material is the table of what hives are built of, with the source of
// every value.
package material

// Material is a substance in the state in which hives use it.
type Material struct {
	Name             string
	Conductivity     float64 // [W/(m·K)] at 10 °C, air dry
	Density          float64 // [kg/m³]
	SpecificHeat     float64 // [J/(kg·K)]
	MuDry            float64 // water-vapour resistance factor, dry side [-]
	MuWet            float64 // water-vapour resistance factor, wet side [-]
	Emissivity       float64 // long wave [-]
	SolarAbsorptance float64 // [-]
	Source           string  //
	FromMemory       bool    // some values were recalled, not read
	Note             string
}
