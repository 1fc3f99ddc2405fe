package verify

import (
	"context"
	"encoding/json"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"hackle/evidence"
)

// Level of the intervals and significance of all cases; tolerance of counts.
const (
	statisticsLevel = 0.95
	statisticsAlpha = 0.05
	statisticsCount = 1e-6 // whole numbers: rounding alone
)

// statisticsChecks computes the statistics of the cases with package evidence.
func statisticsChecks(ctx context.Context) ([]Check, error) {
	const printed = "; printed output of a reference statistics package"
	compute := map[string]func(openCase) ([]Row, error){
		"ST-01": oneTableRows, "ST-02": oneTableRows, "ST-03": oneTableRows, "ST-04": oneTableRows,
		"ST-05": proportionRows, "ST-06": proportionRows, "ST-07": proportionRows,
		"ST-08": proportionRows, "ST-09": proportionRows, "ST-10": proportionRows,
		"ST-11": newcombeRows, "ST-12": betaRows, "ST-13": twoArmRows, "ST-14": twoArmRows,
		"ST-15": admissionRows, "ST-16": strataRows, "ST-17": strataRows,
		"ST-18": powerRows, "ST-19": fisherPowerRows,
		"ST-20": sleepRows, "ST-21": twoSampleRows, "ST-22": signedRankRows, "ST-23": mcnemarRows,
		"ST-24": remissionRows, "ST-25": referenceRows, "ST-26": normalRows, "ST-27": designRows,
	}
	const (
		newcombe = "Two-sided confidence intervals for the single proportion, Statistics in Medicine 17 (1998), 857-872"
		own      = "computed by a separate program"
		bda      = "Bayesian Data Analysis, 3rd edition"
	)
	return thermalTopic(ctx, "10_statistics.json", "Statistics", []thermalTitle{
		{"ST-01", "Tea tasting: Fisher's exact test, conditional odds ratio and exact interval", "The Design of Experiments (1935)" + printed},
		{"ST-02", "Convictions of twins: exact test and odds ratio", "The logic of inductive inference, Journal of the Royal Statistical Society 98 (1935), 39-82" + printed},
		{"ST-03", "Small survival trial: exact test and odds ratio", own},
		{"ST-04", "Table with an empty cell: exact test and odds ratio", own},
		{"ST-05", "81 of 263: intervals of a proportion", newcombe},
		{"ST-06", "15 of 148: intervals of a proportion", newcombe},
		{"ST-07", "0 of 20: intervals of a proportion", newcombe},
		{"ST-08", "1 of 29: intervals of a proportion", newcombe},
		{"ST-09", "682 of 925: intervals of a proportion, test against 3 in 4", "Experiments on plant hybrids (1866)" + printed},
		{"ST-10", "10 of 12: intervals of a proportion", own},
		{"ST-11", "Difference of two proportions by the hybrid score method", "Interval estimation for the difference between independent proportions, Statistics in Medicine 17 (1998), 873-890"},
		{"ST-12", "437 of 980: beta posterior", bda + ", section 2.4"},
		{"ST-13", "Two arms of 14: posterior of the difference", own},
		{"ST-14", "Two arms of 30: posterior of the difference", own},
		{"ST-15", "Admissions to six departments: common odds ratio of Mantel and Haenszel", "Sex bias in graduate admissions, Science 187 (1975), 398-404" + printed},
		{"ST-16", "Penicillin and rabbits, five strata: Mantel-Haenszel and exact", "Categorical Data Analysis" + printed},
		{"ST-17", "Trial at three sites: Mantel-Haenszel and exact", own},
		{"ST-18", "Power and size of t tests and of two proportions", "noncentral t and normal approximation" + printed},
		{"ST-19", "Power of Fisher's test by enumeration", own},
		{"ST-20", "Extra hours of sleep: Welch, pooled and paired t tests", "The probable error of a mean, Biometrika 6 (1908), 1-25" + printed},
		{"ST-21", "Two small samples: Welch, pooled t, exact Mann-Whitney", own},
		{"ST-22", "Depression scale, nine pairs: exact signed-rank test", "Nonparametric Statistical Methods (1973)" + printed},
		{"ST-23", "Approval asked twice: McNemar's test", "Categorical Data Analysis"},
		{"ST-24", "Remission of leukaemia: Kaplan-Meier and log-rank", "The effect of 6-mercaptopurine on the duration of steroid-induced remissions in acute leukemia, Blood 21 (1963), 699-716"},
		{"ST-25", "Mean with unknown spread, reference prior", bda + ", section 3.2"},
		{"ST-26", "Mean with known spread, normal prior", bda + ", section 2.5"},
		{"ST-27", "Design effect of groups", "formula of cluster-randomised trials"},
	}, func(c openCase) ([]Row, string, error) {
		rows, err := compute[c.ID](c)
		return rows, "", err
	})
}

