#include "runtime/cli/text/sweep_text.h"

#include <algorithm>
#include <cmath>
#include <span>

namespace rampart::cli {
namespace {

using sweep::Best;
using sweep::Find;
using sweep::Goal;
using sweep::Interval;
using sweep::ParameterSweep;
using sweep::Sweep;
using sweep::TightMargin;
using sweep::Trial;

// More say less: the first ones and a count.
constexpr std::size_t kMostIntervalsShown = 8;

// Percent that are left, rounded towards less.
std::string share_text(const TightMargin& margin) {
  if (margin.limit == 0) return {};
  return ", " + std::to_string(static_cast<std::int64_t>(std::floor(100 * margin.margin / margin.limit))) + " %";
}

std::string margin_text(const TightMargin& margin) {
  return to_text(margin.margin, margin.unit) + " of " + to_text(margin.limit, margin.unit) + share_text(margin) + " (" +
         margin.of + ")";
}

class SweepText {
 public:
  SweepText(const Sweep& sweep, const std::optional<Find>& find) : sweep_(sweep), find_(find) {}

  std::string write() {
    if (find_) {
      write_find();
    } else {
      write_present();
    }
    if (!sweep_.has_load) text_ += "no load: setpoints only, nothing was simulated\n";
    for (const ParameterSweep& parameter : sweep_.parameters) write_parameter(parameter);
    return text_;
  }

 private:
  void write_present() {
    const Trial& present = sweep_.parameters.front().present;
    text_ += present.holds() ? "PASS as it is" : "FAIL as it is: " + errors_text(present);
    if (present.tightest) text_ += "; tightest margin " + margin_text(*present.tightest);
    text_ += "\n";
  }

  [[nodiscard]] std::string goal_text() const {
    if (find_->goal == Goal::LeastDuration) return "shortest run";
    return (find_->goal == Goal::LeastValue ? "least " : "greatest ") + find_->parameter;
  }

  void write_find() {
    if (!sweep_.best) {
      text_ += goal_text() + ": none; nothing that was tried holds\n";
      return;
    }
    const Best& best = *sweep_.best;
    const ParameterSweep& parameter = sweep_.parameters[best.parameter];
    const bool is_duration = find_->goal == Goal::LeastDuration;
    text_ += goal_text() + ": ";
    if (is_duration) text_ += to_text(best.trial.duration_s, "s") + " with " + parameter.name + " at ";
    text_ += value_text(parameter, best.trial) + "\n";
    text_ += "  --set " + best.setting + "\n";
    text_ +=
        best.confirmed ? "  compiled again with it: PASS\n" : "  compiled again with it: FAIL; the findings say why\n";
    if (is_duration) {
      text_ += "  as it is: " + to_text(parameter.present.duration_s, "s") + "\n";
    } else if (best.beyond) {
      text_ += "  bound by, at " + value_text(parameter, *best.beyond) + ": " + errors_text(*best.beyond) + "\n";
    } else {
      text_ += "  bound by the end of the range\n";
    }
    if (best.trial.tightest) text_ += "  tightest margin there: " + margin_text(*best.trial.tightest) + "\n";
  }

  void write_parameter(const ParameterSweep& parameter) {
    text_ += parameter.name + ", " + value_text(parameter, parameter.present) + " as it is: ";
    if (parameter.intervals.empty()) {
      text_ += "no value from " + value_text(parameter, parameter.range.low) + " to " +
               value_text(parameter, parameter.range.high) + " holds\n  fewest errors at " +
               value_text(parameter, *parameter.least_bad) + ": " + errors_text(*parameter.least_bad) + "\n";
    }
    bool is_first = true;
    const std::size_t shown = std::min(parameter.intervals.size(), kMostIntervalsShown);
    for (const Interval& interval : std::span(parameter.intervals).first(shown)) {
      text_ += std::string(is_first ? "" : "  and ") + "holds " +
               (interval.low.value == interval.high.value
                    ? "at " + value_text(parameter, interval.low)
                    : "from " + value_text(parameter, interval.low) + " to " + value_text(parameter, interval.high)) +
               "\n";
      is_first = false;
      write_side(parameter, "below", interval.below, interval.low);
      write_side(parameter, "above", interval.above, interval.high);
    }
    if (const std::size_t more = parameter.intervals.size() - shown; more > 0) {
      text_ += "  and in " + std::to_string(more) + " more intervals, which --format json gives\n";
    }
    write_effort(parameter);
  }

  void write_side(const ParameterSweep& parameter, const std::string& side, const std::optional<Trial>& fails,
                  const Trial& end) {
    text_ += "  " + side + ": ";
    text_ += fails ? "at " + value_text(parameter, *fails) + ", " + errors_text(*fails) : "the range ends";
    text_ += "\n";
    if (end.tightest) {
      text_ += "    tightest margin at " + value_text(parameter, end) + ": " + margin_text(*end.tightest) + "\n";
    }
  }

  // Said of each, since it decides what the intervals are worth.
  void write_effort(const ParameterSweep& parameter) {
    const std::string step = value_text(parameter, parameter.step);
    text_ += "  " + std::to_string(parameter.tried) + " values tried, ";
    if (parameter.scan_step) {
      const std::string scan = value_text(parameter, *parameter.scan_step);
      text_ += "every " + scan + " and then down to " + step + " where the errors change: what lasts for less than " +
               scan + " may be missed\n";
    } else {
      text_ += "all in steps of " + step + "\n";
    }
    if (!parameter.refined) text_ += "  the errors change too often to follow each change down to " + step + "\n";
  }

  [[nodiscard]] static std::string value_text(const ParameterSweep& parameter, const Quantity& value) {
    return parameter_text(value, parameter.range);
  }
  [[nodiscard]] static std::string value_text(const ParameterSweep& parameter, const Trial& trial) {
    return value_text(parameter, trial.value);
  }

  // The first error with its place, and how many more there are.
  [[nodiscard]] std::string errors_text(const Trial& trial) const {
    const Finding& first = *trial.first_error;
    const SourceFile& file = sweep_.base.findings.texts()[first.span.file];
    std::string text = first.message + " [" + std::string(first.name) + ", " + file.name() + ":" +
                       std::to_string(file.position(first.span.begin).line) + "]";
    const std::size_t more = trial.errors.size() - 1;
    if (more > 0) text += " and " + std::to_string(more) + (more == 1 ? " more error" : " more errors");
    return text;
  }

  const Sweep& sweep_;
  const std::optional<Find>& find_;
  std::string text_;
};

}  // namespace

std::string sweep_text(const Sweep& sweep, const std::optional<Find>& find) {
  return SweepText(sweep, find).write();
}

}  // namespace rampart::cli
