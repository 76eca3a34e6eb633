// Paintout turns a reference photo and a box of tube paints into a landscape
// painter's plan: masses and values, mixes in parts, and how far off to expect
// them.
package main

import (
	"context"
	"os"
	"os/signal"

	"paintout/cmd/internal/cli"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	code := cli.Run(ctx, os.Args[1:], cli.System())
	stop()
	os.Exit(code)
}
