#include "compiler/resolve/symbols.h"

#include <map>

#include "compiler/bench/bench_symbols.h"
#include "compiler/resolve/work.h"
#include "lang/syntax/bodies.h"
#include "lang/text/overloaded.h"

namespace rampart {
namespace resolving {
namespace {

SymbolKind symbol_kind(DefinitionKind kind) {
  switch (kind) {
    case DefinitionKind::Parameter:
      return SymbolKind::Parameter;
    case DefinitionKind::Let:
      return SymbolKind::Value;
    case DefinitionKind::Rail:
      return SymbolKind::Rail;
    case DefinitionKind::Line:
      return SymbolKind::Line;
    case DefinitionKind::Sequence:
      return SymbolKind::Sequence;
  }
  return SymbolKind::Value;
}

// Where the characters of a text stand, its quotes left out.
Span inner_span(const ast::Text& text) {
  return {text.span.file, text.span.begin + 1, std::max(text.span.begin + 1, text.span.end - 1)};
}

// Goes through the trees of all files with the names that are known at each place.
class SymbolWalk {
 public:
  SymbolWalk(Work& work, SymbolIndex& index) : work_(work), index_(index) {}

  void run() {
    for (FileScope& scope : work_.scopes.files()) {
      for (Definition& definition : scope.own) define(definition);
    }
    for (FileScope& scope : work_.scopes.files()) find_marks(*scope.file);
    for (FileScope& scope : work_.scopes.files()) {
      Frame frame{&scope, {}};
      for (const ast::Declaration& declaration : scope.file->declarations) {
        around_ = declaration.span;
        std::visit([&](const auto& what) { visit(what, frame); }, declaration.what);
      }
    }
  }

  // What a call or a pass of a `for` gives a name.
  void give(const ast::Name& name, const Value& value) {
    if (value.is_known()) given_[{name.span.file, name.span.begin}].push_back(text_of(value));
  }

 private:
  using Place = std::pair<FileId, std::uint32_t>;

  [[nodiscard]] std::string text_of(const Value& value) const {
    if (value.kind == ValueKind::Rail) return work_.profile[value.rail].name;
    if (value.kind == ValueKind::Line) return work_.profile[value.line].name;
    return value.is_quantity() ? to_text(Quantity{value.form.constant, value.form.unit}) : std::string("a condition");
  }

  void define(const Definition& definition) {
    const SymbolId id = index_.define({.kind = symbol_kind(definition.kind),
                                       .name = std::string(definition.name.text),
                                       .definition = definition.name.span});
    definitions_[&definition] = id;
    const bool is_value = definition.kind == DefinitionKind::Parameter || definition.kind == DefinitionKind::Let;
    if (is_value && definition.value.is_known()) index_.add_value(id, text_of(definition.value));
  }

  void define_local(const ast::Name& name, SymbolKind kind, const Span& scope, Frame& frame) {
    const SymbolId id =
        index_.define({.kind = kind, .name = std::string(name.text), .definition = name.span, .scope = scope});
    locals_[{name.span.file, name.span.begin}] = id;
    for (std::string& text : given_[{name.span.file, name.span.begin}]) index_.add_value(id, std::move(text));
    frame.locals.push_back({name, {}, {}});
  }

  // Marks are known in all files, also before they are set.
  void find_marks(const ast::Profile& file) {
    for (const ast::Declaration& declaration : file.declarations) {
      if (const ast::Block* body = ast::body_of(declaration)) find_marks(*body);
    }
  }
  void find_marks(const ast::Block& block) {
    for (const ast::Statement& statement : block.statements) {
      if (const auto* mark = std::get_if<ast::Boxed<ast::Mark>>(&statement.what)) define_mark((**mark).name);
      if (const ast::Block* body = ast::body_of(statement)) find_marks(*body);
    }
  }
  void define_mark(const ast::Label& label) {
    const std::string name = name_of(label);
    if (const auto known = index_.find(SymbolKind::Mark, name)) {
      index_.use(*known, inner_span(label.text), true);
    } else {
      index_.define({.kind = SymbolKind::Mark, .name = name, .definition = inner_span(label.text)});
    }
  }
  // One that holds values is called as it is written.
  [[nodiscard]] std::string name_of(const ast::Label& label) const {
    return label.parts.empty() ? label.text.value : std::string(work_.sources.text(inner_span(label.text)));
  }
  void use_mark(const std::optional<ast::Label>& label, const Frame& frame) {
    if (!label) return;
    visit(*label, frame);
    if (const auto mark = index_.find(SymbolKind::Mark, name_of(*label))) index_.use(*mark, inner_span(label->text));
  }

