#include "compiler/resolve/expander.h"
#include "lang/findings/resolve.h"
#include "lang/findings/syntax.h"

#include <algorithm>
#include <iterator>
#include <limits>
#include <tuple>
#include <utility>

namespace rampart::resolving {
namespace {

// Statements from one look at the job to the next.
constexpr std::int64_t kSpentBetween = 256;

// The whole divided into so many parts, where a short decimal gives that exactly; else empty.
std::string part_text(const Quantity& whole, Int128 parts) {
  const Quantity part{whole.value / Rational::fraction(parts, 1), whole.dimension};
  const std::string text = to_text(part);
  const std::optional<Quantity> read = parse_quantity(text);
  return read && *read == part ? text : std::string();
}

// The steps nearest to whole / parts, above and below it, that reach the end and are written in few digits.
std::string fitting_steps(const Quantity& whole, Int128 parts) {
  constexpr Int128 kMostTried = 1000;
  std::string larger;
  std::string smaller;
  for (Int128 n = parts; n > 0 && n + kMostTried > parts && larger.empty(); --n) larger = part_text(whole, n);
  if (part_text(whole, parts) == larger && !larger.empty()) return larger;
  for (Int128 n = parts + 1; n < parts + kMostTried && smaller.empty(); ++n) smaller = part_text(whole, n);
  if (larger.empty() || smaller.empty()) return larger + smaller;
  return smaller + " or " + larger;
}

}  // namespace

Program Expander::expand(const ast::Block& whole) {
  Program program;
  Frame frame = work_.top();
  block(whole, frame, program);
  return program;
}

void Expander::look_over(const FileScope& scope, const ast::Block& body, const std::vector<ast::Name>& parameters) {
  const bool was_stopped = std::exchange(stopped_, false);
  looking_over_ = true;
  Frame frame{&scope, {}};
  for (const ast::Name& parameter : parameters) work_.scopes.add_local(frame, parameter, {});
  Program unused;
  block(body, frame, unused);
  looking_over_ = false;
  stopped_ = was_stopped;
}

bool Expander::spend(std::int64_t& spent) {
  if (stopped_) return false;
  if (spent % kSpentBetween == 0) work_.options.job.check();
  if (looking_over_ || ++spent <= kMaxExpandedStatements) return true;
  stopped_ = true;
  work_.reporter.report_value(finding::ExpandsTooLarge, statement_, kMaxExpandedStatements)
      .hint("use `repeat` for identical passes: it is never expanded");
  return false;
}

void Expander::block(const ast::Block& block, Frame& frame, Program& out) {
  for (const ast::Statement& each : block.statements) {
    if (stopped_) return;
    statement(each, frame, out);
  }
}

bool Expander::descend() {
  // What is only looked over is no deeper than the text.
  if (looking_over_ || depth_ < kMaxExpandedNesting) {
    ++depth_;
    return true;
  }
  cut_short_ = true;
  work_.reporter.report_value(finding::ExpandsTooDeep, statement_, std::int64_t{kMaxExpandedNesting})
      .hint("call fewer sequences from each other, or nest fewer blocks");
  return false;
}

void Expander::nested(const ast::Block& inner, Frame& frame, Program& out) {
  if (!descend()) return;
  const Span outer = statement_;
  block(inner, frame, out);
  statement_ = outer;
  --depth_;
}

void Expander::statement(const ast::Statement& statement, Frame& frame, Program& out) {
  statement_ = statement.span;
  if (!spend(statements_)) return;
  ast::visit([&](const auto& what) { expand_one(what, frame, out); }, statement);
}

void Expander::expand_one(const ast::Group& group, Frame& frame, Program& out) {
  nested(group.body, frame, out);
}

std::optional<std::int64_t> Expander::pass_count(const ast::Expression& count, const Frame& frame) {
  const std::optional<Rational> passes =
      work_.evaluator.quantity(count, frame, dimension::kNone, {dimension::kTime, "repeat for"});
  if (!passes) return std::nullopt;
  if (!passes->is_whole() || passes->sign() <= 0) {
    work_.reporter.report_value(finding::PassesNotWhole, count.span(), Quantity{*passes, dimension::kNone})
        .hint("a repeat makes 1 pass or more, as in `repeat 3 { … }`");
    return std::nullopt;
  }
  if (!fits_int64(passes->numerator())) {
    work_.reporter.report_value(finding::CountTooLarge, count.span(), std::numeric_limits<std::int64_t>::max());
    return std::nullopt;
  }
  return static_cast<std::int64_t>(passes->numerator());
}

void Expander::expand_one(const ast::Repeat& repeat, Frame& frame, Program& out) {
  Repeat result;
  if (repeat.is_time) {
    if (const auto time = work_.evaluator.nonnegative_time(repeat.count, frame)) result.extent = *time;
  } else if (const auto passes = pass_count(repeat.count, frame)) {
    result.extent = *passes;
  }
  nested(repeat.body, frame, result.body);
  emit(std::move(result), out);
}

std::optional<std::int64_t> Expander::steps_of(const ast::ForRange& loop, const Quantity& first, const Rational& last,
                                               const Rational& step) {
  if (step.sign() == 0) {
    work_.reporter.report_value(finding::StepIsZero, loop.step.span());
    return std::nullopt;
  }
  const Rational steps = (last - first.value) / step;
  if (steps.overflowed()) {
    work_.reporter.report_value(finding::NumberTooLarge, loop.step.span());
    return std::nullopt;
  }
  if (!steps.is_whole() || steps.sign() < 0) {
    const Int128 nearest = std::max<Int128>(1, abs(steps).rounded());
    const std::string fitting = fitting_steps({last - first.value, first.dimension}, nearest);
    FindingSink::Addition addition =
        work_.reporter.report_value(finding::StepDoesNotFit, loop.step.span(), Quantity{step, first.dimension}, first,
                                    Quantity{last, first.dimension});
    addition.hint(fitting.empty() ? "choose a step that divides the range into whole parts"
                                  : "a step that fits is " + fitting);
    return std::nullopt;
  }
  if (steps.numerator() >= kMaxExpandedStatements) {
    work_.reporter.report_value(finding::ExpandsTooLarge, loop.step.span(), kMaxExpandedStatements)
        .hint("take a larger step");
    return std::nullopt;
  }
  return static_cast<std::int64_t>(steps.numerator());
}

void Expander::expand_one(const ast::ForRange& loop, Frame& frame, Program& out) {
  const Value written = work_.evaluator.any_value(loop.first, frame);
  const std::optional<Quantity> first = written.is_known() ? std::optional(written.quantity()) : std::nullopt;
  const std::string_view unit = unit_among({&loop.first, &loop.last, &loop.step}, written.form.unit, frame);
  const auto like_first = [&](const ast::Expression& expression) -> std::optional<Rational> {
    if (first) return work_.evaluator.quantity(expression, frame, first->dimension);
    std::ignore = work_.evaluator.any_quantity(expression, frame);
    return std::nullopt;
  };
  const auto last = like_first(loop.last);
  const auto step = like_first(loop.step);
  const auto steps = first && last && step ? steps_of(loop, *first, *last, *step) : std::nullopt;
  if (!steps || looking_over_) {
    iterate(loop.variable, {}, loop.body, frame, out);
    return;
  }
  for (std::int64_t k = 0; k <= *steps && !stopped_; ++k) {
    const Quantity value{first->value + Rational(k) * *step, first->dimension};
    if (value.value.overflowed()) work_.reporter.report_value(finding::NumberTooLarge, loop.step.span());
    iterate(loop.variable, value.value.overflowed() ? Value{} : Value::of(value, unit), loop.body, frame, out);
  }
}

void Expander::expand_one(const ast::ForList& loop, Frame& frame, Program& out) {
  if (looking_over_) {
    for (const ast::Expression& expression : loop.values) std::ignore = work_.evaluator.any_quantity(expression, frame);
    iterate(loop.variable, {}, loop.body, frame, out);
    return;
  }
  std::vector<const ast::Expression*> expressions;
  for (const ast::Expression& expression : loop.values) expressions.push_back(&expression);
  std::vector<std::pair<Dimension, std::string_view>> units;  // of values that have none of their own
  for (const ast::Expression* expression : expressions) {
    if (stopped_) return;
    Value value = work_.evaluator.any_value(*expression, frame);
    if (value.is_known() && value.unit.empty()) {
      const Dimension& dimension = value.form.unit;
      auto found =
          std::find_if(units.begin(), units.end(), [&](const auto& known) { return known.first == dimension; });
      if (found == units.end()) {
        found = units.insert(found, {dimension, unit_among(expressions, dimension, frame)});
      }
      value.unit = found->second;
    }
    iterate(loop.variable, std::move(value), loop.body, frame, out);
  }
}

std::string_view Expander::unit_among(const std::vector<const ast::Expression*>& expressions,
                                      const Dimension& dimension, const Frame& frame) {
  for (const ast::Expression* expression : expressions) {
    const Value value = work_.evaluator.any_value(*expression, frame);
    if (value.is_known() && value.form.unit == dimension && !value.unit.empty()) return value.unit;
  }
  return {};
}

void Expander::iterate(const ast::Name& variable, Value value, const ast::Block& body, Frame& frame, Program& out) {
  if (!spend(iterations_)) return;
  work_.scopes.add_local(frame, variable, std::move(value));
  nested(body, frame, out);
  frame.locals.pop_back();
}

void Expander::expand_one(const ast::Together& together, Frame& frame, Program& out) {
  Together result;
  const Span whole = statement_;
  for (const ast::Statement& branch : together.body.statements) {
    if (stopped_) return;
    statement_ = whole;
    if (!descend()) return;
    Program program;
    statement(branch, frame, program);
    --depth_;
    if (!program.empty()) result.branches.push_back(std::move(program));
  }
  statement_ = whole;
  emit(std::move(result), out);
}

void Expander::expand_one(const ast::Track& track, Frame& frame, Program& out) {
  const auto follower = work_.evaluator.rail(track.follower, frame);
  const auto leader = work_.evaluator.rail(track.leader, frame);
  Track result;
  nested(track.body, frame, result.body);
  if (!follower || !leader) {
    std::move(result.body.begin(), result.body.end(), std::back_inserter(out));
    return;
  }
  result.follower = *follower;
  result.leader = *leader;
  emit(std::move(result), out);
}

void expand_programs(Work& work) {
  Expander expander(work);
  expander.find_recursion();
  std::vector<const ast::Block*> blocks;
  for (const ast::Declaration& declaration : work.file.declarations) {
    if (const auto* run = std::get_if<ast::Run>(&declaration.what)) {
      work.profile.run = expander.expand(run->body);
      work.profile.run_span = declaration.span;
      blocks.push_back(&run->body);
    } else if (const auto* safe = std::get_if<ast::Safe>(&declaration.what)) {
      work.profile.safe = expander.expand(safe->body);
      work.profile.safe_span = declaration.span;
      blocks.push_back(&safe->body);
    }
  }
  // Mistakes and uses of names count also where the expansion did not come by.
  const bool whole = !expander.cut_short();
  for (const ast::Block* block : blocks) {
    if (!whole) expander.look_over(work.scopes.main(), *block, {});
  }
  for (const Definition& definition : work.scopes.main().own) {
    if (definition.kind != DefinitionKind::Sequence || (definition.expanded && whole)) continue;
    expander.look_over(*definition.home, definition.sequence->body, definition.sequence->parameters);
  }
}

}  // namespace rampart::resolving
