package density

import (
	"fmt"
	"math"

	"bridlewatch/compare/quantity"
)

// NotIdentifiableError says that the samples do not determine the density.
type NotIdentifiableError struct {
	Reason string
	U      quantity.Density // standard uncertainty it would have; +Inf where there is none
	Limit  quantity.Density // largest that is of use
}

func (e *NotIdentifiableError) Error() string {
	if math.IsInf(float64(e.U), 1) {
		return "the density cannot be told from these samples: " + e.Reason
	}
	return fmt.Sprintf("the density cannot be told from these samples: %s; its standard uncertainty would be %.3g kg/m3, of use is up to %.3g kg/m3",
		e.Reason, float64(e.U), float64(e.Limit))
}

func unknown(reason string) error {
	return &NotIdentifiableError{Reason: reason, U: quantity.Density(math.Inf(1))}
}

// Track gathers a pressure difference over a level that moves, while the
// density stays the same. It is a value of constant size; Add returns the
// next one, so that a track is a fold over the samples. The zero value is
// empty.
type Track struct {
	N         int
	low, high float64 // of the level
	meanX     float64
	meanY     float64
	xx, xy    float64 // sums of products of deviations
	yy        float64
}

// Add takes one instant: a level that does not depend on density, and the
// pressure difference of a cell with positive sign (rising with the level)
// and without what its lines add.
func (k Track) Add(level quantity.Length, dp quantity.PressureDifference) Track {
	x, y := float64(level), float64(dp)
	if k.N == 0 {
		k.low, k.high = x, x
	}
	k.low, k.high = min(k.low, x), max(k.high, x)
	k.N++
	dx, dy := x-k.meanX, y-k.meanY
	k.meanX += dx / float64(k.N)
	k.meanY += dy / float64(k.N)
	k.xx += dx * (x - k.meanX)
	k.xy += dx * (y - k.meanY)
	k.yy += dy * (y - k.meanY)
	return k
}

// Span is how far the level has moved.
func (k Track) Span() quantity.Length { return quantity.Length(k.high - k.low) }

// Line is what a track says.
type Line struct {
	Density  quantity.Density // of the liquid
	UDensity quantity.Density
	// Zero is the pressure difference at level zero, less what the gas column
	// makes: the zero error of the cell, if the lines were taken off rightly.
	Zero        quantity.PressureDifference
	UZero       quantity.PressureDifference
	Correlation float64 // of density and zero
	Scatter     quantity.PressureDifference
}

// Noise are the standard uncertainties of one sample that change from sample
// to sample. What stays the same in all of them, such as a wrong span, is not
// found by a track and must be added to its result.
type Noise struct {
	Level    quantity.Length
	Pressure quantity.PressureDifference
}

// Line solves for density and zero. The cell spans from the lower tap to
// height span above it and has gas of a density above the liquid: dp = g [(ρ -
// ρv) h + ρv span] + zero. Limit is the largest standard uncertainty of the
// density that is of use. The error is a *NotIdentifiableError.
func (k Track) Line(span quantity.Length, gas quantity.Density, noise Noise, limit quantity.Density) (Line, error) {
	const fewest = 5 // samples
	if k.N < fewest {
		return Line{}, unknown(fmt.Sprintf("only %d samples, at least %d are needed", k.N, fewest))
	}
	moved := k.xx - float64(k.N)*float64(noise.Level*noise.Level) // what noise alone does not explain
	if !(moved > 0) {
		return Line{}, unknown("the level has not moved by more than its own noise")
	}
	slope := k.slope(noise)
	scatter := k.scatter(slope)
	u := math.Max(scatter, math.Hypot(float64(noise.Pressure), slope*float64(noise.Level)))
	uSlope := u / math.Sqrt(moved)
	if ur := uSlope / quantity.StandardGravity; !(ur < float64(limit)) {
		return Line{}, &NotIdentifiableError{Reason: fmt.Sprintf("the level has moved only %.0f mm, so that density and zero cannot be told apart",
			1e3*(k.high-k.low)), U: quantity.Density(ur), Limit: limit}
	}
	return Line{
		Density:     quantity.Density(slope/quantity.StandardGravity) + gas,
		UDensity:    quantity.Density(uSlope / quantity.StandardGravity),
		Zero:        quantity.PressureDifference(k.meanY - slope*k.meanX - quantity.StandardGravity*float64(gas)*float64(span)),
		UZero:       quantity.PressureDifference(u * math.Sqrt(1/float64(k.N)+k.meanX*k.meanX/moved)),
		Correlation: -k.meanX / math.Sqrt(k.meanX*k.meanX+moved/float64(k.N)),
		Scatter:     quantity.PressureDifference(scatter),
	}, nil
}

// slope is that of Deming's line for a known ratio of the two noises. Least
// squares would be too flat where the level is noisy too; without noise of the
// level it is the same.
func (k Track) slope(noise Noise) float64 {
	if noise.Level == 0 || k.xy == 0 {
		return k.xy / k.xx
	}
	ratio := float64(noise.Pressure) / float64(noise.Level)
	ratio *= ratio
	d := k.yy - ratio*k.xx
	root := math.Sqrt(d*d + 4*ratio*k.xy*k.xy)
	if d < 0 {
		return 2 * ratio * k.xy / (root - d) // the same without cancellation
	}
	return (d + root) / (2 * k.xy)
}

// scatter is the standard deviation of the pressures about the line.
func (k Track) scatter(slope float64) float64 {
	return math.Sqrt(math.Max(0, k.yy-2*slope*k.xy+slope*slope*k.xx) / float64(k.N-2))
}
