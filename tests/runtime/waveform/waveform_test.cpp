#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "runtime/waveform/condense.h"
#include "runtime/waveform/waveform_csv.h"
#include "tests/support/load_elements.h"
#include "tests/support/near.h"
#include "tests/support/simulation_case.h"
#include "tests/support/string_sink.h"

using namespace rampart;
using namespace rampart::test;

namespace {

constexpr auto kLoad = static_cast<std::size_t>(WaveQuantity::LoadVoltage);
constexpr auto kCurrent = static_cast<std::size_t>(WaveQuantity::Current);
constexpr auto kPower = static_cast<std::size_t>(WaveQuantity::Power);

std::vector<WaveSample> all_samples(const RailWaveform& rail) {
  std::vector<WaveSample> samples;
  WaveCursor cursor(rail);
  while (const auto sample = cursor.next()) samples.push_back(*sample);
  return samples;
}

const Program kCycle = {ramp(0, "12 V", "50 ms"), dwell("200 ms"), ramp(0, "0 V", "50 ms"), dwell("100 ms")};

SimulationCase cycled_plant() {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({capacitor(1e-3, 50e-3), resistor(24)}, 10e-3);
  return plant;
}

Program cycles(int count) {
  return {limit(0, "600 mA"), on(0), repeat(count, kCycle)};
}

}  // namespace

// 15 V, 10 kOhm, 100 uF: T. R. Kuphaldt, Lessons in Electric Circuits, Vol. I, "Capacitor transient response".
TEST_CASE("a recorded charge of a capacitor follows the handbook and its closed form") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({capacitor(100e-6)}, 10e3);
  const Waveforms waveforms = simulated.record({limit(0, "1 A"), on(0), step(0, "15 V"), dwell("10 s")});
  const RailWaveform& rail = waveforms.rails[0];
  CHECK(rail.error[kLoad] == relative(15 * kWaveError, 1e-9));
  const double table[][3] = {{0.5, 5.902, 909.8e-6}, {1, 9.482, 551.8e-6},  {2, 12.970, 203.0e-6},
                             {3, 14.253, 74.68e-6},  {4, 14.725, 27.47e-6}, {6, 14.963, 3.718e-6}};
  for (const auto& [time, volts, amps] : table) {
    const WaveValues values = values_at(rail, time).value();
    CHECK(std::abs(values[kLoad] - volts) <= rail.error[kLoad] + 5e-4);
    CHECK(std::abs(values[kCurrent] - amps) <= rail.error[kCurrent] + 5e-8);
  }
  // v = V (1 - exp(-t / RC)), i = V / R exp(-t / RC), RC = 1 s.
  for (int i = 0; i < 10'000; ++i) {
    const double time = 1e-3 * i;
    const WaveValues values = values_at(rail, time).value();
    const double left = std::exp(-time);
    CHECK(std::abs(values[kLoad] - 15 * (1 - left)) <= rail.error[kLoad] * (1 + 1e-9));
    CHECK(std::abs(values[kCurrent] - 1.5e-3 * left) <= rail.error[kCurrent] * (1 + 1e-9));
    CHECK(std::abs(values[kPower] - 22.5e-3 * left) <= rail.error[kPower] * (1 + 1e-9));
  }
  // Chords of equal error need an integral over sqrt(|v''| / 8 e): 2 / sqrt(8 e) of them, here 32, with half the error
  // 45, and halving may take twice that.
  CHECK(all_samples(rail).size() < 110);
}

TEST_CASE("a run that is recorded is the same run") {
  SimulationCase plant = cycled_plant();
  const Simulation plain = plant.run(cycles(1000));
  const Waveforms waveforms = plant.record(cycles(1000));
  CHECK(plant.recorded.rails[0].energy_J == plain.rails[0].energy_J);
  CHECK(plant.recorded.events.size() == plain.events.size());
  CHECK(plant.recorded.duration_s == plain.duration_s);
}

TEST_CASE("folded passes read as passes that are written out") {
  SimulationCase plant = cycled_plant();
  constexpr int kPasses = 7;  // of more that are written out, the last ones are left out of the recording
  const Waveforms folded = plant.record(cycles(kPasses));
  Program written = {limit(0, "600 mA"), on(0)};
  for (int i = 0; i < kPasses; ++i) written.insert(written.end(), kCycle.begin(), kCycle.end());
  const Waveforms straight = plant.record(written);
  REQUIRE_FALSE(straight.left_out_from);
  const auto is_repeat = [](const WaveNode& node) { return std::holds_alternative<WaveRepeat>(node.what); };
  const std::vector<WaveNode>& nodes = folded.rails[0].nodes;
  CHECK(std::count_if(nodes.begin(), nodes.end(), is_repeat) == 1);
  for (int i = 1; i < kPasses * 400; ++i) {
    const double time = 1e-3 * i + 3.7e-7;
    const WaveValues a = values_at(folded.rails[0], time).value();
    const WaveValues b = values_at(straight.rails[0], time).value();
    for (std::size_t q = 0; q < kWaveQuantities; ++q) {
      CHECK(std::abs(a[q] - b[q]) <= 2 * folded.rails[0].error[q] * (1 + 1e-6));
    }
  }
}

