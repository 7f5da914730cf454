package main

import "math"

var heatLeads = []string{"not-dry", "energy-high", "yield-low", "heating-slow", "boiling-point-off"}

func heatCases() []caseDef {
	sound := func(b *builder) { b.rank = 1 }
	return []caseDef{
		{"element dies on the way up", 1, 1, 1, [2]int{1, 4}, func(b *builder) { b.need = []string{"heater_on", "heater_power"} }, func(b *builder) {
			p := b.last()
			b.saySet = true
			at := b.ambMean + (b.recipeSet-b.ambMean)*b.u(0.3, 0.5)
			p.events = once(hotterThan(at), func(s *sim) { s.p.dead = true; s.mark("dead") })
			p.faults = []fault{{[]string{"heating-stalled"}, "", true, fromMark("dead")}}
			p.allowed = append([]string{"heater-phase-lost"}, heatLeads...)
			p.stop, p.stopVal = "clock", b.u(1.6, 2.5)*3600
			p.ventTemp = 60
		}},
		{"high limit trips while distilling", 0, 1, 1, one, func(b *builder) { b.need = []string{"heater_on", "heater_power"} }, func(b *builder) {
			p := b.last()
			b.saySet = true
			p.events = once(afterDone(b.u(0.2, 0.5)), func(s *sim) { s.p.tripped = true; s.mark("trip") })
			p.faults = []fault{{[]string{"heating-stalled"}, "", true, fromMark("trip")}}
			p.allowed = append([]string{"heater-phase-lost", "vacuum-lost"}, heatLeads...)
			p.stop, p.stopVal = "clock", b.u(3, 4)*3600
		}},
		{"never heats", 0, 1, 1, one, func(b *builder) { b.need = []string{"heater_on", "heater_power"} }, func(b *builder) {
			p := b.last()
			p.atStart = func(s *sim) { s.p.dead = true }
			p.faults = []fault{{[]string{"heating-stalled"}, "", true, func(l *runLog) float64 { return l.heatOn }}}
			p.allowed = append([]string{"heater-phase-lost"}, heatLeads...)
			p.stop, p.stopVal = "clock", b.u(1, 1.6)*3600
		}},
		{"supply phase lost in the run", 0, 1, 1, one, func(b *builder) { b.eq.control, b.need = 0, []string{"heater_power"} }, func(b *builder) {
			b.eq.phases = 3
			p := b.last()
			at := b.ambMean + (b.recipeSet-b.ambMean)*b.u(0.25, 0.45)
			f := b.pick(0.5, 0.6667)
			p.events = once(hotterThan(at), func(s *sim) { s.p.powerFactor = f; s.mark("phase") })
			p.faults = []fault{{[]string{"heater-phase-lost"}, "", true, fromMark("phase")}}
			p.allowed = heatLeads
		}},
		{"supply phase lost after good runs", 1, 1, 1, [2]int{5, 8}, func(b *builder) { b.eq.control, b.need = 0, []string{"heater_power"} }, func(b *builder) {
			b.eq.phases = 3
			p := b.last()
			p.atStart = func(s *sim) { s.p.powerFactor = 0.5 }
			p.faults = []fault{{[]string{"heater-phase-lost", "heating-slow"}, "", true, func(l *runLog) float64 { return l.heatOn + 30 }}}
			p.allowed = heatLeads
			if b.set == "two" {
				p.faults[0].names = []string{"heating-slow", "heating-stalled"}
				p.faults[0].from = func(l *runLog) float64 { return l.heatOn + 300 }
			}
			for i := range b.plans { // as many cold starts as possible
				b.plans[i].gap += 3 * 3600
			}
		}},
		{"contactor stuck", 1, 1, 1, one, func(b *builder) { b.eq.control = 0 }, func(b *builder) {
			p := b.last()
			b.saySet = true
			b.eq.limit = b.u(34, 42)
			p.events = []event{
				{when: hotterThan(b.recipeSet - 4), do: func(s *sim) { s.p.stuckOn = true; s.p.set = b.recipeSet }},
				{when: hotterThan(b.recipeSet + math.Max(10, 2*b.eq.hyst)), do: func(s *sim) { s.mark("over") }},
			}
			p.faults = []fault{{[]string{"over-temperature"}, "thermostat", true, fromMark("over")}}
			p.allowed = []string{"past-dry", "energy-high", "heating-stalled", "not-dry", "limit-high"}
		}},
		{"oil and fouling slow the heat down", 0, 1, 1, [2]int{22, 26}, func(b *builder) {
			b.rank, b.need = 1, []string{"heater_power", "charge_temperature"}
		}, func(b *builder) {
			n := len(b.plans)
			const first = 8
			for i := range b.plans {
				p := &b.plans[i]
				p.gap = b.u(4, 8) * 3600
				if i >= first {
					f := 1 - 0.5*float64(i-first+1)/float64(n-first)
					p.atStart = func(s *sim) { s.p.uaFactor = f }
					p.allowed = []string{"heat-transfer-falling", "heating-slow", "energy-high"}
				}
			}
			b.last().faults = []fault{{[]string{"heat-transfer-falling"}, "", true, nil}}
			b.trendFrom = first + 1
		}},
		{"cooling water fails", 0, 1, 1, [2]int{1, 3}, func(b *builder) { b.rank, b.need = 1, []string{"condensate_temperature"} }, func(b *builder) {
			p := b.last()
			hot := math.Max(42, b.coolIn+25)
			p.events = []event{
				{when: afterDone(b.u(0.2, 0.45)), do: func(s *sim) { s.p.coolFactor = 0.06; s.mark("water") }},
				{when: func(s *sim) bool { _, ok := s.cur.mark["water"]; return ok && s.p.tCond > hot }, do: func(s *sim) { s.mark("warm") }},
			}
			p.faults = []fault{{[]string{"condenser-warm"}, "", true, fromMark("warm")}}
			p.allowed = append([]string{"vacuum-lost", "past-dry"}, heatLeads...)
			p.stop, p.stopVal = "clock", b.u(2.5, 3.5)*3600
		}},
		{"wrong drum", 0, 1, 2, [2]int{1, 4}, func(b *builder) {
			b.need = []string{"charge_temperature", "vapor_temperature"}
			b.solventOf("toluene")
		}, func(b *builder) {
			p := b.last()
			other := substances[[]string{"m-xylene", "n-butyl acetate", "methyl ethyl ketone", "o-xylene"}[b.r.IntN(4)]]
			b.recipeSet = math.Max(b.recipeSet, 130)
			for i := range b.plans {
				b.plans[i].set = b.recipeSet
			}
			p.subs = []*substance{other}
			p.faults = []fault{{[]string{"boiling-point-off"}, "wrong-solvent", true, func(l *runLog) float64 { return math.Min(l.heatOff, l.onset+240) }}}
			p.allowed = append([]string{"vacuum-short", "vacuum-slow", "past-dry"}, heatLeads...)
		}},
		{"much water in the charge", 0, 1, 2, [2]int{1, 3}, func(b *builder) {
			b.need = []string{"charge_temperature", "vapor_temperature"}
			b.solventOf([]string{"toluene", "m-xylene", "n-octane"}[b.r.IntN(3)])
			b.margin = 6
		}, func(b *builder) {
			p := b.last()
			p.subs = []*substance{b.subs[0], substances["water"]}
			p.litres = []float64{p.litres[0] * 0.72, p.litres[0] * 0.28}
			p.faults = []fault{{[]string{"boiling-point-off"}, "wrong-solvent", true, func(l *runLog) float64 { return math.Min(l.heatOff, l.onset+240) }}}
			p.allowed = append([]string{"vacuum-short", "vacuum-slow", "heating-stalled", "past-dry"}, heatLeads...)
		}},
		{"heat off too early", 1, 1, 2, [2]int{1, 4}, sound, func(b *builder) {
			p := b.last()
			p.stop, p.stopVal = "left", b.u(0.32, 0.5)
			p.faults = []fault{{[]string{"not-dry"}, "", b.set != "two", fromOff}}
			p.allowed = []string{"yield-low", "energy-high"}
		}},
		{"heat left on for hours after dry", 1, 2, 1, [2]int{1, 3}, func(b *builder) { b.rank, b.eq.control = 1, 0 }, func(b *builder) {
			p := b.last()
			p.stopVal = b.u(2.2, 3.5) * 3600
			p.faults = []fault{{[]string{"past-dry"}, "", true, fromDry}}
			p.allowed = []string{"energy-high"}
			b.sayHold = false
		}},
	}
}

