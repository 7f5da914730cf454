package analysis

// Prices are what the figures of a run are turned into money with, as the site states them for one still
// and its solvent. Zero means not stated: what needs it is then left unsaid.
type Prices struct {
	Currency string    // code of three capital letters; empty: no price is stated
	PerKWh   float64   // electrical energy
	Fresh    UnitPrice // buying fresh solvent of the kind that is recovered
	Waste    UnitPrice // having waste solvent taken away
	Liner    float64   // one liner bag, used up by each run
}

// UnitPrice is a price by volume or by weight. At most one of the two is stated.
type UnitPrice struct {
	PerL  float64
	PerKg float64
}

// Stated reports whether there is a price at all.
func (p UnitPrice) Stated() bool { return p.PerL > 0 || p.PerKg > 0 }
