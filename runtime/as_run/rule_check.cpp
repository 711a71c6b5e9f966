#include "runtime/as_run/rule_check.h"

#include <algorithm>
#include <cmath>
#include <variant>

#include "runtime/as_run/run_times.h"

namespace rampart::as_run {
namespace {

// How fast the slower of both ways of all channels together lets a rail move.
double slew_of(const Table& table, const RailSetup& setup) {
  double slew = 0;
  for (const ChannelId member : setup.members) {
    const std::optional<Slew>& own = table.bench()[member].slew;
    if (!own) return 0;
    const double fastest = std::max(own->up.to_double(), own->down.to_double());
    slew = setup.arrangement == Arrangement::Series ? slew + fastest : std::max(slew, fastest);
  }
  return slew;
}

// What all channels together can give, or nothing.
Range<double> reach_of(const Table& table, const RailSetup& setup, double sign) {
  Range<double> reach{0, 0};
  for (const ChannelId member : setup.members) {
    const Range<Volts>& own = table.bench()[member].limits.voltage.value;
    const double low = std::min(0.0, own.low.si.to_double());
    const double high = own.high.si.to_double();
    const bool adds = setup.arrangement == Arrangement::Series;
    reach = {adds ? reach.low + low : std::min(reach.low, low), adds ? reach.high + high : std::max(reach.high, high)};
  }
  return sign < 0 ? Range<double>{-reach.high, -reach.low} : reach;
}

Instant instant_of(double seconds) {
  return Instant{}.plus_seconds(seconds);
}

}  // namespace

RuleCheck::RuleCheck(const Table& table) : plans_(rules::plan_rules(table)) {
  for (rules::RulePlan& plan : plans_) plan.skew = Nanoseconds{0};
  for (const rules::RulePlan& plan : plans_) {
    // A slew between two readings is no slew of the rail.
    watched_.push_back(plan.has_slew
                           ? Watched{}
                           : Watched{rules::make_monitor(plan), rules::make_monitor(plan), rules::make_monitor(plan)});
  }
  for (const RailSetup& setup : table.rails()) {
    signs_.push_back(table.profile()[setup.rail].reversed ? -1.0 : 1.0);
    slews_.push_back(slew_of(table, setup));
    reach_.push_back(reach_of(table, setup, signs_.back()));
  }
  doing_.resize(table.rails().size());
  last_.resize(table.rails().size());
  present_.resize(table.rails().size());
}

void RuleCheck::take(std::size_t rail, double run_s, const RailPoint& point) {
  if (plans_.empty()) return;
  if (has_present_ && run_s > present_s_) end_instant();
  present_s_ = run_s;
  has_present_ = true;
  present_[rail] = point;
  present_[rail].read_s = run_s;
}

// Between two readings a rail leaves the line that joins them by at most its slew for half of the time.
std::vector<RailPoint> RuleCheck::moved(std::vector<RailPoint> points, double at_s, double length) const {
  for (std::size_t i = 0; i < points.size(); ++i) {
    RailPoint& point = points[i];
    const double most = slews_[i] * (at_s - point.read_s + length / 2);
    point.moved_down = std::min(most, std::max(0.0, point.volts - reach_[i].low));
    point.moved_up = std::min(most, std::max(0.0, reach_[i].high - point.volts));
  }
  return points;
}

void RuleCheck::end_instant() {
  const double length = has_last_ ? present_s_ - last_s_ : 0;
  for (const Watched& watched : watched_) {
    if (!watched.at_worst) continue;
    const rules::RulePlan& plan = watched.at_worst->plan();
    const bool known = std::all_of(plan.rails.begin(), plan.rails.end(),
                                   [&](RailId rail) { return present_[static_cast<std::size_t>(rail)].known; });
    const bool was_known = std::all_of(plan.rails.begin(), plan.rails.end(),
                                       [&](RailId rail) { return last_[static_cast<std::size_t>(rail)].known; });
    if (!known) continue;
    const bool has_way = has_last_ && was_known;
    if (has_way) longest_ = std::max(longest_, length);
    // What was not read is between two readings only where the bench bounds it, or where an order in time is asked for.
    const bool is_timed = !std::holds_alternative<AlwaysRule>(plan.rule->what);
    const auto give = [&](rules::Monitor& monitor, bool goes, double between, double sign) {
      const rules::Scene at{instant_of(goes ? last_s_ : present_s_), doing_, {}};
      const std::vector<RailPoint> to = moved(present_, present_s_, between);
      monitor.take(
          MeasuredCourses(plan, goes ? moved(last_, last_s_, between) : to, to, signs_, goes ? length : 0, sign), at);
    };
    const bool goes_all = has_way && (is_timed || is_bounded(plan));
    give(*watched.at_worst, goes_all, goes_all && is_bounded(plan) ? length : 0, 1);
    give(*watched.at_readings, has_way && is_timed, 0, 1);
    give(*watched.at_best, has_way && is_timed, 0, -1);
  }
  last_ = present_;
  last_s_ = present_s_;
  has_last_ = true;
}

bool RuleCheck::is_measured(const rules::RulePlan& plan) const {
  return std::all_of(plan.rails.begin(), plan.rails.end(),
                     [&](RailId rail) { return last_[static_cast<std::size_t>(rail)].known; });
}

bool RuleCheck::is_bounded(const rules::RulePlan& plan) const {
  return !plan.has_measured && std::all_of(plan.rails.begin(), plan.rails.end(),
                                           [&](RailId rail) { return slews_[static_cast<std::size_t>(rail)] > 0; });
}

std::string RuleCheck::why_unsure(const rules::RulePlan& plan) const {
  const std::string holds = "holds at every reading, but not surely between them: ";
  if (plan.has_measured) return holds + "the log does not show what a current does there";
  return holds + (is_bounded(plan) ? "read more often" : "give `slew` in the bench");
}

MeasuredResult RuleCheck::result_of(const Watched& watched, bool is_whole,
                                    const std::vector<MeasuredFigures>& figures) const {
  MeasuredResult result;
  const rules::RulePlan& plan = watched.at_worst->plan();
  const RuleResult worst = watched.at_worst->result();
  const RuleResult at_readings = watched.at_readings->result();
  const RuleResult best = watched.at_best->result();
  result.unit = worst.unit;
  if (!is_measured(plan)) {
    const bool is_read = std::all_of(plan.rails.begin(), plan.rails.end(), [&](RailId rail) {
      return figures[static_cast<std::size_t>(rail)].lacks_meter || last_[static_cast<std::size_t>(rail)].known;
    });
    result.why = is_read ? kUnmetered : "the log has no readings of some of its rails";
    return result;
  }
  result.most = best.margin;
  // Either of two instants lies anywhere between the readings around it.
  const bool is_time = worst.unit == "s";
  if (is_time && result.most) *result.most += 2 * longest_;
  const auto least_of = [&](const RuleResult& one, bool is_sure) {
    const double doubt = is_time && !is_sure ? 2 * longest_ : 0;
    return one.margin ? std::optional(*one.margin - doubt) : std::nullopt;
  };
  const auto holds = [&](const RuleResult& one, const std::optional<double>& least) {
    return one.holds && !(is_time && least && *least < 0);
  };
  result.least = least_of(worst, is_bounded(plan));
  const std::optional<double> least_at_readings = least_of(at_readings, false);
  const bool is_sure = is_bounded(plan) && holds(worst, result.least);
  const bool is_broken = is_time && result.most ? *result.most < 0 : !best.holds;
  if (is_broken) {
    result.result = Observed::Fail;
  } else if (!at_readings.exercised) {
    result.why = "the event that it refers to did not occur";
  } else if (!is_sure && !holds(at_readings, least_at_readings)) {
    result.why = "the uncertainty of the measurement is larger than the margin";
  } else if (!is_whole) {
    result.why = "readings are missing";
  } else {
    result.holds_at_readings = true;
    if (is_sure) {
      result.result = Observed::Pass;
    } else {
      result.least = least_at_readings;
      result.why = why_unsure(plan);
    }
  }
  return result;
}

std::vector<MeasuredResult> RuleCheck::finish(double end_s, bool is_whole,
                                              const std::vector<MeasuredFigures>& figures) {
  if (has_present_) end_instant();
  std::vector<MeasuredResult> results;
  const rules::Scene scene{instant_of(end_s), doing_, {}};
  for (std::size_t i = 0; i < watched_.size(); ++i) {
    MeasuredResult result;
    if (watched_[i].at_worst) {
      watched_[i].at_worst->finish(scene);
      watched_[i].at_readings->finish(scene);
      watched_[i].at_best->finish(scene);
      result = result_of(watched_[i], is_whole, figures);
    } else {
      result.why = "a log has no slew rate";
    }
    const Rule& rule = *plans_[i].rule;
    result.text = rule.name;
    result.span = rule.span;
    results.push_back(std::move(result));
  }
  return results;
}

}  // namespace rampart::as_run
