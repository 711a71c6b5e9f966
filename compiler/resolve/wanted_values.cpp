#include "compiler/resolve/evaluator.h"
#include "lang/findings/resolve.h"

// What a statement wants an expression or a name to be.
namespace rampart::resolving {

Value Evaluator::any_value(const ast::Expression& expression, const Frame& frame) {
  Value value = evaluate(expression, frame);
  if (value.is_quantity() || !value.is_known()) return value;
  if (value.kind == ValueKind::Form) {
    reporter_.report_value(finding::DependsOnRail, expression.span(), quoted(expression.span()))
        .hint("rules and `await` can test what a rail does; values cannot be calculated from it");
  } else {
    reporter_.report_value(finding::WrongKind, expression.span(), quoted(expression.span()), kind_of(value), "a value");
  }
  return {};
}

std::optional<Quantity> Evaluator::any_quantity(const ast::Expression& expression, const Frame& frame) {
  const Value value = any_value(expression, frame);
  return value.is_known() ? std::optional(value.quantity()) : std::nullopt;
}

std::optional<Rational> Evaluator::quantity(const ast::Expression& expression, const Frame& frame, Dimension wanted,
                                            const Instead& instead) {
  const std::optional<Quantity> found = any_quantity(expression, frame);
  if (!found) return std::nullopt;
  if (found->dimension == wanted) return found->value;
  FindingSink::Addition addition =
      reporter_.report_value(finding::WrongUnit, expression.span(), quoted(expression.span()),
                             with_article(found->dimension), with_article(wanted));
  if (!instead.words.empty() && found->dimension == instead.dimension) {
    addition.hint("write `" + std::string(instead.words) + " " + std::string(sources_.text(expression.span())) + "`");
  } else if (found->dimension == dimension::kNone) {
    addition.hint("every number with a dimension needs its unit, as in `3.3 V` or `20 ms`");
  }
  return std::nullopt;
}

std::optional<Nanoseconds> Evaluator::time(const ast::Expression& expression, const Frame& frame,
                                           const Instead& instead) {
  const std::optional<Rational> seconds = quantity(expression, frame, dimension::kTime, instead);
  if (!seconds) return std::nullopt;
  const std::optional<Nanoseconds> time = to_nanoseconds(*seconds);
  if (!time) reporter_.report_value(finding::TimeTooLong, expression.span(), quoted(expression.span()));
  return time;
}

std::optional<Nanoseconds> Evaluator::nonnegative_time(const ast::Expression& expression, const Frame& frame,
                                                       const Instead& instead) {
  const std::optional<Nanoseconds> time = this->time(expression, frame, instead);
  if (!time || time->count() >= 0) return time;
  reporter_.report_value(finding::NegativeTime, expression.span(), quoted(expression.span()), *time);
  return std::nullopt;
}

std::optional<Condition> Evaluator::condition(const ast::Expression& expression, const Frame& frame) {
  Value value = evaluate(expression, frame);
  if (!value.is_known() || !require_truth({expression.span(), value})) return std::nullopt;
  return Condition{expression.span(), std::move(value.truth)};
}

const Value* Evaluator::named(const ast::Name& name, const Frame& frame, DefinitionKind wanted) {
  const Found found = scopes_.find(name.text, frame);
  reporter_.begin_value();
  if (found.local != nullptr) reporter_.add_origins(found.local->origins);
  if (found.local == nullptr && found.definition == nullptr) {
    scopes_.report_unknown(kind_name(wanted), name, frame);
    return nullptr;
  }
  const Value& value = found.local != nullptr ? found.local->value : found.definition->value;
  const bool fits = found.local == nullptr
                        ? found.definition->kind == wanted
                        : value.kind == (wanted == DefinitionKind::Rail ? ValueKind::Rail : ValueKind::Line);
  if (fits) return value.is_known() ? &value : nullptr;
  if (found.local != nullptr && !value.is_known()) return nullptr;
  const std::string is =
      found.local == nullptr ? "a " + std::string(kind_name(found.definition->kind)) : kind_of(value);
  reporter_.report_value(finding::WrongKind, name.span, "`" + std::string(name.text) + "`", is,
                         "a " + std::string(kind_name(wanted)));
  return nullptr;
}

std::optional<RailId> Evaluator::rail(const ast::Name& name, const Frame& frame) {
  const Value* value = named(name, frame, DefinitionKind::Rail);
  return value != nullptr ? std::optional(value->rail) : std::nullopt;
}

std::optional<LineId> Evaluator::line(const ast::Name& name, const Frame& frame) {
  const Value* value = named(name, frame, DefinitionKind::Line);
  return value != nullptr ? std::optional(value->line) : std::nullopt;
}

}  // namespace rampart::resolving
