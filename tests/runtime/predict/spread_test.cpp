#include <doctest/doctest.h>

#include <cmath>
#include <numeric>

#include "runtime/predict/spread/corners.h"
#include "runtime/predict/spread/sample.h"
#include "runtime/predict/spread/spread_findings.h"
#include "runtime/rail/deviation.h"
#include "tests/support/near.h"
#include "tests/support/simulation_case.h"

using namespace rampart;
using namespace rampart::test;

namespace {

const Program kTenVolts = {limit(0, "3 A"), on(0), step(0, "10 V"), dwell("1 s"), off(0)};

LoadElement loose_resistor(double nominal, double share) {
  return {{}, ResistorElement{{nominal, nominal * (1 - share), nominal * (1 + share)}}};
}

// A plant whose tables live as long as what runs them.
struct Plant {
  SimulationCase plant;
  std::optional<Timeline> timeline;
  std::optional<Table> table;
  std::optional<Simulator> simulator;

  void make(Program program) {
    plant.profile.run = std::move(program);
    FindingSink findings;
    timeline = build_timeline(plant.profile, plant.profile.run, TimelineStart::Off, findings);
    table.emplace(plant.profile, plant.bench, *timeline);
  }
  // Lives until the next one is made.
  [[nodiscard]] spread::Runner runner() {
    simulator.emplace(*table, nullptr, plant.load);
    return spread::Runner(*simulator);
  }
};

// A plant with one rail on two channels.
Plant on_two(Arrangement arrangement) {
  SupplySpec supply = fine_supply(Interpolation::Hold);
  supply.channels.push_back(supply.channels[0]);
  Plant plant;
  plant.plant = SimulationCase({supply});
  plant.plant.bench.combinations.push_back({"both", arrangement, {ChannelId{0}, ChannelId{1}}, {}});
  plant.plant.profile.rails.resize(1);
  plant.plant.profile.rails[0].output = CombinationId{0};
  plant.plant.rail({loose_resistor(10, 0)});
  return plant;
}

std::size_t reading(const spread::Runner& runner, std::string_view name) {
  const auto& readings = runner.ledger().readings();
  for (std::size_t i = 0; i < readings.size(); ++i) {
    if (readings[i].name == name) return i;
  }
  FAIL("no reading " << name);
  return 0;
}

// P(X >= least) of n trials with chance p, from the definition of the binomial distribution.
double at_least(std::int64_t least, std::int64_t n, double p) {
  double sum = 0;
  for (std::int64_t k = least; k <= n; ++k) {
    const double choose = std::lgamma(static_cast<double>(n + 1)) - std::lgamma(static_cast<double>(k + 1)) -
                          std::lgamma(static_cast<double>(n - k + 1));
    sum += std::exp(choose + static_cast<double>(k) * std::log(p) + static_cast<double>(n - k) * std::log1p(-p));
  }
  return sum;
}

}  // namespace

// Ohm's law at the ends: (10 V (1 + 1 %) + 20 mV) / (10 Ohm (1 - 5 %)).
TEST_CASE("corners: the greatest current is the highest voltage over the least resistance") {
  Plant plant;
  plant.plant.rail({loose_resistor(10, 0.05)});
  plant.plant.bench.channels[0].limits.voltage_accuracy = Accuracy<Volts>{number("1 %"), Volts{number("20 mV")}};
  plant.make(kTenVolts);
  const spread::Runner runner = plant.runner();
  REQUIRE(runner.tolerances().size() == 2);
  CHECK(runner.tolerances()[0].name == "resistance of resistor 1 of r1");
  CHECK(runner.tolerances()[0].low == "9.5 Ohm");
  CHECK(runner.tolerances()[1].name == "voltage of s1.ch1");
  CHECK(runner.tolerances()[1].high == "+1 % +20 mV");
  const spread::Corners corners = spread::try_corners(runner);
  CHECK(corners.all);
  CHECK(corners.corners == 4);
  CHECK(corners.failing == 0);
  const spread::CornerReading& peak = corners.readings[reading(runner, "peak current")];
  CHECK(peak.nominal == relative(1, 1e-9));
  CHECK(peak.high->value == relative(10.12 / 9.5, 1e-9));
  CHECK(peak.high->at == Positions{-1, 1});
  CHECK(peak.low->value == relative(9.88 / 10.5, 1e-9));
  CHECK(peak.low->at == Positions{1, -1});
  const spread::CornerReading& voltage = corners.readings[reading(runner, "peak voltage")];
  CHECK(voltage.high->value == relative(10.12, 1e-12));
  // The resistor makes no difference to it.
  CHECK(voltage.high->at == Positions{0, 1});
}