// statisticsNumber is a number, or "inf".
type statisticsNumber float64

func (v *statisticsNumber) UnmarshalJSON(text []byte) error {
	if string(text) == `"inf"` {
		*v = statisticsNumber(math.Inf(1))
		return nil
	}
	var x float64
	if err := json.Unmarshal(text, &x); err != nil {
		return err
	}
	*v = statisticsNumber(x)
	return nil
}

// statisticsRow compares a figure to a share of the expected value.
func statisticsRow(name string, computed float64, expected statisticsNumber, share float64) Row {
	return Row{Quantity: name, Unit: "-", Computed: computed, Expected: float64(expected), Tolerance: relative(share, float64(expected))}
}

// statisticsAbs compares a figure within an absolute tolerance.
func statisticsAbs(name string, computed, expected, tolerance float64) Row {
	return Row{Quantity: name, Unit: "-", Computed: computed, Expected: expected, Tolerance: tolerance}
}

// withPrinted sets the printed figure of a row.
func (r Row) withPrinted(v *float64) Row {
	r.Published = v
	return r
}

// statisticsEnds compares the ends of an interval; printed may be nil.
func statisticsEnds(name string, computed evidence.Interval, expected []statisticsNumber, printed []float64, row func(string, float64, float64) Row) []Row {
	lo, hi := row(name+", lower", computed.Lo, float64(expected[0])), row(name+", upper", computed.Hi, float64(expected[1]))
	if len(printed) == 2 {
		lo, hi = lo.withPrinted(&printed[0]), hi.withPrinted(&printed[1])
	}
	return []Row{lo, hi}
}

func statisticsShare(share float64) func(string, float64, float64) Row {
	return func(name string, computed, expected float64) Row {
		return statisticsRow(name, computed, statisticsNumber(expected), share)
	}
}

func statisticsWithin(tolerance float64) func(string, float64, float64) Row {
	return func(name string, computed, expected float64) Row {
		return statisticsAbs(name, computed, expected, tolerance)
	}
}

// statisticsTable reads a, b, c, d.
func statisticsTable(v []int) (evidence.Table, error) {
	if len(v) != 4 {
		return evidence.Table{}, fmt.Errorf("a table of %d counts", len(v))
	}
	return evidence.Table{A: v[0], B: v[1], C: v[2], D: v[3]}, nil
}

