// Command clients uses the generated client as a person would. It is compiled and never run.
package main

import (
	"context"
	"fmt"
	"log"

	"throughline-clients/client"
)

func main() {
	c, err := client.NewClientWithResponses("http://127.0.0.1:8080")
	if err != nil {
		log.Fatal(err)
	}
	ctx := context.Background()
	season, limit := int64(1), int64(50)
	players, err := c.ListPlayersWithResponse(ctx, &client.ListPlayersParams{Season: &season, Limit: &limit})
	if err != nil {
		log.Fatal(err)
	}
	var page *client.PlayerPage = players.JSON200
	for _, p := range page.Items {
		fmt.Println(p.Id, p.Name, p.Version)
	}
	// The version to change is no pointer: it cannot be forgotten.
	changed, err := c.ReplacePlayerWithResponse(ctx, page.Items[0].Id, &client.ReplacePlayerParams{IfMatch: `"1"`}, client.PlayerSent{Name: "Tam Okell"})
	if err != nil {
		log.Fatal(err)
	}
	var problem *client.Stale = changed.ApplicationproblemJSON412
	if problem != nil && problem.Type == "/problems/stale" {
		fmt.Println(problem.Detail)
	}
}
