package analysis

import "testing"

// The index constants run parallel to the table of signals.
func TestSignalsMatch(t *testing.T) {
	want := [nSig]Signal{
		sJacket: JacketTemperature, sCharge: ChargeTemperature, sVapor: VaporTemperature, sCondensate: CondensateTemperature,
		sPressure: StillPressure, sVacuum: StillVacuum, sAir: AirSupplyPressure, sPower: HeaterPower, sCounter: EnergyCounter,
		sVolume: DistillateVolume, sMass: DistillateMass, sFlow: DistillateFlow, sAmbient: AmbientTemperature,
		sBarometer: BarometricPressure, sGas: GasLevel, sLid: LidClosed, sHeaterOn: HeaterOn, sAirOn: AirOn, sRunOn: RunOn,
	}
	if len(Signals) != int(nSig) {
		t.Fatalf("%d signals in the table, %d index constants", len(Signals), nSig)
	}
	for i, row := range Signals {
		if row.Signal != want[i] {
			t.Errorf("row %d is %s, its index constant means %s", i, row.Signal, want[i])
		}
		if row.Min >= row.Max {
			t.Errorf("%s: plausible range %g to %g", row.Signal, row.Min, row.Max)
		}
	}
}
