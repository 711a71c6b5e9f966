#include "runtime/fit/fit_parameters.h"
#include "runtime/as_run/run_times.h"

#include <algorithm>
#include <cmath>
#include <map>

namespace rampart::fit {
namespace {

// Of what lies anywhere between -1 and 1 the variance is 1/3 (JCGM 100:2008, "Guide to the expression of uncertainty in
// measurement", 4.3.7).
constexpr double kFlat = 3;
constexpr Bounded kWithin{0, -3, 3, kFlat, true};

}  // namespace

Parameters::Parameters(const as_run::LocatedRun& run, const std::vector<Series>& series,
                       const std::vector<bool>& limited) {
  add_values(run, series);
  add_supplies(run.table(), limited);
  add_logs(run, series);
}

void Parameters::add(const One& one, const Bounded& bounded) {
  all_.push_back(one);
  bounds_.push_back(bounded);
}

void Parameters::add_values(const as_run::LocatedRun& run, const std::vector<Series>& series) {
  const Table& table = run.table();
  const Load& load = *run.played().load;
  for (std::size_t rail = 0; rail < table.rails().size(); ++rail) {
    const std::string& name = table.profile()[table.rails()[rail].rail].name;
    const bool is_read = std::any_of(series.begin(), series.end(), [&](const Series& one) { return one.rail == rail; });
    for (std::size_t place = 0; place < load.rails.size(); ++place) {
      if (load.rails[place].rail != name || !is_read) continue;
      RailLoad copy = load.rails[place];
      std::size_t value = 0;
      std::size_t element = 0;
      std::string part;
      spread::visit_values(copy, [&](const spread::ValuePlace& at, const Toleranced& one) {
        while (!at.part.empty() && copy.name_of(element) != at.part) ++element;
        const std::size_t here = value++;
        if (!(one.low < one.high)) return;
        LoadValue found;
        found.rail = rail;
        found.place = place;
        found.value = here;
        found.key = at.key;
        found.unit = at.unit;
        found.name = found.key + (at.part.empty() ? "" : " of " + at.part) + " of " + name;
        if (!at.part.empty()) found.element = element;
        found.design = one;
        const double middle = (one.low + one.high) / 2;
        const double start = (one.nominal - middle) / ((one.high - one.low) / 2);
        add({Of::LoadValue, values_.size(), rail, 0, 0}, {start, -1, 1, kFlat, false});
        values_.push_back(std::move(found));
      });
    }
  }
}

void Parameters::add_supplies(const Table& table, const std::vector<bool>& limited) {
  for (std::size_t rail = 0; rail < table.rails().size(); ++rail) {
    const RailSetup& setup = table.rails()[rail];
    for (std::size_t member = 0; member < setup.members.size(); ++member) {
      const OutputLimits& limits = table.bench()[setup.members[member]].limits;
      const auto add_both = [&](const auto& accuracy, Of share, Of offset) {
        if (!accuracy) return;
        const double fraction = accuracy->fraction.to_double();
        const double fixed = accuracy->offset.to_double();
        if (fraction > 0) add({share, 0, rail, member, fraction}, kWithin);
        if (fixed > 0) add({offset, 0, rail, member, fixed}, kWithin);
      };
      // Parallel channels have one voltage, that of the first.
      if (member == 0 || setup.arrangement == Arrangement::Series) {
        add_both(limits.voltage_accuracy, Of::VoltageShare, Of::VoltageOffset);
      }
      if (limited[rail]) add_both(limits.current_accuracy, Of::LimitShare, Of::LimitOffset);
    }
  }
}

void Parameters::add_logs(const as_run::LocatedRun& run, const std::vector<Series>& series) {
  for (std::size_t log = 0; log < run.loggers().size(); ++log) add_times(run, series, log);
  for (std::size_t i = 0; i < series.size(); ++i) {
    if (series[i].share > 0) add({Of::MeterShare, i, 0, 0, 0}, kWithin);
    if (series[i].offset > 0) add({Of::MeterOffset, i, 0, 0, 0}, kWithin);
  }
}

// Supplies may start apart, and instruments may be late by times of their own: where there are several, each has a
// shift besides that of the log.
void Parameters::add_times(const as_run::LocatedRun& run, const std::vector<Series>& series, std::size_t log) {
  const as_run::Logger& logger = *run.loggers()[log];
  struct Timing {
    double latency = 0;
    double skew = 0;
    // At an instant a stair jumps, and nothing tells which way the clock is to go.
    bool is_smooth = true;
  };
  std::map<std::size_t, Timing> timings;
  Timing all;
  for (const Series& one : series) {
    if (one.log != log) continue;
    for (Timing* timing : {&timings[one.timing], &all}) {
      const double latency = (one.meter->latency_high() - one.meter->latency_low()) / std::sqrt(12);
      timing->latency = std::max(timing->latency, latency);
      timing->skew = std::max(timing->skew, run.skew_of(one.rail));
      timing->is_smooth = timing->is_smooth && one.meter->window() > 0;
    }
  }
  if (timings.empty()) return;
  const double size = logger.shift_uncertainty_s + in_seconds(logger.description.time_resolution) +
                      (timings.size() == 1 ? all.latency : 0);
  if (size > 0) add({Of::Shift, log, 0, 0, size}, {0, -6, 6, 1, false, !all.is_smooth});
  if (all.is_smooth && logger.clock_uncertainty > 0) {
    add({Of::Clock, log, 0, 0, logger.clock_uncertainty}, {0, -6, 6, 1, false});
  }
  if (timings.size() == 1) return;
  for (const auto& [index, timing] : timings) {
    const double own = std::hypot(timing.latency, timing.skew);
    if (own > 0) add({Of::OwnShift, index, 0, 0, own}, {0, -6, 6, 1, false, !timing.is_smooth});
  }
}

double Parameters::value_at(std::size_t value, double position) const {
  const Toleranced& design = values_[value].design;
  return design.low + (position + 1) / 2 * (design.high - design.low);
}

Load Parameters::load_at(const Load& load, const std::vector<double>& at) const {
  Load result = load;
  for (std::size_t i = 0; i < values_.size(); ++i) {
    std::size_t next = 0;
    spread::visit_values(result.rails[values_[i].place], [&](const spread::ValuePlace& /*place*/, Toleranced& one) {
      if (next++ == values_[i].value) one.nominal = value_at(i, at[i]);
    });
  }
  return result;
}

std::vector<RailDeviation> Parameters::deviations_at(const Table& table, const std::vector<double>& at) const {
  std::vector<RailDeviation> deviations;
  for (const RailSetup& setup : table.rails()) {
    RailDeviation& rail = deviations.emplace_back();
    rail.is_certain = true;
    rail.members.resize(setup.members.size());
  }
  for (std::size_t i = 0; i < all_.size(); ++i) {
    const One& one = all_[i];
    if (!one.is_played() || one.of == Of::LoadValue) continue;
    ChannelDeviation& channel = deviations[one.rail].members[one.member];
    SettingError& error = one.of == Of::VoltageShare || one.of == Of::VoltageOffset ? channel.voltage : channel.current;
    const bool is_share = one.of == Of::VoltageShare || one.of == Of::LimitShare;
    (is_share ? error.fraction : error.offset) = one.size * at[i];
  }
  return deviations;
}

}  // namespace rampart::fit
