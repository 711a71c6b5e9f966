#include "compiler/bench/shares.h"

#include <doctest/doctest.h>

#include <random>

#include "compiler/table/setup.h"
#include "tests/support/program_builder.h"

using namespace rampart;
using namespace rampart::test;

namespace {

ChannelSpec channel(const std::string& name, const std::string& volts, const std::string& amps) {
  ChannelSpec spec;
  spec.name = name;
  spec.voltage_high = "24 V";
  spec.voltage_resolution = volts;
  spec.current_high = "2.5 A";
  spec.current_resolution = amps;
  return spec;
}

Bench bench_of(const std::vector<ChannelSpec>& channels) {
  SupplySpec supply;
  supply.channels = channels;
  return make_bench({supply});
}

std::vector<ChannelId> all_of(const Bench& bench) {
  std::vector<ChannelId> ids;
  for (std::size_t i = 0; i < bench.channels.size(); ++i) ids.push_back(ChannelId{static_cast<std::uint32_t>(i)});
  return ids;
}

std::vector<std::int64_t> voltages(const Shares& shares, std::size_t members, const Rational& total) {
  std::vector<MemberCounts> counts(members);
  shares.set_voltage(total, counts);
  std::vector<std::int64_t> result;
  for (const MemberCounts& member : counts) result.push_back(member.voltage);
  return result;
}

std::vector<std::int64_t> currents(const Shares& shares, std::size_t members, const Rational& total) {
  std::vector<MemberCounts> counts(members);
  shares.set_current(total, counts);
  std::vector<std::int64_t> result;
  for (const MemberCounts& member : counts) result.push_back(member.current);
  return result;
}

Rational milli(std::int64_t value) {
  return Rational::fraction(value, 1000);
}

}  // namespace

