package config

import "luted/analysis"

// Unit is a unit of measurement: how a number in it becomes the inside unit of its dimension.
// inside = number·Factor + Offset.
type Unit struct {
	Symbol         string
	Dimension      analysis.Dimension
	Factor, Offset float64
}

// Inside converts a number in this unit to the inside unit. A unit of dimension Other converts to itself.
func (u Unit) Inside(v float64) float64 {
	if u.Factor == 0 {
		return v
	}
	return float64(v*u.Factor) + u.Offset // rounded after the product on every machine: no fused multiply-add
}

// FromInside is the inverse of Inside, to the last bit or two.
func (u Unit) FromInside(v float64) float64 {
	if u.Factor == 0 {
		return v
	}
	return (v - u.Offset) / u.Factor
}
