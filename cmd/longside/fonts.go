package main

import (
	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"

	"longside/planner/paper"
)

// fonts reads the faces that are built in: Latin with Vietnamese, Greek,
// Cyrillic, Armenian, Georgian, Hebrew and Arabic. Only commands that draw call
// it, so that the others start without the cost.
func fonts() (*paper.Fonts, error) {
	return paper.NewFonts(dejavusanscondensed.TTF, dejavusanscondensedbold.TTF)
}