  void use(const ast::Name& name, const Frame& frame) {
    const Found found = work_.scopes.find(name.text, frame);
    if (found.local != nullptr) {
      const auto local = locals_.find({found.local->name.span.file, found.local->name.span.begin});
      if (local != locals_.end()) index_.use(local->second, name.span);
    } else if (found.definition != nullptr) {
      const auto definition = definitions_.find(found.definition);
      if (definition != definitions_.end()) index_.use(definition->second, name.span);
    }
  }
  void use_all(const std::vector<ast::Name>& names, const Frame& frame) {
    for (const ast::Name& name : names) use(name, frame);
  }

  void visit(const ast::Expression& expression, const Frame& frame) {
    for (const ast::ExpressionNode& node : expression.nodes) {
      if (node.op == ast::Operator::Name) use({node.span, node.name}, frame);
    }
    if (expression.nodes.size() < 2) return;
    const Value value = work_.evaluator.evaluate(expression, frame);
    if (value.is_known() && value.is_quantity()) index_.add_calculated(expression.span(), text_of(value));
  }
  void visit(const std::optional<ast::Expression>& expression, const Frame& frame) {
    if (expression) visit(*expression, frame);
  }
  void visit(const std::vector<ast::Target>& targets, const Frame& frame) {
    for (const ast::Target& target : targets) {
      use(target.rail, frame);
      visit(target.from, frame);
      visit(target.value, frame);
    }
  }
  void visit(const ast::Block& block, Frame& frame) {
    for (const ast::Statement& statement : block.statements) {
      const Span outer = std::exchange(around_, statement.span);
      ast::visit([&](const auto& what) { visit(what, frame); }, statement);
      around_ = outer;
    }
  }

  void visit(const ast::BadStatement&, Frame&) {}
  void visit(const ast::Switch& action, Frame& frame) { use_all(action.rails, frame); }
  void visit(const ast::Step& step, Frame& frame) { visit(step.targets, frame); }
  void visit(const ast::Ramp& ramp, Frame& frame) {
    visit(ramp.targets, frame);
    visit(ramp.pace, frame);
  }
  void visit(const ast::Limit& limit, Frame& frame) {
    visit(limit.targets, frame);
    visit(limit.over, frame);
  }
  void visit(const ast::Dwell& dwell, Frame& frame) { visit(dwell.time, frame); }
  void visit(const ast::Label& label, const Frame& frame) {
    for (const ast::Label::Part& part : label.parts) use(part.name, frame);
  }
  void visit(const ast::Mark& mark, Frame& frame) { visit(mark.name, frame); }
  void visit(const ast::Measurement& measurement, Frame& frame) {
    visit(measurement.name, frame);
    visit(measurement.over, frame);
  }
  void visit(const ast::Waveform& waveform, Frame& frame) {
    use(waveform.rail, frame);
    for (const ast::WaveformPoint& point : waveform.points) {
      visit(point.time, frame);
      visit(point.voltage, frame);
    }
    visit(waveform.scale, frame);
  }
  void visit(const ast::Repeat& loop, Frame& frame) {
    visit(loop.count, frame);
    visit(loop.body, frame);
  }
  void visit(const ast::ForRange& loop, Frame& frame) {
    visit(loop.first, frame);
    visit(loop.last, frame);
    visit(loop.step, frame);
    visit_body(loop.variable, loop.body, frame);
  }
  void visit(const ast::ForList& loop, Frame& frame) {
    for (const ast::Expression& value : loop.values) visit(value, frame);
    visit_body(loop.variable, loop.body, frame);
  }
  void visit_body(const ast::Name& variable, const ast::Block& body, Frame& frame) {
    define_local(variable, SymbolKind::Variable, around_, frame);
    visit(body, frame);
    frame.locals.pop_back();
  }
  void visit(const ast::Together& group, Frame& frame) { visit(group.body, frame); }
  void visit(const ast::Track& track, Frame& frame) {
    use(track.follower, frame);
    use(track.leader, frame);
    visit(track.body, frame);
  }
  void visit(const ast::SetLine& action, Frame& frame) { use(action.line, frame); }
  void visit(const ast::Pulse& pulse, Frame& frame) {
    use(pulse.line, frame);
    visit(pulse.time, frame);
  }
  void visit(const ast::Await& await, Frame& frame) {
    std::visit(Overloaded{[&](const ast::AwaitLine& what) { use(what.line, frame); },
                          [&](const ast::AwaitCondition& what) { visit(what.condition, frame); },
                          [&](const ast::AwaitOperator& what) { visit(what.prompt, frame); }},
               await.what);
    visit(await.within, frame);
    visit(await.assume, frame);
  }
  void visit(const ast::Do& call, Frame& frame) {
    use(call.sequence, frame);
    for (const ast::Expression& argument : call.arguments) visit(argument, frame);
  }
  void visit(const ast::Group& group, Frame& frame) { visit(group.body, frame); }

