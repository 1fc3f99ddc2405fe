package air

// Constants of moist air, water and carbon dioxide. The handbook named here is
// the ASHRAE Handbook Fundamentals (2017), chapter 1, "Psychrometrics".
const (
	// ZeroCelsius is 0 °C on the kelvin scale [K], exact by definition of the
	// Celsius temperature.
	ZeroCelsius = 273.15

	// TriplePoint of water [°C], ITS-90.
	TriplePoint = 0.01

	// StandardPressure is the standard atmosphere at sea level [Pa], exact
	// (ISO 2533).
	StandardPressure = 101325.0

	// GasConstant is the molar gas constant [J/(mol·K)], SI (2019), rounded.
	GasConstant = 8.314462618

	// MolarMassDry is the molar mass of dry air [kg/mol], handbook.
	MolarMassDry = 28.966e-3
	// MolarMassWater is the molar mass of water [kg/mol], handbook.
	MolarMassWater = 18.015268e-3
	// MolarMassCarbonDioxide is the molar mass of carbon dioxide [kg/mol]; from
	// memory, standard atomic weights.
	MolarMassCarbonDioxide = 44.0095e-3
	// MolarMassOxygen is the molar mass of oxygen [kg/mol]; from memory,
	// standard atomic weights.
	MolarMassOxygen = 31.9988e-3

	// GasConstantDry is the gas constant of dry air [J/(kg·K)], handbook.
	GasConstantDry = 287.042
	// MassRatio is the molar mass of water over that of dry air [-], handbook.
	MassRatio = 0.621945
	// GasConstantVapour is the gas constant of water vapour [J/(kg·K)].
	GasConstantVapour = GasConstantDry / MassRatio
	// GasConstantCarbonDioxide is the gas constant of carbon dioxide
	// [J/(kg·K)].
	GasConstantCarbonDioxide = GasConstant / MolarMassCarbonDioxide

	// SpecificHeatDry is the isobaric specific heat of dry air [J/(kg·K)],
	// handbook, -40 to 60 °C within 0.3 %.
	SpecificHeatDry = 1006.0
	// SpecificHeatVapour is the isobaric specific heat of water vapour
	// [J/(kg·K)], handbook.
	SpecificHeatVapour = 1860.0
	// SpecificHeatWater is the specific heat of liquid water [J/(kg·K)],
	// handbook.
	SpecificHeatWater = 4186.0
	// SpecificHeatIce is the specific heat of ice just below 0 °C [J/(kg·K)],
	// handbook.
	SpecificHeatIce = 2100.0

	// LatentFusion is the latent heat of melting of ice at 0 °C [J/kg]; from
	// memory, steam tables give 333.4 kJ/kg.
	LatentFusion = 333.4e3

	// latentEvaporationZero is the latent heat of evaporation at 0 °C [J/kg],
	// handbook.
	latentEvaporationZero = 2501e3
)
