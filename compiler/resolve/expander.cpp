#include "compiler/resolve/expander.h"

#include <map>

#include "lang/overloaded.h"

namespace rampart::resolving {
namespace {

void collect_calls(const ast::Block& block, std::vector<const ast::Name*>& calls);

void collect_calls(const ast::Statement& statement, std::vector<const ast::Name*>& calls) {
  std::visit(Overloaded{[&](const ast::Do& call) { calls.push_back(&call.sequence); },
                        [&](const ast::Repeat& with_body) { collect_calls(with_body.body, calls); },
                        [&](const ast::ForRange& with_body) { collect_calls(with_body.body, calls); },
                        [&](const ast::ForList& with_body) { collect_calls(with_body.body, calls); },
                        [&](const ast::Together& with_body) { collect_calls(with_body.body, calls); },
                        [&](const ast::Track& with_body) { collect_calls(with_body.body, calls); },
                        [&](const ast::Group& with_body) { collect_calls(with_body.body, calls); }, [](const auto&) {}},
             statement.what);
}

void collect_calls(const ast::Block& block, std::vector<const ast::Name*>& calls) {
  for (const ast::Statement& statement : block.statements) collect_calls(statement, calls);
}

// Walks the calls between sequences; a call back to a sequence that is still open closes a cycle.
class CallGraph {
 public:
  explicit CallGraph(Work& work) : work_(work) {}

  void walk(Definition& first) {
    begin(first);
    while (!visits_.empty()) {
      Visit& visit = visits_.back();
      if (visit.next == visit.calls.size()) {
        states_[visit.sequence] = State::Done;
        visits_.pop_back();
        continue;
      }
      const ast::Name& call = *visit.calls[visit.next++];
      const auto& names = visit.sequence->home->names;
      const auto place = names.find(call.text);
      if (place == names.end() || place->second->kind != DefinitionKind::Sequence) continue;
      // A sequence in a cycle is never expanded, so its calls would not count.
      if (place->second != visit.sequence) place->second->used = true;
      if (states_[place->second] == State::Open) {
        report_cycle(call, *place->second);
      } else {
        begin(*place->second);
      }
    }
  }

 private:
  enum class State : std::uint8_t { New, Open, Done };
  struct Visit {
    Definition* sequence;
    std::vector<const ast::Name*> calls;
    std::size_t next = 0;
  };

  void begin(Definition& sequence) {
    State& state = states_[&sequence];
    if (state != State::New) return;
    state = State::Open;
    visits_.push_back({&sequence, {}, 0});
    collect_calls(sequence.sequence->body, visits_.back().calls);
  }

  void report_cycle(const ast::Name& closing, const Definition& sequence) {
    std::size_t first = visits_.size();
    while (first > 0 && visits_[first - 1].sequence != &sequence) --first;
    std::string path;
    for (std::size_t i = first - 1; i < visits_.size(); ++i) {
      visits_[i].sequence->recursive = true;
      path += "`" + std::string(visits_[i].sequence->name.text) + "` -> ";
    }
    path += "`" + std::string(sequence.name.text) + "`";
    FindingSink::Addition addition =
        work_.reporter.report(finding::CallsItself, closing.span, sequence.name.text, path);
    for (std::size_t i = first; i < visits_.size(); ++i) {
      const Visit& caller = visits_[i - 1];
      addition.note(finding::CalledFromHere, caller.calls[caller.next - 1]->span);
    }
    addition.hint("use `repeat` or `for` for what happens again");
  }

