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

bool overflowed(const LinearForm& form) {
  return form.constant.overflowed() || std::any_of(form.terms.begin(), form.terms.end(),
                                                   [](const Term& term) { return term.coefficient.overflowed(); });
}

}  // namespace

Value Evaluator::negate(const ast::ExpressionNode& node, Operand& operand) {
  if (!become_form(operand, operator_text(node.op))) return {};
  scale_form(operand.value.form, -1, operand.value.form.unit);
  return checked(std::move(operand.value), node.span);
}

Value Evaluator::add(const ast::ExpressionNode& node, Operand& left, Operand& right) {
  if (!become_form(left, operator_text(node.op)) || !become_form(right, operator_text(node.op))) return {};
  if (!require_same_unit(node, left, right)) return {};
  accumulate(left.value.form, right.value.form, node.op == Operator::Add ? 1 : -1);
  return checked(std::move(left.value), operator_span(node, left, right));
}

Value Evaluator::multiply(const ast::ExpressionNode& node, Operand& left, Operand& right) {
  if (!become_form(left, "*") || !become_form(right, "*")) return {};
  const Span place = operator_span(node, left, right);
  if (!left.value.form.terms.empty() && !right.value.form.terms.empty()) {
    reporter_.report_value(finding::NotLinear, place, "a product of rails")
        .hint("conditions take sums of rails, each times a plain value");
    return {};
  }
  if (!right.value.form.terms.empty()) std::swap(left.value, right.value);
  scale_form(left.value.form, right.value.form.constant, left.value.form.unit * right.value.form.unit);
  return checked(std::move(left.value), place);
}

Value Evaluator::divide(const ast::ExpressionNode& node, Operand& left, Operand& right) {
  if (!become_form(left, "/") || !become_form(right, "/")) return {};
  const Span place = operator_span(node, left, right);
  if (!right.value.form.terms.empty()) {
    reporter_.report_value(finding::NotLinear, place, "a quotient by a rail")
        .hint("multiply both sides: write `a >= 2 * b` for `a / b >= 2`");
    return {};
  }
  if (right.value.form.constant.sign() == 0) {
    reporter_.report_value(finding::DivisionByZero, place, quoted(right.span));
    return {};
  }
  scale_form(left.value.form, Rational(1) / right.value.form.constant, left.value.form.unit / right.value.form.unit);
  return checked(std::move(left.value), place);
}

Value Evaluator::compare(const ast::ExpressionNode& node, Operand& left, Operand& right) {
  if (!become_form(left, operator_text(node.op)) || !become_form(right, operator_text(node.op))) return {};
  if (!require_same_unit(node, left, right)) return {};
  const bool less = node.op == Operator::Less || node.op == Operator::LessEqual;
  if (less) std::swap(left.value, right.value);
  accumulate(left.value.form, right.value.form, -1);
  left.value = checked(std::move(left.value), operator_span(node, left, right));
  if (!left.value.is_known()) return {};
  Value value;
  value.kind = ValueKind::Truth;
  const bool strict = node.op == Operator::Less || node.op == Operator::Greater;
  value.truth.push_back({Truth::Compare, {std::move(left.value.form), strict, node.span}});
  return value;
}

Value Evaluator::function(const ast::ExpressionNode& node, std::span<Operand> operands) {
  const std::string_view name = operator_text(node.op);
  for (Operand& operand : operands) {
    if (!become_form(operand, name)) return {};
    if (!operand.value.form.terms.empty()) {
      reporter_.report_value(finding::NotLinear, node.span, "`" + std::string(name) + "` of rails")
          .hint("join two conditions with `and` or `or` instead");
      return {};
    }
  }
  Value best = std::move(operands[0].value);
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
  if (overflowed(value.form)) {
    reporter_.report_value(finding::NumberTooLarge, span);
  } else if (power > kMaxUnitPower) {
    reporter_.report_value(finding::UnitPowerTooLarge, span, std::int64_t{kMaxUnitPower});
  } else {
    return value;
  }
  return {};
}

}  // namespace rampart::resolving
