#include "runtime/rail/rail_run.h"

#include <algorithm>
#include <cmath>

#include "runtime/rail/discharge.h"
#include "runtime/rail/held_charge.h"

namespace rampart {
namespace {

bool is_at_rest(const circuit::Piece& piece) {
  const auto is_constant = [](const circuit::Signal& signal) { return signal.is_constant(); };
  return std::all_of(piece.states.begin(), piece.states.end(), is_constant) && is_constant(piece.terminal_voltage) &&
         is_constant(piece.terminal_current) && is_constant(piece.port_voltage);
}

}  // namespace

void RailRun::read_mark(std::string_view mark) {
  record_.marks.read(mark, sign_ * course_.group->port_voltage(), course_.group->terminal_current());
}

std::optional<RailReading> RailRun::reading(const Instant& from, const Instant& now) const {
  const std::optional<Past::Means> means = course_.past.means(from, now);
  if (!means) return std::nullopt;
  RailReading reading{sign_ * means->voltage, means->current, {}};
  const std::optional<Settling::Stand> stand = course_.settling.stand();
  // What changes within the reading shows in the setpoints already.
  const bool stands = stand && stand->since.since(from) <= 0 && !stays_off();
  if (!stands || (stand->settled && stand->settled->since(from) <= 0)) return reading;
  reading.unsettled = Unsettled{sign_ * stand->setpoint, sign_ * course_.settling.measured(*course_.group), {}};
  if (stand->settled) reading.unsettled->late_s = stand->settled->since(from);
  return reading;
}

RailRun::State RailRun::state(const Instant& now) const {
  State state;
  const double volts = std::max(std::abs(record_.peaks.voltage.value), 1e-3);
  const double amps = std::max(std::abs(record_.peaks.current.value), 1e-3);
  static_cast<circuit::Snapshot&>(state) = course_.group->snapshot(volts, amps);
  const circuit::Setting setting = course_.group->setting();
  for (const double value : {setting.voltage, setting.limit}) {
    state.numbers.push_back(value);
    state.scales.push_back(0);
  }
  const auto add_timer = [&](const std::optional<DelayedTrip>& timer) {
    if (!timer) return;
    state.numbers.push_back(timer->held(now));
    state.scales.push_back(std::max(timer->delay(), 1e-3));
  };
  add_timer(course_.protection.fuse());
  add_timer(course_.protection.overpower());
  for (const OutputHeat& heat : heat_) state.temperatures.push_back(heat.temperature());
  state.status = {way(), stays_off(), setting.on, course_.settling.phase()};
  state.limited_for = course_.limited.held(now);
  state.contact = course_.setpoint.contact().state(now);
  return state;
}

void RailRun::add_memory(const Instant& now, std::vector<double>& memory) const {
  const Group& group = course_.group;
  const std::vector<double> numbers = group->snapshot(1, 1).numbers;
  memory.insert(memory.end(), numbers.begin(), numbers.end());
  const circuit::Setting& setting = group->setting();
  memory.insert(memory.end(), {setting.voltage, setting.voltage_slope, setting.limit, setting.limit_slope});
  for (const bool flag : {setting.on, course_.was_on, course_.turns, course_.limited.lasts(), group.is_under_way()}) {
    memory.push_back(flag ? 1 : 0);
  }
  memory.push_back(static_cast<double>(group->mode()));
  memory.push_back(course_.pending ? static_cast<double>(*course_.pending) : -1);
  if (group.is_under_way()) {
    memory.push_back(group.ends().since(now));
    // Where nothing moves it does not matter since when.
    const bool rests = is_at_rest(group->piece());
    memory.insert(memory.end(), {rests ? 0 : group.begins().since(now), rests ? 0 : group->piece().length});
  }
  course_.setpoint.add_course(now, memory);
  course_.protection.add_memory(now, memory);
  effort_.add_memory(memory);
}

bool RailRun::is_left_charged() const {
  const circuit::Circuit& circuit = *course_.group;
  return is_charged(circuit.port_voltage()) && circuit.stored_energy() > kHarmlessJoules && !circuit.setting().on;
}

std::optional<double> RailRun::time_to_clear() const {
  if (!is_left_charged()) return std::nullopt;
  return time_to_fall(*course_.group->copy(), kChargedVolts, true);
}

RailFigures RailRun::figures() const {
  RailFigures figures;
  figures.energy_J = record_.sums.energy.value();
  figures.charge_C = record_.sums.charge.value();
  figures.returned_energy_J = record_.sums.returned.value();
  figures.current_A = record_.peaks.current;
  figures.power_W = record_.peaks.power;
  figures.voltage_V = record_.peaks.voltage;
  figures.i2t_A2s = record_.sums.i2t.value();
  figures.cc_time_s = record_.sums.cc_time.value();
  figures.longest_cc_s = course_.limited.longest();
  // After the rows of the last instant.
  figures.final_voltage_V = sign_ * course_.group->port_voltage();
  figures.stored_J = course_.group->stored_energy();
  figures.trip = trip_;
  figures.balance = record_.balance(figures.stored_J);
  figures.marks = record_.marks.all();
  figures.shortfalls = course_.settling.shortfalls();
  figures.shortfalls.headroom = course_.headroom.worst();
  if (is_left_charged()) figures.left = stored_charge(load_.get(), output_, *course_.group);
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
  const auto add = [&](MarginKind kind, double limit, double used, const Peak& at) {
    margins.push_back({rail_, kind, limit - used, limit, at.time_s, at.statement, at.passes});
  };
  if (const auto& fuse = course_.protection.fuse())
    add(MarginKind::Fuse, fuse->delay(), fuse->longest().value, fuse->longest());
  if (const auto level = course_.protection.overvoltage_level())
    add(MarginKind::Overvoltage, *level, record_.peaks.voltage.value, record_.peaks.voltage);
  const Peak& drawn = regulator_power();
  if (const auto& overpower = course_.protection.overpower()) {
    const bool waits = overpower->delay() > 0;
    if (waits) add(MarginKind::OverpowerDelay, overpower->delay(), overpower->longest().value, overpower->longest());
    add(waits ? MarginKind::OverpowerLevel : MarginKind::Overpower, course_.protection.overpower_level(), drawn.value,
        drawn);
  }
  for (const OutputHeat& heat : heat_) {
    add(MarginKind::Overtemperature, heat.rise(), heat.hottest().value - heat.ambient(), heat.hottest());
    margins.back().owner = heat.channel();
  }
  if (const auto& room = record_.limit_room.least())
    add(MarginKind::CurrentLimit, room->limit_A, room->at.value, room->at);
  if (envelope_ && record_.limit_room.least()) {
    add(MarginKind::PowerEnvelope, envelope_->power, drawn.value, drawn);
    margins.back().owner = envelope_->output;
  }
  if (const auto& spare = course_.settling.least()) {
    const Peak at{spare->had_s - spare->spare_s, spare->time_s, spare->statement, spare->passes};
    add(MarginKind::Settling, spare->had_s, at.value, at);
  }
}

}  // namespace rampart
