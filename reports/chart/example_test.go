package chart_test

import (
	"context"
	"fmt"
	"strings"

	"throughline/reports/chart"
)

// Two matches and a running level, ready to be inlined in a page.
func ExampleRenderer_Render() {
	renderer := chart.NewRenderer(1)
	defer renderer.Close()
	fragment, err := renderer.Render(context.Background(), "contact-won", chart.Trend{
		Title:  "Contact won",
		Unit:   "contact won, % of carries",
		Format: chart.Format{Percent: true},
		Matches: []chart.Match{
			{Label: "12 Sep Oakley", Value: new(0.52), Whisker: &chart.Range{Lower: 0.31, Upper: 0.72}},
			{Label: "19 Sep Fenwick", Value: new(0.61),
				Level: &chart.Level{Value: 0.57, Inner: &chart.Range{Lower: 0.49, Upper: 0.65}}},
		},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(strings.Count(string(fragment), "<svg xmlns"), "layouts")
	fmt.Println(strings.Contains(string(fragment), "<title>12 Sep Oakley: 52% (31% to 72%)</title>"))
	// Output:
	// 2 layouts
	// true
}
