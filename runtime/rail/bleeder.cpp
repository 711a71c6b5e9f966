#include "runtime/rail/bleeder.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "runtime/rail/discharge.h"
#include "runtime/rail/load_parts.h"

namespace rampart {
namespace {

// What a bleeder is asked to take at most, W: a resistor that one has. Common practice, no source.
constexpr double kBleederWatts = 10;
// IEC 60063, E24, from 100 mOhm to 9.1 MOhm.
constexpr std::array<int, 24> kSeries{10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30,
                                      33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91};
constexpr std::size_t kDecades = 8;
constexpr std::size_t kValues = kDecades * kSeries.size();

double value_of(std::size_t index) {
  const std::size_t decade = index / kSeries.size();
  return kSeries[index % kSeries.size()] * std::pow(10.0, static_cast<double>(decade) - 2);
}

std::optional<double> time_with(const Discharge& discharge, double resistance) {
  RailLoad load = discharge.from.load;
  load.elements.push_back({{}, ResistorElement{{resistance, resistance, resistance}}});
  const auto circuit = circuit_of(&load, discharge.from.output, discharge.from.output_voltage);
  circuit->set(discharge.setting);
  circuit->settle();
  return time_to_fall(*circuit, discharge.level, discharge.at_load);
}

}  // namespace

// The time rises with the resistance.
std::optional<Bleeder> find_bleeder(const Discharge& discharge) {
  const double volts = discharge.from.output_voltage;
  std::size_t low = 0;
  while (low < kValues && value_of(low) * kBleederWatts < volts * volts) ++low;
  if (low == kValues) return std::nullopt;
  std::optional<Bleeder> best;
  for (std::size_t high = kValues; low < high;) {
    const std::size_t middle = best ? low + (high - low) / 2 : low;
    const std::optional<double> time = time_with(discharge, value_of(middle));
    const bool is_in_time = time && *time <= discharge.within_s;
    if (time && (is_in_time || !best)) best = Bleeder{value_of(middle), *time};
    if (!best || (!is_in_time && middle == low)) return best;
    (is_in_time ? low : high) = is_in_time ? middle + 1 : middle;
  }
  return best;
}

}  // namespace rampart
