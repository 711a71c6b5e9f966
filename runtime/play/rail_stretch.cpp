#include "runtime/play/rail_stretch.h"

#include <algorithm>
#include <cmath>

#include "runtime/play/step_parts.h"

namespace rampart {
namespace {

// Rounding of bounds, of a part and of its evaluation, against the size of what is added up.
constexpr double kSlack = 2e-14;

}  // namespace

RailStretch::RailStretch(double sign, const std::optional<Accuracy<Volts>>& voltage,
                         const std::optional<Accuracy<Amps>>& current)
    : sign_(sign) {
  if (voltage) voltage_error_ = {voltage->fraction.to_double(), voltage->offset.to_double()};
  if (current) current_error_ = {current->fraction.to_double(), current->offset.to_double()};
}

double RailStretch::ErrorLine::at(double setpoint) const {
  return fraction * std::abs(setpoint) + offset;
}

void RailStretch::look_at(const RailRun& rail, const Instant& from, const Instant& to, std::int64_t turn) {
  if (turn_ == turn && from_.since(from) == 0 && to_.since(to) == 0) return;
  rail_ = &rail;
  turn_ = turn;
  from_ = from;
  to_ = to;
  const Group& group = rail.group();
  const double length = group->piece().length;
  begin_ = 0;
  end_ = 1;
  if (length > 0) {
    begin_ = std::clamp(from.since(group.begins()) / length, 0.0, 1.0);
    end_ = std::clamp(begin_ + to.since(from) / length, begin_, 1.0);
  }
  reaches_ = {};
  error_.reset();
  part_ = nullptr;
}

Reach RailStretch::reach_of(const circuit::Signal& signal, double sign) const {
  circuit::Bounds bounds = signal.bounds(begin_, end_);
  if (sign < 0) bounds = {-bounds.high, -bounds.low};
  const double magnitude = signal.magnitude();
  const double slack = kSlack * magnitude;
  return {{bounds.low - slack, bounds.high + slack}, magnitude};
}

const Reach& RailStretch::reach(Signal signal) {
  const circuit::Piece& piece = rail_->circuit().piece();
  const std::size_t place = signal == Signal::Voltage ? 0 : signal == Signal::Current ? 1 : 2;
  std::optional<Reach>& known = reaches_[place];
  if (known) return *known;
  if (signal == Signal::Voltage) return known.emplace(reach_of(piece.port_voltage, sign_));
  if (signal == Signal::Current) return known.emplace(reach_of(piece.terminal_current, 1));
  const Reach voltage = reach_of(piece.terminal_voltage, 1);
  const Reach current = reach_of(piece.terminal_current, 1);
  const double magnitude = voltage.magnitude * current.magnitude;
  const circuit::Bounds power = circuit::times(voltage.bounds, current.bounds);
  return known.emplace(Reach{{power.low - kSlack * magnitude, power.high + kSlack * magnitude}, magnitude});
}

const OutputError& RailStretch::error() {
  if (!error_) error_ = error_there();
  return *error_;
}

OutputError RailStretch::error_there() const {
  OutputError error;
  const circuit::Setting& setting = rail_->circuit().setting();
  if (!setting.on) return error;
  const double gone = from_.since(rail_->group().begins());
  const double length = to_.since(from_);
  for (const int end : {0, 1}) {
    const double time = gone + length * end;
    const double volts = setting.voltage + setting.voltage_slope * time;
    const double amps = setting.limit + setting.limit_slope * time;
    error.voltage[end] = voltage_error_.at(volts);
    error.current[end] = current_error_.at(amps);
    error.power[end] = std::abs(volts) * error.current[end] + std::abs(amps) * error.voltage[end];
  }
  return error;
}

RailSignals RailStretch::signals() {
  if (part_ == nullptr) part_ = &part_of(rail_->group(), from_, to_, room_);
  return {part_, sign_};
}

}  // namespace rampart
