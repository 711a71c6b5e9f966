#pragma once

#include <cstdint>
#include <string_view>
#include <utility>
#include <vector>

#include "lang/syntax/ast.h"

namespace rampart {

// Functions take at most this many values.
inline constexpr std::uint16_t kMaxFunctionOperands = 1000;

// Puts the operands and operators of one expression, met from left to right, into postfix order by their precedence:
// or < and < not < comparison < + - < * / < unary minus. Operators of one level bind from the left.
class ExpressionBuilder {
 public:
  void start(FileId file);

  // `unit` as it is written.
  void literal(std::uint32_t begin, std::uint32_t end, const Quantity* value, std::string_view unit);
  // A number for literal(), kept as long as the expressions are.
  [[nodiscard]] const Quantity* keep(const Quantity& value) { return store_.keep(value); }
  void name(std::uint32_t begin, std::uint32_t end, std::string_view name);

  // A prefix operator, a parenthesis or a function begins. False: it would nest deeper than kMaxNesting.
  [[nodiscard]] bool open(ast::Operator op, std::uint32_t begin);
  // The name of the measure just opened.
  void name_measure(std::string_view name);
  // A comma between a function's operands. False: there are too many.
  [[nodiscard]] bool next_operand();
  // The parenthesis or function just opened ends at `end`.
  void close(std::uint32_t end);
  // The parenthesis or function just opened turned out to be none.
  void cancel();

  // False: a comparison of a comparison, as in `a < b < c`.
  [[nodiscard]] bool binary(ast::Operator op);

  // What has been read makes no sense, which has been reported: the whole expression is an overflowed number.
  void spoil() { spoilt_ = true; }

  [[nodiscard]] ast::Expression finish();
  // What all expressions so far point into.
  [[nodiscard]] ast::ExpressionStore take_store() { return std::move(store_); }

 private:
  struct Pending {
    ast::Operator op{};
    std::uint32_t begin = 0;
    std::uint16_t operands = 0;
    bool encloses = false;
    std::string_view name;
  };
  struct Value {
    std::uint32_t begin = 0;
    std::uint32_t end = 0;
  };

  void reduce_above(int precedence);
  void emit(const Pending& pending, std::uint32_t begin, std::uint32_t end);

  FileId file_{};
  int nesting_ = 0;
  bool spoilt_ = false;
  std::vector<Pending> pending_;
  std::vector<Value> values_;
  std::vector<ast::ExpressionNode> nodes_;
  ast::ExpressionStore store_;
};

}  // namespace rampart