// The limit of 1.02 A is passed by 10 V over less than 9.804 Ohm: in the corner of 9.5 Ohm alone, at (0 s + 20 ms).
TEST_CASE("corners: a trip in a corner is an error that names what brings it") {
  Plant plant;
  plant.plant.rail({loose_resistor(10, 0.05), {{}, CapacitorElement{{1e-9, 0.9e-9, 1.1e-9}, {}, {}, 0}}});
  plant.plant.fuse("20 ms");
  plant.make({limit(0, "1.02 A"), on(0), step(0, "10 V"), dwell("1 s"), off(0)});
  const spread::Runner runner = plant.runner();
  const spread::Corners corners = spread::try_corners(runner);
  CHECK(corners.failing == 2);
  REQUIRE(corners.failures.size() == 1);
  CHECK(corners.failures[0].corners == 2);
  CHECK(corners.failures[0].at == Positions{-1, 0});
  FindingSink findings;
  spread::report_corners(runner, corners, findings);
  REQUIRE(findings.findings().size() == 1);
  CHECK(
      findings.findings()[0].message ==
      "rail `r1` trips: electronic fuse at 20 ms in 2 of 4 corners, as with resistance of resistor 1 of r1 at 9.5 Ohm");
}

TEST_CASE("corners: protections are off by what the bench says") {
  Plant plant;
  plant.plant.rail({loose_resistor(10, 0)}).fuse("20 ms").overvoltage("12 V");
  plant.plant.bench.channels[0].protection.overvoltage_accuracy =
      Accuracy<Volts>{number("1 %"), Volts{number("80 mV")}};
  plant.plant.bench.channels[0].protection.fuse_delay_accuracy =
      Accuracy<Seconds>{number("10 %"), Seconds{number("1 ms")}};
  plant.make(kTenVolts);
  const spread::Runner runner = plant.runner();
  const spread::Corners corners = spread::try_corners(runner);
  CHECK(corners.readings[reading(runner, "overvoltage protection")].low->value == relative(1.8, 1e-9));
  CHECK(corners.readings[reading(runner, "fuse")].low->value == relative(0.017, 1e-9));
  CHECK(corners.readings[reading(runner, "fuse")].high->value == relative(0.023, 1e-9));
}

TEST_CASE("corners: thresholds of channels in series are off by the sum of their offsets") {
  Plant plant = on_two(Arrangement::Series);
  plant.plant.overvoltage("12 V");
  plant.plant.bench.channels[0].protection.overvoltage_accuracy =
      Accuracy<Volts>{number("1 %"), Volts{number("80 mV")}};
  plant.plant.bench.channels[1].protection.overvoltage_accuracy =
      Accuracy<Volts>{number("1 %"), Volts{number("50 mV")}};
  plant.make(kTenVolts);
  const spread::Runner runner = plant.runner();
  const spread::Corners corners = spread::try_corners(runner);
  // 6 V each: 60 mV + 80 mV and 60 mV + 50 mV too low are 250 mV of the 2 V.
  CHECK(corners.readings[reading(runner, "overvoltage protection")].low->value == relative(1.75, 1e-9));
  CHECK(corners.readings[reading(runner, "overvoltage protection")].high->value == relative(2.25, 1e-9));
}

TEST_CASE("corners: of fuses in parallel the one that is off most counts") {
  Plant plant = on_two(Arrangement::Parallel);
  plant.plant.fuse("20 ms");
  plant.plant.bench.channels[0].protection.fuse_delay_accuracy =
      Accuracy<Seconds>{Rational(0), Seconds{number("1 ms")}};
  plant.plant.bench.channels[1].protection.fuse_delay_accuracy =
      Accuracy<Seconds>{Rational(0), Seconds{number("2 ms")}};
  plant.make(kTenVolts);
  const spread::Runner runner = plant.runner();
  const spread::Corners corners = spread::try_corners(runner);
  CHECK(corners.readings[reading(runner, "fuse")].low->value == relative(0.018, 1e-9));
  CHECK(corners.readings[reading(runner, "fuse")].high->value == relative(0.022, 1e-9));
}

TEST_CASE("corners: a tolerance may be wider on one side, and an error is no larger than what it is of") {
  Plant plant;
  plant.plant.rail({{{}, ResistorElement{{10, 8, 10.5}}}});
  plant.make(kTenVolts);
  const spread::Runner runner = plant.runner();
  const spread::Corners corners = spread::try_corners(runner);
  CHECK(corners.readings[reading(runner, "peak current")].high->value == relative(10 / 8.0, 1e-9));
  CHECK(corners.readings[reading(runner, "peak current")].low->value == relative(10 / 10.5, 1e-9));
  // 5 mV with an error of 10 mV are 0 V to 10 mV, and 0 V stays 0 V.
  CHECK(deviated(5e-3, {0, -10e-3}) == 0);
  CHECK(deviated(5e-3, {0, 10e-3}) == relative(10e-3, 1e-12));
  CHECK(deviated(0, {0.01, 10e-3}) == 0);
}

TEST_CASE("corners: channels in parallel have the voltage of the first, with its error alone") {
  Plant plant = on_two(Arrangement::Parallel);
  plant.plant.bench.channels[0].limits.voltage_accuracy = Accuracy<Volts>{number("1 %"), Volts{}};
  plant.plant.bench.channels[1].limits.voltage_accuracy = Accuracy<Volts>{number("3 %"), Volts{}};
  plant.make(kTenVolts);
  const spread::Runner runner = plant.runner();
  REQUIRE(runner.tolerances().size() == 1);
  const spread::Corners corners = spread::try_corners(runner);
  CHECK(corners.readings[reading(runner, "peak voltage")].high->value == relative(10.1, 1e-9));
  CHECK(corners.readings[reading(runner, "peak voltage")].low->value == relative(9.9, 1e-9));
}

