#pragma once

#include <cstddef>
#include <type_traits>
#include <utility>
#include <vector>

#include "compiler/profile/profile.h"

namespace rampart {

// Works a condition out from its comparisons upwards: whether it holds, how far it is from holding, how it is written.
// compare(node, i) gives the value of the i-th comparison, in the order of the text; negate(value) that of its `not`;
// join(node, left, right) that of an `and` or `or`, which node.op tells apart. An empty condition gives an empty value.
template <class Compare, class Negate, class Join>
[[nodiscard]] auto fold_condition(const Condition& condition, const Compare& compare, const Negate& negate,
                                  const Join& join) {
  using Value = std::decay_t<std::invoke_result_t<const Compare&, const ConditionNode&, std::size_t>>;
  // Most conditions are a single comparison.
  if (condition.nodes.size() == 1) return Value(compare(condition.nodes.front(), std::size_t{0}));
  std::vector<Value> operands;
  const auto take = [&operands] {
    Value value = std::move(operands.back());
    operands.pop_back();
    return value;
  };
  std::size_t compared = 0;
  for (const ConditionNode& node : condition.nodes) {
    if (node.op == Truth::Compare) {
      operands.push_back(compare(node, compared++));
      continue;
    }
    Value right = take();
    if (node.op == Truth::Not) {
      operands.push_back(negate(std::move(right)));
    } else {
      Value left = take();
      operands.push_back(join(node, std::move(left), std::move(right)));
    }
  }
  return operands.empty() ? Value{} : take();
}

// Whether a condition is true where is_true(node, i) tells it of each comparison.
template <class IsTrue>
[[nodiscard]] bool is_true(const Condition& condition, const IsTrue& comparison_is_true) {
  return fold_condition(
      condition, comparison_is_true, [](bool value) { return !value; },
      [](const ConditionNode& node, bool left, bool right) {
        return node.op == Truth::And ? left && right : left || right;
      });
}

// Calls see(comparison) for each comparison, in the order of the text.
template <class See>
void for_each_comparison(const Condition& condition, const See& see) {
  for (const ConditionNode& node : condition.nodes) {
    if (node.op == Truth::Compare) see(node.comparison);
  }
}

}  // namespace rampart
