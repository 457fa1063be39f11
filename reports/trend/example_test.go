package trend_test

import (
	"fmt"

	"throughline/reports/trend"
)

// Six batches of dyestuff, five yields each: Davies & Goldsmith 1972, Statistical Methods in Research and Production,
// §6.4. The estimates are those published with the R package lme4 (1527.50, SDs 42.00 and 49.51; the place in its book
// is from memory: Bates 2010, §1.3), and lme4 1.1-31 gives them again.
func ExampleFit() {
	yields := map[string][]float64{
		"A": {1545, 1440, 1440, 1520, 1580}, "B": {1540, 1555, 1490, 1560, 1495}, "C": {1595, 1550, 1605, 1510, 1560},
		"D": {1445, 1440, 1595, 1465, 1545}, "E": {1595, 1630, 1515, 1635, 1625}, "F": {1520, 1455, 1450, 1480, 1445},
	}
	d := trend.Data{Family: trend.Mean}
	for _, batch := range []string{"A", "B", "C", "D", "E", "F"} {
		for _, y := range yields[batch] {
			d.Player, d.Value = append(d.Player, batch), append(d.Value, y)
		}
	}
	r, err := trend.Fit(d, trend.Options{Plain: true})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("mean %.2f, SD between %.2f, within %.2f\n", r.Fixed[0].Estimate, r.SD.PlayerLevel, r.SD.Residual)
	// Output: mean 1527.50, SD between 42.00, within 49.51
}
