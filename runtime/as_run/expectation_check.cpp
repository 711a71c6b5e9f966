#include "runtime/as_run/expectation_check.h"

#include <algorithm>
#include <cmath>

#include "lang/text/overloaded.h"
#include "runtime/as_run/run_times.h"

namespace rampart::as_run {
namespace {

bool is_peak(Figure figure) {
  return figure == Figure::PeakCurrent || figure == Figure::PeakPower || figure == Figure::PeakVoltage;
}

}  // namespace

void ExpectationCheck::Extreme::take(double value, double error) {
  const double surely = std::abs(value) - error;
  const double possibly = std::abs(value) + error;
  if (!any || surely > this->surely) this->surely = surely;
  if (!any || possibly > this->possibly) this->possibly = possibly;
  any = true;
}

ExpectationCheck::ExpectationCheck(const Table& table, const Simulation& simulation)
    : table_(&table), simulation_(&simulation), peaks_(table.rails().size()) {
  for (const MarkTime& mark : simulation.first_marks) {
    AtMark at;
    at.run_s = mark.at.seconds();
    at.mark = mark.mark;
    at.before.resize(table.rails().size());
    at.after.resize(table.rails().size());
    marks_.push_back(std::move(at));
  }
}

void ExpectationCheck::take(std::size_t rail, double run_s, const RailPoint& point, LogMode mode) {
  Peaks& peaks = peaks_[rail];
  if (mode != LogMode::Unknown) {
    peaks.mode_known = true;
    const bool limited = mode == LogMode::ConstantCurrent;
    if (peaks.any && (limited || peaks.was_limited)) peaks.limited_s += run_s - peaks.last_s;
    peaks.was_limited = limited;
  }
  peaks.any = true;
  peaks.last_s = run_s;
  if (!point.known) return;
  peaks.volts.take(point.volts, point.volts_error);
  peaks.amps.take(point.amps, point.amps_error);
  peaks.watts.take(point.volts * point.amps,
                   std::abs(point.volts) * point.amps_error + std::abs(point.amps) * point.volts_error);
  for (AtMark& mark : marks_) {
    if (run_s <= mark.run_s) {
      mark.before[rail] = point;
    } else if (!mark.after[rail]) {
      mark.after[rail] = point;
    }
  }
}

std::optional<ExpectationCheck::Between> ExpectationCheck::at_mark(const ExpectFigure& expected,
                                                                   std::string& why) const {
  const auto rail = static_cast<std::size_t>(*expected.rail);
  for (const MarkReading& reading : simulation_->rails[rail].marks) {
    if (reading.mark == *expected.mark && reading.reached > 1) {
      why = "the mark was reached " + std::to_string(reading.reached) + " times";
      return std::nullopt;
    }
  }
  for (const AtMark& mark : marks_) {
    if (mark.mark != *expected.mark) continue;
    if (!mark.before[rail] || !mark.after[rail]) break;
    const bool is_voltage = expected.figure == Figure::Voltage;
    std::optional<Between> between;
    for (const RailPoint& point : {*mark.before[rail], *mark.after[rail]}) {
      const double value = is_voltage ? point.volts : point.amps;
      const double error = is_voltage ? point.volts_error : point.amps_error;
      if (!between) between = Between{value - error, value + error};
      between->low = std::min(between->low, value - error);
      between->high = std::max(between->high, value + error);
    }
    return between;
  }
  why = "there are no readings around the mark";
  return std::nullopt;
}

std::optional<ExpectationCheck::Between> ExpectationCheck::figure_of(const ExpectFigure& expected,
                                                                     const std::vector<MeasuredFigures>& figures,
                                                                     double duration_error, std::string& why) const {
  if (expected.figure == Figure::Duration) {
    return Between{simulation_->duration_s - duration_error, simulation_->duration_s + duration_error};
  }
  if (expected.figure == Figure::Voltage || expected.figure == Figure::Current) {
    const std::optional<Between> at = at_mark(expected, why);
    if (!at && figures[static_cast<std::size_t>(*expected.rail)].lacks_meter) why = kUnmetered;
    return at;
  }
  if (expected.figure == Figure::Energy || expected.figure == Figure::Charge) {
    Between sum;
    for (std::size_t i = 0; i < figures.size(); ++i) {
      if (expected.rail && static_cast<std::size_t>(*expected.rail) != i) continue;
      if (!figures[i].voltage_judged || !figures[i].current_judged || !figures[i].with_power) {
        why = figures[i].lacks_meter ? kUnmetered : "not all of its voltages and currents were measured";
        return std::nullopt;
      }
      const bool is_energy = expected.figure == Figure::Energy;
      const double value = is_energy ? figures[i].energy_J : figures[i].charge_C;
      const double bound = is_energy ? figures[i].energy_bound_J : figures[i].charge_bound_C;
      sum = {sum.low + value - bound, sum.high + value + bound};
    }
    return sum;
  }
  if (!expected.rail) {
    why = "a log has no peak of all rails together";
    return std::nullopt;
  }
  const Peaks& peaks = peaks_[static_cast<std::size_t>(*expected.rail)];
  if (expected.figure == Figure::CcTime) {
    if (!peaks.mode_known) {
      why = "the log does not say when the supply is in constant current";
      return std::nullopt;
    }
    return Between{0, peaks.limited_s};
  }
  const Extreme& extreme = expected.figure == Figure::PeakVoltage   ? peaks.volts
                           : expected.figure == Figure::PeakCurrent ? peaks.amps
                                                                    : peaks.watts;
  if (!extreme.any) {
    why = figures[static_cast<std::size_t>(*expected.rail)].lacks_meter ? kUnmetered
                                                                        : "the log has no reading of its rail";
    return std::nullopt;
  }
  // A peak is as high as the readings say, or higher between them.
  return Between{extreme.surely, std::max(extreme.possibly, extreme.surely)};
}

std::vector<MeasuredResult> ExpectationCheck::finish(const std::vector<MeasuredFigures>& figures, double duration_error,
                                                     const SeenTrips& trips, bool is_whole) const {
  std::vector<MeasuredResult> results;
  for (const Expectation& expectation : table_->profile().expectations) {
    if (expectation.fault) continue;
    MeasuredResult result;
    result.text = expectation.text;
    result.span = expectation.span;
    const auto judge_trip = [&](bool meets) {
      if (!trips.is_told) {
        result.why = "the log does not record trips";
      } else if (meets && !is_whole) {
        result.why = "readings are missing";
      } else {
        result.result = meets ? Observed::Pass : Observed::Fail;
      }
    };
    const auto judge_figure = [&](const ExpectFigure& expected) {
      const std::optional<Between> figure = figure_of(expected, figures, duration_error, result.why);
      result.unit = row_of(expected.figure).unit;
      if (!figure) return;
      const double bound = expected.bound.value.to_double();
      result.least = expected.at_most ? bound - figure->high : figure->low - bound;
      result.most = expected.at_most ? bound - figure->low : figure->high - bound;
      if (*result.most < 0 || (expected.strict && *result.most <= 0)) {
        // Between its readings a peak may be higher still.
        if (is_peak(expected.figure) && !expected.at_most) {
          result.why = "a peak between two readings cannot be seen";
        } else {
          result.result = Observed::Fail;
        }
      } else if (*result.least < 0) {
        result.why = "the uncertainty of the measurement is larger than the margin";
      } else if (is_peak(expected.figure) && expected.at_most) {
        result.holds_at_readings = true;
        result.why = "met at every reading; a peak between two readings cannot be seen";
      } else if (!is_whole) {
        result.why = "readings are missing";
      } else {
        result.result = Observed::Pass;
      }
    };
    std::visit(
        Overloaded{
            [&](const ExpectNoTrip&) {
              judge_trip(std::none_of(trips.rails.begin(), trips.rails.end(), [](bool one) { return one; }));
            },
            [&](const ExpectTrip& expected) { judge_trip(trips.rails[static_cast<std::size_t>(expected.rail)]); },
            judge_figure},
        expectation.what);
    results.push_back(std::move(result));
  }
  return results;
}

}  // namespace rampart::as_run