func oneTableRows(c openCase) ([]Row, error) {
	var in struct{ Table [][]int }
	var want struct {
		P        statisticsNumber   `json:"p_two_sided"`
		Less     statisticsNumber   `json:"p_less"`
		Greater  statisticsNumber   `json:"p_greater"`
		Odds     statisticsNumber   `json:"OR_conditional"`
		Interval []statisticsNumber `json:"OR_CI95"`
		Sample   statisticsNumber   `json:"OR_sample"`
		MidP     statisticsNumber   `json:"mid_p_greater"`
	}
	var printed struct {
		P        *float64  `json:"p_two_sided"`
		Less     *float64  `json:"p_less"`
		Greater  *float64  `json:"p_greater"`
		Odds     *float64  `json:"OR"`
		Interval []float64 `json:"CI95"`
	}
	if err := statisticsDecode(c, &in, &want, &printed); err != nil {
		return nil, err
	}
	t := evidence.Table{A: in.Table[0][0], B: in.Table[0][1], C: in.Table[1][0], D: in.Table[1][1]}
	got := evidence.Condition(t).Test(statisticsLevel)
	rows := []Row{
		statisticsRow("p, two-sided", got.P, want.P, 1e-6).withPrinted(printed.P),
		statisticsRow("p, less", got.PLess, want.Less, 1e-6).withPrinted(printed.Less),
		statisticsRow("p, greater", got.PGreater, want.Greater, 1e-6).withPrinted(printed.Greater),
		statisticsRow("mid-p, greater", got.MidP, want.MidP, 1e-6),
		statisticsRow("odds ratio, conditional", got.OddsRatio, want.Odds, 1e-4).withPrinted(printed.Odds),
		statisticsRow("odds ratio of the sample", t.OddsRatio(), want.Sample, 1e-4),
	}
	return append(rows, statisticsEnds("odds ratio", got.Interval, want.Interval, printed.Interval, statisticsShare(1e-4))...), nil
}

// statisticsDecode reads the parts of a case; printed is left as it is when the
// case has no published figures.
func statisticsDecode(c openCase, in, want, printed any) error {
	if len(c.Published) == 0 {
		printed = nil
	}
	return decodeClimatic(c, in, want, printed)
}

func proportionRows(c openCase) ([]Row, error) {
	var in struct{ X, N int }
	var want struct {
		Exact    []statisticsNumber `json:"clopper_pearson"`
		Wilson   []statisticsNumber `json:"wilson"`
		Jeffreys []statisticsNumber `json:"jeffreys"`
		Uniform  []float64          `json:"uniform_quantiles"`
		Mean     float64            `json:"uniform_mean"`
	}
	var printed struct {
		Exact  []float64 `json:"clopper_pearson"`
		Wilson []float64 `json:"wilson"`
		P      *float64  `json:"p_vs_0.75"`
	}
	if err := statisticsDecode(c, &in, &want, &printed); err != nil {
		return nil, err
	}
	within := statisticsWithin(1e-6)
	x, n := float64(in.X), float64(in.N)
	rows := statisticsEnds("exact interval", evidence.ClopperPearson(in.X, in.N, statisticsLevel), want.Exact, printed.Exact, within)
	rows = append(rows, statisticsEnds("Wilson", evidence.Wilson(x, n, statisticsLevel), want.Wilson, printed.Wilson, within)...)
	rows = append(rows, statisticsEnds("Jeffreys", evidence.JeffreysInterval(in.X, in.N, statisticsLevel), want.Jeffreys, nil, within)...)
	posterior := evidence.BetaPosterior(evidence.UniformPrior(), x, n)
	for i, p := range []float64{0.025, 0.5, 0.975} {
		rows = append(rows, within(fmt.Sprintf("uniform prior, quantile %g", p), posterior.Quantile(p), want.Uniform[i]))
	}
	rows = append(rows, within("uniform prior, mean", posterior.Mean(), want.Mean))
	if printed.P != nil {
		row := statisticsAbs("p against 3 in 4", evidence.BinomialTest(in.X, in.N, 0.75), *printed.P, 5e-5)
		row.Note = "compared with the printed figure, to its rounding"
		rows = append(rows, row)
	}
	return rows, nil
}

