#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "tests/support/dice.h"
#include "tests/support/load_elements.h"
#include "tests/support/random_elements.h"

using namespace rampart;
using namespace rampart::test;

namespace {

constexpr std::uint32_t kSeed = 20'260'401;
constexpr int kCases = 100;

LoadElement random_constant_current(Dice& dice) {
  const double from = dice.chance(0.5) ? 0 : dice.between(0.5, 10);
  return constant_current(dice.between(0.01, 3), from);
}

LoadElement random_capacitor(Dice& dice) {
  const double esr = dice.chance(0.7) ? dice.between(1e-2, 1) : 0;
  return capacitor(dice.between(1e-6, 1e-2), esr);
}

LoadElement random_element(Dice& dice) {
  switch (dice.up_to(9)) {
    case 0:
      return random_constant_current(dice);
    case 1:
      return random_converter(dice);
    case 2:
      return random_diode(dice);
    case 3:
      return lamp(dice.between(1e-4, 0.1));
    case 4:
      return random_curve(dice);
    case 5:
      return random_pulses(dice);
    case 6:
      return random_load_profile(dice);
    case 7:
      return resistor(dice.between(1, 1e4));
    case 8:
      return random_inductor(dice, 1e-4, 0.1, 20);
    default:
      return random_capacitor(dice);
  }
}

}  // namespace

TEST_CASE("random loads of any kind keep the limits and the balance") {
  int currents = 0;
  int voltages = 0;
  for (int i = 0; i < kCases; ++i) {
    const std::uint32_t seed = kSeed + static_cast<std::uint32_t>(i);
    CAPTURE(seed);
    Dice dice(seed);
    const bool steps = dice.chance(0.5);
    SimulationCase plant({fine_supply(steps ? Interpolation::Hold : Interpolation::Linear)});
    const bool output_capacitance = dice.chance(0.2);
    if (output_capacitance) plant.bench.channels[0].output_capacitance = Farads{number("47 uF")};
    if (dice.chance(0.2)) plant.bench.channels[0].sink = Amps{number("500 mA")};
    if (dice.chance(0.2)) plant.bench.channels[0].off_resistance = Ohms{number("10 kOhm")};
    std::vector<LoadElement> load;
    for (int count = 1 + dice.up_to(3); count > 0; --count) load.push_back(random_element(dice));
    const bool coil =
        std::any_of(load.begin(), load.end(), [](const auto& element) { return element.kind() == "inductor"; });
    // A coil has something beside it that conducts.
    if (coil) load.push_back(resistor(dice.between(10, 1000)));
    plant.rail(load, dice.chance(0.6) ? dice.between(1e-2, 1) : 0);
    // Remote sense in every third case; the rest of the case stays as it is without.
    const bool sensed = i % 3 == 0;
    plant.profile.rails[0].remote_sense = sensed;
    if (sensed) plant.bench.channels[0].remote_sense = RemoteSense{Volts{number("1 V")}};
    if (dice.chance(0.2)) plant.fuse(milli(dice.between(1e-3, 0.5), "s"));

    const double amps = dice.between(0.05, 10);
    double highest = 0;
    Program program = {limit(0, milli(amps, "A")), on(0), dwell("1 ms")};
    for (int count = 2 + dice.up_to(4); count > 0; --count) {
      const double volts = dice.chance(0.2) ? 0 : dice.between(0.1, 30);
      highest = std::max(highest, volts + 1e-3);
      if (dice.chance(0.1)) program.push_back(off(0));
      if (dice.chance(0.3)) program.push_back(on(0));
      program.push_back(steps ? step(0, milli(volts, "V"))
                              : ramp(0, milli(volts, "V"), milli(dice.between(1e-3, 1), "s")));
      program.push_back(dwell(milli(dice.between(1e-3, 1), "s")));
    }
    const Simulation simulation = plant.run(program);
    const RailFigures& rail = simulation.rails[0];
    // Once changes without end are given up, what follows is rough.
    CHECK(rail.balance.relative_error < (simulation.chatter.empty() ? 1e-6 : 1e-4));
    CHECK(std::isfinite(rail.energy_J));
    if (coil) continue;
    CHECK(rail.voltage_V.value <= highest * (1 + 1e-7) + (sensed ? 1 : 0));
    ++voltages;
    if (output_capacitance) continue;
    CHECK(rail.current_A.value <= (amps + 1e-3) * (1 + 1e-7));
    ++currents;
  }
  CHECK(voltages > 20);
  CHECK(currents > 10);
}
