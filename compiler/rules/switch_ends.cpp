#include "compiler/rules/switch_ends.h"

#include <algorithm>
#include <set>

#include "compiler/rules/monitor.h"
#include "compiler/rules/rule_plan.h"

namespace rampart::rules {
namespace {

using Supplies = std::set<std::size_t>;

// Of the rails' supplies those whose delay is not known exactly.
Supplies open_supplies(const Table& table, const std::vector<RailId>& rails) {
  Supplies supplies;
  for (const RailId rail : rails) {
    for (const ChannelId member : table.rails()[static_cast<std::size_t>(rail)].members) {
      const Supply& supply = table.bench().supply_of(member);
      if (supply.timing.on_delay.low < supply.timing.on_delay.high) {
        supplies.insert(static_cast<std::size_t>(table.bench()[member].supply));
      }
    }
  }
  return supplies;
}

class Ends {
 public:
  explicit Ends(const Table& table) : table_(table) {}

  void add(const RulePlan& plan) {
    const Supplies all = open_supplies(table_, plan.rails);
    if (all.size() <= kMostSuppliesAtEnds) {
      add_every(all);
    } else {
      add_some(plan, all);
    }
  }
  // A rule finds at the ends of its own supplies what it finds where others are at their ends too.
  [[nodiscard]] std::vector<SwitchPositions> take() const {
    std::vector<SwitchPositions> ends;
    for (const SwitchPositions& one : found_) {
      const bool is_part = std::any_of(found_.begin(), found_.end(),
                                       [&](const SwitchPositions& other) { return is_part_of(one, other); });
      if (!is_part) ends.push_back(one);
    }
    return ends;
  }

 private:
  static bool is_part_of(const SwitchPositions& one, const SwitchPositions& other) {
    if (one == other) return false;
    for (std::size_t i = 0; i < one.size(); ++i) {
      if (one[i] != 0 && one[i] != other[i]) return false;
    }
    return true;
  }

  void add_every(const Supplies& all) {
    if (all.empty()) return;
    for (std::size_t bits = 0; bits < (std::size_t{1} << all.size()); ++bits) {
      SwitchPositions positions(table_.bench().supplies.size());
      std::size_t bit = 0;
      for (const std::size_t supply : all) positions[supply] = (bits >> bit++ & 1) != 0 ? 1 : -1;
      found_.insert(std::move(positions));
    }
  }

  void add_some(const RulePlan& plan, const Supplies& all) {
    add_against({}, all);
    for (const std::size_t supply : all) add_against({supply}, all);
    for (const std::vector<RailId>& rails : plan.condition_rails) add_against(open_supplies(table_, rails), all);
  }

  // The first at either end, all others at the other.
  void add_against(const Supplies& some, const Supplies& all) {
    for (const double end : {-1.0, 1.0}) {
      SwitchPositions positions(table_.bench().supplies.size());
      for (const std::size_t supply : all) positions[supply] = some.count(supply) != 0 ? end : -end;
      found_.insert(std::move(positions));
    }
  }

  const Table& table_;
  std::set<SwitchPositions> found_;
};

}  // namespace

std::vector<SwitchPositions> switch_ends(const Table& table, RuleSide side) {
  Ends ends(table);
  for (const RulePlan& plan : plan_rules(table)) {
    if (plan.fits(side)) ends.add(plan);
  }
  return ends.take();
}

bool is_worse(const RuleResult& other, const RuleResult& result) {
  return other.exercised && (!result.exercised || badness_of(other) < badness_of(result));
}

void keep_worse(std::vector<RuleResult>& results, const std::vector<RuleResult>& others,
                const SwitchPositions& positions) {
  for (std::size_t i = 0; i < results.size(); ++i) {
    RuleResult& result = results[i];
    const RuleResult& other = others[i];
    if (!is_worse(other, result)) continue;
    const RuleResult nominal = result;
    result = other;
    result.switches = positions;
    result.nominal_there = other.nominal;
    result.nominal = nominal.nominal;
    result.holds_as_written = nominal.holds_as_written;
  }
}

}  // namespace rampart::rules
