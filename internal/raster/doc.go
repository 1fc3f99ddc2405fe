// Package raster turns the project's own pictures from SVG into PNG, with no
// program, font or file from outside: shapes, strokes, dashes, gradients,
// patterns, clips, markers, styles and text.
//
// It reads a part of SVG 1.1 and of its styles (see PNG) and refuses what it
// cannot draw, so that no picture silently lacks something. Text is set in the Go
// fonts, which travel inside the program.
package raster