func newcombeRows(c openCase) ([]Row, error) {
	var in, want, printed struct{ Rows [][]float64 }
	if err := statisticsDecode(c, &in, &want, &printed); err != nil {
		return nil, err
	}
	if len(in.Rows) != len(want.Rows) || len(in.Rows) != len(printed.Rows) {
		return nil, fmt.Errorf("%d pairs, %d expected, %d published", len(in.Rows), len(want.Rows), len(printed.Rows))
	}
	var rows []Row
	for i, v := range in.Rows {
		name := fmt.Sprintf("%g of %g less %g of %g", v[0], v[1], v[2], v[3])
		got := evidence.Newcombe(v[0], v[1], v[2], v[3], statisticsLevel)
		e, p := want.Rows[i], printed.Rows[i]
		rows = append(rows, statisticsAbs(name, v[0]/v[1]-v[2]/v[3], e[4], 1e-4),
			statisticsAbs(name+", lower", got.Lo, e[5], 1e-4).withPrinted(&p[4]),
			statisticsAbs(name+", upper", got.Hi, e[6], 1e-4).withPrinted(&p[5]))
	}
	return rows, nil
}

func betaRows(c openCase) ([]Row, error) {
	var in struct{ X, N float64 }
	var want struct {
		Mean, SD  float64
		Quantiles []float64
		Below     float64 `json:"P_below_0.485"`
	}
	var printed struct {
		Mean, SD *float64
		CI       []float64
	}
	if err := statisticsDecode(c, &in, &want, &printed); err != nil {
		return nil, err
	}
	posterior := evidence.BetaPosterior(evidence.UniformPrior(), in.X, in.N)
	within := statisticsWithin(1e-5)
	return []Row{
		within("mean", posterior.Mean(), want.Mean).withPrinted(printed.Mean),
		within("standard deviation", posterior.StdDev(), want.SD).withPrinted(printed.SD),
		within("quantile 0.025", posterior.Quantile(0.025), want.Quantiles[0]).withPrinted(&printed.CI[0]),
		within("median", posterior.Quantile(0.5), want.Quantiles[1]),
		within("quantile 0.975", posterior.Quantile(0.975), want.Quantiles[2]).withPrinted(&printed.CI[1]),
		within("probability below 0.485", posterior.CDF(0.485), want.Below),
	}, nil
}

func twoArmRows(c openCase) ([]Row, error) {
	var in struct{ XA, NA, XB, NB float64 }
	var want struct {
		P    float64 `json:"P_B_gt_A"`
		Mean float64 `json:"mean_difference"`
	}
	if err := statisticsDecode(c, &in, &want, nil); err != nil {
		return nil, err
	}
	a := evidence.BetaPosterior(evidence.UniformPrior(), in.XA, in.NA)
	b := evidence.BetaPosterior(evidence.UniformPrior(), in.XB, in.NB)
	return []Row{
		statisticsAbs("probability that B exceeds A", evidence.ProbDifference(b, a, 0), want.P, 1e-5),
		statisticsAbs("mean difference", b.Mean()-a.Mean(), want.Mean, 1e-5),
	}, nil
}

func statisticsStrata(lists [][]int) ([]evidence.Table, error) {
	strata := make([]evidence.Table, len(lists))
	for i, v := range lists {
		t, err := statisticsTable(v)
		if err != nil {
			return nil, err
		}
		strata[i] = t
	}
	return strata, nil
}

func admissionRows(c openCase) ([]Row, error) {
	var in struct {
		Strata [][]int `json:"strata_abcd"`
	}
	var want struct {
		ChiSquare statisticsNumber   `json:"chi2"`
		P         statisticsNumber   `json:"p"`
		Odds      statisticsNumber   `json:"OR_MH"`
		Interval  []statisticsNumber `json:"CI95"`
	}
	var printed struct {
		Odds     *float64  `json:"OR"`
		Interval []float64 `json:"CI95"`
	}
	if err := statisticsDecode(c, &in, &want, &printed); err != nil {
		return nil, err
	}
	strata, err := statisticsStrata(in.Strata)
	if err != nil {
		return nil, err
	}
	got := evidence.MantelHaenszel(strata, statisticsLevel)
	rows := []Row{
		statisticsRow("chi-square, corrected", got.ChiSquareCorrected, want.ChiSquare, 1e-6),
		statisticsRow("p, corrected", got.PCorrected, want.P, 1e-6),
		statisticsRow("common odds ratio", got.OddsRatio, want.Odds, 1e-6).withPrinted(printed.Odds),
	}
	return append(rows, statisticsEnds("common odds ratio", got.Interval, want.Interval, printed.Interval, statisticsShare(1e-6))...), nil
}

