#include "runtime/bench_run/recent_readings.h"

#include <algorithm>

#include "lang/values/short_text.h"

namespace rampart::bench_run {

void RecentReadings::take(const Reading& reading) {
  std::deque<Reading>& readings = readings_[reading.channel];
  readings.push_back(reading);
  if (readings.size() > kMost) readings.pop_front();
}

void RecentReadings::clear() {
  for (std::deque<Reading>& readings : readings_) readings.clear();
}

std::string RecentReadings::means(Clock::time_point since) const {
  std::string text;
  for (const TableRail& rail : plan_.head.rails) {
    const auto mean = [&](Measured quantity) {
      double sum = 0;
      int count = 0;
      while (const auto value = measured({quantity, rail.rail, 1}, static_cast<std::size_t>(count), since)) {
        sum += *value;
        ++count;
      }
      return count > 0 ? std::optional(sum / count) : std::nullopt;
    };
    const std::optional<double> volts = mean(Measured::Voltage);
    const std::optional<double> amps = mean(Measured::Current);
    text += (text.empty() ? " " : "; ") + rail.rail + " " + (volts ? short_text(*volts, "V") : "not observed");
    if (amps) text += ", " + short_text(*amps, "A");
  }
  return text;
}

std::optional<double> RecentReadings::measured(const ConditionTerm& term, std::size_t back,
                                               Clock::time_point since) const {
  const auto rail = std::find_if(plan_.head.rails.begin(), plan_.head.rails.end(),
                                 [&](const TableRail& one) { return one.rail == term.rail; });
  if (rail == plan_.head.rails.end() || rail->channels.empty()) return std::nullopt;
  double volts = 0;
  double amps = 0;
  for (std::size_t i = 0; i < rail->channels.size(); ++i) {
    const std::optional<std::size_t> channel = plan_.find_channel(rail->channels[i]);
    if (!channel || readings_[*channel].size() <= back) return std::nullopt;
    const Reading& reading = readings_[*channel][readings_[*channel].size() - 1 - back];
    const bool needs_volts = term.quantity != Measured::Current;
    const bool needs_amps = term.quantity != Measured::Voltage;
    if (reading.begun < since || (needs_volts && !reading.volts) || (needs_amps && !reading.amps)) return std::nullopt;
    // In series voltages add up at one current, in parallel currents at one voltage.
    if (i == 0 || rail->in_series) volts += reading.volts.value_or(0);
    if (i == 0 || !rail->in_series) amps += reading.amps.value_or(0);
  }
  switch (term.quantity) {
    case Measured::Voltage:
      return rail->is_reversed ? -volts : volts;
    case Measured::Current:
      return amps;
    case Measured::Power:
      return volts * amps;
  }
  return std::nullopt;
}

std::optional<bool> RecentReadings::holds(const ConditionWait& condition, std::size_t back,
                                          Clock::time_point since) const {
  std::vector<bool> values;
  for (const ConditionStep& step : condition.steps) {
    if (step.op == ConditionOp::Compare) {
      double sum = step.constant;
      for (const ConditionTerm& term : step.terms) {
        const std::optional<double> value = measured(term, back, since);
        if (!value) return std::nullopt;
        sum += term.factor * *value;
      }
      values.push_back(step.is_strict ? sum > 0 : sum >= 0);
      continue;
    }
    const bool right = values.back();
    if (step.op == ConditionOp::Not) {
      values.back() = !right;
      continue;
    }
    values.pop_back();
    values.back() = step.op == ConditionOp::And ? values.back() && right : values.back() || right;
  }
  return values.back();
}

}  // namespace rampart::bench_run
