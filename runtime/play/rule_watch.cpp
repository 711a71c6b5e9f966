#include "runtime/play/rule_watch.h"

#include <algorithm>
#include <cmath>

namespace rampart {
namespace {

template <class Value>
double error_at(const std::optional<Accuracy<Value>>& accuracy, double setpoint) {
  if (!accuracy) return 0;
  return accuracy->fraction.to_double() * std::abs(setpoint) + accuracy->offset.to_double();
}

}  // namespace

RuleWatch::RuleWatch(const Table& table, bool is_certain) : RuleWatch(table.rails().size()) {
  plans_ = rules::plan_rules(table);
  for (const rules::RulePlan& plan : plans_) {
    if (plan.fits(RuleSide::Simulated)) add(rules::make_monitor(plan));
  }
  for (const RailSetup& setup : table.rails()) {
    signs_.push_back(table.profile()[setup.rail].reversed ? -1.0 : 1.0);
    voltage_accuracies_.push_back(is_certain ? std::nullopt : rules::voltage_accuracy(table, setup.rail));
    current_accuracies_.push_back(is_certain ? std::nullopt : rules::current_accuracy(table, setup.rail));
  }
}

void RuleWatch::add(std::unique_ptr<rules::Monitor> monitor) {
  for (const RailId rail : monitor->plan().rails) {
    by_rail_[static_cast<std::size_t>(rail)].push_back(monitors_.size());
  }
  monitors_.push_back(std::move(monitor));
  followed_.emplace_back();
}

RuleWatch RuleWatch::without_rules() const {
  RuleWatch result(doing_.size());
  result.doing_ = doing_;
  return result;
}

RuleWatch RuleWatch::clone() const {
  RuleWatch result = without_rules();
  for (const auto& monitor : monitors_) result.add(monitor->clone());
  result.signs_ = signs_;
  result.voltage_accuracies_ = voltage_accuracies_;
  result.current_accuracies_ = current_accuracies_;
  return result;
}

void RuleWatch::continue_as(const RuleWatch& other, const Instant& by, const Instant& pass_began) {
  for (std::size_t i = 0; i < monitors_.size(); ++i) monitors_[i]->continue_as(*other.monitors_[i], by, pass_began);
  for (std::size_t i = 0; i < doing_.size(); ++i) {
    rules::RailDoing& own = doing_[i];
    const rules::RailDoing& next = other.doing_[i];
    if (next.since.since(pass_began) >= 0) {
      own.statement = next.statement;
      own.call = next.call;
      own.since = next.since.plus(by);
    }
  }
}

bool RuleWatch::look_at_instants(RailId rail) const {
  return std::all_of(monitors_.begin(), monitors_.end(), [&](const auto& monitor) {
    const rules::RulePlan& plan = monitor->plan();
    if (std::find(plan.rails.begin(), plan.rails.end(), rail) == plan.rails.end()) return true;
    return std::holds_alternative<AlwaysRule>(plan.rule->what) && plan.conditions.size() == 1 &&
           plan.negated.front().size() == 1;
  });
}

void RuleWatch::note_change(const RailRun& rail, const Instant& now) {
  const auto id = static_cast<std::size_t>(rail.id());
  doing_[id].statement = rail.doing().statement;
  doing_[id].since = now;
}

OutputError RuleWatch::error_of(const RailRun& rail, const Instant& from, double length) const {
  OutputError error;
  const circuit::Setting& setting = rail.circuit().setting();
  if (!setting.on) return error;
  const auto id = static_cast<std::size_t>(rail.id());
  const double gone = from.since(rail.group().begins());
  for (const int end : {0, 1}) {
    const double time = gone + length * end;
    const double volts = setting.voltage + setting.voltage_slope * time;
    const double amps = setting.limit + setting.limit_slope * time;
    error.voltage[end] = error_at(voltage_accuracies_[id], volts);
    error.current[end] = error_at(current_accuracies_[id], amps);
    error.power[end] = std::abs(volts) * error.current[end] + std::abs(amps) * error.voltage[end];
  }
  return error;
}

void RuleWatch::follow(const std::vector<std::unique_ptr<RailRun>>& rails, std::size_t rail, const Instant& now,
                       const Passes& passes) {
  for (const std::size_t monitor : by_rail_[rail]) follow(monitor, rails, now, passes);
}

void RuleWatch::follow(const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& now, const Passes& passes) {
  for (std::size_t i = 0; i < monitors_.size(); ++i) follow(i, rails, now, passes);
}

void RuleWatch::follow(std::size_t monitor, const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& now,
                       const Passes& passes) {
  const Instant from = followed_[monitor];
  const double length = now.since(from);
  if (length <= kShortestStep) return;
  followed_[monitor] = now;
  const rules::RulePlan& plan = monitors_[monitor]->plan();
  for (const RailId id : plan.rails) {
    const auto i = static_cast<std::size_t>(id);
    signals_[i] = {&parts_.of(i, rails[i]->group(), from, now), signs_[i]};
    errors_[i] = error_of(*rails[i], from, length);
  }
  monitors_[monitor]->take(SimulatedCourses(plan, signals_, errors_, length), {from, doing_, passes});
}

void RuleWatch::mark(std::string_view name, const Instant& now, const Passes& passes) {
  for (const auto& monitor : monitors_) monitor->mark(name, {now, doing_, passes});
}

void RuleWatch::finish(const Instant& now, const Passes& passes) {
  for (const auto& monitor : monitors_) monitor->finish({now, doing_, passes});
}

rules::MonitorState RuleWatch::state(const Instant& now) const {
  rules::MonitorState state;
  for (const auto& monitor : monitors_) monitor->add_state(now, state);
  return state;
}

void RuleWatch::shift(const Instant& by, const Instant& pass_began) {
  for (const auto& monitor : monitors_) monitor->shift(by, pass_began);
  for (rules::RailDoing& doing : doing_) {
    if (doing.since.since(pass_began) >= 0) doing.since = doing.since.plus(by);
  }
}

std::vector<RuleResult> RuleWatch::results() const {
  std::vector<RuleResult> results;
  for (const auto& monitor : monitors_) {
    results.push_back(monitor->result());
    results.back().side = RuleSide::Simulated;
  }
  return results;
}

}  // namespace rampart