func strataRows(c openCase) ([]Row, error) {
	var in struct {
		Strata [][]int `json:"strata_abcd"`
	}
	var want struct {
		Corrected   statisticsNumber   `json:"chi2_corrected"`
		PCorrected  statisticsNumber   `json:"p_corrected"`
		Plain       statisticsNumber   `json:"chi2_uncorrected"`
		PPlain      statisticsNumber   `json:"p_uncorrected"`
		Odds        statisticsNumber   `json:"OR_MH"`
		Interval    []statisticsNumber `json:"OR_MH_CI95"`
		P           statisticsNumber   `json:"exact_p_two_sided"`
		Greater     statisticsNumber   `json:"exact_p_greater"`
		Less        statisticsNumber   `json:"exact_p_less"`
		Conditional statisticsNumber   `json:"OR_conditional"`
		CondEnds    []statisticsNumber `json:"OR_conditional_CI95"`
	}
	var printed struct {
		Odds        *float64  `json:"OR_MH"`
		Interval    []float64 `json:"CI"`
		P           *float64  `json:"exact_p"`
		Conditional *float64  `json:"OR_cond"`
	}
	if err := statisticsDecode(c, &in, &want, &printed); err != nil {
		return nil, err
	}
	strata, err := statisticsStrata(in.Strata)
	if err != nil {
		return nil, err
	}
	mh := evidence.MantelHaenszel(strata, statisticsLevel)
	exact := evidence.Condition(strata...).Test(statisticsLevel)
	share := statisticsShare(1e-4)
	rows := []Row{
		// The case names no tolerance for chi-square; it follows that of p.
		statisticsRow("chi-square, corrected", mh.ChiSquareCorrected, want.Corrected, 1e-6),
		statisticsRow("p, corrected", mh.PCorrected, want.PCorrected, 1e-6),
		statisticsRow("chi-square", mh.ChiSquare, want.Plain, 1e-6),
		statisticsRow("p", mh.P, want.PPlain, 1e-6),
		statisticsRow("odds ratio of Mantel and Haenszel", mh.OddsRatio, want.Odds, 1e-4).withPrinted(printed.Odds),
		statisticsRow("exact p, two-sided", exact.P, want.P, 1e-6).withPrinted(printed.P),
		statisticsRow("exact p, greater", exact.PGreater, want.Greater, 1e-6),
		statisticsRow("exact p, less", exact.PLess, want.Less, 1e-6),
		statisticsRow("odds ratio, conditional", exact.OddsRatio, want.Conditional, 1e-4).withPrinted(printed.Conditional),
	}
	rows = append(rows, statisticsEnds("odds ratio of Mantel and Haenszel", mh.Interval, want.Interval, printed.Interval, share)...)
	return append(rows, statisticsEnds("odds ratio, exact", exact.Interval, want.CondEnds, nil, share)...), nil
}

