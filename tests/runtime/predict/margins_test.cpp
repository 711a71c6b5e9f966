#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "lang/findings/practice.h"
#include "runtime/answer/judged_margins.h"
#include "runtime/play/simulate.h"
#include "runtime/predict/run_findings.h"
#include "runtime/predict/unprotected.h"
#include "runtime/rail/bleeder.h"
#include "tests/support/load_elements.h"
#include "tests/support/margin_of.h"
#include "tests/support/near.h"

using namespace rampart;
using namespace rampart::test;

// Every number is a closed form: Ohm's law, a capacitor at constant current (t = C v / I), and its discharge
// (v = v0 exp(-t / R C)).
namespace {

const Finding* find(const FindingSink& sink, std::string_view name) {
  const auto& all = sink.findings();
  const auto found = std::find_if(all.begin(), all.end(), [&](const Finding& one) { return one.name == name; });
  return found == all.end() ? nullptr : &*found;
}

FindingSink predictions(const SimulationCase& plant, const Simulation& simulation) {
  FindingSink sink;
  report_predictions(plant.profile, plant.load, simulation, sink);
  return sink;
}

SimulationCase on_stairs() {
  return SimulationCase({fine_supply(Interpolation::Hold)});
}

}  // namespace

TEST_CASE("the current's distance to its limit") {
  SimulationCase plant;
  plant.rail({resistor(10)});
  const Simulation ramped = plant.run({limit(0, "1.5 A"), on(0), ramp(0, "10 V", "1 s"), dwell("1 s")});
  CHECK(margin_of(ramped, MarginKind::CurrentLimit).margin == relative(0.5, 1e-12));
  CHECK(margin_of(ramped, MarginKind::CurrentLimit).limit == relative(1.5, 1e-9));
  CHECK(margin_of(ramped, MarginKind::CurrentLimit).time_s == relative(1, 1e-9));

  // The limit comes down to the current, 2 A to 1.2 A.
  const Simulation falling =
      plant.run({limit(0, "2 A"), on(0), step(0, "10 V"), dwell("1 s"), limit(0, "1.2 A"), dwell("1 s")});
  CHECK(margin_of(falling, MarginKind::CurrentLimit).margin == relative(0.2, 1e-12));
  CHECK(margin_of(falling, MarginKind::CurrentLimit).limit == relative(1.2, 1e-9));

  // 1 V/s into 10 Ohm is at 1 A after 10 s.
  const Simulation limited = plant.run({limit(0, "1 A"), on(0), ramp(0, "20 V", "20 s"), dwell("1 s")});
  CHECK(margin_of(limited, MarginKind::CurrentLimit).margin == 0);
  CHECK(margin_of(limited, MarginKind::CurrentLimit).time_s == relative(10, 1e-9));
}

TEST_CASE("the power of an output and of a supply") {
  SimulationCase plant = on_stairs();
  plant.bench.channels[0].limits.power = Placed<Watts>{Watts{number("15 W")}, {}};
  plant.bench.supplies[0].power = Placed<Watts>{Watts{number("12 W")}, {}};
  plant.rail({resistor(10)});
  const Simulation within = plant.run({limit(0, "2 A"), on(0), step(0, "10 V"), dwell("1 s")});
  CHECK(margin_of(within, MarginKind::PowerEnvelope).margin == relative(5, 1e-12));
  CHECK(margin_of(within, MarginKind::PowerEnvelope).owner == "s1.ch1");
  CHECK(margin_of(within, MarginKind::TotalPower).margin == relative(2, 1e-12));
  CHECK(margin_of(within, MarginKind::TotalPower).owner == "s1");
  CHECK(find(predictions(plant, within), "power-envelope") == nullptr);

  // 14 V in 10 Ohm: 19.6 W.
  const Simulation above = plant.run({limit(0, "2 A"), on(0), step(0, "14 V"), dwell("1 s")});
  CHECK(margin_of(above, MarginKind::PowerEnvelope).margin == relative(-4.6, 1e-12));
  const FindingSink sink = predictions(plant, above);
  REQUIRE(find(sink, "power-envelope") != nullptr);
  CHECK(find(sink, "power-envelope")->severity == Severity::Error);
  REQUIRE(find(sink, "total-power") != nullptr);
  CHECK(find(sink, "total-power")->severity == Severity::Error);
}

