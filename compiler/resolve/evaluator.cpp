#include "compiler/resolve/evaluator.h"

#include <array>

#include "lang/findings/resolve.h"

namespace rampart::resolving {

using ast::Operator;

namespace {

Signal signal_of(std::string_view name) {
  if (name == "current") return Signal::Current;
  if (name == "power") return Signal::Power;
  if (name == "slew") return Signal::Slew;
  return Signal::Voltage;
}

Dimension unit_of(Signal signal) {
  switch (signal) {
    case Signal::Current:
      return dimension::kCurrent;
    case Signal::Power:
      return dimension::kPower;
    case Signal::Slew:
      return dimension::kVoltageRate;
    case Signal::Voltage:
      break;
  }
  return dimension::kVoltage;
}

// What a factor is, and the unit that it was written in.
struct WrittenUnit {
  Dimension dimension;
  std::string_view unit;
};

WrittenUnit written(const Value& value) {
  return {value.form.unit, value.unit};
}

// That of the first factor of the dimension that has one.
std::string_view unit_among(std::span<const WrittenUnit> factors, const Dimension& dimension) {
  for (const WrittenUnit& factor : factors) {
    if (factor.dimension == dimension && !factor.unit.empty()) return factor.unit;
  }
  return {};
}

Value form_of(RailId rail, Signal signal) {
  Value value;
  value.kind = ValueKind::Form;
  value.form.terms.push_back({rail, signal, 1});
  value.form.unit = unit_of(signal);
  return value;
}

}  // namespace

std::string_view operator_text(ast::Operator op) {
  switch (op) {
    case Operator::Add:
      return "+";
    case Operator::Subtract:
    case Operator::Negate:
      return "-";
    case Operator::Multiply:
      return "*";
    case Operator::Divide:
      return "/";
    case Operator::Less:
      return "<";
    case Operator::LessEqual:
      return "<=";
    case Operator::Greater:
      return ">";
    case Operator::GreaterEqual:
      return ">=";
    case Operator::And:
      return "and";
    case Operator::Or:
      return "or";
    case Operator::Not:
      return "not";
    case Operator::Minimum:
      return "min";
    case Operator::Maximum:
      return "max";
    case Operator::Absolute:
      return "abs";
    default:
      return "";
  }
}

std::string with_article(const Dimension& dimension) {
  std::string name = dimension_name(dimension);
  const bool is_word = name.find_first_of("^/") == std::string::npos && name.find("·") == std::string::npos;
  if (!is_word || name.starts_with("a ")) return name;
  const bool vowel = std::string_view("aeiou").find(name.front()) != std::string_view::npos;
  return (vowel ? "an " : "a ") + name;
}

std::string kind_of(const Value& value) {
  switch (value.kind) {
    case ValueKind::Form:
      return with_article(value.form.unit);
    case ValueKind::Truth:
      return "a condition";
    case ValueKind::Rail:
      return "a rail";
    case ValueKind::Line:
      return "a line";
    case ValueKind::Unknown:
      break;
  }
  return "";
}

Value Evaluator::evaluate(const ast::Expression& expression, const Frame& frame) {
  reporter_.begin_value();
  const ast::ExpressionNode& last = expression.nodes.back();
  if (last.op == Operator::Literal) return literal(last);
  std::vector<Operand> stack;
  stack.reserve(expression.nodes.size());
  for (const ast::ExpressionNode& node : expression.nodes) {
    if (node.op == Operator::Name) {
      stack.push_back({node.span, name_value({node.span, node.name}, frame)});
      continue;
    }
    const std::size_t first = stack.size() - node.operands;
    const std::span<Operand> operands = std::span(stack).subspan(first);
    const bool is_product = node.op == Operator::Multiply || node.op == Operator::Divide;
    const std::array<WrittenUnit, 2> factors =
        is_product ? std::array{written(operands[0].value), written(operands[1].value)} : std::array<WrittenUnit, 2>{};
    Value value = apply(node, operands);
    if (is_product) {
      value.unit = unit_among(factors, value.form.unit);
    } else if (value.unit.empty()) {
      value.unit = written_unit(value.form.unit, operands);
    }
    stack.resize(first);
    stack.push_back({node.span, std::move(value)});
  }
  return std::move(stack.back().value);
}

std::string_view Evaluator::written_unit(const Dimension& dimension, std::span<const Operand> operands) {
  for (const Operand& operand : operands) {
    if (operand.value.form.unit == dimension && !operand.value.unit.empty()) return operand.value.unit;
  }
  return {};
}

std::optional<std::string> Evaluator::text(const ast::Label& label, const Frame& frame) {
  std::string text = label.text.value;
  bool is_known = true;
  reporter_.begin_value();
  for (auto part = label.parts.rbegin(); part != label.parts.rend(); ++part) {
    const Value value = name_value(part->name, frame);
    is_known = is_known && value.is_known();
    if (is_known) text.insert(part->at, name_text(value));
  }
  return is_known ? std::optional(text) : std::nullopt;
}

std::string Evaluator::name_text(const Value& value) const {
  if (value.kind == ValueKind::Rail) return profile_[value.rail].name;
  if (value.kind == ValueKind::Line) return profile_[value.line].name;
  return to_text_in(value.quantity(), value.unit);
}

Value Evaluator::name_value(const ast::Name& name, const Frame& frame) {
  const Found found = scopes_.find(name.text, frame);
  if (found.local != nullptr) {
    reporter_.add_origins(found.local->origins);
    return found.local->value;
  }
  if (found.definition == nullptr) {
    scopes_.report_unknown(kind_name(DefinitionKind::Let), name, frame);
    return {};
  }
  if (found.definition->kind == DefinitionKind::Sequence) {
    reporter_.report(finding::SequenceAsValue, name.span, name.text)
        .hint("a sequence is called: `do " + std::string(name.text) + "`");
    return {};
  }
  return found.definition->value;
}

Value Evaluator::apply(const ast::ExpressionNode& node, std::span<Operand> operands) {
  for (const Operand& operand : operands) {
    if (!operand.value.is_known()) return {};
  }
  switch (node.op) {
    case Operator::Literal:
      return literal(node);
    case Operator::Name:
      return {};
    case Operator::Measure:
      return measure(node, operands[0]);
    case Operator::Group:
      return std::move(operands[0].value);
    case Operator::Negate:
      return negate(node, operands[0]);
    case Operator::Not:
      return negate_truth(operands[0], node.span);
    case Operator::Add:
    case Operator::Subtract:
      return add(node, operands[0], operands[1]);
    case Operator::Multiply:
      return multiply(node, operands[0], operands[1]);
    case Operator::Divide:
      return divide(node, operands[0], operands[1]);
    case Operator::Less:
    case Operator::LessEqual:
    case Operator::Greater:
    case Operator::GreaterEqual:
      return compare(node, operands[0], operands[1]);
    case Operator::And:
    case Operator::Or:
      return join_truth(node, operands[0], operands[1]);
    case Operator::Minimum:
    case Operator::Maximum:
    case Operator::Absolute:
      return function(node, operands);
  }
  return {};
}

Value Evaluator::literal(const ast::ExpressionNode& node) {
  // A number that the parser could not make sense of has been reported.
  if (node.literal->value.overflowed()) return {};
  return Value::of(*node.literal, node.name);
}

Value Evaluator::measure(const ast::ExpressionNode& node, const Operand& operand) {
  if (operand.value.kind != ValueKind::Rail) {
    reporter_.report_value(finding::WrongKind, operand.span, quoted(operand.span), kind_of(operand.value), "a rail");
    return {};
  }
  return form_of(operand.value.rail, signal_of(node.name));
}

Value Evaluator::negate_truth(Operand& operand, const Span& span) {
  if (!require_truth(operand)) return {};
  Value value = std::move(operand.value);
  Comparison none;
  none.span = span;
  value.truth.push_back({Truth::Not, none});
  return value;
}

Value Evaluator::join_truth(const ast::ExpressionNode& node, Operand& left, Operand& right) {
  const bool left_fits = require_truth(left);
  if (!require_truth(right) || !left_fits) return {};
  Value value = std::move(left.value);
  value.truth.insert(value.truth.end(), right.value.truth.begin(), right.value.truth.end());
  Comparison none;
  none.span = operator_span(node, left, right);
  value.truth.push_back({node.op == Operator::And ? Truth::And : Truth::Or, none});
  return value;
}

bool Evaluator::become_form(Operand& operand, std::string_view operation) {
  if (operand.value.kind == ValueKind::Rail) operand.value = form_of(operand.value.rail, Signal::Voltage);
  if (operand.value.kind == ValueKind::Form) return true;
  reporter_.report_value(finding::NotAQuantity, operand.span, operation, quoted(operand.span), kind_of(operand.value));
  return false;
}

bool Evaluator::require_truth(const Operand& operand) {
  if (operand.value.kind == ValueKind::Truth) return true;
  const bool is_voltage = operand.value.kind == ValueKind::Rail;
  const std::string text(sources_.text(operand.span));
  reporter_
      .report_value(finding::NotACondition, operand.span, quoted(operand.span),
                    is_voltage ? "a voltage" : kind_of(operand.value))
      .hint(operand.value.kind == ValueKind::Line
                ? "name the level to wait for: `" + text + " high` or `" + text + " low`"
                : "compare it: `" + text + " >= 1 V`");
  return false;
}

Span Evaluator::operator_span(const ast::ExpressionNode& node, const Operand& left, const Operand& right) const {
  Span between{node.span.file, left.span.end, right.span.begin};
  const std::string_view text = sources_.text(between);
  const std::string_view symbol = operator_text(node.op);
  const std::size_t offset = text.find(symbol);
  if (symbol.empty() || offset == std::string_view::npos) return node.span;
  between.begin += static_cast<std::uint32_t>(offset);
  between.end = between.begin + static_cast<std::uint32_t>(symbol.size());
  return between;
}

std::string Evaluator::quoted(const Span& span) const {
  constexpr std::size_t kLongest = 40;
  std::string text = "`";
  bool blank = false;
  for (const char c : sources_.text(span)) {
    if (c == ' ' || c == '\t' || c == '\n' || c == '\r') {
      blank = true;
      continue;
    }
    if (blank) text += ' ';
    blank = false;
    const bool starts_character = (static_cast<unsigned char>(c) & 0xC0U) != 0x80U;
    if (starts_character && text.size() > kLongest) {
      text += "…";
      break;
    }
    text += c;
  }
  return text + "`";
}

std::string Evaluator::described(const Operand& operand) const {
  return quoted(operand.span) + " (" + dimension_name(operand.value.form.unit) + ")";
}

}  // namespace rampart::resolving
