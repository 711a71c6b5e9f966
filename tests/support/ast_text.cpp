#include "tests/support/ast_text.h"

#include <type_traits>

namespace rampart::test {

namespace {

using namespace ast;

std::string number_text(Int128 value) {
  if (value < 0) return "-" + number_text(-value);
  std::string text;
  if (value >= 10) text = number_text(value / 10);
  return text + static_cast<char>('0' + static_cast<int>(value % 10));
}

std::string text_of(const Quantity& quantity) {
  if (quantity.value.overflowed()) return "overflow";
  std::string text = number_text(quantity.value.numerator());
  if (!quantity.value.is_whole()) text += "/" + number_text(quantity.value.denominator());
  const Dimension& d = quantity.dimension;
  if (d == dimension::kNone) return text;
  return text + "[" + dimension_name(d) + "]";
}

std::string_view operator_text(Operator op) {
  constexpr std::string_view kTexts[] = {"literal", "name", "measure", "group", "neg", "not", "+",   "-",   "*",  "/",
                                         "<",       "<=",   ">",       ">=",    "and", "or",  "min", "max", "abs"};
  return kTexts[static_cast<std::size_t>(op)];
}

std::string text_of(const Expression& expression) {
  return ast_text(expression);
}
std::string text_of(const Name& name) {
  return std::string(name.text);
}
std::string text_of(const Text& text) {
  return "\"" + text.value + "\"";
}
// Names of values in braces, each where its value goes.
std::string text_of(const Label& label) {
  std::string text = label.text.value;
  for (auto part = label.parts.rbegin(); part != label.parts.rend(); ++part) {
    text.insert(part->at, "{" + text_of(part->name) + "}");
  }
  return "\"" + text + "\"";
}
std::string text_of(const Block& block);
std::string text_of(const Target& target);
std::string text_of(const WaveformPoint& point);

template <class T>
std::string text_of(const std::optional<T>& value) {
  return value ? text_of(*value) : "-";
}
template <class T>
std::string text_of(const std::vector<T>& values) {
  std::string text = "[";
  for (const T& value : values) text += (text.size() > 1 ? " " : "") + text_of(value);
  return text + "]";
}

std::string text_of(const Target& target) {
  return "(" + text_of(target.rail) + (target.from ? " from " + text_of(*target.from) : "") +
         (target.relative ? " by " : " to ") + text_of(target.value) + ")";
}

std::string text_of(const WaveformPoint& point) {
  return "(" + text_of(point.time) + " " + text_of(point.voltage) + ")";
}

template <class... Parts>
std::string list(std::string_view head, const Parts&... parts) {
  std::string text = "(" + std::string(head);
  ((text += ' ', text += parts), ...);
  return text + ")";
}

struct Print {
  std::string operator()(const BadStatement&) const { return "(bad)"; }
  std::string operator()(const BadDeclaration&) const { return "(bad)"; }
  std::string operator()(const Switch& s) const { return list(s.on ? "on" : "off", text_of(s.rails)); }
  std::string operator()(const Step& s) const { return list("step", text_of(s.targets)); }
  std::string operator()(const Ramp& s) const {
    return list("ramp", text_of(s.targets), s.is_rate ? "at" : "over", text_of(s.pace));
  }
  std::string operator()(const Waveform& s) const {
    return list("waveform", text_of(s.rail), s.file ? text_of(*s.file) : text_of(s.points), text_of(s.scale));
  }
  std::string operator()(const Limit& s) const { return list("limit", text_of(s.targets), text_of(s.over)); }
  std::string operator()(const Dwell& s) const { return list("dwell", text_of(s.time)); }
  std::string operator()(const Mark& s) const { return list("mark", text_of(s.name)); }
  std::string operator()(const Measurement& s) const { return list("measure", text_of(s.name), text_of(s.over)); }
  std::string operator()(const Repeat& s) const {
    return list(s.is_time ? "repeat-for" : "repeat", text_of(s.count), text_of(s.body));
  }
  std::string operator()(const ForRange& s) const {
    return list("for-range", text_of(s.variable), text_of(s.first), text_of(s.last), text_of(s.step), text_of(s.body));
  }
  std::string operator()(const ForList& s) const {
    return list("for-list", text_of(s.variable), text_of(s.values), text_of(s.body));
  }
  std::string operator()(const Together& s) const { return list("together", text_of(s.body)); }
  std::string operator()(const Track& s) const {
    return list("track", text_of(s.follower), text_of(s.leader), text_of(s.body));
  }
  std::string operator()(const SetLine& s) const {
    return list(s.action == LineAction::Raise ? "raise" : "lower", text_of(s.line));
  }
  std::string operator()(const Pulse& s) const { return list("pulse", text_of(s.line), text_of(s.time)); }
  std::string operator()(const AwaitLine& s) const { return text_of(s.line) + (s.high ? " high" : " low"); }
  std::string operator()(const AwaitCondition& s) const { return text_of(s.condition); }
  std::string operator()(const AwaitOperator& s) const { return "operator " + text_of(s.prompt); }
  std::string operator()(const Await& s) const {
    return list("await", std::visit(*this, s.what), text_of(s.within), text_of(s.assume));
  }
  std::string operator()(const Do& s) const { return list("do", text_of(s.sequence), text_of(s.arguments)); }
  std::string operator()(const Group& s) const { return list("group", text_of(s.body)); }

