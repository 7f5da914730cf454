package simstill

import "math"

// Noise here is a function, not a stream: the value depends on the seed, on what it is for and on the
// second, so reading a gauge twice gives the same number, and reading one gauge never disturbs another.

// hash mixes its arguments into 64 well-spread bits (the finaliser of SplitMix64: Steele, Lea, Flood,
// Fast Splittable Pseudorandom Number Generators, OOPSLA 2014).
func hash(seed uint64, parts ...uint64) uint64 {
	h := seed
	for _, p := range parts {
		h += 0x9e3779b97f4a7c15 + p*0xd1342543de82ef95
		h = (h ^ (h >> 30)) * 0xbf58476d1ce4e5b9
		h = (h ^ (h >> 27)) * 0x94d049bb133111eb
		h ^= h >> 31
	}
	return h
}

// uniform turns a hash into a number in (0, 1).
func uniform(h uint64) float64 { return (float64(h>>11) + 0.5) / (1 << 53) }

// normal turns a hash into a standard normal number (Box and Muller 1958).
func normal(h uint64) float64 {
	u, v := uniform(h), uniform(hash(h, 1))
	return math.Sqrt(-2*math.Log(u)) * math.Cos(2*math.Pi*v)
}
