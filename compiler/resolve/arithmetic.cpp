#include <algorithm>
#include <cstdlib>

#include "compiler/resolve/evaluator.h"
#include "lang/findings/resolve.h"
#include "lang/findings/syntax.h"

// What expressions do with quantities and linear forms.
namespace rampart::resolving {
namespace {

using ast::Operator;

// Far from where the exponents of a dimension overflow, and from any use.
constexpr int kMaxUnitPower = 30;

// Adds `other` · `scale` to `form`. Terms of one signal are merged, so that `a - a` depends on nothing.
void accumulate(LinearForm& form, const LinearForm& other, const Rational& scale) {
  for (const Term& term : other.terms) {
    const auto same = std::find_if(form.terms.begin(), form.terms.end(), [&term](const Term& candidate) {
      return candidate.rail == term.rail && candidate.signal == term.signal;
    });
    if (same == form.terms.end()) {
      form.terms.push_back({term.rail, term.signal, term.coefficient * scale});
    } else {
      same->coefficient = same->coefficient + term.coefficient * scale;
    }
  }
  form.constant = form.constant + other.constant * scale;
  // An overflowed coefficient stays: checked() looks for it.
  std::erase_if(form.terms,
                [](const Term& term) { return !term.coefficient.overflowed() && term.coefficient.sign() == 0; });
}

void scale_form(LinearForm& form, const Rational& scale, const Dimension& unit) {
  LinearForm scaled;
  accumulate(scaled, form, scale);
  scaled.unit = unit;
  form = std::move(scaled);
}

// Adds `other` · `scale`.
void accumulate(Value& value, const Value& other, const Rational& scale) {
  accumulate(value.form, other.form, scale);
  for (const AbsoluteTerm& term : other.absolutes) {
    value.absolutes.push_back({term.coefficient * scale, term.form});
  }
}

void scale_value(Value& value, const Rational& scale, const Dimension& unit) {
  scale_form(value.form, scale, unit);
  for (AbsoluteTerm& term : value.absolutes) term.coefficient = term.coefficient * scale;
  std::erase_if(value.absolutes, [](const AbsoluteTerm& term) {
    return !term.coefficient.overflowed() && term.coefficient.sign() == 0;
  });
}

bool overflowed(const LinearForm& form) {
  return form.constant.overflowed() || std::any_of(form.terms.begin(), form.terms.end(),
                                                   [](const Term& term) { return term.coefficient.overflowed(); });
}

bool overflowed(const Value& value) {
  return overflowed(value.form) ||
         std::any_of(value.absolutes.begin(), value.absolutes.end(),
                     [](const AbsoluteTerm& term) { return term.coefficient.overflowed() || overflowed(term.form); });
}

// Each of them doubles the comparisons that a condition is made of.
constexpr std::size_t kMostAbsolutes = 4;

// The sign of `form` + `absolutes` as comparisons without absolute values. An absolute value is the larger of two sums,
// with a minus before it the smaller one, so the whole is positive if one of two wholes is, or both.
void add_comparisons(const Comparison& comparison, std::span<const AbsoluteTerm> absolutes,
                     std::vector<ConditionNode>& nodes) {
  if (absolutes.empty()) {
    nodes.push_back({Truth::Compare, comparison});
    return;
  }
  const AbsoluteTerm& first = absolutes.front();
  for (const Rational& scale : {first.coefficient, -first.coefficient}) {
    Comparison one = comparison;
    accumulate(one.form, first.form, scale);
    add_comparisons(one, absolutes.subspan(1), nodes);
  }
  Comparison none;
  none.span = comparison.span;
  nodes.push_back({first.coefficient.sign() > 0 ? Truth::Or : Truth::And, none});
}

}  // namespace

Value Evaluator::negate(const ast::ExpressionNode& node, Operand& operand) {
  if (!become_form(operand, operator_text(node.op))) return {};
  scale_value(operand.value, -1, operand.value.form.unit);
  return checked(std::move(operand.value), node.span);
}

Value Evaluator::add(const ast::ExpressionNode& node, Operand& left, Operand& right) {
  if (!become_form(left, operator_text(node.op)) || !become_form(right, operator_text(node.op))) return {};
  if (!require_same_unit(node, left, right)) return {};
  accumulate(left.value, right.value, node.op == Operator::Add ? 1 : -1);
  return checked(std::move(left.value), operator_span(node, left, right));
}

Value Evaluator::multiply(const ast::ExpressionNode& node, Operand& left, Operand& right) {
  if (!become_form(left, "*") || !become_form(right, "*")) return {};
  const Span place = operator_span(node, left, right);
  if (!left.value.is_plain() && !right.value.is_plain()) {
    reporter_.report_value(finding::NotLinear, place, "a product of rails")
        .hint("conditions take sums of rails, each times a plain value");
    return {};
  }
  if (!right.value.is_plain()) std::swap(left.value, right.value);
  scale_value(left.value, right.value.form.constant, left.value.form.unit * right.value.form.unit);
  return checked(std::move(left.value), place);
}

Value Evaluator::divide(const ast::ExpressionNode& node, Operand& left, Operand& right) {
  if (!become_form(left, "/") || !become_form(right, "/")) return {};
  const Span place = operator_span(node, left, right);
  if (!right.value.is_plain()) {
    reporter_.report_value(finding::NotLinear, place, "a quotient by a rail")
        .hint("multiply both sides: write `a >= 2 * b` for `a / b >= 2`");
    return {};
  }
  if (right.value.form.constant.sign() == 0) {
    reporter_.report_value(finding::DivisionByZero, place, quoted(right.span));
    return {};
  }
  scale_value(left.value, Rational(1) / right.value.form.constant, left.value.form.unit / right.value.form.unit);
  return checked(std::move(left.value), place);
}

Value Evaluator::compare(const ast::ExpressionNode& node, Operand& left, Operand& right) {
  if (!become_form(left, operator_text(node.op)) || !become_form(right, operator_text(node.op))) return {};
  if (!require_same_unit(node, left, right)) return {};
  const bool less = node.op == Operator::Less || node.op == Operator::LessEqual;
  if (less) std::swap(left.value, right.value);
  accumulate(left.value, right.value, -1);
  left.value = checked(std::move(left.value), operator_span(node, left, right));
  if (!left.value.is_known()) return {};
  if (left.value.absolutes.size() > kMostAbsolutes) {
    reporter_
        .report_value(finding::NotLinear, node.span,
                      "a comparison with more than " + std::to_string(kMostAbsolutes) + " `abs` of rails")
        .hint("join several comparisons with `and` or `or` instead");
    return {};
  }
  Value value;
  value.kind = ValueKind::Truth;
  const bool strict = node.op == Operator::Less || node.op == Operator::Greater;
  add_comparisons({std::move(left.value.form), strict, node.span}, left.value.absolutes, value.truth);
  return value;
}

Value Evaluator::function(const ast::ExpressionNode& node, std::span<Operand> operands) {
  const std::string_view name = operator_text(node.op);
  for (Operand& operand : operands) {
    if (!become_form(operand, name)) return {};
    if (node.op == Operator::Absolute && operand.value.absolutes.empty()) continue;
    if (!operand.value.is_plain()) {
      const std::string of = node.op == Operator::Absolute ? "` of an `abs` of rails" : "` of rails";
      reporter_.report_value(finding::NotLinear, node.span, "`" + std::string(name) + of)
          .hint("join two conditions with `and` or `or` instead");
      return {};
    }
  }
  Value best = std::move(operands[0].value);
  if (node.op == Operator::Absolute && !best.is_plain()) {
    Value value = Value::of(Quantity{0, best.form.unit});
    value.absolutes.push_back({1, std::move(best.form)});
    return value;
  }
  if (node.op == Operator::Absolute) {
    best.form.constant = abs(best.form.constant);
    return checked(std::move(best), node.span);
  }
  for (Operand& operand : operands.subspan(1)) {
    if (operand.value.form.unit != best.form.unit) {
      reporter_
          .report_value(finding::UnitsDiffer, operand.span, name,
                        quoted(operands[0].span) + " (" + dimension_name(best.form.unit) + ")", described(operand))
          .hint("give all of them the same kind of unit");
      return {};
    }
    const bool better = node.op == Operator::Minimum ? operand.value.form.constant < best.form.constant
                                                     : operand.value.form.constant > best.form.constant;
    if (better) best = std::move(operand.value);
  }
  return best;
}

bool Evaluator::require_same_unit(const ast::ExpressionNode& node, const Operand& left, const Operand& right) {
  if (left.value.form.unit == right.value.form.unit) return true;
  const bool plain = left.value.form.unit == dimension::kNone || right.value.form.unit == dimension::kNone;
  reporter_
      .report_value(finding::UnitsDiffer, operator_span(node, left, right), operator_text(node.op), described(left),
                    described(right))
      .hint(plain ? "give the plain number a unit" : "both sides have to be of one kind");
  return false;
}

Value Evaluator::checked(Value value, const Span& span) {
  const Dimension& unit = value.form.unit;
  const int power = std::max({std::abs(unit.volt), std::abs(unit.amp), std::abs(unit.second), std::abs(unit.kelvin)});
  if (overflowed(value)) {
    reporter_.report_value(finding::NumberTooLarge, span);
  } else if (power > kMaxUnitPower) {
    reporter_.report_value(finding::UnitPowerTooLarge, span, std::int64_t{kMaxUnitPower});
  } else {
    return value;
  }
  return {};
}

}  // namespace rampart::resolving