// Kirchhoff: in series one current flows through both, so their powers are as their voltages; in parallel they have one
// voltage, and their powers are as their currents. Both shares are those of the ranges.
TEST_CASE("a rail on two supplies takes from each what its channel gives") {
  for (const Arrangement arrangement : {Arrangement::Series, Arrangement::Parallel}) {
    CAPTURE(static_cast<int>(arrangement));
    SupplySpec small = fine_supply(Interpolation::Hold);
    SupplySpec large = small;
    small.channels[0].voltage_high = "12 V";
    large.channels[0].voltage_high = "24 V";
    small.channels[0].current_high = "1 A";
    large.channels[0].current_high = "2 A";
    SimulationCase plant({small, large});
    plant.bench.supplies[0].power = Placed<Watts>{Watts{number("4 W")}, {}};
    plant.bench.supplies[1].power = Placed<Watts>{Watts{number("8 W")}, {}};
    plant.bench.combinations.push_back({"both", arrangement, {ChannelId{0}, ChannelId{1}}, {}});
    plant.profile.rails.resize(1);
    plant.profile.rails[0].output = CombinationId{0};
    plant.rail({resistor(9)});
    const Simulation simulation = plant.run({limit(0, "1 A"), on(0), step(0, "9 V"), dwell("1 s")});
    // 9 W in all: 3 W and 6 W.
    CHECK(margin_of_owner(simulation, MarginKind::TotalPower, "s1").margin == relative(1, 1e-9));
    CHECK(margin_of_owner(simulation, MarginKind::TotalPower, "s2").margin == relative(2, 1e-9));
  }
}

// Less than 2 % of a limit is thin: common practice, no source.
TEST_CASE("a margin is thin below two percent of its limit") {
  const auto is_thin = [](std::string_view threshold) {
    SimulationCase plant = on_stairs();
    plant.rail({resistor(10)}).overvoltage(threshold);
    const FindingSink sink =
        predictions(plant, plant.run({limit(0, "2 A"), on(0), step(0, "10 V"), dwell("1 s"), off(0)}));
    return find(sink, "thin-margin") != nullptr;
  };
  // 200 mV of 10.2 V are 1.96 %, 210 mV of 10.21 V 2.06 %.
  CHECK(is_thin("10.2 V"));
  CHECK_FALSE(is_thin("10.21 V"));
}

// At its limit of 1 A the regulator charges its own 1 mF to 10 V, 10 W in the end, of which nothing leaves the
// terminals.
TEST_CASE("the power of a supply is that of its regulators") {
  SimulationCase plant = on_stairs();
  plant.bench.channels[0].output_capacitance = Farads{number("1 mF")};
  plant.bench.supplies[0].power = Placed<Watts>{Watts{number("12 W")}, {}};
  plant.rail({});
  const Simulation simulation = plant.run({limit(0, "1 A"), on(0), step(0, "10 V"), dwell("1 s")});
  CHECK(margin_of(simulation, MarginKind::TotalPower).margin == relative(2, 1e-9));
  CHECK(simulation.total_power_W.value == absolute(0, 1e-9));
}

