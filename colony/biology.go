// Package colony describes the bees of one colony by what a hive feels of them:
// heat, water, carbon dioxide, honey eaten, the space their cluster takes and
// where it sits. It covers the cold half of the year and brood rearing.
//
// Nothing here assumes that insulation saves honey. Use rises in the cold
// because the mantle must stay warm, and in the mild because the cluster
// loosens and resting heat grows with temperature; which of the two a change of
// the hive touches decides its sign.
package colony

import "math"

// Stoichiometry of honey (17.5 % water, 81 % sugars) fully oxidised. Derived
// from C6H12O6 + 6 O2 → 6 CO2 + 6 H2O and the heats of combustion of its sugars.
const (
	WaterPerHoney = 0.66 // water set free per honey eaten, 0.175 free and 0.486 made [kg/kg]
	CO2PerHoney   = 1.19 // [kg/kg]
)

// Biology holds the numbers in which colonies differ or that are not well
// known. Parameters lists each with its range and source. The zero value is not
// useful; start from DefaultBiology.
type Biology struct {
	HoneyEnergy       float64 // heat of oxidised honey [J/kg]
	WaterHeld         float64 // share of the water that does not leave the bees as vapour [-]
	ClusterG          float64 // conductance core to air of a 1.5 kg cluster at 2 °C air, per bee mass [W/(K·kg)]
	MassExponent      float64 // exponent of mass-specific conductance with bee mass [-]
	CoreBroodless     float64 // [°C]
	CoreBrood         float64 // [°C]
	MantleFloor       float64 // lowest temperature that bees of the mantle allow [°C]
	MantleFilm        float64 // heat passage from mantle to the air of the seams per area of the nest sphere [W/(m²·K)]
	RestingPower      float64 // of a bee at 10 °C body temperature [W/kg]
	RestingQ10        float64 // growth of resting heat per 10 K [-]
	AwakeFactor       float64 // heat of loose, awake bees over that of resting ones at one temperature [-]
	SustainedPower    float64 // what a colony can keep up for days [W/kg]
	LooseDoubling     float64 // rise of air temperature above ContractedAt that doubles the conductance [K]
	LooseDoublingWarm float64 // the same above LooseKnee [K]
	LooseKnee         float64 // air temperature above which the cluster opens faster [°C]
	ContractedAt      float64 // air temperature below which a cluster contracts no further [°C]
	DensityTight      float64 // bees per nest volume when contracted [kg/m³]
	DensityLoose      float64 // bees per nest volume at 10 °C air [kg/m³]
	WinterDeath       float64 // share of adult bees that die per day without brood [1/d]
	SummerDeath       float64 // the same in full brood rearing [1/d]
	BeeMass           float64 // of one winter bee [kg]
	BroodHeat         float64 // of one sealed cell or grown larva at brood temperature [W]
	BroodFood         float64 // honey spent to rear one worker [kg]
	BroodPerBee       float64 // sealed cells that one adult bee can cover and feed [-]
	FlightExtra       float64 // extra use while bees can fly, share of the heat at that hour [-]
	FlightAbove       float64 // outdoor temperature at which bees fly in sun [°C]
	MoveAbove         float64 // air temperature beside the cluster at which bees shift to fresh comb [°C]
	CO2Fan            float64 // volume fraction at which bees begin to fan [-]
	FanFlow           float64 // air moved by one fanning bee at the entrance [m³/s]
	FanWarm           float64 // temperature of nest air at which fanning for coolness starts, broodless [°C]
	FanBrood          float64 // the same with brood [°C]
	HangOut           float64 // temperature of the air among combs at which the bees there begin to hang outside [°C]
	SprayAbove        float64 // temperature of nest air at which bees begin to spread water [°C]
	WaterLoad         float64 // that a forager carries [kg]
	WaterShare        float64 // largest share of the bees that fetch water [-]
	WaterStop         float64 // time to fill up at the water and to give away at home [s]
	WaterReach        float64 // distance beyond which water is not fetched [m]
	WaterCap          float64 // most that a colony spreads [kg/s]
	FlightSpeed       float64 // of a loaded forager [m/s]
	FanShare          float64 // largest share of the bees that fan at the entrance [-]
	FanLimit          float64 // largest flow that all fanners together can move [m³/s]
}

