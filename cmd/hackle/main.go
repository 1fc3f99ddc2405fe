// Command hackle computes how a bee hive stands heat, cold and moisture.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"hackle/internal/cli"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second interrupt ends the program at once
	os.Exit(cli.Run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
