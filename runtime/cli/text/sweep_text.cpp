#include "runtime/cli/text/sweep_text.h"

#include <algorithm>
#include <span>
#include <string>
#include <vector>

#include "lang/values/short_text.h"
#include "runtime/answer/margin_words.h"
#include "runtime/cli/text/sweep_map_text.h"

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

// "900 mV of 13.5 V left (6.6 %), overvoltage protection of radio"; what is left is rounded towards less.
std::string margin_text(const TightMargin& margin) {
  const std::string limit = short_text(margin.limit, margin.unit);
  std::string text = margin.margin < 0 ? short_text_up(-margin.margin, margin.unit) + " over " + limit
                                       : short_text_down(margin.margin, margin.unit) + " of " + limit + " left";
  if (margin.limit != 0) text += " (" + rampart::share_text(margin.margin, margin.limit) + ")";
  text += ", " + margin.of;
  return margin.corner.empty() ? text : text + ", with " + margin.corner;
}

class SweepText {
 public:
  SweepText(const Sweep& sweep, const sweep::Request& request)
      : sweep_(sweep), find_(request.find), demand_(request.demand) {}

  std::string write() {
    if (sweep_.map) {
      write_present(sweep_.map->present);
    } else if (find_) {
      write_find();
    } else {
      write_present(sweep_.parameters.front().present);
    }
    if (!sweep_.has_load) text_ += "no load: setpoints only, nothing was simulated\n";
    for (const ParameterSweep& parameter : sweep_.parameters) write_parameter(parameter);
    if (find_ && sweep_.has_load && demand_.corners) text_ += "ranges: plain run, without tolerances\n";
    if (sweep_.map) text_ += sweep_map_text(*sweep_.map, sweep_.has_load);
    write_others();
    return text_;
  }

 private:
  // Parameters that keep their value here and are tried at the ends of their ranges elsewhere.
  void write_others() {
    constexpr const char* kElsewhere = "; check and build also try the ends of their ranges\n";
    const bool is_each_alone = sweep_.parameters.size() > 1;
    std::vector<std::string> names;
    for (const ParameterValue& parameter : sweep_.base.compiled.profile()->parameters) {
      const bool stays = is_each_alone || !is_varied(parameter.name);
      if (parameter.range && !parameter.set && stays) names.push_back("`" + parameter.name + "`");
    }
    if (names.empty()) return;
    if (is_each_alone) {
      text_ += std::string("each is varied alone, and the others stay as they are") + kElsewhere;
      return;
    }
    for (std::size_t i = 0; i < names.size(); ++i) {
      if (i > 0) text_ += i + 1 < names.size() ? ", " : " and ";
      text_ += names[i];
    }
    text_ += std::string(names.size() > 1 ? " stay as they are" : " stays as it is") +
             (names.size() > 1 ? kElsewhere : "; check and build also try the ends of its range\n");
  }

  [[nodiscard]] bool is_varied(const std::string& name) const {
    if (sweep_.map) return sweep_.map->across.name == name || sweep_.map->upright.name == name;
    return sweep_.parameters.front().name == name;
  }

  void write_present(const Trial& present) {
    text_ += present.holds() ? "PASS at the present values" : "FAIL at the present values: " + errors_text(present);
    if (present.tightest) text_ += "; tightest margin: " + margin_text(*present.tightest);
    text_ += "\n";
  }

  [[nodiscard]] std::string goal_text() const {
    if (find_->goal == Goal::LeastDuration) return "shortest run";
    if (find_->goal == Goal::LeastEnergy) return "least energy" + (find_->name == "total" ? "" : " of " + find_->name);
    return (find_->goal == Goal::LeastValue ? "least " : "greatest ") + find_->name;
  }