TEST_CASE("time to settle: a capacitor at constant current") {
  SimulationCase plant = on_stairs();
  plant.rail({capacitor(1e-3)});
  // 99 % of 10 V at 1 A: 9.9 ms.
  const Simulation settled = plant.run({limit(0, "1 A"), on(0), step(0, "10 V"), dwell("20 ms"), step(0, "11 V")});
  CHECK(margin_of(settled, MarginKind::Settling).margin == relative(10.1e-3, 1e-9));
  CHECK(margin_of(settled, MarginKind::Settling).limit == relative(20e-3, 1e-12));
  CHECK(margin_of(settled, MarginKind::Settling).time_s == relative(9.9e-3, 1e-9));
  CHECK(find(predictions(plant, settled), "not-settled") == nullptr);

  const Simulation late = plant.run({limit(0, "1 A"), on(0), step(0, "10 V"), dwell("6 ms"), step(0, "2 V"),
                                     dwell("1 ms"), step(0, "5 V"), dwell("1 s")});
  const auto& missed = late.rails[0].shortfalls.not_settled;
  REQUIRE(missed);
  CHECK(missed->voltage_V == relative(6, 1e-9));
  CHECK(missed->setpoint_V == relative(10, 1e-9));
  REQUIRE(missed->needs_s);
  CHECK(*missed->needs_s == relative(3.9e-3, 1e-9));
  CHECK(find(predictions(plant, late), "not-settled") != nullptr);
  CHECK(find(predictions(plant, late), "current-limited") == nullptr);
}

TEST_CASE("a setpoint out of reach of the limit never settles; the supply's accuracy widens what counts") {
  SimulationCase plant = on_stairs();
  plant.rail({resistor(10)});
  const Simulation never = plant.run({limit(0, "500 mA"), on(0), step(0, "10 V"), dwell("1 s")});
  CHECK(margin_of(never, MarginKind::Settling).margin == -1);
  REQUIRE(never.rails[0].shortfalls.not_settled);
  CHECK(never.rails[0].shortfalls.not_settled->voltage_V == relative(5, 1e-9));
  CHECK(!never.rails[0].shortfalls.not_settled->needs_s);

  // 500 mA make 4.9 V of 5 V: within 3 %, not within 1 %.
  SimulationCase coarse = on_stairs();
  coarse.rail({resistor(9.8)});
  CHECK(coarse.run({limit(0, "500 mA"), on(0), step(0, "5 V"), dwell("1 s")}).rails[0].shortfalls.not_settled);
  coarse.bench.channels[0].limits.voltage_accuracy = Accuracy<Volts>{number("3 %"), Volts{}};
  CHECK(!coarse.run({limit(0, "500 mA"), on(0), step(0, "5 V"), dwell("1 s")}).rails[0].shortfalls.not_settled);
}

TEST_CASE("a ramp that goes on at once has nothing to settle") {
  SimulationCase plant = on_stairs();
  plant.rail({capacitor(1e-3)});
  const Simulation onward =
      plant.run({limit(0, "1 A"), on(0), step(0, "10 V"), ramp(0, "20 V", "1 s"), dwell("500 ms"), off(0)});
  CHECK(!onward.rails[0].shortfalls.not_settled);
  CHECK(margin_of(onward, MarginKind::Settling).limit == relative(0.5, 1e-9));
}

TEST_CASE("an output that cannot sink: how long it takes, and the bleeder") {
  SimulationCase plant = on_stairs();
  plant.rail({capacitor(1e-3), resistor(1000)});
  const Program program = {limit(0, "1 A"), on(0),           step(0, "10 V"), dwell("1 s"),
                           step(0, "5 V"),  dwell("100 ms"), step(0, "10 V"), dwell("1 s")};
  const Simulation held = plant.run(program);
  const auto& missed = held.rails[0].shortfalls.cannot_sink;
  REQUIRE(missed);
  const double reached = 10 * std::exp(-0.1);
  CHECK(missed->voltage_V == relative(reached, 1e-9));
  REQUIRE(missed->needs_s);
  CHECK(*missed->needs_s == relative(std::log(reached / 5.05), 1e-9));
  CHECK(margin_of(held, MarginKind::Settling).margin == relative(-*missed->needs_s, 1e-9));

  // 146.4 Ohm would take 100 ms: with 1 kOhm beside it 171.5 Ohm, of E24 (IEC 60063) 160 Ohm.
  const FindingSink sink = predictions(plant, held);
  REQUIRE(find(sink, "cannot-sink") != nullptr);
  CHECK(find(sink, "cannot-sink")->hint.find("a bleeder of 160 Ohm or less") != std::string::npos);
  SimulationCase bled = on_stairs();
  bled.rail({capacitor(1e-3), resistor(1000), resistor(160)});
  CHECK(!bled.run(program).rails[0].shortfalls.cannot_sink);
  SimulationCase next_value = on_stairs();
  next_value.rail({capacitor(1e-3), resistor(1000), resistor(180)});
  CHECK(next_value.run(program).rails[0].shortfalls.cannot_sink);
}