TEST_CASE("corners: beyond 4,096 a seeded sample, the same for any number of threads") {
  Plant plant;
  std::vector<LoadElement> elements;
  for (int i = 0; i < 13; ++i) elements.push_back(loose_resistor(130, 0.1));
  plant.plant.rail(std::move(elements));
  plant.make(kTenVolts);
  const spread::Runner runner = plant.runner();
  const spread::Corners one = spread::try_corners(runner, Job{.threads = 1});
  CHECK_FALSE(one.all);
  CHECK(one.corners == spread::kSampledCorners);
  const std::size_t peak = reading(runner, "peak current");
  // Parallel resistors add their currents: all low is among the corners of any sample.
  CHECK(one.readings[peak].high->value == relative(10 * 13 / 117.0, 1e-9));
  for (const unsigned threads : {2U, 7U}) {
    const spread::Corners many = spread::try_corners(runner, Job{.threads = threads});
    for (std::size_t i = 0; i < one.readings.size(); ++i) {
      CHECK(one.readings[i].high->value == many.readings[i].high->value);
      CHECK(one.readings[i].high->at == many.readings[i].high->at);
      CHECK(one.readings[i].low->value == many.readings[i].low->value);
    }
  }
}

// Energy V^2 t / R with 1 / R from 1/11 to 1/9: quantiles of an even spread of R, turned over.
TEST_CASE("sample: percentiles of a figure follow the spread of its cause") {
  Plant plant;
  plant.plant.rail({loose_resistor(10, 0.1)});
  plant.make(kTenVolts);
  const spread::Runner runner = plant.runner();
  const spread::Sample sample = spread::try_sample(runner, {4000, 1});
  const spread::Spread& energy = sample.readings[reading(runner, "energy")].spread;
  CHECK(energy.runs == 4000);
  // An error of a quantile is about sqrt(p (1 - p) / n) of the range: 0.8 % of 2 Ohm for the median. Five times that.
  CHECK(energy.p50 == relative(10, 0.008));
  CHECK(energy.p5 == relative(100 / 10.9, 0.004));
  CHECK(energy.p95 == relative(100 / 9.1, 0.004));
  CHECK(energy.least >= 100 / 11.0);
  CHECK(energy.most <= 100 / 9.0);
  // E(1/R) of an even spread: ln(11 / 9) / 2.
  CHECK(energy.mean == relative(100 * std::log(11 / 9.0) / 2, 0.005));
  const spread::Sample threads = spread::try_sample(runner, {4000, 1}, Job{.threads = 5});
  CHECK(threads.readings[reading(runner, "energy")].spread.p50 == energy.p50);
  const spread::Sample other = spread::try_sample(runner, {4000, 2});
  CHECK(other.readings[reading(runner, "energy")].spread.p50 != energy.p50);
}

// 1 A through R trips where R < 9.5 Ohm, a quarter of 9 … 11 Ohm.
TEST_CASE("sample: the share that trips lies in its confidence interval") {
  Plant plant;
  plant.plant.rail({loose_resistor(10, 0.1)}).fuse("20 ms");
  plant.make({limit(0, "1.0526315 A"), on(0), step(0, "10 V"), dwell("1 s"), off(0)});
  const spread::Sample sample = spread::try_sample(plant.runner(), {2000, 1});
  REQUIRE(sample.trips.size() == 1);
  CHECK(sample.trips[0].low < 0.25);
  CHECK(sample.trips[0].high > 0.25);
  CHECK(sample.failing.runs == sample.trips[0].runs);
}

// Clopper and Pearson 1934: the bounds are where the binomial distribution has 2.5 % beyond what was seen. For none of
// n the upper one is 1 - 0.025^(1/n).
TEST_CASE("sample: exact confidence intervals") {
  CHECK(spread::share_of(0, 100).low == 0);
  CHECK(spread::share_of(0, 100).high == relative(1 - std::pow(0.025, 0.01), 1e-9));
  CHECK(spread::share_of(100, 100).high == 1);
  CHECK(spread::share_of(100, 100).low == relative(std::pow(0.025, 0.01), 1e-9));
  const spread::Share share = spread::share_of(12, 1000);
  CHECK(at_least(12, 1000, share.low) == relative(0.025, 1e-6));
  CHECK(1 - at_least(13, 1000, share.high) == relative(0.025, 1e-6));
}

// Hyndman and Fan 1996, type 7: the value at 1 + (n - 1) p, between neighbours in proportion.
TEST_CASE("sample: quantiles between values") {
  const std::vector<double> values{1, 2, 4, 8};
  CHECK(spread::quantile(values, 0) == 1);
  CHECK(spread::quantile(values, 0.5) == 3);
  CHECK(spread::quantile(values, 0.95) == relative(4 + 0.85 * 4, 1e-9));
  CHECK(spread::quantile(values, 1) == 8);
}