// Parameter is one ranged number of Biology.
type Parameter struct {
	Name    string
	Unit    string
	Meaning string
	Default float64
	Low     float64
	High    float64
	Source  string
	Value   func(*Biology) *float64
}

// Parameters returns every ranged number with its default, range and source.
func Parameters() []Parameter {
	return []Parameter{
		{"honey_energy", "J/kg", "heat of oxidised honey", 12.7e6, 12.3e6, 12.9e6, "food composition tables, 1272 kJ per 100 g", func(b *Biology) *float64 { return &b.HoneyEnergy }},
		{"water_held", "-", "share of metabolic water held back by the bees", 0.1, 0, 0.3, "estimate", func(b *Biology) *float64 { return &b.WaterHeld }},
		{"cluster_conductance", "W/(K·kg)", "core to air, 1.5 kg cluster at 2 °C", 0.15, 0.10, 0.25, "derived from " + paperClusters, func(b *Biology) *float64 { return &b.ClusterG }},
		{"mass_exponent", "-", "mass-specific conductance against mass", -0.479, -0.58, -0.38, "VO2 = 22.69 m^-0.479 mL/(g·h): " + paperClusters, func(b *Biology) *float64 { return &b.MassExponent }},
		{"core_broodless", "°C", "core temperature without brood", 28, 18, 32, "range of measured broodless cores (from memory): " + paperColony, func(b *Biology) *float64 { return &b.CoreBroodless }},
		{"core_brood", "°C", "core temperature with brood", 34.5, 33, 36, paperBrood, func(b *Biology) *float64 { return &b.CoreBrood }},
		{"mantle_floor", "°C", "lowest mantle temperature bees allow", 8, 6.1, 13, "never below 6.1, usually 12 to 13 in Wisconsin (second-hand); chill at 5.5 to 9", func(b *Biology) *float64 { return &b.MantleFloor }},
		{"mantle_film", "W/(m²·K)", "mantle to seam air per sphere area", 2.5, 1.5, 4, "derived: a 1.2 kg cluster with 5.3 W at 2 °C whose mantle stands at 12 to 13 °C", func(b *Biology) *float64 { return &b.MantleFilm }},
		{"resting_power", "W/kg", "resting heat of a bee at 10 °C", 1.6, 1.5, 3.5, "extrapolated from sleeping bees; at the low end because at 2.5 resting alone would exceed the measured heat of large clusters at 2 °C: " + paperAsleep, func(b *Biology) *float64 { return &b.RestingPower }},
		{"resting_q10", "-", "growth of resting heat per 10 K", 2.2, 1.7, 2.2, "derived; with 1.6 W/kg at 10 °C it meets 4.7 ± 2.2 at 20 °C and 12.3 ± 7.6 at 35 °C: " + paperAsleep, func(b *Biology) *float64 { return &b.RestingQ10 }},
		{"awake_factor", "-", "heat of loose, awake bees over resting ones", 1.5, 1, 4, "second-hand: up to 20 W/kg unclustered and active near 20 °C; asleep 4.7: " + paperIntact, func(b *Biology) *float64 { return &b.AwakeFactor }},
		{"sustained_power", "W/kg", "heat a colony can keep up", 30, 20, 60, "60 W/kg in groups of 5 g: " + paperClusters, func(b *Biology) *float64 { return &b.SustainedPower }},
		{"loose_doubling", "K", "warming that doubles the conductance", 15, 10, 25, "estimate from volume -55 % and surface -40 % between +4 and -23 °C: " + paperSize, func(b *Biology) *float64 { return &b.LooseDoubling }},
		{"loose_doubling_warm", "K", "the same when the cluster opens", 8, 5, 15, "estimate", func(b *Biology) *float64 { return &b.LooseDoublingWarm }},
		{"loose_knee", "°C", "air temperature at which the cluster opens", 10, 7, 14, "clusters form below 10 to 14 °C, extension texts", func(b *Biology) *float64 { return &b.LooseKnee }},
		{"contracted_at", "°C", "air temperature of full contraction", -5, -7, 7, "extension texts; every bee in the cluster at -7 °C", func(b *Biology) *float64 { return &b.ContractedAt }},
		{"density_tight", "kg/m³", "bees per nest volume, contracted", 230, 140, 320, "derived from 2 kg in 8.6 L, talk sheet, low trust", func(b *Biology) *float64 { return &b.DensityTight }},
		{"density_loose", "kg/m³", "bees per nest volume at 10 °C", 100, 60, 140, "derived from 2 kg in 20 L", func(b *Biology) *float64 { return &b.DensityLoose }},
		{"summer_death", "1/d", "adult bees that die per day in full brood rearing", 0.028, 0.024, 0.036, "workers live 4 to 6 weeks in summer (from memory)", func(b *Biology) *float64 { return &b.SummerDeath }},
		{"winter_death", "1/d", "adult bees that die per day without brood", 0.0025, 0.0015, 0.006, "estimate between counts of indoor colonies (Journal of Apicultural Research 48, 2009) and a Turkish control group", func(b *Biology) *float64 { return &b.WinterDeath }},
		{"bee_mass", "kg", "one winter bee", 0.00011, 0.00008, 0.00013, "counts of bees per kilogram", func(b *Biology) *float64 { return &b.BeeMass }},
		{"brood_heat", "W", "one sealed cell at brood temperature", 0.0005, 0.0003, 0.0009, "derived from " + paperLarvae, func(b *Biology) *float64 { return &b.BroodHeat }},
		{"brood_food", "kg", "honey per worker reared", 0.00016, 0.00012, 0.0002, "usual figures 160 to 200 mg; BEEBOOK gives 59 mg of carbohydrate in the larva", func(b *Biology) *float64 { return &b.BroodFood }},
		{"brood_per_bee", "-", "sealed cells one bee can cover", 0.8, 0.5, 1.2, "estimate", func(b *Biology) *float64 { return &b.BroodPerBee }},
		{"flight_extra", "-", "extra use in flying weather", 0.5, 0.3, 1.0, "trend of " + paperWeight, func(b *Biology) *float64 { return &b.FlightExtra }},
		{"flight_above", "°C", "outdoor temperature for flight", 12, 10, 13, "extension texts", func(b *Biology) *float64 { return &b.FlightAbove }},
		{"move_above", "°C", "air beside the cluster at which bees shift", 8, 6, 12, "bees lose motion at 5.5 to 9 °C", func(b *Biology) *float64 { return &b.MoveAbove }},
		{"co2_fan", "-", "volume fraction of CO2 at which bees fan", 0.02, 0.01, 0.04, "tolerated 3.8 %: " + paperCO2, func(b *Biology) *float64 { return &b.CO2Fan }},
		{"fan_flow", "m³/s", "air moved by one fanning bee", 0.00008, 0.00003, 0.00012, "from memory of a 1954 anemometer study", func(b *Biology) *float64 { return &b.FanFlow }},
		{"fan_warm", "°C", "nest air at which broodless bees fan", 30, 26, 35, "estimate: bees spread above the broodless core temperature", func(b *Biology) *float64 { return &b.FanWarm }},
		{"fan_brood", "°C", "nest air at which bees fan with brood", 35, 33, 38, "from memory: " + paperFanning, func(b *Biology) *float64 { return &b.FanBrood }},
		{"hang_out", "°C", "air among the combs at which the bees there begin to hang outside", 36.5, 35, 39, "estimate: above the nest temperature bees defend: " + paperBrood, func(b *Biology) *float64 { return &b.HangOut }},
		{"spray_above", "°C", "nest air at which bees begin to spread water", 35.5, 34.5, 37, "estimate; cooling begins at moderate temperature: " + paperBrood, func(b *Biology) *float64 { return &b.SprayAbove }},
		{"water_load", "kg", "water that a forager carries", 0.000025, 0.00002, 0.000044, "25 mg usual, 44 mg in the desert: Water homeostasis in bees, with the emphasis on sociality, Journal of Experimental Biology 212 (2009) 429", func(b *Biology) *float64 { return &b.WaterLoad }},
		{"water_share", "-", "largest share of bees that fetch water", 0.05, 0.01, 0.15, "estimate, so that 40,000 bees near water reach a litre an hour", func(b *Biology) *float64 { return &b.WaterShare }},
		{"water_stop", "s", "time at the water and at home for one load", 480, 240, 900, "from 50 trips a day (advice), less flight", func(b *Biology) *float64 { return &b.WaterStop }},
		{"water_reach", "m", "distance beyond which water is not fetched", 3000, 1000, 5000, "estimate; advice asks for water within 500 m", func(b *Biology) *float64 { return &b.WaterReach }},
		{"water_cap", "kg/s", "most water a colony spreads", 0.00028, 0.0001, 0.0004, "1 L/h, estimate", func(b *Biology) *float64 { return &b.WaterCap }},
		{"flight_speed", "m/s", "speed of a loaded forager", 6.5, 5, 8, "usual figure, from memory", func(b *Biology) *float64 { return &b.FlightSpeed }},
		{"fan_share", "-", "largest share of bees that fan at the entrance", 0.01, 0.003, 0.02, "estimate", func(b *Biology) *float64 { return &b.FanShare }},
		{"fan_limit", "m³/s", "largest fanned flow", 0.005, 0.002, 0.010, "estimate", func(b *Biology) *float64 { return &b.FanLimit }},
	}
}