// The output's own 1 mF holds as much as the load's: with R both are down to 0.5 V after R 2 mF ln(12 / 0.5). So of E24
// 150 Ohm takes no more than a second, and 160 Ohm more.
TEST_CASE("the bleeder of a rail that is left charged discharges the output capacitance too") {
  SimulationCase plant = on_stairs();
  plant.bench.channels[0].output_capacitance = Farads{number("1 mF")};
  plant.rail({capacitor(1e-3)});
  const Program program = {limit(0, "1 A"), on(0), step(0, "12 V"), dwell("1 s"), off(0), dwell("1 ms")};
  const Simulation left = plant.run(program);
  REQUIRE(left.rails[0].left);
  const auto found = find_bleeder({*left.rails[0].left, circuit::Setting{}, 0.5, true, 1});
  REQUIRE(found);
  CHECK(found->resistance_Ohm == relative(150, 1e-12));
  CHECK(found->time_s == relative(150 * 2e-3 * std::log(24.0), 1e-9));
  const FindingSink sink = predictions(plant, left);
  REQUIRE(find(sink, "left-charged") != nullptr);
  CHECK(find(sink, "left-charged")->hint.find("(150 Ohm discharges it in 960 ms)") != std::string::npos);
}

// 144 V^2 / 10 W: 14.4 Ohm at least, of E24 15 Ohm, which takes 15 * 0.1 * ln(24) s.
TEST_CASE("a bleeder takes no more than 10 W, however long that is") {
  SimulationCase plant = on_stairs();
  plant.rail({capacitor(0.1)});
  const Simulation left = plant.run({limit(0, "10 A"), on(0), step(0, "12 V"), dwell("1 s"), off(0), dwell("1 ms")});
  REQUIRE(left.rails[0].left);
  const auto found = find_bleeder({*left.rails[0].left, circuit::Setting{}, 0.5, true, 1});
  REQUIRE(found);
  CHECK(found->resistance_Ohm == relative(15, 1e-12));
  CHECK(found->time_s == relative(1.5 * std::log(24.0), 1e-9));
}

TEST_CASE("the bleeder empties the output capacitance of the supply too") {
  SimulationCase plant = on_stairs();
  plant.bench.channels[0].output_capacitance = Farads{number("1 mF")};
  plant.rail({capacitor(1e-3), resistor(1000)});
  const Program program = {limit(0, "1 A"), on(0),           step(0, "10 V"), dwell("1 s"),
                           step(0, "5 V"),  dwell("100 ms"), step(0, "10 V"), dwell("1 s")};
  const Simulation held = plant.run(program);
  const auto& missed = held.rails[0].shortfalls.cannot_sink;
  REQUIRE(missed);
  CHECK(missed->voltage_V == relative(10 * std::exp(-0.05), 1e-9));
  // 0.1 s / (2 mF ln(10 / 5.05)) are 73.2 Ohm: with 1 kOhm beside it 79.0 Ohm, of E24 75 Ohm.
  const FindingSink sink = predictions(plant, held);
  REQUIRE(find(sink, "cannot-sink") != nullptr);
  CHECK(find(sink, "cannot-sink")->hint.find("a bleeder of 75 Ohm or less") != std::string::npos);
}

