#include <doctest/doctest.h>

#include <cmath>

#include "tests/support/margin_of.h"
#include "tests/support/near.h"
#include "tests/support/simulation_case.h"

using namespace rampart;
using namespace rampart::test;

namespace {

// 12 K/W and 120 s, so 10 J/K: 5 W above 25 degC leave it at 62.927 degC after one time constant, and 70 degC are
// reached at 166.355 s. Computed from T = T_a + R P (1 - exp(-t / tau)).
SimulationCase warm_supply(const char* limit_kelvin) {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  Thermal thermal;
  thermal.internal_supply = Volts{number("15 V")};
  thermal.resistance = Rational(12);
  thermal.time_constant = Seconds{number("120 s")};
  thermal.ambient = Kelvins{number("298.15 K")};
  thermal.limit = Kelvins{number(limit_kelvin)};
  simulated.bench.channels[0].thermal = thermal;
  return simulated;
}

}  // namespace

TEST_CASE("an output warms with one pole and trips at its limit") {
  // 10 V at 1 A: (15 V - 10 V) x 1 A = 5 W.
  SimulationCase simulated = warm_supply("343.15 K");
  simulated.rail({resistor(10)});
  const Simulation simulation = simulated.run({limit(0, "2 A"), on(0), step(0, "10 V"), dwell("1000 s")});
  REQUIRE(simulation.rails[0].trip);
  CHECK(simulation.rails[0].trip->cause == TripCause::Overtemperature);
  CHECK(simulation.rails[0].trip->time_s == relative(120 * std::log(60.0 / 15), 1e-9));
  CHECK(simulation.rails[0].trip->time_s == relative(166.355, 1e-5));
  CHECK(margin_of(simulation, MarginKind::Overtemperature).margin == relative(0, 1e-9));

  SimulationCase cooler = warm_supply("400 K");
  cooler.rail({resistor(10)});
  const Simulation one = cooler.run({limit(0, "2 A"), on(0), step(0, "10 V"), dwell("120 s")});
  CHECK(!one.rails[0].trip);
  CHECK(400 - margin_of(one, MarginKind::Overtemperature).margin - 273.15 == relative(62.927, 1e-5));
}

// Heating with P = P0 + a exp(-k t): T = T_a + R [P0 (1 - e^-t/tau) + a (e^-kt - e^-t/tau) / (1 - k tau)].
TEST_CASE("the heat of a charging capacitor is exact") {
  SimulationCase simulated = warm_supply("3000 K");
  // 10 V through 10 Ohm into 2 F: 20 s. i = e^-t/20, and it leaves (15 V - 10 V) x i in the output.
  simulated.rail({capacitor(2)}, 10);
  const Simulation simulation = simulated.run({limit(0, "2 A"), on(0), step(0, "10 V"), dwell("10 s")});
  const double k = 1.0 / 20;
  const double tau = 120;
  const double t = 10;
  const double rise = 12 * 5 * (std::exp(-k * t) - std::exp(-t / tau)) / (1 - k * tau);
  CHECK(3000 - margin_of(simulation, MarginKind::Overtemperature).margin - 298.15 == relative(rise, 1e-9));
}

TEST_CASE("warming during a ramp is exact") {
  SimulationCase simulated = warm_supply("3000 K");
  simulated.bench.supplies[0].timing.interpolation = Interpolation::Linear;
  simulated.rail({resistor(10)});
  const Simulation simulation = simulated.run({limit(0, "2 A"), on(0), dwell("1 s"), ramp(0, "10 V", "60 s")});
  // v = t / 6, i = v / 10: P = (15 - v) v / 10 = t / 4 - t^2 / 360. The particular solution of tau T' + T = R P is
  // R [a t + b t^2 - tau (a + 2 b t) + 2 b tau^2].
  const double a = 0.25;
  const double b = -1.0 / 360;
  const double tau = 120;
  const auto particular = [&](double t) {
    return 12 * (a * t + b * t * t - tau * (a + 2 * b * t) + 2 * b * tau * tau);
  };
  const double rise = particular(60) - particular(0) * std::exp(-60 / tau);
  CHECK(3000 - margin_of(simulation, MarginKind::Overtemperature).margin - 298.15 == relative(rise, 1e-9));
}

