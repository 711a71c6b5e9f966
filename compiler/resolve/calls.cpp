#include <map>
#include <tuple>

#include "compiler/resolve/expander.h"
#include "lang/findings/resolve.h"
#include "lang/findings/syntax.h"
#include "lang/findings/timeline.h"
#include "lang/syntax/bodies.h"

// Calls of sequences.
namespace rampart::resolving {
namespace {

void collect_calls(const ast::Block& block, std::vector<const ast::Name*>& calls);

void collect_calls(const ast::Statement& statement, std::vector<const ast::Name*>& calls) {
  if (const auto* call = std::get_if<ast::Do>(&statement.what)) calls.push_back(&call->sequence);
  if (const ast::Block* body = ast::body_of(statement)) collect_calls(*body, calls);
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
  static constexpr std::size_t kMaxCallersShown = 8;

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
    std::vector<std::string_view> names;
    for (std::size_t i = first - 1; i < visits_.size(); ++i) {
      visits_[i].sequence->recursive = true;
      names.push_back(visits_[i].sequence->name.text);
    }
    FindingSink::Addition addition =
        work_.reporter.report(finding::CallsItself, closing.span, sequence.name.text, cycle_text(names));
    for (std::size_t i = first; i < visits_.size() && i < first + kMaxCallersShown; ++i) {
      const Visit& caller = visits_[i - 1];
      addition.note(finding::CalledFromHere, caller.calls[caller.next - 1]->span);
    }
    addition.hint("use `repeat` or `for` for what happens again");
  }

  Work& work_;
  std::map<const Definition*, State> states_;
  std::vector<Visit> visits_;
};

}  // namespace

void Expander::find_recursion() {
  CallGraph graph(work_);
  for (FileScope& scope : work_.scopes.files()) {
    for (Definition& definition : scope.own) {
      if (definition.kind == DefinitionKind::Sequence) graph.walk(definition);
    }
  }
}

Value Expander::argument(const ast::Expression& expression, const Frame& frame) {
  Value value = work_.evaluator.evaluate(expression, frame);
  const bool is_name = expression.nodes.size() == 1 && (value.kind == ValueKind::Rail || value.kind == ValueKind::Line);
  if (!value.is_known() || value.is_quantity() || is_name) return value;
  if (value.kind == ValueKind::Form || value.kind == ValueKind::Rail) {
    work_.reporter.report_value(finding::DependsOnRail, expression.span(), work_.evaluator.quoted(expression.span()))
        .hint("pass the rail by its name alone");
  } else {
    work_.reporter.report_value(finding::WrongKind, expression.span(), work_.evaluator.quoted(expression.span()),
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
        .note(finding::DeclaredHere, sequence.name.span)
        .hint("write `do " + std::string(sequence.name.text) + text + "`");
    look_over_arguments(call, frame);
    return std::nullopt;
  }
  Frame inner{sequence.home, {}};
  for (std::size_t i = 0; i < parameters.size(); ++i) {
    Value value = argument(call.arguments[i], frame);
    std::vector<Span> origins = work_.reporter.origins();
    if (origins.empty()) origins.push_back(call.arguments[i].span());
    work_.scopes.add_local(inner, parameters[i], std::move(value), std::move(origins));
  }
  return inner;
}

void Expander::look_over_arguments(const ast::Do& call, const Frame& frame) {
  for (const ast::Expression& expression : call.arguments) std::ignore = argument(expression, frame);
}

Definition* Expander::called_sequence(const ast::Do& call, const Frame& frame) {
  const Found found = work_.scopes.find(call.sequence.text, frame);
  if (found.definition != nullptr && found.definition->kind == DefinitionKind::Sequence) return found.definition;
  if (found.definition == nullptr && found.local == nullptr) {
    work_.scopes.report_unknown("sequence", call.sequence, frame);
    return nullptr;
  }
  const std::string kind =
      found.local != nullptr ? "a local name" : "a " + std::string(kind_name(found.definition->kind));
  work_.reporter.report(finding::WrongKind, call.sequence.span, "`" + std::string(call.sequence.text) + "`", kind,
                        "a sequence");
  return nullptr;
}

void Expander::expand_one(const ast::Do& call, Frame& frame, Program& out) {
  Definition* sequence = called_sequence(call, frame);
  if (sequence == nullptr) {
    look_over_arguments(call, frame);
    return;
  }
  std::optional<Frame> inner = call_frame(call, *sequence, frame);
  if (!inner || sequence->recursive || looking_over_) return;
  sequence->expanded = true;
  const CallId caller = work_.reporter.call();
  const auto id = static_cast<CallId>(work_.profile.calls.size());
  work_.profile.calls.push_back({statement_, caller});
  work_.reporter.enter_call(id);
  nested(sequence->sequence->body, *inner, out);
  work_.reporter.enter_call(caller);
}

}  // namespace rampart::resolving