TEST_CASE("at 0 V half a volt is down; a sink pulls down") {
  const Program program = {limit(0, "1 A"), on(0),          step(0, "10 V"), dwell("1 s"),
                           step(0, "0 V"),  dwell("3.1 s"), step(0, "10 V"), dwell("1 s")};
  SimulationCase plant = on_stairs();
  // ln(10 / 0.5) = 2.996 time constants.
  plant.rail({capacitor(1e-3), resistor(1000)});
  const Simulation down = plant.run(program);
  CHECK(!down.rails[0].shortfalls.cannot_sink);
  CHECK(margin_of(down, MarginKind::Settling).margin == relative(3.1 - std::log(20), 1e-9));

  SimulationCase sinking = on_stairs();
  sinking.bench.channels[0].sink = Amps{number("1 A")};
  sinking.rail({capacitor(1e-3)});
  CHECK(!sinking.run(program).rails[0].shortfalls.cannot_sink);
}

TEST_CASE("what was left when the output is switched on again is told once") {
  SimulationCase plant = on_stairs();
  plant.rail({capacitor(1e-3), resistor(1000)});
  const Simulation again = plant.run({limit(0, "1 A"), on(0), step(0, "10 V"), dwell("1 s"), step(0, "0 V"), off(0),
                                      dwell("1 s"), on(0), dwell("5 s"), off(0)});
  const auto& charged = again.rails[0].shortfalls.charged_at_on;
  REQUIRE(charged);
  CHECK(charged->voltage_V == relative(10 * std::exp(-1), 1e-9));
  CHECK(charged->time_s == relative(2, 1e-9));
  const FindingSink sink = predictions(plant, again);
  CHECK(find(sink, "residual-at-on") != nullptr);
  CHECK(find(sink, "cannot-sink") == nullptr);
  CHECK(find(sink, "left-charged") == nullptr);
}

TEST_CASE("remote sense with too little headroom: short by what the leads take above it") {
  SimulationCase plant = on_stairs();
  plant.profile.rails[0].remote_sense = true;
  plant.bench.channels[0].remote_sense = RemoteSense{Volts{number("1 V")}};
  // 1 V across 2 Ohm of leads: 500 mA, and 4 V across 8 Ohm at the load.
  plant.rail({resistor(8)}, 2);
  const Simulation starved = plant.run({limit(0, "2 A"), on(0), step(0, "10 V"), dwell("1 s"), step(0, "0 V")});
  const auto& spent = starved.rails[0].shortfalls.headroom;
  REQUIRE(spent);
  CHECK(spent->shortfall_V == relative(6, 1e-9));
  CHECK(spent->headroom_V == relative(1, 1e-9));
  CHECK(spent->current_A == relative(0.5, 1e-9));
  const FindingSink sink = predictions(plant, starved);
  CHECK(find(sink, "sense-headroom") != nullptr);
  CHECK(find(sink, "not-settled") == nullptr);

  // While a capacitor charges, the terminals may stand at their highest for a moment.
  SimulationCase charging = on_stairs();
  charging.profile.rails[0].remote_sense = true;
  charging.bench.channels[0].remote_sense = RemoteSense{Volts{number("1 V")}};
  charging.rail({capacitor(1e-3), resistor(100)}, 2);
  CHECK(!charging.run({limit(0, "5 A"), on(0), step(0, "10 V"), dwell("1 s")}).rails[0].shortfalls.headroom);
}

