// What the picture of a still is made of.

// panels in the order of the page: what belongs on one scale, how tall, and how each line is drawn.
export const PANELS = [
  { title: 'Temperature', dimension: 'temperature', height: 250, lines: {
    jacket_temperature: { ink: '--oil', width: 2.2, words: 'oil' },
    charge_temperature: { ink: '--charge', width: 2, dash: [10, 3], words: 'charge' },
    vapor_temperature: { ink: '--vapor', width: 2, dash: [5, 3], words: 'vapour' },
    condensate_temperature: { ink: '--condensate', width: 2, dash: [2, 3], words: 'condensate' },
    saturation_temperature: { ink: '--guide', width: 1.6, dash: [8, 3, 2, 3], words: 'boiling point' } } },
  { title: 'Pressure', dimension: 'absolute pressure', height: 190, zero: true, pressure: true, lines: {
    pressure: { ink: '--oil', width: 2.2, words: 'in the still' },
    vapor_pressure: { ink: '--guide', width: 1.6, dash: [8, 3, 2, 3], words: 'vapour floor' } } },
  { title: 'Air to the ejector', dimension: 'gauge pressure', height: 90, zero: true, lines: { air_supply_pressure: { ink: '--vapor', width: 2, words: 'air supply' } } },
  { title: 'Heater', dimension: 'power', height: 100, zero: true, lines: { heater_power: { ink: '--oil', width: 1.8, words: 'power' } } },
  { title: 'Distillate', dimension: 'volume', height: 110, zero: true, lines: { distillate_volume: { ink: '--vapor', width: 2.2, words: 'come over' } } },
  { title: 'Distillate', dimension: 'mass', height: 110, zero: true, lines: { distillate_mass: { ink: '--vapor', width: 2.2, words: 'come over' } } },
  { title: 'Flammable vapour', dimension: 'percent', height: 90, zero: true, lines: { gas_level: { ink: '--charge', width: 2, words: 'of the limit' } } },
];
