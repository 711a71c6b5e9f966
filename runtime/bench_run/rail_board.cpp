#include "runtime/bench_run/rail_board.h"

namespace rampart::bench_run {

void RailBoard::take(const TableRow& row) {
  const std::optional<std::size_t> channel = plan_.find_channel(row.name);
  if (!channel) return;
  Shown& shown = channels_[*channel];
  if (row.output) shown.is_on = *row.output;
  if (row.voltage) shown.set_V = row.voltage;
  if (row.current) shown.set_A = row.current;
}

void RailBoard::take(const Reading& reading) {
  Shown& shown = channels_[reading.channel];
  shown.measured_V = reading.volts;
  shown.measured_A = reading.amps;
  shown.mode = reading.mode;
}

void RailBoard::note_trip(std::size_t channel, const std::string& cause) {
  channels_[channel].is_on = false;
  channels_[channel].trip_cause = cause;
}

std::vector<RailStatus> RailBoard::rails() const {
  std::vector<RailStatus> rails;
  for (const TableRail& rail : plan_.head.rails) rails.push_back(status_of(rail));
  return rails;
}

RailStatus RailBoard::status_of(const TableRail& rail) const {
  RailStatus status;
  status.rail = rail.rail;
  const double sign = rail.is_reversed ? -1 : 1;
  bool is_first = true;
  for (const std::string& name : rail.channels) {
    const std::optional<std::size_t> channel = plan_.find_channel(name);
    if (!channel) continue;
    const Shown& one = channels_[*channel];
    const auto add = [&](std::optional<double>& sum, const std::optional<double>& value, bool adds) {
      if (is_first)
        sum = value;
      else if (adds && sum && value)
        *sum += *value;
    };
    const auto set = one.set_V ? std::optional(sign * one.set_V->to_double()) : std::nullopt;
    const auto volts = one.measured_V ? std::optional(sign * *one.measured_V) : std::nullopt;
    add(status.set_V, set, rail.in_series);
    add(status.measured_V, volts, rail.in_series);
    add(status.measured_A, one.measured_A, !rail.in_series);
    status.is_on = (is_first || status.is_on) && one.is_on;
    if (is_first) status.mode = one.mode;
    if (status.mode != one.mode) status.mode.clear();
    is_first = false;
  }
  return status;
}

std::string RailBoard::outputs_on() const {
  std::string on;
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    if (!channels_[i].is_on) continue;
    on += (on.empty() ? "" : ", ") + plan_.channels[i].name;
    if (channels_[i].set_V) on += " (" + to_text(Volts{*channels_[i].set_V}) + ")";
  }
  return on.empty() ? "none" : on;
}

}  // namespace rampart::bench_run
