#include "lang/syntax/expression_builder.h"

#include <algorithm>

#include "lang/syntax/parse.h"

namespace rampart {

namespace {

using ast::Operator;

constexpr int kComparison = 4;

int precedence_of(Operator op) {
  switch (op) {
    case Operator::Or:
      return 1;
    case Operator::And:
      return 2;
    case Operator::Not:
      return 3;
    case Operator::Less:
    case Operator::LessEqual:
    case Operator::Greater:
    case Operator::GreaterEqual:
      return kComparison;
    case Operator::Add:
    case Operator::Subtract:
      return 5;
    case Operator::Multiply:
    case Operator::Divide:
      return 6;
    default:
      return 7;
  }
}

bool is_prefix(Operator op) {
  return op == Operator::Negate || op == Operator::Not;
}

}  // namespace

ast::Expression ast::ExpressionStore::keep(std::span<const ExpressionNode> nodes) {
  constexpr std::size_t kLeastChunk = 32;
  constexpr std::size_t kLargestChunk = 4096;
  if (chunks_.empty() || chunks_.back().capacity() - chunks_.back().size() < nodes.size()) {
    const std::size_t next = chunks_.empty() ? kLeastChunk : std::min(2 * chunks_.back().capacity(), kLargestChunk);
    chunks_.emplace_back().reserve(std::max(next, nodes.size()));
  }
  std::vector<ExpressionNode>& chunk = chunks_.back();
  chunk.insert(chunk.end(), nodes.begin(), nodes.end());
  return {std::span(chunk).last(nodes.size())};
}

void ExpressionBuilder::start(FileId file) {
  file_ = file;
  nesting_ = 0;
  spoilt_ = false;
  pending_.clear();
  values_.clear();
  nodes_.clear();
}

void ExpressionBuilder::literal(std::uint32_t begin, std::uint32_t end, const Quantity* value, std::string_view unit) {
  nodes_.push_back({Operator::Literal, 0, {file_, begin, end}, value, unit});
  values_.push_back({begin, end});
}

void ExpressionBuilder::name(std::uint32_t begin, std::uint32_t end, std::string_view name) {
  nodes_.push_back({Operator::Name, 0, {file_, begin, end}, nullptr, name});
  values_.push_back({begin, end});
}

bool ExpressionBuilder::open(Operator op, std::uint32_t begin) {
  if (nesting_ >= kMaxNesting) return false;
  ++nesting_;
  pending_.push_back({op, begin, 1, !is_prefix(op), {}});
  return true;
}

void ExpressionBuilder::name_measure(std::string_view name) {
  pending_.back().name = name;
}

bool ExpressionBuilder::next_operand() {
  reduce_above(0);
  if (pending_.back().operands >= kMaxFunctionOperands) return false;
  ++pending_.back().operands;
  return true;
}

void ExpressionBuilder::close(std::uint32_t end) {
  reduce_above(0);
  const Pending closed = pending_.back();
  pending_.pop_back();
  --nesting_;
  emit(closed, closed.begin, end);
}

void ExpressionBuilder::cancel() {
  pending_.pop_back();
  --nesting_;
}

bool ExpressionBuilder::binary(Operator op) {
  const int precedence = precedence_of(op);
  reduce_above(precedence);
  const bool chained = precedence == kComparison && !pending_.empty() && !pending_.back().encloses &&
                       precedence_of(pending_.back().op) == kComparison;
  if (chained) reduce_above(precedence - 1);
  pending_.push_back({op, 0, 2, false, {}});
  return !chained;
}

// Comparisons are left waiting at their own level, so that `binary` sees a chain.
void ExpressionBuilder::reduce_above(int precedence) {
  while (!pending_.empty() && !pending_.back().encloses) {
    const Pending top = pending_.back();
    const int above = precedence_of(top.op);
    if (above < precedence || (above == precedence && above == kComparison)) return;
    pending_.pop_back();
    if (is_prefix(top.op)) {
      --nesting_;
      emit(top, top.begin, values_.back().end);
    } else {
      emit(top, values_[values_.size() - 2].begin, values_.back().end);
    }
  }
}

void ExpressionBuilder::emit(const Pending& pending, std::uint32_t begin, std::uint32_t end) {
  nodes_.push_back({pending.op, pending.operands, {file_, begin, end}, nullptr, pending.name});
  values_.resize(values_.size() - pending.operands);
  values_.push_back({begin, end});
}

ast::Expression ExpressionBuilder::finish() {
  reduce_above(0);
  if (spoilt_) {
    const Value all = values_.back();
    nodes_.clear();
    literal(all.begin, all.end, keep({Rational::overflow(), {}}), {});
  }
  return store_.keep(nodes_);
}

}  // namespace rampart
