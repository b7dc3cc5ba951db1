// Command client asks a running daemon for its lots, with a client that was
// generated from the daemon's own description, and prints what it got typed, as
// JSON. It is no part of the program: its test generates the other half of it.
package main

import (
	"context"
	"encoding/json"
	"fmt"
	"log"
	"os"
	"time"
)

// lot is some of each kind of field: the types are the generated ones, so a
// description that says another one doesn't compile.
type lot struct {
	ID       string
	Opened   time.Time
	Gravity  float64
	Bottles  int
	LimitBar float64
	Unknown  bool // what can't be known yet is null
	Phase    string
	Alerts   []string
}

func main() {
	client, err := NewClientWithResponses(os.Args[1])
	if err != nil {
		log.Fatal(err)
	}
	answer, err := client.LotsWithResponse(context.Background(), nil)
	if err != nil {
		log.Fatal(err)
	}
	if answer.JSON200 == nil {
		log.Fatal(fmt.Sprint(answer.Status(), ": ", answer.ApplicationproblemJSONDefault))
	}
	lots := []lot{}
	for _, l := range *answer.JSON200 {
		lots = append(lots, read(l))
	}
	if err := json.NewEncoder(os.Stdout).Encode(lots); err != nil {
		log.Fatal(err)
	}
}

func read(l Lot) lot {
	x := lot{ID: l.Id, Opened: l.OpenedAt, Gravity: l.Document.Beer.OriginalGravity, LimitBar: l.LimitBar}
	for _, b := range *l.Document.Bottles {
		x.Bottles += b.Count
	}
	if e := l.Estimate; e != nil {
		x.Unknown, x.Phase = e.Co2Volumes == nil, string(e.Phase)
	}
	for _, a := range l.Alerts {
		x.Alerts = append(x.Alerts, string(a.Alert))
	}
	return x
}