func otherCases() []caseDef {
	whole := func(b *builder, f fault, allowed ...string) {
		b.last().faults, b.last().allowed = []fault{f}, allowed
	}
	return []caseDef{
		{"less comes over than usual", 0, 1, 1, [2]int{7, 9}, func(b *builder) { b.need = []string{"distillate_volume", "heater_power"} }, func(b *builder) {
			p := b.last()
			v := p.litres[0] * 0.62
			p.residue += (p.litres[0] - v) * 1.1
			p.litres = append([]float64{v}, p.litres[1:]...)
			whole(b, fault{[]string{"yield-low"}, "", true, fromOff}, "energy-high", "heating-slow", "past-dry", "boiling-point-off")
		}},
		{"insulation off, energy up", 0, 1, 1, [2]int{7, 9}, func(b *builder) {
			b.need, b.eq.control = []string{"distillate_volume", "heater_power"}, 0
		}, func(b *builder) {
			for i := range b.plans {
				b.plans[i].stopVal = b.u(600, 900)
			}
			b.last().atStart = func(s *sim) { s.p.lossFactor = 5 }
			whole(b, fault{[]string{"energy-high"}, "", true, fromOff}, "heating-slow", "past-dry", "heat-transfer-falling", "not-dry")
		}},
		{"vapour in the room", 0, 0, 2, one, func(b *builder) { b.need = []string{"gas_level"} }, func(b *builder) {
			v := b.u(14, 40)
			b.last().events = []event{
				{when: afterDone(b.u(0.1, 0.5)), do: func(s *sim) { s.marks["gas"] = v; s.mark("gas") }},
				{when: afterDone(b.u(0.6, 0.8)), do: func(s *sim) { s.marks["gas"] = 0 }},
			}
			whole(b, fault{[]string{"gas-level-high", "limit-high"}, "", true, fromMark("gas")}, "limit-high", "gas-level-high")
		}},
		{"broken thermocouple", 1, 1, 1, one, nil, func(b *builder) {
			c := b.chans[0]
			if k := b.find("charge_temperature"); k != nil {
				c = k
			}
			v := map[string]float64{"°C": 1372, "°F": 2501, "K": 1645}[c.unit]
			t := b.idle0 + b.u(2400, 3600)
			c.warp = func(s *sim, x float64) (float64, bool) {
				if s.t > t && s.t < t+2400 {
					s.mark("break")
					return v, true
				}
				return x, true
			}
			whole(b, fault{[]string{"signal-out-of-range", "signal-implausible"}, "", true, fromMark("break")}, "signal-implausible", "over-temperature", "signal-out-of-range", "limit-high", "signal-stuck", "boiling-point-off")
		}},
		{"charge temperature frozen", 0, 1, 1, one, func(b *builder) { b.need = []string{"charge_temperature"} }, func(b *builder) {
			c := b.find("charge_temperature")
			c.noise = math.Max(c.noise, c.res*0.8)
			hold := math.NaN()
			at := b.ambMean + 12
			c.warp = func(s *sim, x float64) (float64, bool) {
				if s.cur != nil && math.IsNaN(hold) && s.p.tPot > at && s.p.heat {
					hold = x
					s.mark("froze")
				}
				if !math.IsNaN(hold) {
					return hold, true
				}
				return x, true
			}
			whole(b, fault{[]string{"signal-stuck", "signal-implausible"}, "", true, fromMark("froze")}, "boiling-point-off", "signal-implausible", "signal-stuck", "heating-slow", "heat-transfer-falling")
		}},
		{"temperature jumps about", 1, 1, 1, one, nil, func(b *builder) {
			c := b.chans[0]
			if k := b.find("vapor_temperature"); k != nil {
				c = k
			}
			t := b.idle0 + b.u(2400, 3600)
			c.warp = func(s *sim, x float64) (float64, bool) {
				if s.t > t && s.t < t+1500 {
					s.mark("jump")
					if b.r.Float64() < 0.4 {
						return x + b.r.NormFloat64()*45, true
					}
				}
				return x, true
			}
			whole(b, fault{[]string{"signal-implausible", "signal-out-of-range"}, "", true, fromMark("jump")}, "over-temperature", "signal-out-of-range", "boiling-point-off", "signal-implausible", "heating-stalled")
		}},
		{"module silent", 1, 1, 1, one, nil, func(b *builder) {
			t := b.idle0 + b.u(2400, 3600)
			b.silent = [][2]float64{{t, t + b.u(700, 1500)}}
			b.last().events = once(func(s *sim) bool { return s.t >= t }, func(s *sim) { s.mark("silent") })
			whole(b, fault{[]string{"device-silent"}, "", true, fromMark("silent")}, "signal-stuck", "signal-implausible", "signal-out-of-range")
		}},
		{"leak and then left on past dry", 0, 1, 0, one, func(b *builder) { b.rank, b.eq.control = 1, 0 }, func(b *builder) {
			p := b.last()
			over := b.targetAbs + b.u(4, 7)
			p.atStart = func(s *sim) { leakTo(s, over) }
			p.stopVal = b.u(2.2, 3) * 3600
			b.sayHold = false
			p.faults = []fault{{[]string{"vacuum-short", "vacuum-not-pulled"}, "open-to-air", true, fromPump}, {[]string{"past-dry"}, "", true, fromDry}}
			p.allowed = vacuumLeads
		}},
		{"weak air and a lost phase", 0, 1, 1, one, func(b *builder) {
			b.rank, b.eq.control, b.need = 1, 0, []string{"air_supply_pressure", "heater_power"}
		}, func(b *builder) {
			b.eq.phases, b.sayAir = 3, true
			p := b.last()
			at := b.ambMean + (b.recipeSet-b.ambMean)*0.3
			v := b.u(0.55, 0.68)
			p.atStart = func(s *sim) { s.p.airValve = v * b.eq.airNom / b.headerHi }
			p.events = once(hotterThan(at), func(s *sim) { s.p.powerFactor = 0.5; s.mark("phase") })
			p.faults = []fault{{[]string{"air-supply-low", "vacuum-short"}, "air-supply", true, fromPump}, {[]string{"heater-phase-lost"}, "", true, fromMark("phase")}}
			p.allowed = append(append([]string{"air-supply-low"}, vacuumLeads...), heatLeads...)
			p.stop, p.stopVal = "clock", 4*3600
		}},
		{"wrong drum and stopped early", 0, 0, 1, one, func(b *builder) {
			b.need = []string{"charge_temperature", "vapor_temperature"}
			b.solventOf("toluene")
		}, func(b *builder) {
			p := b.last()
			b.recipeSet = math.Max(b.recipeSet, 130)
			p.set = b.recipeSet
			p.subs = []*substance{substances["m-xylene"]}
			p.stop, p.stopVal = "left", b.u(0.32, 0.5)
			p.faults = []fault{{[]string{"boiling-point-off"}, "wrong-solvent", true, func(l *runLog) float64 { return math.Min(l.heatOff, l.onset+240) }}, {[]string{"not-dry"}, "", true, fromOff}}
			p.allowed = heatLeads
		}},
	}
}