// Papers that more than one parameter rests on, or that have long titles.
const (
	paperClusters = "Allometric relations, metabolism and heat conductance in clusters of honey bees at cool temperatures, Journal of Comparative Physiology B 156 (1985) 143, doi:10.1007/BF00692937"
	paperColony   = "Thermal investigations of a honey bee colony: thermoregulation of the hive during summer and winter and heat production of members of different bee castes, Journal of Comparative Physiology B 159 (1989) 551 (title from memory)"
	paperBrood    = "Honeybee colony thermoregulation: regulatory mechanisms and contribution of individuals in dependence on age, location and thermal stress, PLoS ONE 5 (2010) e8967, doi:10.1371/journal.pone.0008967"
	paperAsleep   = "Calorimetric investigations on metabolic rates and thermoregulation of sleeping honeybees (Apis mellifera carnica), Thermochimica Acta 382 (2002) 221"
	paperIntact   = "Metabolic energy of intact honey bee colonies, Comparative Biochemistry and Physiology 71A (1982) 277 (title from memory)"
	paperSize     = "Quantification of cluster size and low ambient temperature relationships in the honey bee, Apidologie 21 (1990) 135"
	paperLarvae   = "Respiration of individual honeybee larvae in relation to age and ambient temperature, Journal of Comparative Physiology B 174 (2004) 511, doi:10.1007/s00360-004-0439-z"
	paperWeight   = "Winter weight loss of different subspecies of honey bee Apis mellifera colonies (Linnaeus, 1758) in southwestern Sweden, PLoS ONE 16 (2021) e0258398, doi:10.1371/journal.pone.0258398"
	paperCO2      = "The potential of bee-generated carbon dioxide for control of varroa mite (Mesostigmata: Varroidae) in indoor overwintering honey bee (Hymenoptera: Apidae) colonies, Journal of Economic Entomology 108 (2015) 2153, doi:10.1093/jee/tov202"
	paperFanning  = "Collective ventilation in honeybee nests, Journal of the Royal Society Interface 16 (2019) 20180561, doi:10.1098/rsif.2018.0561 (title from memory)"
)

