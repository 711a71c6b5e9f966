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

RuleWatch::RuleWatch(const Table& table, bool is_certain)
    : plans_(rules::plan_rules(table)), doing_(table.rails().size()) {
  for (const rules::RulePlan& plan : plans_) {
    if (plan.fits(RuleSide::Simulated)) monitors_.push_back(rules::make_monitor(plan));
  }
  for (const RailSetup& setup : table.rails()) {
    signs_.push_back(table.profile()[setup.rail].reversed ? -1.0 : 1.0);
    voltage_accuracies_.push_back(is_certain ? std::nullopt : rules::voltage_accuracy(table, setup.rail));
    current_accuracies_.push_back(is_certain ? std::nullopt : rules::current_accuracy(table, setup.rail));
  }
}

RuleWatch RuleWatch::without_rules() const {
  RuleWatch result;
  result.doing_ = doing_;
  return result;
}

RuleWatch RuleWatch::clone() const {
  RuleWatch result = without_rules();
  for (const auto& monitor : monitors_) result.monitors_.push_back(monitor->clone());
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

OutputError RuleWatch::error_of(const RailRun& rail, double length) const {
  OutputError error;
  const circuit::Setting& setting = rail.circuit().setting();
  if (!setting.on) return error;
  const auto id = static_cast<std::size_t>(rail.id());
  for (const int end : {0, 1}) {
    const double volts = setting.voltage + setting.voltage_slope * length * end;
    const double amps = setting.limit + setting.limit_slope * length * end;
    error.voltage[end] = error_at(voltage_accuracies_[id], volts);
    error.current[end] = error_at(current_accuracies_[id], amps);
    error.power[end] = std::abs(volts) * error.current[end] + std::abs(amps) * error.voltage[end];
  }
  return error;
}

void RuleWatch::take(const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& now, double length,
                     const Passes& passes) {
  if (monitors_.empty()) return;
  std::vector<RailSignals> signals;
  std::vector<OutputError> errors;
  for (const auto& rail : rails) {
    signals.push_back({&rail->circuit().piece(), signs_[static_cast<std::size_t>(rail->id())]});
    errors.push_back(error_of(*rail, length));
  }
  for (const auto& monitor : monitors_) {
    monitor->take(SimulatedCourses(monitor->plan(), signals, errors, length), {now, doing_, passes});
  }
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
