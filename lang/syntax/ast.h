#pragma once

#include <cstdint>
#include <deque>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "lang/text/source.h"
#include "lang/values/quantity.h"

// What a profile says, as it says it: names are not looked up and nothing is calculated.
// Names are views into the source text, which the SourceSet keeps alive.
namespace rampart::ast {

struct Name {
  Span span;
  std::string_view text;
};

// A quoted text, its escapes resolved.
struct Text {
  Span span;
  std::string value;
};

// A quoted text in which names stand for values, as in "core {k}".
struct Label {
  struct Part {
    std::size_t at = 0;  // the value stands before so many bytes of the text
    Name name;
  };
  Text text;  // without these names
  std::vector<Part> parts;
};

// ---- expressions and conditions -------------------------------------------------------------------------------

enum class Operator : std::uint8_t {
  Literal,  // `literal`
  Name,     // `name`: a param, let, argument, `for` variable, or a rail (its voltage)
  Measure,  // `name` of the operand: current(R), power(R), slew(R)
  Group,    // parentheses
  Negate,
  Not,
  Add,
  Subtract,
  Multiply,
  Divide,
  Less,
  LessEqual,
  Greater,
  GreaterEqual,
  And,
  Or,
  Minimum,
  Maximum,
  Absolute,
};

struct ExpressionNode {
  Operator op{};
  std::uint16_t operands = 0;         // how many values it takes from those before it
  Span span;                          // the operator with its operands
  const Quantity* literal = nullptr;  // of the profile's ExpressionStore
  std::string_view name;              // of a literal, its unit as it is written
};

// An expression in postfix order: a walk from left to right with a stack evaluates it, without recursion.
// Never empty. The nodes lie in the profile's ExpressionStore.
struct Expression {
  std::span<const ExpressionNode> nodes;

  [[nodiscard]] Span span() const { return nodes.empty() ? Span{} : nodes.back().span; }
};

// The nodes and numbers of all expressions of a file. Nothing in it moves, also where the store itself is moved.
class ExpressionStore {
 public:
  [[nodiscard]] Expression keep(std::span<const ExpressionNode> nodes);
  [[nodiscard]] const Quantity* keep(const Quantity& literal) { return &literals_.emplace_back(literal); }

 private:
  std::vector<std::vector<ExpressionNode>> chunks_;  // none grows beyond what it has reserved
  std::deque<Quantity> literals_;
};

// ---- statements -----------------------------------------------------------------------------------------------

struct Statement;

// A large node that lies apart, so that a list of statements stays small. Empty only where it was moved from.
template <class Node>
class Boxed {
 public:
  Boxed(Node node) : node_(std::make_unique<Node>(std::move(node))) {}  // NOLINT: stands for its node

  [[nodiscard]] const Node& operator*() const { return *node_; }

 private:
  std::unique_ptr<Node> node_;
};

template <class Node>
const Node& unboxed(const Node& node) {
  return node;
}
template <class Node>
const Node& unboxed(const Boxed<Node>& node) {
  return *node;
}

struct Block {
  Span span;  // from `{` to `}`
  std::vector<Statement> statements;
};

// `on R, …` / `off R, …`
struct Switch {
  bool on = false;
  std::vector<Name> rails;
};

// One rail's part of a step, ramp or limit: `R [from V] to V` or `R by dV`.
struct Target {
  Name rail;
  std::optional<Expression> from;
  Expression value;
  bool relative = false;
};

struct Step {
  std::vector<Target> targets;
};

struct Ramp {
  std::vector<Target> targets;
  Expression pace;  // a time after `over`, a rate after `at`
  bool is_rate = false;
};

struct WaveformPoint {
  Expression time;
  Expression voltage;