func powerRows(c openCase) ([]Row, error) {
	var in struct{}
	var want struct {
		A   float64 `json:"a_power"`
		B   float64 `json:"b_n"`
		C   float64 `json:"c_power"`
		D90 float64 `json:"d_n90"`
		D80 float64 `json:"d_n80"`
	}
	var printed struct {
		A   *float64 `json:"a"`
		B   *float64 `json:"b"`
		C   *float64 `json:"c"`
		D90 *float64 `json:"d90"`
	}
	if err := statisticsDecode(c, &in, &want, &printed); err != nil {
		return nil, err
	}
	const alpha = statisticsAlpha
	return []Row{
		statisticsAbs("power of the t test, 20 each, difference of one standard deviation", evidence.TTestPower(20, 1, 1, alpha), want.A, 1e-5).withPrinted(printed.A),
		statisticsAbs("number each for nine in ten by the t test", evidence.TTestSize(0.9, 1, 1, alpha), want.B, 0.01).withPrinted(printed.B),
		statisticsAbs("power for 0.50 against 0.75, 50 each", evidence.ProportionPower(50, 0.5, 0.75, alpha), want.C, 1e-5).withPrinted(printed.C),
		statisticsAbs("number each for nine in ten, 0.50 against 0.75", evidence.ProportionSize(0.9, 0.5, 0.75, alpha), want.D90, 0.01).withPrinted(printed.D90),
		statisticsAbs("number each for eight in ten, 0.50 against 0.75", evidence.ProportionSize(0.8, 0.5, 0.75, alpha), want.D80, 0.01),
	}, nil
}

func fisherPowerRows(c openCase) ([]Row, error) {
	var in struct{ Rows [][]float64 }
	var want struct{ Power []float64 }
	if err := statisticsDecode(c, &in, &want, nil); err != nil {
		return nil, err
	}
	if len(in.Rows) != len(want.Power) {
		return nil, fmt.Errorf("%d trials, %d expected", len(in.Rows), len(want.Power))
	}
	var rows []Row
	for i, v := range in.Rows {
		rows = append(rows, statisticsAbs(fmt.Sprintf("%g and %g hives, %g against %g", v[0], v[1], v[2], v[3]),
			evidence.FisherPower(int(v[0]), int(v[1]), v[2], v[3], statisticsAlpha), want.Power[i], 1e-6))
	}
	return rows, nil
}

// statisticsT is the expected outcome of a t test.
type statisticsT struct {
	T, DF, P statisticsNumber
	Interval []statisticsNumber `json:"CI95"`
}

func (w statisticsT) rows(name string, got evidence.TTest, printed []float64) []Row {
	rows := []Row{
		statisticsRow(name+", t", got.T, w.T, 1e-5),
		statisticsRow(name+", degrees of freedom", got.DF, w.DF, 1e-5),
		statisticsRow(name+", p", got.P, w.P, 1e-5),
	}
	if len(printed) == len(rows) {
		for i := range rows {
			rows[i] = rows[i].withPrinted(&printed[i])
		}
	}
	return append(rows, statisticsEnds(name+", difference", got.Interval, w.Interval, nil, statisticsShare(1e-5))...)
}

func sleepRows(c openCase) ([]Row, error) {
	var in struct{ X, Y []float64 }
	var want struct{ Welch, Pooled, Paired statisticsT }
	var printed struct{ Welch, Paired []float64 }
	if err := statisticsDecode(c, &in, &want, &printed); err != nil {
		return nil, err
	}
	rows, err := twoSamples(in.X, in.Y, want.Welch, want.Pooled, printed.Welch)
	if err != nil {
		return nil, err
	}
	paired, err := evidence.Paired(in.X, in.Y, statisticsLevel)
	if err != nil {
		return nil, err
	}
	return append(rows, want.Paired.rows("paired", paired, printed.Paired)...), nil
}

func twoSamples(x, y []float64, wantWelch, wantPooled statisticsT, printedWelch []float64) ([]Row, error) {
	welch, err := evidence.Welch(x, y, statisticsLevel)
	if err != nil {
		return nil, err
	}
	pooled, err := evidence.Pooled(x, y, statisticsLevel)
	if err != nil {
		return nil, err
	}
	return append(wantWelch.rows("Welch", welch, printedWelch), wantPooled.rows("pooled", pooled, nil)...), nil
}