  std::string operator()(const Title& d) const { return list("profile", text_of(d.text)); }
  std::string operator()(const BenchPath& d) const { return list("bench", text_of(d.path)); }
  std::string operator()(const LoadPath& d) const { return list("load", text_of(d.path)); }
  std::string operator()(const Import& d) const { return list("import", text_of(d.path)); }
  std::string operator()(const Parameter& d) const {
    return list("param", text_of(d.name), text_of(d.value), text_of(d.low), text_of(d.high));
  }
  std::string operator()(const Let& d) const { return list("let", text_of(d.name), text_of(d.value)); }
  std::string operator()(const Rail& d) const {
    return list("rail", text_of(d.name), text_of(d.channel), std::string(d.remote_sense ? "remote" : "local"),
                std::string(d.reversed ? "reversed" : "straight"));
  }
  std::string operator()(const Line& d) const {
    constexpr std::string_view kTriggers[] = {"none", "trip", "cc", "off"};
    return list("line", text_of(d.name), text_of(d.channel),
                std::string(d.direction == Direction::Input ? "input" : "output"),
                std::string(kTriggers[static_cast<std::size_t>(d.trigger)]), text_of(d.rails));
  }
  std::string operator()(const CeilingSetting& s) const { return list("ceiling", text_of(s.voltage)); }
  std::string operator()(const OvervoltageSetting& s) const { return list("overvoltage", text_of(s.voltage)); }
  std::string operator()(const FuseSetting& s) const {
    return list("fuse", text_of(s.current), text_of(s.delay), text_of(s.linked));
  }
  std::string operator()(const OverpowerSetting& s) const {
    return list("overpower", text_of(s.power), text_of(s.delay));
  }
  std::string operator()(const Protect& d) const {
    std::string text = "(protect " + text_of(d.rail);
    for (const ProtectSetting& setting : d.settings) text += " " + std::visit(*this, setting.what);
    return text + ")";
  }
  std::string operator()(const Accept& d) const {
    return list("accept", text_of(d.finding), text_of(d.rail), text_of(d.reason));
  }
  std::string operator()(const AlwaysRule& r) const { return list("always", text_of(r.condition), text_of(r.premise)); }
  std::string operator()(const BeforeRule& r) const {
    return list("before", text_of(r.first), text_of(r.second), text_of(r.by));
  }
  std::string operator()(const WithinRule& r) const {
    return list("within", text_of(r.response), text_of(r.time), text_of(r.stimulus));
  }
  std::string operator()(const MonotonicRule& r) const {
    return list(r.falling ? "falls" : "rises", text_of(r.rail), text_of(r.from), text_of(r.to), text_of(r.within));
  }
  std::string operator()(const Rule& d) const {
    const std::string what = std::visit(*this, d.what);
    if (!d.from) return list("rule", text_of(d.name), what);
    return list("rule", text_of(d.name), text_of(d.from), text_of(d.to), what);
  }
  std::string operator()(const Sequence& d) const {
    return list("sequence", text_of(d.name), text_of(d.parameters), text_of(d.body));
  }
  std::string operator()(const Run& d) const { return list("run", text_of(d.body)); }
  std::string operator()(const Safe& d) const { return list("safe", text_of(d.body)); }
  std::string operator()(const ExpectNoTrip&) const { return "no-trip"; }
  std::string operator()(const ExpectTrip& e) const { return "trip " + text_of(e.rail) + " " + text_of(e.cause); }
  std::string operator()(const ExpectFigure& e) const {
    return text_of(e.figure) + " " + text_of(e.of) + " " + text_of(e.at_mark) + " " +
           std::string(operator_text(e.comparison)) + " " + text_of(e.bound);
  }
  std::string operator()(const Expect& d) const { return list("expect", std::visit(*this, d.what), text_of(d.under)); }
};

std::string text_of(const Block& block) {
  std::string text = "{";
  for (const Statement& statement : block.statements) {
    text += (text.size() > 1 ? " " : "") + visit(Print(), statement);
  }
  return text + "}";
}

}  // namespace

std::string ast_text(const ast::Expression& expression) {
  std::string text;
  for (const ExpressionNode& node : expression.nodes) {
    if (!text.empty()) text += ' ';
    switch (node.op) {
      case Operator::Literal:
        text += text_of(*node.literal);
        break;
      case Operator::Name:
        text += node.name;
        break;
      case Operator::Measure:
        text += std::string(node.name) + "()";
        break;
      case Operator::Minimum:
      case Operator::Maximum:
        text += std::string(operator_text(node.op)) + std::to_string(node.operands);
        break;
      default:
        text += operator_text(node.op);
    }
  }
  return "<" + text + ">";
}

std::string ast_text(const ast::Profile& profile) {
  std::string text;
  for (const Declaration& declaration : profile.declarations) text += std::visit(Print(), declaration.what) + "\n";
  return text;
}

}  // namespace rampart::test
