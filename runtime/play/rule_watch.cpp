#include "runtime/play/rule_watch.h"

#include <algorithm>

namespace rampart {

RuleWatch::RuleWatch(const Table& table, bool is_certain, bool tells_nearest) : RuleWatch(table.rails().size()) {
  plans_ = rules::plan_rules(table);
  for (rules::RulePlan& plan : plans_) plan.tells_nearest = tells_nearest;
  for (const rules::RulePlan& plan : plans_) {
    if (plan.fits(RuleSide::Simulated)) add(rules::make_monitor(plan));
  }
  for (const RailSetup& setup : table.rails()) {
    stretches_.emplace_back(table.profile()[setup.rail].reversed ? -1.0 : 1.0,
                            is_certain ? std::nullopt : rules::voltage_accuracy(table, setup.rail),
                            is_certain ? std::nullopt : rules::current_accuracy(table, setup.rail));
  }
}

void RuleWatch::add(std::unique_ptr<rules::Monitor> monitor) {
  for (const RailId rail : monitor->plan().rails) {
    by_rail_[static_cast<std::size_t>(rail)].push_back(monitors_.size());
  }
  courses_.emplace_back(monitor->plan());
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
  result.stretches_ = std::vector<RailStretch>(stretches_);
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

void RuleWatch::follow(const std::vector<std::unique_ptr<RailRun>>& rails, std::size_t rail, const Instant& now,
                       const Passes& passes) {
  ++turn_;
  for (const std::size_t monitor : by_rail_[rail]) follow(monitor, rails, now, passes);
}

void RuleWatch::follow(const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& now, const Passes& passes) {
  ++turn_;
  for (std::size_t i = 0; i < monitors_.size(); ++i) follow(i, rails, now, passes);
}

void RuleWatch::follow(std::size_t monitor, const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& now,
                       const Passes& passes) {
  const Instant from = followed_[monitor];
  const double length = now.since(from);
  if (length <= kShortestStep) return;
  followed_[monitor] = now;
  if (monitors_[monitor]->is_over()) return;
  for (const RailId id : monitors_[monitor]->plan().rails) {
    const auto i = static_cast<std::size_t>(id);
    stretches_[i].look_at(*rails[i], from, now, turn_);
  }
  courses_[monitor].begin(stretches_, length);
  monitors_[monitor]->take(courses_[monitor], {from, doing_, passes});
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

void RuleWatch::add_memory(const Instant& now, std::vector<double>& memory) const {
  for (std::size_t i = 0; i < monitors_.size(); ++i) {
    memory.push_back(followed_[i].since(now));
    monitors_[i]->add_memory(now, memory);
  }
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