  void write_find() {
    if (!sweep_.best) {
      write_nearest();
      return;
    }
    const Best& best = *sweep_.best;
    const ParameterSweep& parameter = sweep_.parameters[best.parameter];
    const bool is_of_value = find_->goal == Goal::LeastValue || find_->goal == Goal::GreatestValue;
    text_ += goal_text() + ": ";
    if (!is_of_value) text_ += figure_text(best.trial) + " with " + parameter.name + " at ";
    text_ += value_text(parameter, best.trial) + "\n";
    text_ += "  --set " + best.setting + "\n";
    text_ += std::string("  compiled again with it: ") +
             (best.confirmed ? "PASS" + tried_text(best) : "FAIL; the findings say why") + "\n";
    if (!is_of_value) {
      text_ += "  at the present value: " + figure_text(parameter.present) + "\n";
    } else if (best.beyond) {
      text_ += "  what limits it: at " + value_text(parameter, *best.beyond) + ", " + errors_text(*best.beyond) + "\n";
    } else {
      text_ += "  what limits it: the end of the range\n";
    }
    if (best.tightest) text_ += "  tightest margin with it: " + margin_text(*best.tightest) + "\n";
  }

  // What the value was tried with.
  [[nodiscard]] std::string tried_text(const Best& best) const {
    std::string text = best.corners > 1 ? " in all " + counted(best.corners, "corner") : "";
    if (best.corners == 1) text = ", no tolerances in load and bench";
    if (sweep_.has_load && !demand_.corners) text = ", everything nominal";
    if (demand_.keep > 0) text += ", " + to_text(100 * demand_.keep, "%") + " of each limit left";
    if (best.corners > 1 && !best.answer.predictions.fault_runs.empty())
      text += "; faults tried with nominal values only";
    return text;
  }

  [[nodiscard]] std::string figure_text(const Trial& trial) const {
    return find_->goal == Goal::LeastDuration ? to_text(trial.duration_s, "s") : short_text(trial.energy_J, "J");
  }

  void write_nearest() {
    text_ += goal_text() + ": none; no value tried passes";
    if (demand_.corners && sweep_.has_load) text_ += " in all corners";
    if (demand_.keep > 0) text_ += " with " + to_text(100 * demand_.keep, "%") + " of each limit left";
    text_ += "\n";
    if (!sweep_.nearest) return;
    const sweep::Nearest& nearest = *sweep_.nearest;
    const ParameterSweep& parameter = sweep_.parameters[nearest.parameter];
    text_ += "  nearest: " + parameter.name + " at " + value_text(parameter, nearest.trial);
    if (nearest.corners > 0)
      text_ += ", with errors in " + std::to_string(nearest.corners) + " of " + counted(nearest.tried, "corner");
    text_ += "\n    what fails: " + errors_text(nearest.trial) + "\n";
  }

  void write_parameter(const ParameterSweep& parameter) {
    text_ += parameter.name + " (now " + value_text(parameter, parameter.present) + "): ";
    if (parameter.intervals.empty()) {
      text_ += "no value from " + value_text(parameter, parameter.range.low) + " to " +
               value_text(parameter, parameter.range.high) + " passes\n  nearest at " +
               value_text(parameter, *parameter.least_bad) + ": " + errors_text(*parameter.least_bad) + "\n";
    }
    bool is_first = true;
    const std::size_t shown = std::min(parameter.intervals.size(), kMostIntervalsShown);
    for (const Interval& interval : std::span(parameter.intervals).first(shown)) {
      text_ += std::string(is_first ? "" : "  and ") + "PASS " +
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
    text_ += fails ? "at " + value_text(parameter, *fails) + ", " + errors_text(*fails) : "end of the range";
    text_ += "\n";
    if (end.tightest) {
      text_ += "    tightest margin at " + value_text(parameter, end) + ": " + margin_text(*end.tightest) + "\n";
    }
  }

  // Said of each, since it decides what the intervals are worth.
  void write_effort(const ParameterSweep& parameter) {
    const std::string step = value_text(parameter, parameter.step);
    text_ += "  " + counted(parameter.trials.size(), "value") + " tried, ";
    if (parameter.scan_step) {
      const std::string scan = value_text(parameter, *parameter.scan_step);
      text_ += "every " + scan + " and down to " + step + " where the errors change: an interval shorter than " + scan +
               " may be missed\n";
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

  // The first error with its place, and how many more there are; or the limit of which too little is left.
  [[nodiscard]] std::string errors_text(const Trial& trial) const {
    if (trial.errors.empty()) return trial.too_little ? margin_text(*trial.too_little) : "nothing in a plain run";
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
  const sweep::Demand& demand_;
  std::string text_;
};

}  // namespace

std::string sweep_text(const Sweep& sweep, const sweep::Request& request) {
  return SweepText(sweep, request).write();
}

}  // namespace rampart::cli