func twoSampleRows(c openCase) ([]Row, error) {
	var in struct{ A, B []float64 }
	var want struct {
		Welch, Pooled statisticsT
		U             statisticsNumber `json:"mann_whitney_U"`
		P             statisticsNumber `json:"mann_whitney_p_exact"`
	}
	if err := statisticsDecode(c, &in, &want, nil); err != nil {
		return nil, err
	}
	rows, err := twoSamples(in.A, in.B, want.Welch, want.Pooled, nil)
	if err != nil {
		return nil, err
	}
	rank := evidence.MannWhitney(in.A, in.B)
	return append(rows,
		statisticsRow("Mann-Whitney U", rank.Statistic, want.U, 1e-5),
		statisticsRow("Mann-Whitney p, exact", rank.P, want.P, 1e-5)), nil
}

func signedRankRows(c openCase) ([]Row, error) {
	var in struct{ Differences []float64 }
	var want struct {
		V float64
		P float64 `json:"p_greater"`
	}
	var printed struct{ V, P *float64 }
	if err := statisticsDecode(c, &in, &want, &printed); err != nil {
		return nil, err
	}
	got := evidence.SignedRank(in.Differences)
	return []Row{
		statisticsAbs("V", got.Statistic, want.V, statisticsCount).withPrinted(printed.V),
		statisticsAbs("p, greater", got.PGreater, want.P, 1e-8).withPrinted(printed.P),
	}, nil
}

func mcnemarRows(c openCase) ([]Row, error) {
	var in struct{ B, C int }
	var want struct {
		ChiSquare statisticsNumber `json:"chi2"`
		Corrected statisticsNumber `json:"chi2_corrected"`
		Exact     statisticsNumber `json:"p_exact"`
		P         statisticsNumber `json:"p_uncorrected"`
	}
	var printed struct {
		ChiSquare *float64 `json:"chi2"`
	}
	if err := statisticsDecode(c, &in, &want, &printed); err != nil {
		return nil, err
	}
	got := evidence.McNemar(in.B, in.C)
	return []Row{
		statisticsRow("chi-square", got.ChiSquare, want.ChiSquare, 1e-6).withPrinted(printed.ChiSquare),
		statisticsRow("chi-square, corrected", got.ChiSquareCorrected, want.Corrected, 1e-6),
		statisticsRow("p, exact", got.PExact, want.Exact, 1e-6),
		statisticsRow("p", got.P, want.P, 1e-6),
	}, nil
}

func remissionRows(c openCase) ([]Row, error) {
	var in struct{ Treated, Control [][2]float64 }
	var want struct {
		Curve     [][4]float64     `json:"KM_treated_t_n_d_S"`
		ChiSquare statisticsNumber `json:"logrank_chi2"`
		OEV       [3]float64       `json:"O_E_V_treated"`
		P         statisticsNumber `json:"p"`
	}
	var printed struct {
		ChiSquare *float64 `json:"chi2"`
		Expected  *float64 `json:"E_treated"`
		S6, S23   *float64
	}
	if err := statisticsDecode(c, &in, &want, &printed); err != nil {
		return nil, err
	}
	lives := func(list [][2]float64) []evidence.Lifetime {
		var l []evidence.Lifetime
		for _, v := range list {
			l = append(l, evidence.Lifetime{Time: v[0], Died: v[1] == 1})
		}
		return l
	}
	treated := lives(in.Treated)
	curve := evidence.KaplanMeier(treated)
	if len(curve) != len(want.Curve) {
		return nil, fmt.Errorf("%d steps of survival, %d expected", len(curve), len(want.Curve))
	}
	var rows []Row
	for i, w := range want.Curve {
		at := fmt.Sprintf(" at %g weeks", w[0])
		row := statisticsAbs("share in remission"+at, curve[i].Survival, w[3], 1e-6)
		switch w[0] {
		case 6:
			row = row.withPrinted(printed.S6)
		case 23:
			row = row.withPrinted(printed.S23)
		}
		rows = append(rows, row,
			statisticsAbs("week of relapse", curve[i].Time, w[0], statisticsCount),
			statisticsAbs("at risk"+at, float64(curve[i].AtRisk), w[1], statisticsCount),
			statisticsAbs("relapses"+at, float64(curve[i].Deaths), w[2], statisticsCount))
	}
	got := evidence.LogRank(treated, lives(in.Control))
	return append(rows,
		statisticsAbs("relapses of the treated", got.Observed, want.OEV[0], statisticsCount),
		statisticsAbs("relapses expected", got.Expected, want.OEV[1], 1e-5*want.OEV[1]).withPrinted(printed.Expected),
		statisticsAbs("variance", got.Variance, want.OEV[2], 1e-5*want.OEV[2]),
		statisticsRow("log-rank chi-square", got.ChiSquare, want.ChiSquare, 1e-5).withPrinted(printed.ChiSquare),
		// p of so large a chi-square moves nine times as much as it does.
		statisticsRow("p", got.P, want.P, 1e-4)), nil
}