TEST_CASE("a recording grows with the text and not with the hours") {
  SimulationCase plant = cycled_plant();
  const Waveforms few = plant.record(cycles(100));
  const Waveforms many = plant.record(cycles(10'000'000));
  CHECK(few.rails[0].nodes.size() == many.rails[0].nodes.size());
  CHECK_FALSE(many.left_out_from);
  const WaveNode& last = many.rails[0].nodes.back();
  CHECK(last.begin + last.length == relative(4e6, 1e-14));
  // One pass late in the run is as one early.
  const WaveValues early = values_at(few.rails[0], 20 * 0.4 + 0.123).value();
  const WaveValues late = values_at(many.rails[0], 9'000'000 * 0.4 + 0.123).value();
  for (std::size_t q = 0; q < kWaveQuantities; ++q) CHECK(late[q] == relative(early[q], 1e-6));
}

TEST_CASE("pulses of a load between two rows are folded too") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({pulses(0.5, 0.2, 1.0), resistor(10)});
  const Waveforms waveforms = simulated.record({limit(0, "10 A"), on(0), step(0, "5 V"), dwell("10000 s")});
  CHECK(waveforms.rails[0].nodes.size() < 10);
  // 0.5 A through 10 Ohm, and 0.5 A more for 0.2 s of each second.
  for (const double second : {2.0, 500.0, 9990.0}) {
    CHECK(values_at(waveforms.rails[0], second + 0.1).value()[kCurrent] == relative(1.0, 1e-9));
    CHECK(values_at(waveforms.rails[0], second + 0.6).value()[kCurrent] == relative(0.5, 1e-9));
  }
}

TEST_CASE("every event is at a sample, and samples go forward") {
  SimulationCase plant = cycled_plant();
  const Waveforms waveforms = plant.record(cycles(3));
  const std::vector<WaveSample> samples = all_samples(waveforms.rails[0]);
  CHECK(std::is_sorted(samples.begin(), samples.end(), [](const auto& a, const auto& b) { return a.time < b.time; }));
  CHECK(samples.front().time == 0);
  CHECK(samples.back().time == relative(1.2, 1e-14));
  for (const Event& event : plant.recorded.events) {
    if (event.kind == EventKind::Passes) continue;
    CAPTURE(event.time_s);
    CHECK(std::any_of(samples.begin(), samples.end(),
                      [&](const WaveSample& sample) { return std::abs(sample.time - event.time_s) < 1e-12; }));
  }
}

TEST_CASE("the range of a window is that of its samples") {
  SimulationCase plant = cycled_plant();
  const RailWaveform rail = plant.record(cycles(40)).rails[0];
  const std::vector<WaveSample> samples = all_samples(rail);
  for (const auto& [from, to] : {std::pair{0.0, 16.0}, {0.41, 0.43}, {1.0, 13.3}, {5.05, 5.0501}, {15.9, 20.0}}) {
    WaveRange wanted{values_at(rail, from).value(), values_at(rail, from).value()};
    if (to <= 16) wanted.include(values_at(rail, to).value());
    for (const WaveSample& sample : samples) {
      if (from < sample.time && sample.time < to) wanted.include(sample.values);
    }
    const WaveRange found = range_between(rail, from, to).value();
    for (std::size_t q = 0; q < kWaveQuantities; ++q) {
      CHECK(found.low[q] == relative(wanted.low[q], 1e-6));
      CHECK(found.high[q] == relative(wanted.high[q], 1e-6));
    }
  }
  CHECK_FALSE(range_between(rail, 17, 18));
}