// A capacitor of 1 mF at 1 A: 10 V take 10 ms.
TEST_CASE("the delays of a fuse: from what the run takes up to what else would act") {
  SimulationCase plant = on_stairs();
  ProtectionAbilities& can = plant.bench.channels[0].protection;
  can.fuse_delay =
      Placed<SteppedRange<Seconds>>{{{Seconds{number("0 s")}, Seconds{number("10 s")}}, Seconds{number("4 ms")}}, {}};
  plant.rail({capacitor(1e-3)}).fuse("5 ms");
  const auto delays = [&](const Program& program) {
    plant.profile.run = program;
    FindingSink findings;
    const std::optional<Timeline> timeline =
        build_timeline(plant.profile, plant.profile.run, TimelineStart::Off, findings);
    const Table table(plant.profile, plant.bench, *timeline);
    const Simulator simulator(table, nullptr, plant.load);
    const Simulation plain = simulator.run();
    return fuse_delays(table, plain, unprotected(simulator, plain).value_or(plain), {{1, 10}}).at(0);
  };
  const Program program = {limit(0, "1 A"), on(0), step(0, "10 V"), dwell("1 s")};
  const FuseDelays bare = delays(program);
  CHECK(bare.spell_s == relative(10e-3, 1e-9));
  CHECK(bare.shortest_s.value_or(0) == relative(12e-3, 1e-9));
  CHECK(!bare.longest_s);

  // 10 W at most, above 8 W.
  plant.overpower("8 W", "50 ms");
  CHECK(delays(program).longest_s.value_or(0) == relative(48e-3, 1e-9));
  CHECK(delays(program).longest_by == TripCause::Overpower);

  // Where both act at once the trip is by overpower, so the longest delay lies below its delay.
  plant.overpower("8 W", "48 ms");
  CHECK(delays(program).longest_s.value_or(0) == relative(44e-3, 1e-5));
  SimulationCase tie = on_stairs();
  tie.rail({resistor(9)}).fuse("48 ms").overpower("8 W", "48 ms");
  const Program overload = {limit(0, "1 A"), on(0), step(0, "10 V"), dwell("1 s")};
  CHECK(tie.run(overload).rails[0].trip.value().cause == TripCause::Overpower);
  tie.fuse("44 ms");
  CHECK(tie.run(overload).rails[0].trip.value().cause == TripCause::Fuse);
  plant.overpower("8 W", "0 s");
  CHECK(delays(program).longest_s.value_or(1) == 0);

  // In a short 15 W at 12 K/W: from 25 degC towards 205 degC, at 70 degC after 120 s ln(180 / 135); of that 34.5 s the
  // channel can be set to no more than 10 s.
  Thermal thermal;
  thermal.internal_supply = Volts{number("15 V")};
  thermal.resistance = Rational(12);
  thermal.time_constant = Seconds{number("120 s")};
  thermal.ambient = Kelvins{number("298.15 K")};
  thermal.limit = Kelvins{number("343.15 K")};
  plant.bench.channels[0].thermal = thermal;
  plant.protection().overpower.reset();
  CHECK(delays(program).longest_by == TripCause::Overtemperature);
  CHECK(delays(program).longest_s.value_or(0) == relative(10, 1e-9));
  can.fuse_delay->value.range.high = Seconds{number("100 s")};
  // The charge has warmed it by 10 mK.
  CHECK(delays(program).longest_s.value_or(0) == relative(120 * std::log(180.0 / 135), 5e-4));

  // Out of reach of any delay.
  can.fuse_delay->value.range.high = Seconds{number("8 ms")};
  CHECK(!delays(program).shortest_s);
}

