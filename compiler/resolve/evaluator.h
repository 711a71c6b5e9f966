#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "compiler/resolve/reporter.h"
#include "compiler/resolve/scope.h"
#include "compiler/resolve/value.h"
#include "lang/syntax/ast.h"
#include "lang/text/source.h"

namespace rampart::resolving {

// Another kind of value that people write in its place, and the words it stands behind: a rate after `over` belongs
// behind `at`.
struct Instead {
  Dimension dimension;
  std::string_view words;
};

// Calculates expressions exactly and checks their dimensions. What comes out as unknown or empty has been reported.
class Evaluator {
 public:
  Evaluator(const SourceSet& sources, const Profile& profile, Scopes& scopes, Reporter& reporter)
      : sources_(sources), profile_(profile), scopes_(scopes), reporter_(reporter) {}

  [[nodiscard]] Value evaluate(const ast::Expression& expression, const Frame& frame);

  // A number of the dimension that is wanted, in SI units.
  [[nodiscard]] std::optional<Rational> quantity(const ast::Expression& expression, const Frame& frame,
                                                 Dimension wanted, const Instead& instead = {});
  // A number of any dimension; unknown where it is none.
  [[nodiscard]] Value any_value(const ast::Expression& expression, const Frame& frame);
  [[nodiscard]] std::optional<Quantity> any_quantity(const ast::Expression& expression, const Frame& frame);
  [[nodiscard]] std::optional<Nanoseconds> time(const ast::Expression& expression, const Frame& frame,
                                                const Instead& instead = {});
  [[nodiscard]] std::optional<Nanoseconds> nonnegative_time(const ast::Expression& expression, const Frame& frame,
                                                            const Instead& instead = {});
  [[nodiscard]] std::optional<Condition> condition(const ast::Expression& expression, const Frame& frame);

  // A text with its values put in, each in the unit in which it was written.
  [[nodiscard]] std::optional<std::string> text(const ast::Label& label, const Frame& frame);

  [[nodiscard]] std::optional<RailId> rail(const ast::Name& name, const Frame& frame);
  [[nodiscard]] std::optional<LineId> line(const ast::Name& name, const Frame& frame);

  // The text of an expression in one short line, in backticks.
  [[nodiscard]] std::string quoted(const Span& span) const;

 private:
  struct Operand {
    Span span;
    Value value;
  };

  Value name_value(const ast::Name& name, const Frame& frame);
  // Of the first operand of this dimension that has one.
  static std::string_view written_unit(const Dimension& dimension, std::span<const Operand> operands);
  [[nodiscard]] std::string name_text(const Value& value) const;
  // Operators on quantities and linear forms are in arithmetic.cpp.
  Value apply(const ast::ExpressionNode& node, std::span<Operand> operands);
  Value literal(const ast::ExpressionNode& node);
  Value measure(const ast::ExpressionNode& node, const Operand& operand);
  Value negate(const ast::ExpressionNode& node, Operand& operand);
  Value negate_truth(Operand& operand, const Span& span);
  Value add(const ast::ExpressionNode& node, Operand& left, Operand& right);
  Value multiply(const ast::ExpressionNode& node, Operand& left, Operand& right);
  Value divide(const ast::ExpressionNode& node, Operand& left, Operand& right);
  Value compare(const ast::ExpressionNode& node, Operand& left, Operand& right);
  Value join_truth(const ast::ExpressionNode& node, Operand& left, Operand& right);
  Value function(const ast::ExpressionNode& node, std::span<Operand> operands);

  // Null where the name is unknown or stands for something else.
  const Value* named(const ast::Name& name, const Frame& frame, DefinitionKind wanted);
  bool become_form(Operand& operand, std::string_view operation);
  bool require_truth(const Operand& operand);
  bool require_same_unit(const ast::ExpressionNode& node, const Operand& left, const Operand& right);
  Value checked(Value value, const Span& span);
  [[nodiscard]] Span operator_span(const ast::ExpressionNode& node, const Operand& left, const Operand& right) const;
  [[nodiscard]] std::string described(const Operand& operand) const;

  const SourceSet& sources_;
  const Profile& profile_;
  Scopes& scopes_;
  Reporter& reporter_;
};

// An operator or function as it is written; empty for what has no symbol.
[[nodiscard]] std::string_view operator_text(ast::Operator op);
// "a voltage", "an energy", "a plain number", "A^2".
[[nodiscard]] std::string with_article(const Dimension& dimension);
// The same for any value: "a condition", "a rail".
[[nodiscard]] std::string kind_of(const Value& value);

}  // namespace rampart::resolving