// DefaultBiology returns the default of every parameter.
func DefaultBiology() Biology {
	var b Biology
	for _, p := range Parameters() {
		*p.Value(&b) = p.Default
	}
	return b
}

// referenceAir is the air temperature of the measured clusters. [°C]
const referenceAir = 2

// looseness is the conductance of a cluster in air of temperature air relative
// to the fully contracted one. [-]
func (b *Biology) looseness(air float64) float64 {
	if air <= b.ContractedAt {
		return 1
	}
	doublings := (math.Min(air, b.LooseKnee) - b.ContractedAt) / b.LooseDoubling
	if air > b.LooseKnee {
		doublings += (math.Min(air, b.CoreBrood) - b.LooseKnee) / b.LooseDoublingWarm
	}
	return math.Exp2(doublings)
}

// Conductance is the heat passage from the core of a cluster of mass [kg] with
// brood sealed cells to the air round it at temperature air [°C]. [W/K]
//
// A broodless cluster loosens as the air warms, by the law of looseness. Bees
// with brood to keep warm have no heat to shed and do not loosen beyond the
// state of the measured clusters; nor do they contract further than covering
// the brood allows.
func (b *Biology) Conductance(mass, air, brood float64) float64 {
	if mass <= 0 {
		return 0
	}
	return b.specific(mass) * b.looseness(b.standsAs(mass, air, brood))
}