// i = V / R exp(-t / RC): the table of Kuphaldt, Vol. I, "Capacitor transient response". Solved for t by hand: a
// current of I lasts R C ln(V / (R I)).
// A dead short lets 4 A flow, 3 A of it through the larger of two members in parallel: 15 V * 3 A * 12 K/W are 540 K,
// of which 45 K are there after 120 s ln(540 / 495) = 10.4413 s. In steps of 4 ms that is 10.440 s.
TEST_CASE("the delay of a fuse ends before its share of a short overheats a member") {
  SupplySpec supply = fine_supply(Interpolation::Hold);
  supply.channels.push_back(supply.channels[0]);
  supply.channels[0].current_high = "1 A";
  supply.channels[1].current_high = "3 A";
  SimulationCase plant({supply});
  plant.bench.combinations.push_back({"both", Arrangement::Parallel, {ChannelId{0}, ChannelId{1}}, {}});
  plant.profile.rails.resize(1);
  plant.profile.rails[0].output = CombinationId{0};
  for (Channel& channel : plant.bench.channels) {
    channel.protection.fuse_delay =
        Placed<SteppedRange<Seconds>>{{{Seconds{}, Seconds{number("100 s")}}, Seconds{number("4 ms")}}, {}};
  }
  Thermal thermal;
  thermal.internal_supply = Volts{number("15 V")};
  thermal.resistance = Rational(12);
  thermal.time_constant = Seconds{number("120 s")};
  thermal.ambient = Kelvins{number("298.15 K")};
  thermal.limit = Kelvins{number("343.15 K")};
  plant.bench.channels[1].thermal = thermal;
  plant.rail({}).fuse("5 ms");
  plant.profile.run = {limit(0, "4 A"), on(0), step(0, "10 V"), dwell("1 s")};
  FindingSink findings;
  const std::optional<Timeline> timeline =
      build_timeline(plant.profile, plant.profile.run, TimelineStart::Off, findings);
  const Table table(plant.profile, plant.bench, *timeline);
  const Simulation plain = simulate(table, nullptr, plant.load);
  const FuseDelays delays = fuse_delays(table, plain, plain, {{4, 40}}).at(0);
  CHECK(delays.longest_by == TripCause::Overtemperature);
  CHECK(delays.longest_s.value_or(0) == relative(10.440, 1e-9));
}

TEST_CASE("the delays of a fuse with a current of its own") {
  SimulationCase plant({fine_supply(Interpolation::Linear)});
  ProtectionAbilities& can = plant.bench.channels[0].protection;
  can.fuse_delay =
      Placed<SteppedRange<Seconds>>{{{Seconds{number("0 s")}, Seconds{number("10 s")}}, Seconds{number("1 ms")}}, {}};
  plant.rail({capacitor(1e-3)}, 10).fuse("5 ms");
  plant.protection().fuse->current = Placed<Amps>{Amps{number("100 mA")}, {}};
  plant.profile.run = {limit(0, "2 A"), on(0), step(0, "10 V"), dwell("1 s")};
  FindingSink findings;
  const std::optional<Timeline> timeline =
      build_timeline(plant.profile, plant.profile.run, TimelineStart::Off, findings);
  const Table table(plant.profile, plant.bench, *timeline);
  const Simulation plain = simulate(table, nullptr, plant.load);
  REQUIRE(plain.rails[0].trip);
  CHECK(plain.rails[0].trip->time_s == relative(5e-3, 1e-9));
  const FuseDelays delays =
      fuse_delays(table, plain, unprotected(Simulator(table, nullptr, plant.load), plain).value(), {{2, 20}}).at(0);
  CHECK(delays.spell_s == relative(10e-3 * std::log(10.0), 1e-9));
  CHECK(delays.shortest_s.value_or(0) == relative(24e-3, 1e-9));
}

// 10 V across 11 Ohm are 100 / 11 W, above the threshold for 1 s of 2 s; the fuse is never in constant current.
TEST_CASE("a power above its threshold is judged by the delay that is left") {
  SimulationCase plant = on_stairs();
  plant.rail({resistor(11)}).fuse("2 s").overpower("8 W", "2 s");
  const Simulation simulation = plant.run({limit(0, "2 A"), on(0), step(0, "10 V"), dwell("1 s")});
  FindingSink findings;
  const std::vector<const Margin*> judged = judged_margins(plant.profile, simulation, findings);
  REQUIRE_FALSE(judged.empty());
  CHECK(judged.front()->kind == MarginKind::OverpowerDelay);
  for (const Margin* margin : judged) CHECK(margin->kind != MarginKind::OverpowerLevel);
  CHECK(margin_of(simulation, MarginKind::OverpowerLevel).margin == relative(8 - 100 / 11.0, 1e-9));
}

