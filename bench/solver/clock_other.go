//go:build !unix

package main

import "time"

var began = time.Now()

// processorTime is the time that has passed: this system's own count is not read.
func processorTime() time.Duration { return time.Since(began) }