// specific is the conductance of a fully contracted cluster of mass. [W/K]
func (b *Biology) specific(mass float64) float64 {
	return mass * b.ClusterG * math.Pow(mass/1.5, b.MassExponent) / b.looseness(referenceAir)
}

// standsAs is the air temperature in which a broodless cluster would be as open
// as this one. [°C]
func (b *Biology) standsAs(mass, air, brood float64) float64 {
	kept := math.Max(b.coverAs(mass, brood), math.Min(air, referenceAir))
	return air + b.broodShare(brood)*(kept-air)
}

// broodShare is how far brood rules the core: wholly from 1,000 cells on; a
// hand-sized patch does not heat the whole core. [-]
func (b *Biology) broodShare(brood float64) float64 { return math.Min(1, brood/1000) }

// Density is bee mass per nest volume, comb included. [kg/m³]
//
// It is exponential in air temperature between the two known states and is
// held outside them.
func (b *Biology) Density(air float64) float64 {
	x := (air - tightAt) / (looseAt - tightAt)
	x = math.Max(0, math.Min(1.4, x))
	return b.DensityTight * math.Pow(b.DensityLoose/b.DensityTight, x)
}

// Air temperatures at which the densities of a tight and a loose cluster were
// taken. [°C]
const (
	tightAt = -25
	looseAt = 10
)

// Radius of the nest sphere that holds mass [kg] of bees in air [°C]. [m]
func (b *Biology) Radius(mass, air float64) float64 {
	return math.Cbrt(3 * mass / b.Density(air) / (4 * math.Pi))
}

// Demand is what a colony gives off in given surroundings.
type Demand struct {
	Power   float64 // heat of bees and brood together [W]
	Slope   float64 // change of Power with the air temperature beside the cluster, never positive [W/K]
	Spread  float64 // share of Power given off by bees that have spread over all combs [-]
	Core    float64 // temperature of the core [°C]
	Mantle  float64 // temperature of the cluster's mantle, or of the bees where they are spread [°C]
	Limited bool    // the sustained limit was reached: the cluster cools
	Resting bool    // resting heat alone more than covers the loss
	Radius  float64 // of the nest sphere [m]
}