// On and off by turns with 5 W: after n passes T - T_a = R P (1 - e^-on/tau) e^-off/tau (1 - a^n) / (1 - a), with a the
// whole pass's decay; before the last `off` it is e^off/tau times that.
TEST_CASE("a burn-in of alike passes is as warm as its geometric series") {
  const double tau = 120;
  const double a = std::exp(-2 / tau);
  const double first = 12 * 5 * -std::expm1(-1 / tau);
  const auto peak = [&](double passes) { return first * (1 - std::pow(a, passes)) / (1 - a); };
  const Program body = {step(0, "10 V"), dwell("1 s"), step(0, "0 V"), dwell("1 s")};
  for (const std::int64_t passes : {20, 1'000, 1'000'000}) {
    CAPTURE(passes);
    SimulationCase simulated = warm_supply("343.15 K");
    simulated.rail({resistor(10)});
    const Simulation simulation = simulated.run({limit(0, "2 A"), on(0), repeat(passes, body)});
    REQUIRE(!simulation.rails[0].trip);
    CHECK(simulation.duration_s == relative(2.0 * static_cast<double>(passes), 1e-9));
    const double rise = 45 - margin_of(simulation, MarginKind::Overtemperature).margin;
    CHECK(rise == relative(peak(static_cast<double>(passes)), 1e-9));
    CHECK(simulation.events.size() < 100);
    CHECK(simulation.rails[0].energy_J == relative(10.0 * static_cast<double>(passes), 1e-12));
  }
  // The limit at 25 K above: the pass where the peak first exceeds it, and the time within it.
  SimulationCase simulated = warm_supply("323.15 K");
  simulated.rail({resistor(10)});
  const Simulation simulation = simulated.run({limit(0, "2 A"), on(0), repeat(1'000'000, body)});
  int pass = 1;
  while (peak(pass) < 25) ++pass;
  const double start = peak(pass - 1) * std::exp(-1 / tau);
  REQUIRE(simulation.rails[0].trip);
  CHECK(simulation.rails[0].trip->cause == TripCause::Overtemperature);
  CHECK(simulation.rails[0].trip->time_s ==
        relative(2.0 * (pass - 1) + tau * std::log((60 - start) / (60 - 25)), 1e-9));
}

// docs/simulation.md, "Overtemperature": each member has its share by its range. One time constant with the power P
// leaves it R P (1 - 1/e) above ambient.
TEST_CASE("members warm by their share: of the voltage in series, of the current in parallel") {
  SupplySpec supply = fine_supply(Interpolation::Hold);
  supply.channels.push_back(supply.channels[0]);
  supply.channels[0].name = "small";
  supply.channels[1].name = "large";
  supply.channels[0].voltage_high = "10 V";
  supply.channels[1].voltage_high = "20 V";
  supply.channels[0].current_high = "1 A";
  supply.channels[1].current_high = "3 A";
  const auto rise = [&](Arrangement arrangement, std::string_view owner) {
    SimulationCase plant({supply});
    Thermal thermal;
    thermal.internal_supply = Volts{number("15 V")};
    thermal.resistance = Rational(2);
    thermal.time_constant = Seconds{number("120 s")};
    thermal.ambient = Kelvins{number("298.15 K")};
    thermal.limit = Kelvins{number("400 K")};
    for (Channel& channel : plant.bench.channels) channel.thermal = thermal;
    plant.bench.combinations.push_back({"both", arrangement, {ChannelId{0}, ChannelId{1}}, {}});
    plant.profile.rails.resize(1);
    plant.profile.rails[0].output = CombinationId{0};
    const bool series = arrangement == Arrangement::Series;
    plant.rail({resistor(series ? 12 : 5)});
    const Simulation simulation = series ? plant.run({limit(0, "1 A"), on(0), step(0, "9 V"), dwell("120 s")})
                                         : plant.run({limit(0, "4 A"), on(0), step(0, "10 V"), dwell("120 s")});
    return 400 - 298.15 - margin_of_owner(simulation, MarginKind::Overtemperature, owner).margin;
  };
  const double share = 2 * (1 - std::exp(-1.0));
  // 9 V are 3 V and 6 V, at 0.75 A.
  CHECK(rise(Arrangement::Series, "s1.small") == relative(share * 12 * 0.75, 1e-9));
  CHECK(rise(Arrangement::Series, "s1.large") == relative(share * 9 * 0.75, 1e-9));
  // 2 A are 0.5 A and 1.5 A, from 15 V to 10 V.
  CHECK(rise(Arrangement::Parallel, "s1.small") == relative(share * 5 * 0.5, 1e-9));
  CHECK(rise(Arrangement::Parallel, "s1.large") == relative(share * 5 * 1.5, 1e-9));
}