  Work& work_;
  std::map<const Definition*, State> states_;
  std::vector<Visit> visits_;
};

// A step that no decimal gives exactly is written as what it is part of.
std::string exact_text(const Quantity& step, const Quantity& first, const Rational& last, Int128 parts) {
  const std::string text = to_text(step);
  const std::optional<Quantity> read = parse_quantity(text);
  if (read && *read == step) return text;
  return to_text(Quantity{last - first.value, first.dimension}) + " / " +
         to_text(Quantity{Rational::fraction(parts, 1), dimension::kNone});
}

}  // namespace

void Expander::find_recursion() {
  CallGraph graph(work_);
  for (FileScope& scope : work_.scopes.files()) {
    for (Definition& definition : scope.own) {
      if (definition.kind == DefinitionKind::Sequence) graph.walk(definition);
    }
  }
}

Program Expander::expand(const ast::Block& whole) {
  Program program;
  Frame frame = work_.top();
  block(whole, frame, program);
  return program;
}

void Expander::look_over(Definition& sequence) {
  looking_over_ = true;
  Frame frame{sequence.home, {}};
  for (const ast::Name& parameter : sequence.sequence->parameters) work_.scopes.add_local(frame, parameter, {});
  Program unused;
  block(sequence.sequence->body, frame, unused);
  looking_over_ = false;
}

bool Expander::spend() {
  if (stopped_) return false;
  if (++spent_ <= kMaxExpandedStatements) return true;
  stopped_ = true;
  work_.reporter.report_value(finding::ExpandsTooLarge, statement_, kMaxExpandedStatements)
      .hint("use `repeat` where passes are alike: it is never expanded");
  return false;
}

void Expander::block(const ast::Block& block, Frame& frame, Program& out) {
  for (const ast::Statement& each : block.statements) {
    if (stopped_) return;
    statement(each, frame, out);
  }
}

void Expander::nested(const ast::Block& inner, Frame& frame, Program& out) {
  if (depth_ >= kMaxExpandedNesting) {
    work_.reporter.report_value(finding::ExpandsTooDeep, statement_, std::int64_t{kMaxExpandedNesting})
        .hint("let sequences call fewer others, or nest fewer blocks");
    return;
  }
  ++depth_;
  const Span outer = statement_;
  block(inner, frame, out);
  statement_ = outer;
  --depth_;
}

void Expander::statement(const ast::Statement& statement, Frame& frame, Program& out) {
  statement_ = statement.span;
  if (!spend()) return;
  std::visit([&](const auto& what) { expand_one(what, frame, out); }, statement.what);
}

void Expander::expand_one(const ast::Group& group, Frame& frame, Program& out) {
  nested(group.body, frame, out);
}

std::optional<std::int64_t> Expander::pass_count(const ast::Expression& count, const Frame& frame) {
  const std::optional<Rational> passes = work_.evaluator.quantity(count, frame, dimension::kNone);
  if (!passes) return std::nullopt;
  if (!passes->is_whole() || passes->sign() <= 0) {
    work_.reporter.report_value(finding::PassesNotWhole, count.span, Quantity{*passes, dimension::kNone})
        .hint("a repeat makes 1 pass or more, as in `repeat 3 { … }`");
    return std::nullopt;
  }
  if (!fits_int64(passes->numerator())) {
    work_.reporter.report_value(finding::NumberTooLarge, count.span);
    return std::nullopt;
  }
  return static_cast<std::int64_t>(passes->numerator());
}

void Expander::expand_one(const ast::Repeat& repeat, Frame& frame, Program& out) {
  Repeat result;
  bool known = true;
  if (repeat.is_time) {
    const auto time = work_.evaluator.nonnegative_time(repeat.count, frame);
    known = time.has_value();
    if (time) result.extent = *time;
  } else {
    const auto passes = pass_count(repeat.count, frame);
    known = passes.has_value();
    if (passes) result.extent = *passes;
  }
  nested(repeat.body, frame, result.body);
  if (known) emit(std::move(result), out);
}

std::optional<std::int64_t> Expander::steps_of(const ast::ForRange& loop, const Quantity& first, const Rational& last,
                                               const Rational& step) {
  if (step.sign() == 0) {
    work_.reporter.report_value(finding::StepIsZero, loop.step.span);
    return std::nullopt;
  }
  const Rational steps = (last - first.value) / step;
  if (steps.overflowed()) {
    work_.reporter.report_value(finding::NumberTooLarge, loop.step.span);
    return std::nullopt;
  }
  if (!steps.is_whole() || steps.sign() < 0) {
    const Int128 nearest = std::max<Int128>(1, abs(steps).rounded());
    const Quantity fitting{(last - first.value) / Rational::fraction(nearest, 1), first.dimension};
    FindingSink::Addition addition =
        work_.reporter.report_value(finding::StepDoesNotFit, loop.step.span, Quantity{step, first.dimension}, first,
                                    Quantity{last, first.dimension});
    addition.hint("the nearest step that fits is " + exact_text(fitting, first, last, nearest));
    return std::nullopt;
  }
  if (steps.numerator() >= kMaxExpandedStatements) {
    work_.reporter.report_value(finding::ExpandsTooLarge, loop.step.span, kMaxExpandedStatements)
        .hint("take a larger step");
    return std::nullopt;
  }
  return static_cast<std::int64_t>(steps.numerator());
}

void Expander::expand_one(const ast::ForRange& loop, Frame& frame, Program& out) {
  const auto first = work_.evaluator.any_quantity(loop.first, frame);
  const auto last = first ? work_.evaluator.quantity(loop.last, frame, first->dimension) : std::nullopt;
  const auto step = first ? work_.evaluator.quantity(loop.step, frame, first->dimension) : std::nullopt;
  const auto steps = first && last && step ? steps_of(loop, *first, *last, *step) : std::nullopt;
  if (!steps || looking_over_) {
    iterate(loop.variable, {}, loop.body, frame, out);
    return;
  }
  for (std::int64_t k = 0; k <= *steps && !stopped_; ++k) {
    const Quantity value{first->value + Rational(k) * *step, first->dimension};
    iterate(loop.variable, Value::of(value), loop.body, frame, out);
  }
}

void Expander::expand_one(const ast::ForList& loop, Frame& frame, Program& out) {
  for (const ast::Expression& expression : loop.values) {
    if (stopped_) return;
    const auto value = work_.evaluator.any_quantity(expression, frame);
    iterate(loop.variable, value ? Value::of(*value) : Value{}, loop.body, frame, out);
  }
}

void Expander::iterate(const ast::Name& variable, Value value, const ast::Block& body, Frame& frame, Program& out) {
  if (!spend()) return;
  work_.scopes.add_local(frame, variable, std::move(value));
  nested(body, frame, out);
  frame.locals.pop_back();
}

void Expander::expand_one(const ast::Together& together, Frame& frame, Program& out) {
  Together result;
  const Span whole = statement_;
  for (const ast::Statement& branch : together.body.statements) {
    if (stopped_) return;
    Program program;
    if (depth_ >= kMaxExpandedNesting) {
      work_.reporter.report_value(finding::ExpandsTooDeep, whole, std::int64_t{kMaxExpandedNesting});
      return;
    }
    ++depth_;
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
  if (!follower || !leader) return;
  result.follower = *follower;
  result.leader = *leader;
  emit(std::move(result), out);
}

Value Expander::argument(const ast::Expression& expression, const Frame& frame) {
  Value value = work_.evaluator.evaluate(expression, frame);
  const bool is_name = expression.nodes.size() == 1 && (value.kind == ValueKind::Rail || value.kind == ValueKind::Line);
  if (!value.is_known() || value.is_quantity() || is_name) return value;
  if (value.kind == ValueKind::Form || value.kind == ValueKind::Rail) {
    work_.reporter.report_value(finding::DependsOnRail, expression.span, work_.evaluator.quoted(expression.span))
        .hint("hand over the rail by its name alone");
  } else {
    work_.reporter.report_value(finding::WrongKind, expression.span, work_.evaluator.quoted(expression.span),
                                kind_of(value), "a value, rail or line");
  }
  return {};
}

std::optional<Frame> Expander::call_frame(const ast::Do& call, const Definition& sequence, const Frame& frame) {
  const std::vector<ast::Name>& parameters = sequence.sequence->parameters;
  if (parameters.size() != call.arguments.size()) {
    std::string shown;
    for (const ast::Name& parameter : parameters) shown += (shown.empty() ? "" : ", ") + std::string(parameter.text);
    const std::string text = shown.empty() ? "" : "(" + shown + ")";
    work_.reporter
        .report(finding::ArgumentCount, call.sequence.span, sequence.name.text,
                static_cast<std::int64_t>(parameters.size()), static_cast<std::int64_t>(call.arguments.size()))
        .note(finding::FirstDefinedHere, sequence.name.span)
        .hint("write `do " + std::string(sequence.name.text) + text + "`");
    return std::nullopt;
  }
  Frame inner{sequence.home, {}};
  for (std::size_t i = 0; i < parameters.size(); ++i) {
    work_.scopes.add_local(inner, parameters[i], argument(call.arguments[i], frame));
  }
  return inner;
}

void Expander::expand_one(const ast::Do& call, Frame& frame, Program& out) {
  const Found found = work_.scopes.find(call.sequence.text, frame);
  if (found.definition == nullptr && found.local == nullptr) {
    work_.scopes.report_unknown("sequence", call.sequence, frame);
    return;
  }
  if (found.local != nullptr || found.definition->kind != DefinitionKind::Sequence) {
    const std::string kind =
        found.local != nullptr ? "a local name" : "a " + std::string(kind_name(found.definition->kind));
    work_.reporter.report(finding::WrongKind, call.sequence.span, "`" + std::string(call.sequence.text) + "`", kind,
                          "a sequence");
    return;
  }
  Definition& sequence = *found.definition;
  std::optional<Frame> inner = call_frame(call, sequence, frame);
  if (!inner || sequence.recursive || looking_over_) return;
  sequence.expanded = true;
  const CallId caller = work_.reporter.call();
  const auto id = static_cast<CallId>(work_.profile.calls.size());
  work_.profile.calls.push_back({statement_, caller});
  work_.reporter.enter_call(id);
  nested(sequence.sequence->body, *inner, out);
  work_.reporter.enter_call(caller);
}

void expand_programs(Work& work) {
  Expander expander(work);
  expander.find_recursion();
  for (const ast::Declaration& declaration : work.file.declarations) {
    if (const auto* run = std::get_if<ast::Run>(&declaration.what)) {
      work.profile.run = expander.expand(run->body);
      work.profile.run_span = declaration.span;
    } else if (const auto* safe = std::get_if<ast::Safe>(&declaration.what)) {
      work.profile.safe = expander.expand(safe->body);
      work.profile.safe_span = declaration.span;
    }
  }
  for (Definition& definition : work.scopes.main().own) {
    const bool uncalled = definition.kind == DefinitionKind::Sequence && !definition.expanded && !definition.recursive;
    if (uncalled) expander.look_over(definition);
  }
}

}  // namespace rampart::resolving