// Heat finds the heat of a colony of mass [kg] with brood sealed cells in air
// of temperature air [°C] beside the cluster, and of temperature hive [°C] on
// the combs over which bees spread in the warm.
//
// Three things ask for heat, the largest wins: the core at its set-point
// through the cluster's conductance; the mantle at its floor through the film
// to the seam air (then mantle bees heat too, as thermographs show); and
// resting heat, which no living bee goes below. The sustained limit caps it.
//
// As the air warms the cluster dissolves. Spread bees without brood hold no
// core temperature and are as warm as the air they sit in, so that their
// resting heat, which grows with temperature, meets a larger, cooler hive: this
// is what keeps a tight, well insulated hive from heating itself without end.
func (b *Biology) Heat(mass, brood, air, hive float64) Demand {
	var d Demand
	if mass <= 0 {
		d.Core, d.Mantle = air, air
		return d
	}
	core := b.coreTarget(brood)
	spread := b.spread(air)
	held := 1 - spread*(1-b.broodShare(brood)) // share of the core's demand that stays
	d.Radius = b.Radius(mass, b.standsAs(mass, air, brood))
	film := b.MantleFilm * 4 * math.Pi * d.Radius * d.Radius

	specific := b.specific(mass)
	at := func(t float64) (power, rest float64) {
		stands := b.standsAs(mass, t, brood)
		f := film
		if t != air {
			r := b.Radius(mass, stands)
			f = b.MantleFilm * 4 * math.Pi * r * r
		}
		loose := b.spread(t)
		kept := 1 - loose*(1-b.broodShare(brood))
		need := math.Max(0, math.Max(kept*specific*b.looseness(stands)*(core-t), f*(b.MantleFloor-t)))
		return need, b.resting(mass, core, t, hive, loose, need/f)
	}
	const h = 0.05 // K, for the slope: the laws are smooth at this scale
	power, rest := at(air)
	need1, rest1 := at(air + h)
	d.Slope = math.Min(0, (math.Max(need1, rest1)-math.Max(power, rest))/h)
	if rest > power {
		power, d.Resting = rest, true
	}
	if limit := b.SustainedPower * mass; power > limit {
		power, d.Slope, d.Limited = limit, 0, true
	}
	d.Power = power
	d.Spread = spread * math.Min(1, rest/power)
	d.Mantle = math.Max(air, math.Min(core, air+(1-spread)*power/film))
	d.Core = math.Max(d.Mantle, core)
	if d.Limited {
		d.Core = math.Max(d.Mantle, math.Min(core, air+power/b.Conductance(mass, air, brood)))
	}
	// Without brood a dissolving cluster lets its core go.
	d.Core -= (1 - held) * (d.Core - d.Mantle)
	return d
}

// spread is the share of the bees that sit loose on all combs in air of this
// temperature beside the cluster: none below the knee at which the cluster
// opens, all where its conductance has doubled once more. [-]
func (b *Biology) spread(air float64) float64 {
	x := math.Max(0, math.Min(1, (air-b.LooseKnee)/b.LooseDoublingWarm))
	return x * x * (3 - 2*x)
}

// resting is the heat below which bees at their own temperature do not go. The
// mean of a cluster whose temperature falls linearly from the middle to the
// surface lies a quarter of the way up from its mantle; spread bees are as warm as the
// air and awake. Calorimetry reached 35 °C, above which bees leave.
func (b *Biology) resting(mass, core, air, hive, spread, excess float64) float64 {
	mantle := math.Min(core, air+excess)
	clustered := mantle + 0.25*math.Max(0, core-mantle)
	mean := (1-spread)*clustered + spread*hive
	mean = math.Min(mean, 35)
	// In the heat bees fall idle: the metabolism of colonies falls from 30 to
	// 40 °C (Journal of Comparative Physiology B 148 (1982) 65).
	idle := math.Max(0, math.Min(1, (mean-25)/10))
	awake := 1 + spread*(1-idle)*(b.AwakeFactor-1)
	return awake * mass * b.RestingPower * math.Pow(b.RestingQ10, (mean-10)/10)
}

// coreTarget rises from the broodless to the brood set-point while the first
// cells are laid. [°C]
func (b *Biology) coreTarget(brood float64) float64 {
	return b.CoreBroodless + b.broodShare(brood)*(b.CoreBrood-b.CoreBroodless)
}

// coverAs is the air temperature in which a broodless cluster would be as open
// as one that must cover its brood, not below that of the tightest. [°C]
//
// A sealed cell takes 0.41 cm³ of nest (850 cells per dm² of comb on both
// faces, combs 35 mm apart); bees must cover the brood nest and a shell round
// it of as much again.
func (b *Biology) coverAs(mass, brood float64) float64 {
	const nestPerCell = 0.01 / 850 * 0.035 // m³
	need := 2 * brood * nestPerCell
	if need <= 0 || mass/need >= b.DensityTight {
		return tightAt
	}
	x := math.Log(mass/need/b.DensityTight) / math.Log(b.DensityLoose/b.DensityTight)
	return math.Min(b.LooseKnee, tightAt+x*(looseAt-tightAt))
}

// HoneyRate is the honey that pays for heat [W] at the bees' energy. [kg/s]
func (b *Biology) HoneyRate(power float64) float64 { return power / b.HoneyEnergy }