func referenceRows(c openCase) ([]Row, error) {
	var in struct {
		N       int
		Mean, S float64
	}
	var want struct {
		CI []statisticsNumber `json:"CI95"`
	}
	var printed struct{ CI []float64 }
	if err := statisticsDecode(c, &in, &want, &printed); err != nil {
		return nil, err
	}
	posterior := evidence.ReferencePosterior(in.Mean, in.S, in.N)
	got := evidence.Interval{Lo: posterior.Quantile((1 - statisticsLevel) / 2), Hi: posterior.Quantile((1 + statisticsLevel) / 2)}
	return statisticsEnds("mean", got, want.CI, printed.CI, statisticsWithin(0.01)), nil
}

func normalRows(c openCase) ([]Row, error) {
	var in struct {
		M0, S0, Xbar, S float64
		N               int
	}
	var want struct {
		Mean, SD   statisticsNumber
		CI         []statisticsNumber `json:"CI95"`
		Positive   statisticsNumber   `json:"P_gt_0"`
		Predictive statisticsNumber   `json:"predictive_sd"`
	}
	if err := statisticsDecode(c, &in, &want, nil); err != nil {
		return nil, err
	}
	posterior := evidence.NormalPosterior(distuv.Normal{Mu: in.M0, Sigma: in.S0}, in.Xbar, in.S, in.N)
	got := evidence.Interval{Lo: posterior.Quantile((1 - statisticsLevel) / 2), Hi: posterior.Quantile((1 + statisticsLevel) / 2)}
	rows := []Row{
		statisticsRow("mean", posterior.Mu, want.Mean, 1e-6),
		statisticsRow("standard deviation", posterior.Sigma, want.SD, 1e-6),
		statisticsRow("probability above zero", posterior.Survival(0), want.Positive, 1e-6),
		statisticsRow("standard deviation of the next value", evidence.PredictiveSD(posterior, in.S), want.Predictive, 1e-6),
	}
	return append(rows, statisticsEnds("mean", got, want.CI, nil, statisticsShare(1e-6))...), nil
}

func designRows(c openCase) ([]Row, error) {
	var in struct {
		M, ICC float64
		N      float64 `json:"n_individual"`
	}
	var want struct {
		DE, N    statisticsNumber
		Clusters float64
	}
	if err := statisticsDecode(c, &in, &want, nil); err != nil {
		return nil, err
	}
	n, clusters := evidence.Clusters(in.N, in.M, in.ICC)
	return []Row{
		statisticsRow("design effect", evidence.DesignEffect(in.M, in.ICC), want.DE, 1e-6),
		statisticsRow("records for each arm", n, want.N, 1e-6),
		statisticsAbs("groups for each arm", float64(clusters), want.Clusters, statisticsCount),
	}, nil
}
