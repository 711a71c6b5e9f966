#include "runtime/rail/rail_record.h"

#include <algorithm>
#include <cmath>
#include <string>

namespace rampart {
namespace {

// Peaks that differ by less of their size are one: what is solved in steps comes back to a limit by rounding.
constexpr double kSamePeak = 1e-9;
// Less than this (J) is nothing: an error is relative to more.
constexpr double kLeastEnergy = 1e-12;

double same_peak(const Peak& peak) {
  return 1e-12 * std::abs(peak.value) + 1e-15;
}

// The greater of two peaks; of equal ones the earlier.
void raise_peak(Peak& peak, const circuit::Curve& curve, const Instant& from, double length, const Doing& doing) {
  const auto found = circuit::maximum_above(curve, peak.value, same_peak(peak));
  if (!found) return;
  const bool is_same = peak.value > 0 && found->value - peak.value <= kSamePeak * peak.value;
  peak.value = found->value;
  if (!is_same) peak = {found->value, from.plus_seconds(found->time * length).seconds(), doing.statement, doing.passes};
}

}  // namespace

void MarkReadings::read(std::string_view mark, double voltage, double current) {
  const auto place = places_.find(mark);
  if (place == places_.end()) {
    places_.emplace(mark, all_.size());
    all_.push_back({std::string(mark), voltage, voltage, current, current, 1});
    return;
  }
  MarkReading& reading = all_[place->second];
  reading.low_voltage_V = std::min(reading.low_voltage_V, voltage);
  reading.high_voltage_V = std::max(reading.high_voltage_V, voltage);
  reading.low_current_A = std::min(reading.low_current_A, current);
  reading.high_current_A = std::max(reading.high_current_A, current);
  ++reading.reached;
}

void MarkReadings::add(const MarkReadings& other, std::int64_t times) {
  for (const MarkReading& mark : other.all_) {
    const auto place = places_.find(mark.mark);
    if (place != places_.end()) all_[place->second].reached += times * mark.reached;
  }
}

void MarkReadings::repeat_since(const std::vector<std::int64_t>& then, std::int64_t times) {
  for (std::size_t i = 0; i < all_.size(); ++i) {
    all_[i].reached += times * (all_[i].reached - (i < then.size() ? then[i] : 0));
  }
}

std::vector<std::int64_t> MarkReadings::reached() const {
  std::vector<std::int64_t> result;
  for (const MarkReading& reading : all_) result.push_back(reading.reached);
  return result;
}

void RailPeaks::advance(const circuit::Circuit& circuit, bool has_output_capacitance, const Instant& from,
                        const Doing& doing) {
  const circuit::Piece& piece = circuit.piece();
  // Most pieces stay below the peak by their bounds alone.
  const circuit::Bounds volts = piece.terminal_voltage.bounds(0, 1);
  const circuit::Bounds amps = piece.terminal_current.bounds(0, 1);
  const auto raise = [&](Peak& peak, const circuit::Signal& signal, const circuit::Bounds& bounds) {
    if (bounds.high <= peak.value + same_peak(peak)) return;
    raise_peak(peak, circuit::SignalCurve(signal), from, piece.length, doing);
  };
  const auto raise_power = [&](Peak& peak, const circuit::Signal& own_current, const circuit::Bounds& bounds) {
    if (circuit::times(volts, bounds).high <= peak.value + same_peak(peak)) return;
    raise_peak(peak, circuit::ProductCurve(piece.terminal_voltage, own_current, 1, 0), from, piece.length, doing);
  };
  raise(voltage, piece.terminal_voltage, volts);
  raise(current, piece.terminal_current, amps);
  raise_power(power, piece.terminal_current, amps);
  if (has_output_capacitance)
    raise_power(regulator_power, piece.regulator_current, piece.regulator_current.bounds(0, 1));
}

EnergyBalance RailRecord::balance(double stored) const {
  EnergyBalance balance;
  balance.delivered_J = sums.energy.value();
  balance.dissipated_wire_J = sums.wire.value();
  balance.stored_J = stored - stored_at_start;
  // All that came in: from the supply, the stores and sources of the load.
  double given = std::max(balance.delivered_J + sums.returned.value(), 0.0) + std::max(-balance.stored_J, 0.0);
  double rest = balance.delivered_J - balance.dissipated_wire_J - balance.stored_J;
  balance.dissipated_elements_J = lost_in_replaced;
  for (const Sum& element : sums.elements) balance.dissipated_elements_J.push_back(element.value());
  for (const double element : balance.dissipated_elements_J) {
    rest -= element;
    given += std::max(-element, 0.0);
  }
  balance.relative_error = std::abs(rest) / std::max(given, kLeastEnergy);
  return balance;
}

}  // namespace rampart
