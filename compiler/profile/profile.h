#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "compiler/bench/bench.h"
#include "compiler/profile/figure_kind.h"
#include "lang/text/source.h"
#include "lang/values/quantity.h"

// A resolved profile: names are looked up, values are calculated, sequences and `for` are expanded; only `repeat`
// is left as a loop. Setpoints are still what the statements say: where a rail stands when a statement begins is
// known to the timeline alone.
namespace rampart {

enum class RailId : std::uint32_t {};
enum class LineId : std::uint32_t {};

// ---- protection -----------------------------------------------------------------------------------------------

struct Fuse {
  Placed<Nanoseconds> delay;
  std::optional<Placed<Amps>> current;  // none: the condition is constant current
  std::vector<RailId> linked;           // rails that switch off with this one
  Span span;
};

struct Overpower {
  Placed<Watts> power;
  Placed<Nanoseconds> delay;
  Span span;
};

struct Protection {
  std::optional<Placed<Volts>> ceiling;
  std::optional<Placed<Volts>> overvoltage;
  std::optional<Fuse> fuse;
  std::optional<Overpower> overpower;
  Span span;  // the protect block; empty where there is none
};

struct Rail {
  std::string name;
  Span span;          // its name where it is declared
  Span channel_span;  // the channel's name there
  Output output;
  bool remote_sense = false;
  bool reversed = false;
  Protection protection;
};

enum class LineTrigger : std::uint8_t { None, Trip, ConstantCurrent, SwitchOff };

struct Line {
  std::string name;
  Span span;
  SupplyId supply{};
  std::string terminal;  // the line's name at the supply
  bool is_output = false;
  LineTrigger trigger = LineTrigger::None;  // SwitchOff: an input that switches `rails` off
  std::vector<RailId> rails;
};

// ---- the run --------------------------------------------------------------------------------------------------

struct Statement;
using Program = std::vector<Statement>;

enum class Drive : std::uint8_t { Voltage, Limit };

// One rail's part of a step or ramp. Values are in V or A.
struct Motion {
  RailId rail{};
  Drive drive = Drive::Voltage;
  bool relative = false;         // `value` is added to where the rail stands
  std::optional<Rational> from;  // where it jumps to first
  Rational value;
  Span span;
  std::optional<Placed<Volts>> stands;  // where a waveform that begins with this motion has the rail stand
};

struct Switch {
  bool on = false;
  std::vector<RailId> rails;
};
struct Jump {
  std::vector<Motion> motions;
};
struct Ramp {
  std::vector<Motion> motions;
  // Over a time, or each motion at a rate (V/s or A/s, > 0).
  std::variant<Nanoseconds, Rational> pace;
};
struct Dwell {
  Nanoseconds time{0};
};
struct Mark {
  std::string name;
};
// A reading of every rail: the mean over the time before.
struct Measurement {
  std::string name;
  Nanoseconds over{0};
};
struct SetLine {
  LineId line{};
  bool high = false;
};
struct Pulse {
  LineId line{};
  Nanoseconds time{0};
};
struct Repeat {
  std::variant<std::int64_t, Nanoseconds> extent;  // passes, or a time to be filled with whole passes
  Program body;
};
// All branches start together; it ends with the longest.
struct Together {
  std::vector<Program> branches;
};
struct Track {
  RailId follower{};
  RailId leader{};
  Program body;
};

struct AwaitLine {
  LineId line{};
  bool high = false;
};
struct AwaitOperator {
  std::string prompt;
};
// A condition on measured values; `condition` indexes Profile::conditions.
struct AwaitCondition {
  std::size_t condition = 0;
};
struct Await {
  std::variant<AwaitLine, AwaitCondition, AwaitOperator> what;
  Nanoseconds within{0};
  std::optional<Nanoseconds> assume;
};

// How the expansion reached a statement: the `do` places, innermost first. Shared by all statements of one call.
using CallId = std::uint32_t;
inline constexpr CallId kNoCall = 0xFFFFFFFFU;
struct CallPlace {
  Span span;  // the `do`
  CallId caller = kNoCall;
};

struct Statement {
  Span span;
  CallId call = kNoCall;
  Span point{};  // the point that this leads to, where it is a part of a waveform
  std::variant<Switch, Jump, Ramp, Dwell, Mark, Measurement, SetLine, Pulse, Repeat, Together, Track, Await> what;
};

// ---- conditions, rules, expectations --------------------------------------------------------------------------

enum class Signal : std::uint8_t { Voltage, Current, Power, Slew };

struct Term {
  RailId rail{};
  Signal signal = Signal::Voltage;
  Rational coefficient;
};

// sum of terms + constant, of dimension `unit`.
struct LinearForm {
  std::vector<Term> terms;
  Rational constant;
  Dimension unit;
};

// `form > 0`, or `form >= 0` where not strict.
struct Comparison {
  LinearForm form;
  bool strict = false;
  Span span;
};

// Postfix: comparisons, and the truth operators that take the values before them.
enum class Truth : std::uint8_t { Compare, And, Or, Not };
struct ConditionNode {
  Truth op = Truth::Compare;
  Comparison comparison;  // with Compare
};
struct Condition {
  Span span;
  std::vector<ConditionNode> nodes;
};

struct AlwaysRule {
  Condition condition;
  std::optional<Condition> premise;
};
struct BeforeRule {
  Condition first;
  Condition second;
  Nanoseconds by{0};
};
struct WithinRule {
  Condition response;
  Condition stimulus;
  Nanoseconds time{0};
};
struct MonotonicRule {
  RailId rail{};
  bool falling = false;
  Volts from;
  Volts to;
  std::optional<Nanoseconds> within;
};
// From each time that one mark is reached until the other is.
struct Phase {
  std::string from;
  std::string to;
  Span to_span;
};
struct Rule {
  std::string name;
  Span span;
  std::variant<AlwaysRule, BeforeRule, WithinRule, MonotonicRule> what;
  std::optional<Phase> phase{};  // none: the whole run
};

struct ExpectNoTrip {};
struct ExpectTrip {
  RailId rail{};
  TripCause cause{};
};
struct ExpectFigure {
  Figure figure{};
  std::optional<RailId> rail;  // none: the total, or the duration
  std::optional<std::string> mark;
  bool at_most = false;  // figure <= bound; else figure >= bound
  bool strict = false;
  Quantity bound;
};
struct Expectation {
  std::string text;  // as written, without `expect`
  Span span;
  std::variant<ExpectNoTrip, ExpectTrip, ExpectFigure> what;
  std::optional<std::string> fault;
  Span fault_span;
};

struct Acceptance {
  std::string finding;
  std::optional<RailId> rail;
  std::string reason;
  Span span;
};

struct ParameterValue {
  std::string name;
  Quantity value;
  bool set = false;  // by the caller, not the default
  std::optional<Range<Quantity>> range;
  Span span;  // its name where it is declared
};
// A value of a parameter as its range suggests: plain numbers that are not whole are mostly margins, in percent.
[[nodiscard]] std::string parameter_text(const Quantity& value, const Range<Quantity>& range);

struct Profile {
  std::string title;
  std::vector<Rail> rails;
  std::vector<Line> lines;
  std::vector<Rule> rules;
  std::vector<Expectation> expectations;
  std::vector<Acceptance> acceptances;
  std::vector<ParameterValue> parameters;
  std::vector<Condition> conditions;  // of `await`
  std::vector<CallPlace> calls;
  Program run;
  Span run_span;
  std::optional<Program> safe;
  Span safe_span;

  [[nodiscard]] const Rail& operator[](RailId id) const { return rails[static_cast<std::size_t>(id)]; }
  [[nodiscard]] const Line& operator[](LineId id) const { return lines[static_cast<std::size_t>(id)]; }
};

// The `measure` statements of a program, in the order of the text.
[[nodiscard]] std::vector<const Measurement*> measurements_of(const Program& program);
// The longest time that a `measure` statement takes the mean over; 0 without one.
[[nodiscard]] Nanoseconds longest_reading(const Program& program);

}  // namespace rampart