TEST_CASE("negative margins come before all, then the share of the limit decides") {
  CHECK(is_tighter(-1, 1000, -0.5, 1) == false);
  CHECK(is_tighter(-1e-6, 1000, 0, 1));
  CHECK_FALSE(is_tighter(0, 1, -1e-6, 1000));
  CHECK(is_tighter(1, 100, 1, 50));
}

// 0.1 A of 1 A are drawn: 90 % are left, which is nothing that anyone asked for, until a rule or expectation does.
TEST_CASE("a current limit is judged where a rule or an expectation asks for the current all through the run") {
  SimulationCase plant = on_stairs();
  plant.rail({resistor(100)});
  const Simulation simulation = plant.run({limit(0, "1 A"), on(0), step(0, "10 V"), dwell("1 s")});
  const FindingSink findings;
  const auto is_limit_judged = [&] {
    const std::vector<const Margin*> judged = judged_margins(plant.profile, simulation, findings);
    return std::any_of(judged.begin(), judged.end(),
                       [](const Margin* margin) { return margin->kind == MarginKind::CurrentLimit; });
  };
  CHECK_FALSE(is_limit_judged());
  Expectation expectation;
  expectation.what = ExpectFigure{Figure::PeakCurrent, RailId{0}, std::nullopt, true, false, {}};
  plant.profile.expectations.push_back(expectation);
  CHECK(is_limit_judged());
  plant.profile.expectations.front().fault = "shorted";  // speaks of another run
  CHECK_FALSE(is_limit_judged());
  plant.profile.expectations.front() = {};
  plant.profile.expectations.front().what = ExpectFigure{Figure::Current, RailId{0}, "up", true, false, {}};
  CHECK_FALSE(is_limit_judged());
  plant.profile.expectations.clear();
  Comparison above;
  above.form.terms.push_back({RailId{0}, Signal::Current, Rational(1)});
  const Condition asks{{}, {{Truth::Compare, above}}};
  plant.profile.rules.push_back({"r", {}, AlwaysRule{asks, std::nullopt}});
  CHECK(is_limit_judged());
  // What the current is out of the phase, or while the premise is false, is nothing that the rule asks for.
  plant.profile.rules.front().phase = Phase{"soak", "end of soak", {}};
  CHECK_FALSE(is_limit_judged());
  plant.profile.rules.front() = {"r", {}, AlwaysRule{asks, asks}};
  CHECK_FALSE(is_limit_judged());
  plant.profile.rules.front() = {"r", {}, BeforeRule{asks, asks}};
  CHECK_FALSE(is_limit_judged());
}

TEST_CASE("a protection that can never act has no margin that is judged") {
  SimulationCase plant = on_stairs();
  plant.rail({resistor(100)}).fuse("2 s").overpower("11 W", "2 s");
  plant.protection().overpower->power.span = {FileId{}, 10, 14};
  plant.protection().fuse->delay.span = {FileId{}, 20, 24};
  const Simulation simulation = plant.run({limit(0, "1 A"), on(0), step(0, "10 V"), dwell("1 s")});
  FindingSink findings;
  findings.report(finding::FuseNeverActs, plant.protection().fuse->delay.span, "r1", "it waits too long");
  // 10 W of 11 W are left, all of the two delays, and 0.9 A of the limit, which does not count.
  CHECK(judged_margins(plant.profile, simulation, findings).front()->kind == MarginKind::OverpowerLevel);
  findings.report(finding::OverpowerNeverActs, plant.protection().overpower->power.span, "r1", Watts{number("11 W")},
                  Watts{number("10 W")});
  for (const Margin* other : judged_margins(plant.profile, simulation, findings)) {
    CHECK_FALSE(row_of(other->kind).trips_by.has_value());
  }
}