TEST_CASE("members in series are set from the coarsest to the finest, each with what is left over") {
  // By hand: 12.36 V are 3.09 V each. 3.09 -> 3.1 leaves -10 mV; 3.08 -> 3.1 leaves -20 mV; 3.07 -> 3.1 leaves -30 mV;
  // the one with 1 mV gets 3.06 V. All stay below their quarter, 3.3 V, of a threshold of 13.2 V.
  const Bench bench = bench_of({channel("a", "100 mV", "10 mA"), channel("b", "100 mV", "10 mA"),
                                channel("c", "100 mV", "10 mA"), channel("d", "1 mV", "1 mA")});
  const Shares shares(bench, all_of(bench), Arrangement::Series);
  CHECK(voltages(shares, 4, milli(12'360)) == std::vector<std::int64_t>{31, 31, 31, 3060});
  CHECK(shares.settable_voltage(milli(12'360)) == milli(12'360));
  CHECK(shares.of_voltage(3) == Rational::fraction(1, 4));
  // At the top nobody is sent beyond it: 95.999 V are 23.99975 V each.
  CHECK(voltages(shares, 4, milli(95'999)) == std::vector<std::int64_t>{240, 240, 240, 23'999});
  // By hand: 48.1 V are 481 steps of 100 mV, 240 and 241; but none goes beyond its 24.05 V.
  std::vector<ChannelSpec> uneven{channel("a", "100 mV", "10 mA"), channel("b", "100 mV", "10 mA")};
  for (ChannelSpec& one : uneven) one.voltage_high = "24.05 V";
  const Bench above = bench_of(uneven);
  CHECK(voltages(Shares(above, all_of(above), Arrangement::Series), 2, milli(48'100)) ==
        std::vector<std::int64_t>{240, 240});
}

TEST_CASE("one limit in series goes down to what all members can be set to") {
  // 995 mA in the common steps of 10 mA.
  const Bench bench = bench_of({channel("a", "100 mV", "10 mA"), channel("b", "1 mV", "1 mA")});
  const Shares shares(bench, all_of(bench), Arrangement::Series);
  CHECK(currents(shares, 2, milli(995)) == std::vector<std::int64_t>{99, 990});
  CHECK(shares.settable_current(milli(995)) == milli(990));
  // 15 mA and 10 mA have 30 mA in common.
  const Bench odd = bench_of({channel("a", "10 mV", "10 mA"), channel("b", "10 mV", "15 mA")});
  const Shares uneven(odd, all_of(odd), Arrangement::Series);
  CHECK(uneven.current_step() == milli(30));
  CHECK(currents(uneven, 2, milli(70)) == std::vector<std::int64_t>{6, 4});
}

TEST_CASE("members in parallel share the current and stand at one voltage") {
  // 1.005 A are 502.5 mA each: 500 mA in 10 mA, which leaves 2.5 mA; 505 mA for the other.
  const Bench bench = bench_of({channel("a", "100 mV", "10 mA"), channel("b", "1 mV", "1 mA")});
  const Shares shares(bench, all_of(bench), Arrangement::Parallel);
  CHECK(currents(shares, 2, milli(1'005)) == std::vector<std::int64_t>{50, 505});
  // 5.07 V in the common steps of 100 mV.
  CHECK(voltages(shares, 2, milli(5'070)) == std::vector<std::int64_t>{51, 5'100});
  CHECK(shares.of_voltage(0) == Rational(1));
  CHECK(shares.of_current(0) == Rational::fraction(1, 2));
  CHECK(shares.of_power(0) == Rational::fraction(1, 2));
}

TEST_CASE("counts without a common multiple that fits can be set to nothing in common") {
  // The numerators are coprime and their product exceeds 128 bits.
  std::vector<ChannelSpec> channels;
  for (const char* width : {"999999937 nA", "999999929 nA", "999999893 nA", "999999883 nA", "999999797 nA"}) {
    channels.push_back(channel("c" + std::to_string(channels.size()), "10 mV", width));
  }
  const Bench bench = bench_of(channels);
  const Shares shares(bench, all_of(bench), Arrangement::Series);
  CHECK(shares.current_step().overflowed());
  CHECK(shares.settable_current(Rational(1)) == Rational(0));
}

TEST_CASE("any total is met to half a count of the finest, and no member is far from its share") {
  // What docs/bench.md promises, tried on totals and counts drawn at random.
  std::mt19937 draw(7);
  const std::vector<std::string> widths = {"1 mV", "2 mV", "10 mV", "25 mV", "100 mV"};
  for (int trial = 0; trial < 2000; ++trial) {
    CAPTURE(trial);
    std::vector<ChannelSpec> channels;
    const std::size_t members = 2 + draw() % 4;
    for (std::size_t i = 0; i < members; ++i) {
      channels.push_back(channel("c" + std::to_string(i), widths[draw() % widths.size()], "1 mA"));
      channels.back().voltage_high = draw() % 2 == 0 ? "24 V" : "12 V";
    }
    const Bench bench = bench_of(channels);
    const Shares shares(bench, all_of(bench), Arrangement::Series);
    Rational top;
    Rational coarsest;
    Rational finest(1);
    for (const Channel& one : bench.channels) {
      top = top + one.limits.voltage.value.high.si;
      coarsest = std::max(coarsest, one.limits.voltage_resolution.si);
      finest = std::min(finest, one.limits.voltage_resolution.si);
    }
    const Rational highest = top * Rational::fraction(draw() % 1'000'001, 1'000'000);
    const Rational total = highest * Rational::fraction(draw() % 1'001, 1'000);
    const std::vector<std::int64_t> counts = voltages(shares, members, total);
    CHECK(abs(shares.settable_voltage(total) - total) <= finest / Rational(2));
    for (std::size_t i = 0; i < members; ++i) {
      const OutputLimits& limits = bench.channels[i].limits;
      const Rational set = Rational(counts[i]) * limits.voltage_resolution.si;
      CHECK(limits.voltage.value.contains(Volts{set}));
      const Rational away = abs(set - total * shares.of_voltage(i));
      CHECK(away <= coarsest / Rational(2) + limits.voltage_resolution.si);
      CHECK(set <= shares.highest_voltage(i, highest));
    }
  }
}
