#include "compiler/table/rail_output.h"

#include <algorithm>
#include <numeric>

namespace rampart {
namespace {

// The smallest value that is a whole multiple of both: lcm of the numerators over gcd of the denominators.
Rational common_multiple(const Rational& a, const Rational& b) {
  const auto numerator = std::lcm(static_cast<std::int64_t>(a.numerator()), static_cast<std::int64_t>(b.numerator()));
  const auto denominator =
      std::gcd(static_cast<std::int64_t>(a.denominator()), static_cast<std::int64_t>(b.denominator()));
  return Rational::fraction(numerator, denominator);
}

Rational common_multiple(const std::vector<Rational>& resolutions) {
  Rational common = resolutions.front();
  for (const Rational& resolution : resolutions) common = common_multiple(common, resolution);
  return common;
}

std::int64_t nearest_count(const Rational& value, const Rational& resolution) {
  return static_cast<std::int64_t>((value / resolution).rounded());
}

}  // namespace

Nanoseconds TimeGrid::nearest(Int128 numerator, Int128 denominator) const {
  const Int128 step = resolution.count();
  return Nanoseconds{static_cast<std::int64_t>(divide_rounded(numerator, denominator * step) * step)};
}

RailOutput::RailOutput(const Table& table, RailId rail) {
  const RailSetup& setup = table.rails()[static_cast<std::size_t>(rail)];
  members_ = setup.members;
  arrangement_ = setup.arrangement;
  reversed_ = table.profile()[rail].reversed;
  const Bench& bench = table.bench();
  const Timing timing = bench.timing_of(members_);
  grid_ = {timing.minimum_step, timing.resolution, timing.interpolation};
  for (const ChannelId member : members_) {
    const OutputLimits& limits = bench[member].limits;
    voltage_resolutions_.push_back(limits.voltage_resolution.si);
    current_resolutions_.push_back(limits.current_resolution.si);
    voltage_ranges_.push_back(limits.voltage.value.high.si);
    current_ranges_.push_back(limits.current.value.high.si);
  }
}

void RailOutput::set(const Rational& rail_voltage, const Rational& limit, std::vector<MemberCounts>& counts) const {
  // Connected the other way round, the channels themselves are set to what the rail is below zero.
  const Rational voltage = reversed_ ? -rail_voltage : rail_voltage;
  counts.resize(members_.size());
  if (!arrangement_) {
    counts[0] = {nearest_count(voltage, voltage_resolutions_[0]), nearest_count(limit, current_resolutions_[0])};
  } else {
    const bool series = *arrangement_ == Arrangement::Series;
    const Rational voltage_step = common_multiple(voltage_resolutions_);
    const Rational current_step = common_multiple(current_resolutions_);
    const std::vector<Rational> voltages =
        series ? shares(voltage, voltage_ranges_, voltage_resolutions_)
               : std::vector<Rational>(members_.size(),
                                       Rational::fraction((voltage / voltage_step).rounded(), 1) * voltage_step);
    // A shared limit must not let more current through than was asked for.
    const std::vector<Rational> currents =
        series ? std::vector<Rational>(members_.size(),
                                       Rational::fraction((limit / current_step).floor(), 1) * current_step)
               : shares(limit, current_ranges_, current_resolutions_);
    for (std::size_t i = 0; i < members_.size(); ++i) {
      counts[i] = {nearest_count(voltages[i], voltage_resolutions_[i]),
                   nearest_count(currents[i], current_resolutions_[i])};
    }
  }
}

// Shares go by the members' ranges, rounded down to their counts; what is left over is handed out count by count of the
// finest resolution, in listed order, as far as the ranges permit.
std::vector<Rational> RailOutput::shares(const Rational& total, const std::vector<Rational>& ranges,
                                         const std::vector<Rational>& resolutions) const {
  Rational sum;
  for (const Rational& range : ranges) sum = sum + range;
  const Rational finest = *std::min_element(resolutions.begin(), resolutions.end());
  Rational rest = Rational::fraction((total / finest).rounded(), 1) * finest;
  std::vector<Rational> result;
  for (std::size_t i = 0; i < ranges.size(); ++i) {
    const Rational exact = total * ranges[i] / sum;
    result.push_back(Rational::fraction((exact / resolutions[i]).floor(), 1) * resolutions[i]);
    rest = rest - result.back();
  }
  bool given = true;
  while (rest >= finest && given) {
    given = false;
    for (std::size_t i = 0; i < ranges.size() && rest >= finest; ++i) {
      if (resolutions[i] != finest || result[i] + finest > ranges[i]) continue;
      result[i] = result[i] + finest;
      rest = rest - finest;
      given = true;
    }
  }
  return result;
}

}  // namespace rampart
