package verify

import (
	"context"

	"hackle/fit"
)

// Reference data sets of the Statistical Reference Datasets, National Institute of
// Standards and Technology (public domain): y, then the regressors.
var (
	norrisData = [][]float64{
		{0.1, 0.2}, {338.8, 337.4}, {118.1, 118.2}, {888.0, 884.6}, {9.2, 10.1}, {228.1, 226.5}, {668.5, 666.3}, {998.5, 996.3}, {449.1, 448.6},
		{778.9, 777.0}, {559.2, 558.2}, {0.3, 0.4}, {0.1, 0.6}, {778.1, 775.5}, {668.8, 666.9}, {339.3, 338.0}, {448.9, 447.5}, {10.8, 11.6},
		{557.7, 556.0}, {228.3, 228.1}, {998.0, 995.8}, {888.8, 887.6}, {119.6, 120.2}, {0.3, 0.3}, {0.6, 0.3}, {557.6, 556.8}, {339.3, 339.1},
		{888.0, 887.2}, {998.5, 999.0}, {778.9, 779.0}, {10.2, 11.1}, {117.6, 118.3}, {228.9, 229.2}, {668.4, 669.1}, {449.2, 448.9}, {0.2, 0.5},
	}
	longleyData = [][]float64{
		{60323, 83.0, 234289, 2356, 1590, 107608, 1947}, {61122, 88.5, 259426, 2325, 1456, 108632, 1948},
		{60171, 88.2, 258054, 3682, 1616, 109773, 1949}, {61187, 89.5, 284599, 3351, 1650, 110929, 1950},
		{63221, 96.2, 328975, 2099, 3099, 112075, 1951}, {63639, 98.1, 346999, 1932, 3594, 113270, 1952},
		{64989, 99.0, 365385, 1870, 3547, 115094, 1953}, {63761, 100.0, 363112, 3578, 3350, 116219, 1954},
		{66019, 101.2, 397469, 2904, 3048, 117388, 1955}, {67857, 104.6, 419180, 2822, 2857, 118734, 1956},
		{68169, 108.4, 442769, 2936, 2798, 120445, 1957}, {66513, 110.8, 444546, 4681, 2637, 121950, 1958},
		{68655, 112.6, 482704, 3813, 2552, 123366, 1959}, {69564, 114.2, 502601, 3931, 2514, 125368, 1960},
		{69331, 115.7, 518173, 4806, 2572, 127852, 1961}, {70551, 116.9, 554894, 4007, 2827, 130081, 1962},
	}
)

// regressionChecks holds the least squares of package fit, on which the analysis of
// heater tests rests, against certified values.
func regressionChecks(context.Context) ([]Check, error) {
	const source = "Statistical Reference Datasets, National Institute of Standards and Technology; data and certified values read in public copies"
	var all []Check
	for _, c := range []struct {
		id, what     string
		data         [][]float64
		beta, errors []float64
		sd, square   float64
		share        float64 // tolerance of coefficients and standard errors
	}{
		{"RG-01", "Norris: a calibration line, lower difficulty", norrisData,
			[]float64{-0.262323073774029, 1.00211681802045}, []float64{0.232818234301152, 0.429796848199937e-03}, 0.884796396144373, 0.999993745883712, 1e-11},
		{"RG-02", "Longley: six regressors that nearly depend on one another, higher difficulty", longleyData,
			[]float64{-3482258.63459582, 15.0618722713733, -0.0358191792925910, -2.02022980381683, -1.03322686717359, -0.0511041056535807, 1829.15146461355},
			[]float64{890420.383607373, 84.9149257747669, 0.0334910077722432, 0.488399681651699, 0.214274163161675, 0.226073200069370, 455.478499142212},
			304.854073561965, 0.995479004577296, 1e-8},
	} {
		var x [][]float64
		var y []float64
		for _, row := range c.data {
			y = append(y, row[0])
			x = append(x, append([]float64{1}, row[1:]...))
		}
		r, err := fit.Linear(x, y)
		if err != nil {
			return nil, err
		}
		check := Check{ID: c.id, Topic: "Regression", What: c.what, Source: source}
		names := []string{"intercept", "first coefficient", "second coefficient", "third coefficient", "fourth coefficient", "fifth coefficient", "sixth coefficient"}
		for i := range c.beta {
			check.Rows = append(check.Rows,
				Row{Quantity: names[i], Unit: "-", Computed: r.Coefficients[i], Expected: c.beta[i], Tolerance: relative(c.share, c.beta[i])},
				Row{Quantity: names[i] + ", standard error", Unit: "-", Computed: r.Errors[i], Expected: c.errors[i], Tolerance: relative(c.share, c.errors[i])})
		}
		check.Rows = append(check.Rows,
			Row{Quantity: "residual standard deviation", Unit: "-", Computed: r.ResidualSD, Expected: c.sd, Tolerance: relative(1e-10, c.sd)},
			Row{Quantity: "R²", Unit: "-", Computed: r.RSquared, Expected: c.square, Tolerance: relative(1e-12, c.square)})
		all = append(all, check)
	}
	return all, nil
}
