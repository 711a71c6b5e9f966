#include <doctest/doctest.h>

#include <chrono>
#include <cmath>
#include <string>

#include "tests/support/near.h"
#include "tests/support/simulation_case.h"

using namespace rampart;
using namespace rampart::test;

namespace {

Program joined(std::initializer_list<Program> parts) {
  Program result;
  for (const Program& part : parts) result.insert(result.end(), part.begin(), part.end());
  return result;
}

Program repeated(int times, const Program& body) {
  Program result;
  for (int i = 0; i < times; ++i) result.insert(result.end(), body.begin(), body.end());
  return result;
}

// Statements as a file would have them: each at a place of its own.
Program placed(Program program) {
  for (std::size_t i = 0; i < program.size(); ++i) {
    const auto at = static_cast<std::uint32_t>(10 * i + 10);
    program[i].span = {FileId{}, at, at + 5};
  }
  return program;
}

// 12 V behind 10 mOhm, 1000 uF with 50 mOhm beside 24 Ohm; up 50 ms, on 200 ms, down 50 ms, 0 V 100 ms.
SimulationCase cycled_plant() {
  SimulationCase plant;
  plant.rail({capacitor(1e-3, 50e-3), resistor(24)}, 10e-3);
  return plant;
}
const Program kCycle = {ramp(0, "12 V", "50 ms"), dwell("200 ms"), ramp(0, "0 V", "50 ms"), dwell("100 ms")};

const Trip& trip_of(const Simulation& simulation, std::size_t rail = 0) {
  REQUIRE(simulation.rails[rail].trip);
  return *simulation.rails[rail].trip;
}

}  // namespace

// The figures are means over 1,000 cycles by closed form per cycle, and by SUNDIALS CVODE to 1e-6. The energy is that
// behind the wire.
TEST_CASE("a thousand power cycles equal the closed form") {
  SimulationCase plant = cycled_plant();
  const Simulation limited = plant.run(joined({{limit(0, "600 mA"), on(0)}, {repeat(1000, kCycle)}}));
  const auto behind_wire = [](const Simulation& simulation) {
    return simulation.rails[0].energy_J - simulation.rails[0].balance.dissipated_wire_J;
  };
  CHECK(behind_wire(limited) / 1000 == relative(1.398355570068, 1e-12));
  CHECK(limited.rails[0].cc_time_s / 1000 == relative(0.020984954, 1e-7));
  CHECK(limited.rails[0].balance.relative_error < 1e-12);
  CHECK(limited.rails[0].current_A.value == relative(0.6, 1e-9));
  CHECK(limited.duration_s == relative(400, 1e-14));
  REQUIRE(limited.folded.size() == 1);
  CHECK(limited.folded[0].simulated + limited.folded[0].added == 1000);
  CHECK(limited.folded[0].simulated < 10);

  const Simulation free = plant.run(joined({{limit(0, "1 A"), on(0)}, {repeat(1000, kCycle)}}));
  CHECK(behind_wire(free) / 1000 == relative(1.404645278319, 1e-12));
  CHECK(free.rails[0].cc_time_s == 0);
  CHECK(free.rails[0].current_A.value == relative(0.739591878, 1e-9));
}

TEST_CASE("folded passes equal passes that are written out") {
  for (const int count : {2, 3, 7, 20}) {
    SimulationCase plant = cycled_plant();
    const Program start = {limit(0, "600 mA"), on(0)};
    const Simulation folded = plant.run(joined({start, {repeat(count, kCycle)}}));
    const Simulation written = plant.run(joined({start, repeated(count, kCycle)}));
    CHECK(folded.rails[0].energy_J == relative(written.rails[0].energy_J, 1e-13));
    CHECK(folded.rails[0].charge_C == relative(written.rails[0].charge_C, 1e-13));
    CHECK(folded.rails[0].cc_time_s == relative(written.rails[0].cc_time_s, 1e-12));
    CHECK(folded.rails[0].final_voltage_V == relative(written.rails[0].final_voltage_V, 1e-11));
    CHECK(folded.duration_s == relative(written.duration_s, 1e-14));
  }
}

