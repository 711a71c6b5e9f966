#include "compiler/export/condition_json.h"

#include <array>
#include <nlohmann/json.hpp>
#include <string_view>

namespace rampart {
namespace {

using Json = nlohmann::ordered_json;

// In the order of Truth and of Signal.
constexpr std::array<std::string_view, 4> kOperators{"compare", "and", "or", "not"};
constexpr std::array<std::string_view, 4> kQuantities{"voltage", "current", "power", "slew"};

Json step_json(const Profile& profile, const ConditionNode& node) {
  Json step{{"op", kOperators[static_cast<std::size_t>(node.op)]}};
  if (node.op != Truth::Compare) return step;
  const LinearForm& form = node.comparison.form;
  Json terms = Json::array();
  for (const Term& term : form.terms) {
    terms.push_back({{"quantity", kQuantities[static_cast<std::size_t>(term.signal)]},
                     {"rail", profile[term.rail].name},
                     {"factor", term.coefficient.to_double()}});
  }
  step["terms"] = std::move(terms);
  step["constant"] = form.constant.to_double();
  step["strict"] = node.comparison.strict;
  return step;
}

}  // namespace

std::string condition_steps(const Profile& profile, const Condition& condition) {
  Json steps = Json::array();
  for (const ConditionNode& node : condition.nodes) steps.push_back(step_json(profile, node));
  return steps.dump();
}

}  // namespace rampart
