#include "runtime/diff/wait_comparison.h"

#include <algorithm>
#include <tuple>

#include "compiler/table/setup.h"
#include "lang/text/overloaded.h"

namespace rampart::diff {
namespace {

std::string what_text(const Table& table, const Await& await) {
  const Profile& profile = table.profile();
  return std::visit(
      Overloaded{
          [&](const AwaitLine& what) {
            return profile.lines[static_cast<std::size_t>(what.line)].name + (what.high ? " high" : " low");
          },
          [&](const AwaitCondition& what) { return condition_text(profile, profile.conditions[what.condition]); },
          [](const AwaitOperator& what) { return "operator \"" + what.prompt + "\""; }},
      await.what);
}

std::string assumed_text(const Await& await) {
  return await.assume ? to_text(*await.assume) : std::string();
}

// Terms in an order that does not depend on how they were written.
std::vector<std::tuple<std::uint32_t, Signal, Rational>> ordered(
    const LinearForm& form, const std::vector<std::optional<std::uint32_t>>* partners) {
  std::vector<std::tuple<std::uint32_t, Signal, Rational>> terms;
  for (const Term& term : form.terms) {
    std::uint32_t rail = static_cast<std::uint32_t>(term.rail);
    // A rail without a partner is none of the other profile's.
    if (partners != nullptr) rail = (*partners)[rail].value_or(~rail);
    terms.emplace_back(rail, term.signal, term.coefficient);
  }
  std::sort(terms.begin(), terms.end(), [](const auto& a, const auto& b) {
    return std::pair(std::get<0>(a), std::get<1>(a)) < std::pair(std::get<0>(b), std::get<1>(b));
  });
  return terms;
}

}  // namespace

void WaitComparison::compare(const Await& before, const Await& after, const std::string& segment,
                             std::vector<WaitChange>& changes) const {
  if (!same(before, after)) {
    changes.push_back({segment, "for", what_text(before_, before), what_text(after_, after)});
  }
  if (before.within != after.within) {
    changes.push_back({segment, "within", to_text(before.within), to_text(after.within)});
  }
  if (before.assume != after.assume) {
    changes.push_back({segment, "assume", assumed_text(before), assumed_text(after)});
  }
}

bool WaitComparison::same(const Await& before, const Await& after) const {
  if (before.what.index() != after.what.index()) return false;
  if (const auto* line = std::get_if<AwaitLine>(&before.what)) {
    const AwaitLine& other = std::get<AwaitLine>(after.what);
    return line->high == other.high &&
           partners_.lines[static_cast<std::size_t>(line->line)] == static_cast<std::uint32_t>(other.line);
  }
  if (const auto* condition = std::get_if<AwaitCondition>(&before.what)) {
    const AwaitCondition& other = std::get<AwaitCondition>(after.what);
    return same(before_.profile().conditions[condition->condition], after_.profile().conditions[other.condition]);
  }
  return std::get<AwaitOperator>(before.what).prompt == std::get<AwaitOperator>(after.what).prompt;
}

bool WaitComparison::same(const Condition& before, const Condition& after) const {
  return std::equal(before.nodes.begin(), before.nodes.end(), after.nodes.begin(), after.nodes.end(),
                    [this](const ConditionNode& a, const ConditionNode& b) {
                      if (a.op != b.op) return false;
                      if (a.op != Truth::Compare) return true;
                      return a.comparison.strict == b.comparison.strict && same(a.comparison.form, b.comparison.form);
                    });
}

bool WaitComparison::same(const LinearForm& before, const LinearForm& after) const {
  return before.constant == after.constant && before.unit == after.unit &&
         ordered(before, &partners_.rails) == ordered(after, nullptr);
}

}  // namespace rampart::diff