TEST_CASE("nested loops fold inside each other") {
  SimulationCase plant = cycled_plant();
  const Program start = {limit(0, "600 mA"), on(0)};
  const Program inner = {repeat(50, kCycle), dwell("1 s")};
  const Simulation folded = plant.run(joined({start, {repeat(1000, inner)}}));
  const Simulation some = plant.run(joined({start, repeated(3, joined({repeated(50, kCycle), {dwell("1 s")}}))}));
  const Simulation fewer = plant.run(joined({start, repeated(2, joined({repeated(50, kCycle), {dwell("1 s")}}))}));
  const double pass = some.rails[0].energy_J - fewer.rails[0].energy_J;
  CHECK(folded.rails[0].energy_J == relative(fewer.rails[0].energy_J + 998 * pass, 1e-11));
  CHECK(folded.duration_s == relative(21'000, 1e-14));
}

TEST_CASE("a million cycles cost what a few cost") {
  SimulationCase plant = cycled_plant();
  const auto begin = std::chrono::steady_clock::now();
  const Simulation simulation = plant.run({limit(0, "600 mA"), on(0), repeat(1'000'000, kCycle)});
  const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
  CHECK(seconds < 1);
  // The first cycle starts empty, the others a little above.
  const RailFigures& rail = simulation.rails[0];
  CHECK((rail.energy_J - rail.balance.dissipated_wire_J) / 1e6 == relative(1.398355570068, 1e-5));
}

// dV/dt = I/C (Kuphaldt, Lessons in Electric Circuits, Vol. I, "Capacitors and calculus").
TEST_CASE("a ramp draws C dV/dt") {
  SimulationCase plant;
  plant.rail({capacitor(100e-6)});
  const Simulation simulation =
      plant.run({limit(0, "1 A"), on(0), dwell("1 ms"), ramp(0, "10 V", "20 ms"), dwell("10 ms")});
  CHECK(simulation.rails[0].current_A.value == relative(0.05, 1e-9));
  CHECK(simulation.rails[0].charge_C == relative(1e-3, 1e-9));
  CHECK(simulation.rails[0].energy_J == relative(5e-3, 1e-9));
}

// 1000 uF at 0.1 A take 0.12 s to 12 V (the same law).
TEST_CASE("charge time in constant current, and the fuse that watches it") {
  const Program program = {limit(0, "100 mA"), on(0), step(0, "12 V"), dwell("1 s")};
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({capacitor(1e-3)});
  const Simulation calm = plant.run(program);
  CHECK(calm.rails[0].cc_time_s == relative(0.12, 1e-12));
  CHECK_FALSE(calm.rails[0].trip);

  // A delay 1 % longer than the inrush does not trip, one 1 % shorter does: common practice, no source.
  plant.fuse("121.2 ms");
  const Simulation longer = plant.run(program);
  CHECK_FALSE(longer.rails[0].trip);
  REQUIRE(!longer.margins.empty());
  CHECK(longer.margins[0].kind == MarginKind::Fuse);
  CHECK(longer.margins[0].margin == relative(1.2e-3, 1e-9));
  plant.fuse("118.8 ms");
  const Simulation shorter = plant.run(program);
  CHECK(trip_of(shorter).cause == TripCause::Fuse);
  CHECK(trip_of(shorter).time_s == relative(0.1188, 1e-12));
  CHECK(shorter.rails[0].final_voltage_V == relative(11.88, 1e-12));
  // Ends exactly as the delay does: no trip.
  plant.fuse("120 ms");
  CHECK_FALSE(plant.run(program).rails[0].trip);
  plant.fuse("0 s");
  CHECK(trip_of(plant.run(program)).time_s == 0);
}

TEST_CASE("a limit that is raised as the delay ends does not trip") {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({resistor(10)}).fuse("50 ms");
  const Program start = {limit(0, "500 mA"), on(0), step(0, "10 V"), dwell("50 ms")};
  CHECK_FALSE(plant.run(joined({start, {limit(0, "2 A"), dwell("1 s")}})).rails[0].trip);
  const Simulation late = plant.run(joined({start, {dwell("1 us"), limit(0, "2 A"), dwell("1 s")}}));
  CHECK(trip_of(late).time_s == relative(0.05, 1e-12));
}

TEST_CASE("a fuse counts anew once the output was off") {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({resistor(10)}).fuse("100 ms");
  const Program spell = {on(0), dwell("60 ms"), off(0), dwell("60 ms")};
  const Simulation twice = plant.run(joined({{limit(0, "0.5 A"), step(0, "10 V")}, spell, spell}));
  CHECK_FALSE(twice.rails[0].trip);
  CHECK(twice.rails[0].longest_cc_s.value == relative(0.06, 1e-9));
}

// 1 H at 5 A falls to 2 A in 1 s ln(5 / 2) = 916 ms, through an output that can not bring it down.
TEST_CASE("a coil above a lowered limit counts for the fuse at once") {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({inductor(1, 1)}).fuse("500 ms");
  const Simulation simulation =
      plant.run({limit(0, "6 A"), on(0), step(0, "5 V"), dwell("40 s"), limit(0, "2 A"), dwell("5 s")});
  CHECK(trip_of(simulation).time_s == relative(40.5, 1e-9));
}

TEST_CASE("row boundaries do not disturb the fuse, and leaving the limit does") {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({resistor(1)}).fuse("100 ms");
  const Simulation through =
      plant.run({limit(0, "1 A"), on(0), step(0, "5 V"), dwell("60 ms"), step(0, "6 V"), dwell("60 ms")});
  CHECK(trip_of(through).time_s == relative(0.1, 1e-9));
  const Simulation broken = plant.run({limit(0, "1 A"), on(0), step(0, "5 V"), dwell("60 ms"), step(0, "0.5 V"),
                                       dwell("1 ms"), step(0, "5 V"), dwell("99 ms"), step(0, "0.5 V")});
  CHECK_FALSE(broken.rails[0].trip);
}

TEST_CASE("a trip latches, links, and ends in safe where there is one") {
  SupplySpec supply = fine_supply(Interpolation::Hold);
  supply.channels.push_back(supply.channels[0]);
  supply.channels.push_back(supply.channels[0]);
  SimulationCase plant({supply});
  plant.rail({resistor(1)}).rail({resistor(10)}).rail({resistor(10)}).fuse("10 ms", 0, {RailId{1}});
  const Program program = {limit(0, "1 A"), limit(1, "2 A"), limit(2, "2 A"),  on(0),
                           on(1),           on(2),           step(0, "5 V"),   step(1, "10 V"),
                           step(2, "10 V"), dwell("100 ms"), step(0, "0.5 V"), dwell("100 ms")};
  const Simulation simulation = plant.run(program);
  CHECK(trip_of(simulation, 0).time_s == relative(0.01, 1e-9));
  CHECK(trip_of(simulation, 1).cause == TripCause::Linked);
  CHECK(trip_of(simulation, 1).time_s == trip_of(simulation, 0).time_s);
  CHECK_FALSE(simulation.rails[2].trip);
  CHECK(simulation.rails[0].energy_J == relative(1 * 0.01, 1e-9));
  CHECK(simulation.rails[1].energy_J == relative(10 * 0.01, 1e-9));
  CHECK(simulation.rails[2].energy_J == relative(10 * 0.2, 1e-9));
  CHECK(simulation.total_power_W.value == relative(21, 1e-9));

  plant.profile.safe = placed({limit(2, "2 A"), step(2, "5 V"), on(2), dwell("20 ms"), off(2), dwell("5 ms")});
  const Simulation safe = plant.run(program);
  CHECK(safe.safe_played);
  CHECK(safe.duration_s == relative(0.035, 1e-9));
  CHECK(safe.rails[2].energy_J == relative(10 * 0.01 + 2.5 * 0.02, 1e-9));
}

// By hand: the rail is on a ramp of 100 V/s into 10 Ohm when another one trips after 10 ms, so it stands at 1 V, and at
// 5 V from the instant at which safe says so.
TEST_CASE(
    "on a supply that runs straight safe finds a ramp where the trip left it, and sets at once what it sets first") {
  SupplySpec supply = fine_supply();
  supply.channels.push_back(supply.channels[0]);
  SimulationCase plant({supply});
  plant.rail({resistor(1)}).rail({resistor(10)}).fuse("10 ms", 0);
  const Program program = {limit(0, "1 A"), limit(1, "2 A"),           on(0),       on(1),
                           step(0, "5 V"),  ramp(1, "10 V", "100 ms"), dwell("1 s")};
  plant.profile.safe = placed({limit(1, "1 A"), dwell("20 ms"), step(1, "5 V"), dwell("10 ms"), off(1)});
  const Simulation simulation = plant.run(program);
  CHECK(trip_of(simulation, 0).time_s == relative(0.01, 1e-9));
  CHECK(simulation.rails[1].energy_J ==
        relative(100 * 100 * 0.01 * 0.01 * 0.01 / 3 / 10 + 1 * 1 / 10.0 * 0.02 + 5 * 5 / 10.0 * 0.01, 1e-9));
  CHECK(simulation.duration_s == relative(0.040, 1e-9));
}

TEST_CASE("overvoltage and overpower act strictly above their levels") {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({resistor(10)});
  const Program program = {limit(0, "2 A"),     on(0),         step(0, "10 V"), dwell("50 ms"),
                           step(0, "10.001 V"), dwell("50 ms")};
  plant.overvoltage("10 V");
  const Simulation voltage = plant.run(program);
  CHECK(trip_of(voltage).cause == TripCause::Overvoltage);
  CHECK(trip_of(voltage).time_s == relative(0.05, 1e-9));
  plant.overpower("10 W", "0 s");
  CHECK(trip_of(plant.run(program)).cause == TripCause::Overvoltage);
  plant.protection().overvoltage.reset();
  CHECK(trip_of(plant.run(program)).cause == TripCause::Overpower);
  plant.overpower("10 W", "20 ms");
  CHECK(trip_of(plant.run(program)).time_s == relative(0.07, 1e-9));
  plant.overpower("10.01 W", "0 s");
  CHECK_FALSE(plant.run(program).rails[0].trip);
}

// docs/simulation.md, "Protections": overvoltage, overpower, fuse, overtemperature. All four are due at 50 ms.
TEST_CASE("of several causes at one instant the first in their order is told") {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  // 5 V drive 0.5 A, the fuse's current, from the start; 10 V exceed 9 V and 9 W.
  plant.rail({resistor(10)}).fuse("50 ms").overvoltage("9 V").overpower("9 W", "0 s");
  plant.protection().fuse->current = Placed<Amps>{Amps{number("0.5 A")}, {}};
  // (15 V - 5 V) * 0.5 A through 12 K/W with 120 s: 298.15 K + 60 K (1 - exp(-0.05 / 120)) at 50 ms. The limit is 0.1
  // nK above that, nearer than what counts as below it.
  Thermal thermal;
  thermal.internal_supply = Volts{number("15 V")};
  thermal.resistance = Rational(12);
  thermal.time_constant = Seconds{number("120 s")};
  thermal.ambient = Kelvins{number("298.15 K")};
  thermal.limit = Kelvins{number("298.1749947924900 K")};
  plant.bench.channels[0].thermal = thermal;
  const Program program = {limit(0, "2 A"), on(0), step(0, "5 V"), dwell("50 ms"), step(0, "10 V"), dwell("50 ms")};
  const auto cause = [&] {
    const Simulation simulation = plant.run(program);
    CHECK(trip_of(simulation).time_s == relative(0.05, 1e-8));
    return trip_of(simulation).cause;
  };
  CHECK(cause() == TripCause::Overvoltage);
  plant.protection().overvoltage.reset();
  CHECK(cause() == TripCause::Overpower);
  plant.protection().overpower.reset();
  CHECK(cause() == TripCause::Fuse);
  plant.protection().fuse.reset();
  CHECK(cause() == TripCause::Overtemperature);
}

TEST_CASE("overpower on a ramp trips where the power is reached") {
  SimulationCase plant;
  plant.rail({resistor(10)}).overpower("2.5 W", "0 s");
  // v^2 / 10 Ohm = 2.5 W at 5 V, half way up.
  const Simulation simulation = plant.run({limit(0, "2 A"), on(0), ramp(0, "10 V", "100 ms"), dwell("10 ms")});
  CHECK(trip_of(simulation).time_s == relative(0.05, 1e-9));
}

// RC 47 kOhm x 100 uF with 48 h of power cycles: as long as a few passes.
TEST_CASE("slow plants fold once they are steady") {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({capacitor(100e-3, 10), resistor(1000)}, 0.1);
  const Program cycle = {step(0, "12 V"), dwell("2 s"), step(0, "5 V"), dwell("2 s")};
  const Simulation simulation = plant.run({limit(0, "20 mA"), on(0), repeat(43'200, cycle)});
  CHECK(simulation.duration_s == relative(48 * 3600, 1e-9));
  REQUIRE(simulation.folded.size() == 1);
  CHECK(simulation.folded[0].simulated < 2000);
  CHECK(simulation.rails[0].balance.relative_error < 1e-10);
}

TEST_CASE("marks read what was until then, and the first instant what begins there") {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({resistor(10)});
  const Simulation simulation =
      plant.run({limit(0, "2 A"), on(0), step(0, "4 V"), statement(Mark{"start"}), dwell("10 ms"),
                 repeat(100, {step(0, "10 V"), statement(Mark{"low"}), dwell("10 ms"), statement(Mark{"high"}),
                              step(0, "5 V"), dwell("10 ms")})});
  REQUIRE(simulation.rails[0].marks.size() == 3);
  CHECK(simulation.rails[0].marks[0].low_voltage_V == 4);
  CHECK(simulation.rails[0].marks[1].reached == 100);
  CHECK(simulation.rails[0].marks[1].low_voltage_V == 4);
  CHECK(simulation.rails[0].marks[1].high_voltage_V == 5);
  CHECK(simulation.rails[0].marks[2].high_voltage_V == 10);
  CHECK(simulation.rails[0].marks[2].low_current_A == relative(1, 1e-9));
}

TEST_CASE("a wait on a condition ends when the simulation meets it") {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({capacitor(1e-3), resistor(1e3)});
  Comparison below;
  below.form.terms = {{RailId{0}, Signal::Voltage, Rational{-1}}};
  below.form.constant = number("500 mV");
  Condition condition;
  condition.nodes = {{Truth::Compare, below}};
  plant.profile.conditions = {condition};
  const auto wait = [](std::string_view within) {
    Await await;
    await.what = AwaitCondition{0};
    await.within = time(within);
    return statement(await);
  };
  const Program start = {limit(0, "1 A"), on(0), step(0, "10 V"), dwell("100 ms"), off(0)};
  const Simulation met = plant.run(joined({start, {wait("10 s"), dwell("1 s")}}));
  REQUIRE(met.awaited.size() == 1);
  // 10 V fall to 0.5 V after R C ln 20.
  CHECK(met.awaited[0].waited_s == relative(std::log(20), 1e-12));
  CHECK(met.duration_s == relative(0.1 + std::log(20) + 1, 1e-12));
  const Simulation late = plant.run(joined({start, {wait("2 s"), dwell("1 s")}}));
  REQUIRE(late.awaited.size() == 1);
  CHECK(late.awaited[0].timed_out);
  CHECK(late.duration_s == relative(2.1, 1e-9));
  // In a loop the waits of later passes are as long, and fold.
  const Simulation looped =
      plant.run({limit(0, "1 A"), repeat(1000, {on(0), step(0, "10 V"), dwell("100 ms"), off(0), wait("10 s")})});
  CHECK(looped.duration_s == relative(1000 * (0.1 + std::log(20)), 1e-12));
  REQUIRE(looped.folded.size() == 1);
  CHECK(looped.folded[0].simulated < 10);
}