  void visit(const ast::BadDeclaration&, Frame&) {}
  void visit(const ast::Title&, Frame&) {}
  void visit(const ast::BenchPath&, Frame&) {}
  void visit(const ast::LoadPath&, Frame&) {}
  void visit(const ast::Import&, Frame&) {}
  void visit(const ast::Parameter& parameter, Frame& frame) {
    visit(parameter.value, frame);
    visit(parameter.low, frame);
    visit(parameter.high, frame);
  }
  void visit(const ast::Let& let, Frame& frame) { visit(let.value, frame); }
  void visit(const ast::Rail& rail, Frame&) {
    use_output(rail.channel.text, rail.channel.span, SymbolKind::Channel, index_);
  }
  void visit(const ast::Line& line, Frame& frame) {
    use_output(line.channel.text, line.channel.span, SymbolKind::TriggerLine, index_);
    use_all(line.rails, frame);
  }
  void visit(const ast::Protect& protect, Frame& frame) {
    use(protect.rail, frame);
    for (const ast::ProtectSetting& setting : protect.settings) {
      std::visit([&](const auto& what) { visit(what, frame); }, setting.what);
    }
  }
  void visit(const ast::CeilingSetting& ceiling, Frame& frame) { visit(ceiling.voltage, frame); }
  void visit(const ast::OvervoltageSetting& overvoltage, Frame& frame) { visit(overvoltage.voltage, frame); }
  void visit(const ast::FuseSetting& fuse, Frame& frame) {
    visit(fuse.current, frame);
    visit(fuse.delay, frame);
    use_all(fuse.linked, frame);
  }
  void visit(const ast::OverpowerSetting& overpower, Frame& frame) {
    visit(overpower.power, frame);
    visit(overpower.delay, frame);
  }
  void visit(const ast::Accept& accept, Frame& frame) { use(accept.rail, frame); }
  void visit(const ast::Rule& rule, Frame& frame) {
    visit(rule.name, frame);
    use_mark(rule.from, frame);
    use_mark(rule.to, frame);
    std::visit([&](const auto& what) { visit(what, frame); }, rule.what);
  }
  void visit(const ast::AlwaysRule& rule, Frame& frame) {
    visit(rule.condition, frame);
    visit(rule.premise, frame);
  }
  void visit(const ast::BeforeRule& rule, Frame& frame) {
    visit(rule.first, frame);
    visit(rule.second, frame);
    visit(rule.by, frame);
  }
  void visit(const ast::WithinRule& rule, Frame& frame) {
    visit(rule.response, frame);
    visit(rule.time, frame);
    visit(rule.stimulus, frame);
  }
  void visit(const ast::MonotonicRule& rule, Frame& frame) {
    use(rule.rail, frame);
    visit(rule.from, frame);
    visit(rule.to, frame);
    visit(rule.within, frame);
  }
  void visit(const ast::Sequence& sequence, Frame& frame) {
    for (const ast::Name& name : sequence.parameters) define_local(name, SymbolKind::Argument, around_, frame);
    visit(sequence.body, frame);
    frame.locals.clear();
  }
  void visit(const ast::Run& run, Frame& frame) { visit(run.body, frame); }
  void visit(const ast::Safe& safe, Frame& frame) { visit(safe.body, frame); }
  void visit(const ast::Expect& expect, Frame& frame) {
    std::visit([&](const auto& what) { visit(what, frame); }, expect.what);
  }
  void visit(const ast::ExpectNoTrip&, Frame&) {}
  void visit(const ast::ExpectTrip& expect, Frame& frame) { use(expect.rail, frame); }
  void visit(const ast::ExpectFigure& expect, Frame& frame) {
    if (expect.of) use(*expect.of, frame);
    visit(expect.bound, frame);
    use_mark(expect.at_mark, frame);
  }

  Work& work_;
  SymbolIndex& index_;
  Span around_;  // the declaration or statement that is being visited
  std::map<const Definition*, SymbolId> definitions_;
  std::map<Place, SymbolId> locals_;
  std::map<Place, std::vector<std::string>> given_;
};

}  // namespace
}  // namespace resolving

void add_profile_symbols(const SourceSet& sources, const ast::Profile& profile, const Bench& bench,
                         const ResolveOptions& options, SymbolIndex& index) {
  FindingSink unheard;
  resolving::Work work(sources, profile, bench, options, unheard);
  resolving::SymbolWalk walk(work, index);
  resolving::declare_outputs(work);
  resolving::calculate_values(work);
  work.scopes.on_local([&](const ast::Name& name, const resolving::Value& value) { walk.give(name, value); });
  resolving::expand_programs(work);
  work.scopes.on_local({});
  walk.run();
}

}  // namespace rampart