  [[nodiscard]] Span span() const { return join(time.span(), voltage.span()); }
};

// `waveform R from [[T, V], …] [scaled by F]`, or `from "FILE"`.
struct Waveform {
  Name rail;
  std::vector<WaveformPoint> points;  // none where a file has them
  std::optional<Text> file;
  std::optional<Expression> scale;
};

// `limit R to I, …` or, with a pace, `limit R ramp to I, … over T`.
struct Limit {
  std::vector<Target> targets;
  std::optional<Expression> over;
};

struct Dwell {
  Expression time;
};

struct Mark {
  Label name;
};

// `measure "NAME" over T`
struct Measurement {
  Label name;
  Expression over;
};

struct Repeat {
  Expression count;  // a number of passes; a time if is_time (`repeat for 48 h`)
  bool is_time = false;
  Block body;
};

struct ForRange {
  Name variable;
  Expression first;
  Expression last;
  Expression step;
  Block body;
};

struct ForList {
  Name variable;
  std::vector<Expression> values;
  Block body;
};

struct Together {
  Block body;  // each statement is a branch
};

struct Track {
  Name follower;
  Name leader;
  Block body;
};

enum class LineAction : std::uint8_t { Raise, Lower };

struct SetLine {
  LineAction action{};
  Name line;
};

struct Pulse {
  Name line;
  Expression time;
};

struct AwaitLine {
  Name line;
  bool high = false;
};
struct AwaitCondition {
  Expression condition;
};
struct AwaitOperator {
  Label prompt;
};

struct Await {
  std::variant<AwaitLine, AwaitCondition, AwaitOperator> what;
  Expression within;
  std::optional<Expression> assume;
};

struct Do {
  Name sequence;
  std::vector<Expression> arguments;
};

struct Group {
  Block body;
};

// Stands where a statement could not be read; its finding has been reported.
struct BadStatement {};

struct Statement {
  Span span;
  std::variant<BadStatement, Switch, Step, Ramp, Boxed<Waveform>, Limit, Dwell, Boxed<Mark>, Boxed<Measurement>,
               Boxed<Repeat>, Boxed<ForRange>, Boxed<ForList>, Together, Boxed<Track>, SetLine, Pulse, Boxed<Await>, Do,
               Group>
      what;
};

// Calls `visitor` with what the statement is: a Step, a Waveform.
template <class Visitor>
decltype(auto) visit(Visitor&& visitor, const Statement& statement) {
  return std::visit([&](const auto& what) -> decltype(auto) { return visitor(unboxed(what)); }, statement.what);
}

// ---- declarations ---------------------------------------------------------------------------------------------

struct Title {
  Text text;
};
struct BenchPath {
  Text path;
};
struct LoadPath {
  Text path;
};
struct Import {
  Text path;
};

struct Parameter {
  Name name;
  Expression value;
  std::optional<Expression> low;
  std::optional<Expression> high;
};

struct Let {
  Name name;
  Expression value;
};

// `channel` is what feeds it: an output of the bench by its name, or a channel, "left.ch1".
struct Rail {
  Name name;
  Name channel;
  bool remote_sense = false;
  bool reversed = false;
};

enum class Direction : std::uint8_t { Input, Output };
enum class LineTrigger : std::uint8_t { None, Trip, Cc, Off };

// `line L on CHANNEL output [when trip|cc R, …]` or `line L on CHANNEL input [off R, …]`
struct Line {
  Name name;
  Name channel;
  Direction direction{};
  LineTrigger trigger = LineTrigger::None;
  std::vector<Name> rails;
};

struct CeilingSetting {
  Expression voltage;
};
struct OvervoltageSetting {
  Expression voltage;
};
// `fuse [at I] after T [linked with R, …]`
struct FuseSetting {
  std::optional<Expression> current;
  Expression delay;
  std::vector<Name> linked;
};
// `overpower P [after T]`
struct OverpowerSetting {
  Expression power;
  std::optional<Expression> delay;
};

struct ProtectSetting {
  Span span;
  std::variant<CeilingSetting, OvervoltageSetting, FuseSetting, OverpowerSetting> what;
};

struct Protect {
  Name rail;
  std::vector<ProtectSetting> settings;
};

struct Accept {
  Name finding;
  Name rail;
  Text reason;
};

struct AlwaysRule {
  Expression condition;
  std::optional<Expression> premise;  // while
};
struct BeforeRule {
  Expression first;
  Expression second;
  std::optional<Expression> by;
};
struct WithinRule {
  Expression response;
  Expression time;
  Expression stimulus;
};
struct MonotonicRule {
  Name rail;
  bool falling = false;
  Expression from;
  Expression to;
  std::optional<Expression> within;
};

struct Rule {
  Label name;
  std::optional<Label> from;  // a mark; with `to`
  std::optional<Label> to;
  std::variant<AlwaysRule, BeforeRule, WithinRule, MonotonicRule> what;
};

// A sequence may be called by `do`. Its names are those of the file that defines it.
struct Sequence {
  Name name;
  std::vector<Name> parameters;
  Block body;
};

struct Run {
  Block body;
};
struct Safe {
  Block body;
};

struct ExpectNoTrip {};
// `trip R by CAUSE`
struct ExpectTrip {
  Name rail;
  Name cause;
};
// `FIGURE [(R|total)] [at "mark"] COMPARISON VALUE`
struct ExpectFigure {
  Name figure;
  std::optional<Name> of;
  std::optional<Label> at_mark;
  Operator comparison{};
  Expression bound;
};

struct Expect {
  std::variant<ExpectNoTrip, ExpectTrip, ExpectFigure> what;
  std::optional<Name> under;  // a fault of the load file
};

// Stands where a declaration could not be read; its finding has been reported.
struct BadDeclaration {};

struct Declaration {
  Span span;
  std::variant<BadDeclaration, Title, BenchPath, LoadPath, Import, Parameter, Let, Rail, Line, Protect, Accept, Rule,
               Sequence, Run, Safe, Expect>
      what;
};

// `#` to the end of the line, without the line end.
struct Comment {
  Span span;
};

struct Profile {
  Profile() = default;
  Profile(Profile&&) = default;
  Profile& operator=(Profile&&) = default;
  Profile(const Profile&) = delete;  // expressions point into the store
  Profile& operator=(const Profile&) = delete;

  FileId file{};
  std::vector<Declaration> declarations;
  std::vector<Comment> comments;
  ExpressionStore expressions;
};

}  // namespace rampart::ast