TEST_CASE("a run that never repeats is condensed to bands that hold all of it") {
  SimulationCase plant({fine_supply(Interpolation::Linear)});
  plant.rail({capacitor(1e-3, 50e-3), resistor(24)}, 10e-3);
  // Each pass a little higher than the one before.
  Program program = {limit(0, "600 mA"), on(0)};
  for (int pass = 0; pass < 1500; ++pass) {
    program.push_back(ramp(0, std::to_string(5000 + 2 * pass) + " mV", "301 ms"));
    program.push_back(dwell("403 ms"));
    program.push_back(ramp(0, "1 V", "97 ms"));
    program.push_back(dwell("51 ms"));
  }
  const RailWaveform fine = plant.record(program).rails[0];
  const Waveforms condensed = plant.record(program, WaveOverflow::Condense);
  const RailWaveform& drawn = condensed.rails[0];
  REQUIRE(weight_of(fine.nodes) > kMaxDrawnSamples);
  CHECK_FALSE(condensed.left_out_from);
  CHECK(weight_of(drawn.nodes) <= kMaxDrawnSamples);
  CHECK(weight_of(drawn.nodes) > kMaxDrawnSamples / 10);
  // Without gaps, to the end.
  double reached = 0;
  for (const WaveNode& node : drawn.nodes) {
    CHECK(node.begin == relative(reached, 1e-12));
    reached = node.begin + node.length;
  }
  CHECK(reached == relative(plant.recorded.duration_s, 1e-12));
  // Each window holds what the fine recording has there, and the whole run no more than that.
  for (double from = 0; from < reached - 1; from += 7.31) {
    for (const double width : {1e-3, 0.09, 1.0}) {
      const WaveRange wide = range_between(drawn, from, from + width).value();
      const WaveRange narrow = range_between(fine, from, from + width).value();
      for (std::size_t q = 0; q < kWaveQuantities; ++q) {
        CHECK(wide.low[q] <= narrow.low[q] + 2 * fine.error[q]);
        CHECK(wide.high[q] >= narrow.high[q] - 2 * fine.error[q]);
      }
    }
  }
  const WaveRange all = range_between(drawn, 0, reached).value();
  const WaveRange known = range_between(fine, 0, reached).value();
  for (std::size_t q = 0; q < kWaveQuantities; ++q) CHECK(std::abs(all.high[q] - known.high[q]) <= 2 * fine.error[q]);
}

TEST_CASE("passes that are alike after a long run that was condensed are held once") {
  SimulationCase plant({fine_supply(Interpolation::Linear)});
  plant.rail({capacitor(1e-3, 50e-3), resistor(24)}, 10e-3);
  Program program = {limit(0, "600 mA"), on(0)};
  for (int pass = 0; pass < 3000; ++pass) {
    program.push_back(ramp(0, std::to_string(3000 + 2 * pass) + " mV", "301 ms"));
    program.push_back(ramp(0, "1 V", "297 ms"));
  }
  program.push_back(repeat(1'000'000, kCycle));
  const Waveforms condensed = plant.record(program, WaveOverflow::Condense);
  const RailWaveform& rail = condensed.rails[0];
  CHECK(weight_of(rail.nodes) <= kMaxDrawnSamples);
  CHECK(std::holds_alternative<WaveBand>(rail.nodes.front().what));
  CHECK(std::any_of(rail.nodes.begin(), rail.nodes.end(), [](const WaveNode& node) {
    const auto* repeat = std::get_if<WaveRepeat>(&node.what);
    return repeat != nullptr && repeat->count > 900'000;
  }));
  const double late = 3000 * 0.598 + 700'000 * 0.4;
  const WaveRange pass = range_between(rail, late, late + 0.4).value();
  CHECK(pass.high[kLoad] == relative(12 - 0.01 * 12.0 / 24, 1e-3));
}

TEST_CASE("courses as CSV: rows in order of time, both sides of a jump, plain decimals") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({resistor(10)});
  const Waveforms waveforms =
      simulated.record({limit(0, "1 A"), on(0), dwell("1 s"), step(0, "5 V"), dwell("1 s"), off(0), dwell("1 s")});
  StringSink sink;
  CHECK_FALSE(write_waveform_csv(simulated.profile, waveforms, sink));
  // Ohm's law: 5 V, 0.5 A, 2.5 W.
  CHECK(sink.text() ==
        "time_s,rail,setpoint_V,limit_A,terminal_V,load_V,current_A,power_W\n"
        "0.000000000,r1,0.0000,1.00000,0.0000,0.0000,0.00000,0.0000\n"
        "1.000000000,r1,0.0000,1.00000,0.0000,0.0000,0.00000,0.0000\n"
        "1.000000000,r1,5.0000,1.00000,5.0000,5.0000,0.50000,2.5000\n"
        "2.000000000,r1,5.0000,1.00000,5.0000,5.0000,0.50000,2.5000\n"
        "2.000000000,r1,0.0000,0.00000,0.0000,0.0000,0.00000,0.0000\n"
        "3.000000000,r1,0.0000,0.00000,0.0000,0.0000,0.00000,0.0000\n");
  // A jump at the very end has no time behind it.
  StringSink at_end;
  const Waveforms ended = simulated.record({limit(0, "1 A"), on(0), dwell("1 s"), step(0, "5 V")});
  CHECK_FALSE(write_waveform_csv(simulated.profile, ended, at_end));
  CHECK(at_end.text() ==
        "time_s,rail,setpoint_V,limit_A,terminal_V,load_V,current_A,power_W\n"
        "0.000000000,r1,0.0000,1.00000,0.0000,0.0000,0.00000,0.0000\n"
        "1.000000000,r1,0.0000,1.00000,0.0000,0.0000,0.00000,0.0000\n"
        "1.000000000,r1,5.0000,1.00000,5.0000,5.0000,0.50000,2.5000\n");
}
