#include "runtime/answer/wait_words.h"

#include <algorithm>
#include <cmath>

#include "compiler/profile/approach_words.h"
#include "compiler/profile/fold_condition.h"
#include "lang/values/quantity.h"

namespace rampart {
namespace {

constexpr std::size_t kMostParts = 4;

}  // namespace

std::string awaited_words(const Profile& profile, const SourceSet& texts, const Awaited& wait) {
  const Condition& condition = profile.conditions[wait.condition];
  if (condition.nodes.size() != 1) return "the condition";
  return "`" + std::string(texts.text(condition.span)) + "`";
}

std::string nearest_words(const Profile& profile, const Awaited& wait) {
  const Condition& condition = profile.conditions[wait.condition];
  const bool has_not = std::any_of(condition.nodes.begin(), condition.nodes.end(),
                                   [](const ConditionNode& node) { return node.op == Truth::Not; });
  if (has_not) return {};
  std::string text;
  std::size_t next = 0;
  std::size_t never = 0;
  for_each_comparison(condition, [&](const Comparison& comparison) {
    if (next >= wait.nearest.size()) return;
    const Approach& nearest = wait.nearest[next++];
    if (nearest.distance >= 0 || !std::isfinite(nearest.distance) || ++never > kMostParts) return;
    if (!text.empty()) text += "; ";
    text += approach_words(profile, comparison.form, nearest.distance) + ", at " + to_text(nearest.time_s, "s");
  });
  if (never == 0 && condition.nodes.size() > 1) return "its parts are true, but never at the same time";
  return text;
}

}  // namespace rampart
