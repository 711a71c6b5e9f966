#include "runtime/rail/rail_run.h"

#include <algorithm>
#include <cmath>

#include "runtime/rail/discharge.h"
#include "runtime/rail/held_charge.h"

namespace rampart {
namespace {

// Less than this (J) is nothing: an error is relative to more.
constexpr double kLeastEnergy = 1e-12;

}  // namespace

void RailRun::read_mark(std::string_view mark) {
  const double voltage = sign_ * circuit_->port_voltage();
  const double current = circuit_->terminal_current();
  for (MarkReading& reading : marks_) {
    if (reading.mark != mark) continue;
    reading.low_voltage_V = std::min(reading.low_voltage_V, voltage);
    reading.high_voltage_V = std::max(reading.high_voltage_V, voltage);
    reading.low_current_A = std::min(reading.low_current_A, current);
    reading.high_current_A = std::max(reading.high_current_A, current);
    ++reading.reached;
    return;
  }
  marks_.push_back({std::string(mark), voltage, voltage, current, current, 1});
}

void RailRun::add_marks(const std::vector<MarkReading>& marks, std::int64_t times) {
  for (const MarkReading& mark : marks) {
    for (MarkReading& reading : marks_) {
      if (reading.mark == mark.mark) reading.reached += times * mark.reached;
    }
  }
}

std::vector<std::int64_t> RailRun::marks_reached() const {
  std::vector<std::int64_t> result;
  for (const MarkReading& reading : marks_) result.push_back(reading.reached);
  return result;
}

void RailRun::repeat_marks(const std::vector<std::int64_t>& then, std::int64_t times) {
  for (std::size_t i = 0; i < marks_.size(); ++i) {
    marks_[i].reached += times * (marks_[i].reached - (i < then.size() ? then[i] : 0));
  }
}

RailRun::State RailRun::state(const Instant& now) const {
  State state;
  const double volts = std::max(std::abs(voltage_.value), 1e-3);
  const double amps = std::max(std::abs(current_.value), 1e-3);
  static_cast<circuit::Snapshot&>(state) = circuit_->snapshot(volts, amps);
  const circuit::Setting setting = circuit_->setting();
  for (const double value : {setting.voltage, setting.limit}) {
    state.numbers.push_back(value);
    state.scales.push_back(0);
  }
  const auto add_timer = [&](const std::optional<DelayedTrip>& timer) {
    if (!timer) return;
    state.numbers.push_back(timer->held(now));
    state.scales.push_back(std::max(timer->delay(), 1e-3));
    state.rest += timer->holds() ? 'h' : '-';
  };
  add_timer(protection_.fuse());
  add_timer(protection_.overpower());
  for (const OutputHeat& heat : heat_) state.temperatures.push_back(heat.temperature());
  state.rest += static_cast<char>('0' + static_cast<int>(circuit_->mode()));
  state.rest += stays_off() ? 't' : '-';
  state.rest += settling_.state();
  state.rest += setting.on ? '1' : '0';
  if (limited_since_) state.limited_for = now.since(*limited_since_);
  state.contact = setpoint_.contact().state(now);
  return state;
}

bool RailRun::is_left_charged() const {
  const bool is_charged =
      std::abs(circuit_->port_voltage()) > kChargedVolts && circuit_->stored_energy() > kHarmlessJoules;
  return is_charged && !circuit_->setting().on;
}

std::optional<double> RailRun::clear() {
  if (!is_left_charged()) return std::nullopt;
  return time_to_fall(*circuit_, kChargedVolts, true);
}

RailFigures RailRun::figures() const {
  RailFigures figures;
  figures.energy_J = sums_.energy.value();
  figures.charge_C = sums_.charge.value();
  figures.returned_energy_J = sums_.returned.value();
  figures.current_A = current_;
  figures.power_W = power_;
  figures.voltage_V = voltage_;
  figures.i2t_A2s = sums_.i2t.value();
  figures.cc_time_s = sums_.cc_time.value();
  figures.longest_cc_s = longest_limited_;
  // After the rows of the last instant.
  figures.final_voltage_V = sign_ * circuit_->port_voltage();
  figures.stored_J = circuit_->stored_energy();
  figures.trip = trip_;
  EnergyBalance& balance = figures.balance;
  balance.delivered_J = figures.energy_J;
  balance.dissipated_wire_J = sums_.wire.value();
  balance.stored_J = figures.stored_J - stored_at_start_;
  // All that came in: from the supply, the stores and sources of the load.
  double given = std::max(balance.delivered_J + figures.returned_energy_J, 0.0) + std::max(-balance.stored_J, 0.0);
  double rest = balance.delivered_J - balance.dissipated_wire_J - balance.stored_J;
  balance.dissipated_elements_J = lost_in_replaced_;
  for (const Sum& element : sums_.elements) balance.dissipated_elements_J.push_back(element.value());
  for (const double element : balance.dissipated_elements_J) {
    rest -= element;
    given += std::max(-element, 0.0);
  }
  balance.relative_error = std::abs(rest) / std::max(given, kLeastEnergy);
  figures.marks = marks_;
  figures.shortfalls = settling_.shortfalls();
  figures.shortfalls.headroom = headroom_;
  if (is_left_charged()) figures.left = stored_charge(load_, output_, *circuit_);
  for (std::optional<MissedSetpoint>* missed : {&figures.shortfalls.not_settled, &figures.shortfalls.cannot_sink}) {
    if (!*missed) continue;
    (*missed)->setpoint_V *= sign_;
    (*missed)->voltage_V *= sign_;
    (*missed)->enough_V *= sign_;
  }
  if (figures.shortfalls.charged_at_on) figures.shortfalls.charged_at_on->voltage_V *= sign_;
  return figures;
}

void RailRun::add_margins(std::vector<Margin>& margins) const {
  const auto add = [&](const char* what, double limit, double used, const char* unit, const Peak& at) {
    margins.push_back({rail_, what, limit - used, unit, limit, at.time_s, at.statement, at.passes});
  };
  if (const auto& fuse = protection_.fuse()) add("fuse", fuse->delay(), fuse->longest().value, "s", fuse->longest());
  if (const auto level = protection_.overvoltage_level()) add("overvoltage", *level, voltage_.value, "V", voltage_);
  const Peak& drawn = regulator_power();
  if (const auto& overpower = protection_.overpower()) {
    const bool waits = overpower->delay() > 0;
    if (waits) add("overpower", overpower->delay(), overpower->longest().value, "s", overpower->longest());
    add(waits ? "overpower-level" : "overpower", protection_.overpower_level(), drawn.value, "W", drawn);
  }
  for (const OutputHeat& heat : heat_) {
    add("overtemperature", heat.rise(), heat.hottest().value - heat.ambient(), "K", heat.hottest());
    margins.back().owner = heat.channel();
  }
  if (const auto& room = limit_room_.least()) add("current-limit", room->limit_A, room->at.value, "A", room->at);
  if (power_envelope_ && limit_room_.least()) {
    add("power-envelope", *power_envelope_, drawn.value, "W", drawn);
    margins.back().owner = output_name_;
  }
  if (const auto& spare = settling_.least()) {
    const Peak at{spare->had_s - spare->spare_s, spare->time_s, spare->statement, spare->passes};
    add("settling", spare->had_s, at.value, "s", at);
  }
}

}  // namespace rampart
