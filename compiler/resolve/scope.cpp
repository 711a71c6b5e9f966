#include "compiler/resolve/scope.h"

#include <algorithm>
#include <iterator>
#include <set>

#include "lang/findings/resolve.h"
#include "lang/findings/syntax.h"
#include "lang/syntax/scanner.h"
#include "lang/text/overloaded.h"

namespace rampart::resolving {

std::string_view kind_name(DefinitionKind kind) {
  switch (kind) {
    case DefinitionKind::Parameter:
      return "parameter";
    case DefinitionKind::Let:
      return "value";
    case DefinitionKind::Rail:
      return "rail";
    case DefinitionKind::Line:
      return "line";
    case DefinitionKind::Sequence:
      return "sequence";
  }
  return "";
}

std::string cycle_text(const std::vector<std::string_view>& names) {
  constexpr std::size_t kShownAtEachEnd = 5;
  std::string text;
  for (std::size_t i = 0; i < names.size(); ++i) {
    const bool is_left_out = i >= kShownAtEachEnd && i + kShownAtEachEnd < names.size();
    if (!is_left_out) text += "`" + std::string(names[i]) + "` -> ";
    if (is_left_out && i == kShownAtEachEnd) text += "… -> ";
  }
  return text + "`" + std::string(names.front()) + "`";
}

namespace {

// True unless the text of a declaration that could not be read begins with a word that defines no name, as a statement
// does.
bool may_define(std::string_view text) {
  constexpr std::string_view kDefineNothing[] = {"accept",  "bench", "expect", "load", "profile",
                                                 "protect", "rule",  "run",    "safe"};
  const std::string_view first = scan::word_at(text.data(), text.data() + text.size());
  if (first.empty() || scan::is_verb(first)) return false;
  return std::none_of(std::begin(kDefineNothing), std::end(kDefineNothing),
                      [text](std::string_view word) { return text.starts_with(word); });
}

}  // namespace

Scopes::Scopes(const SourceSet& sources, const ast::Profile& profile, const ResolveOptions& options, Reporter& reporter)
    : sources_(sources), reporter_(reporter) {
  FileScope& main = scope_of(profile);
  for (const ImportedFile& import : options.imports) {
    if (import.profile != nullptr) scope_of(*import.profile).main = &main;
  }
  for (const ImportedFile& import : options.imports) imports_[import.statement.file].push_back(&import);
  for (FileScope& scope : files_) define_all(scope);
  for (FileScope* scope : innermost_first()) import_all(*scope);
}

FileScope& Scopes::scope_of(const ast::Profile& profile) {
  const auto [place, is_new] = by_profile_.try_emplace(&profile, nullptr);
  if (is_new) {
    files_.emplace_back();
    files_.back().file = &profile;
    place->second = &files_.back();
  }
  return *place->second;
}

void Scopes::define_all(FileScope& scope) {
  for (const ast::Declaration& declaration : scope.file->declarations) {
    const bool is_bad = std::holds_alternative<ast::BadDeclaration>(declaration.what);
    if (is_bad && may_define(sources_.text(declaration.span))) scope.complete = false;
    Definition definition;
    definition.home = &scope;
    std::visit(Overloaded{[&](const ast::Parameter& parameter) {
                            definition.parameter = &parameter;
                            define(scope, DefinitionKind::Parameter, parameter.name, definition);
                          },
                          [&](const ast::Let& let) {
                            definition.let = &let;
                            define(scope, DefinitionKind::Let, let.name, definition);
                          },
                          [&](const ast::Rail& rail) {
                            definition.rail = &rail;
                            define(scope, DefinitionKind::Rail, rail.name, definition);
                          },
                          [&](const ast::Line& line) {
                            definition.line = &line;
                            define(scope, DefinitionKind::Line, line.name, definition);
                          },
                          [&](const ast::Sequence& sequence) {
                            definition.sequence = &sequence;
                            define(scope, DefinitionKind::Sequence, sequence.name, definition);
                          },
                          [](const auto&) {}},
               declaration.what);
  }
}

void Scopes::define(FileScope& scope, DefinitionKind kind, const ast::Name& name, Definition definition) {
  definition.kind = kind;
  definition.name = name;
  const auto [place, is_new] = scope.names.try_emplace(name.text, nullptr);
  if (!is_new) {
    reporter_.report(finding::DuplicateName, name.span, name.text)
        .note(finding::FirstDefinedHere, place->second->name.span)
        .hint(
            "give one of them another name: a file's params, lets, rails, lines and sequences share one set of names");
    return;
  }
  scope.own.push_back(definition);
  place->second = &scope.own.back();
}

std::vector<const ImportedFile*> Scopes::imports_of(const FileScope& scope) const {
  const auto place = imports_.find(scope.file->file);
  return place != imports_.end() ? place->second : std::vector<const ImportedFile*>{};
}

std::vector<FileScope*> Scopes::innermost_first() {
  struct Visit {
    FileScope* scope;
    std::vector<const ImportedFile*> imports;
    std::size_t next = 0;
  };
  std::vector<FileScope*> order;
  std::set<const FileScope*> met{&main()};
  std::vector<Visit> visits{{&main(), imports_of(main()), 0}};
  while (!visits.empty()) {
    Visit& visit = visits.back();
    if (visit.next == visit.imports.size()) {
      order.push_back(visit.scope);
      visits.pop_back();
      continue;
    }
    const ImportedFile& import = *visit.imports[visit.next++];
    if (import.profile == nullptr) continue;
    FileScope* imported = by_profile_.at(import.profile);
    if (met.insert(imported).second) visits.push_back({imported, imports_of(*imported), 0});
  }
  return order;
}

void Scopes::import_all(FileScope& scope) {
  for (const ImportedFile* import : imports_of(scope)) {
    if (import->profile == nullptr) {
      scope.complete = false;
    } else {
      bring_in(scope, *by_profile_.at(import->profile), import->statement);
    }
  }
}

void Scopes::bring_in(FileScope& scope, const FileScope& imported, const Span& statement) {
  scope.complete = scope.complete && imported.complete;
  for (const auto& [name, definition] : imported.names) {
    if (definition->kind != DefinitionKind::Let && definition->kind != DefinitionKind::Sequence) continue;
    const auto [place, is_new] = scope.names.try_emplace(name, definition);
    if (is_new || place->second == definition) continue;
    place->second->used = true;
    reporter_.report(finding::DuplicateName, place->second->name.span, name)
        .note(finding::ImportedDefinition, definition->name.span)
        .note(finding::ImportedHere, statement)
        .hint("rename one of them: an import brings in its lets and sequences under their own names");
  }
}

Found Scopes::find(std::string_view name, const Frame& frame) const {
  for (std::size_t i = frame.locals.size(); i-- > 0;) {
    if (frame.locals[i].name.text == name) return {&frame.locals[i], nullptr};
  }
  const auto own = frame.scope->names.find(name);
  Definition* definition = own != frame.scope->names.end() ? own->second : nullptr;
  // The rails and lines of a run are those of the profile, also where an imported file declares its own.
  const bool is_foreign =
      definition == nullptr || definition->kind == DefinitionKind::Rail || definition->kind == DefinitionKind::Line;
  if (frame.scope->main != nullptr && is_foreign) {
    const auto outer = frame.scope->main->names.find(name);
    const bool is_there = outer != frame.scope->main->names.end() &&
                          (outer->second->kind == DefinitionKind::Rail || outer->second->kind == DefinitionKind::Line);
    definition = is_there ? outer->second : nullptr;
  }
  if (definition != nullptr) definition->used = true;
  return {nullptr, definition};
}

void Scopes::report_unknown(std::string_view kind, const ast::Name& name, const Frame& frame) {
  if (!frame.scope->complete) {
    reporter_.fail();
    return;
  }
  FindingSink::Addition addition = reporter_.report(finding::UnknownName, name.span, kind, name.text);
  if (!reporter_.is_new() || hints_left_-- <= 0) return;
  std::vector<std::string> candidates;
  for (const Local& local : frame.locals) candidates.emplace_back(local.name.text);
  for (const auto& [candidate, definition] : frame.scope->names) {
    const bool fits = kind == kind_name(definition->kind) ||
                      (kind == kind_name(DefinitionKind::Let) && definition->kind != DefinitionKind::Sequence);
    if (fits) candidates.emplace_back(candidate);
  }
  if (frame.scope->main != nullptr) {
    for (const auto& [candidate, definition] : frame.scope->main->names) {
      if (kind == kind_name(definition->kind)) candidates.emplace_back(candidate);
    }
  }
  const std::string nearest = nearest_name(name.text, candidates);
  if (nearest.empty()) return;
  addition.hint_name(nearest);
  // Most likely this was its use, so that it is not reported as unused as well.
  const auto meant = frame.scope->names.find(nearest);
  if (meant != frame.scope->names.end()) meant->second->used = true;
}

void Scopes::add_local(Frame& frame, const ast::Name& name, Value value, std::vector<Span> origins) {
  if (on_local_) on_local_(name, value);
  Span hidden;
  bool hides = false;
  for (const Local& local : frame.locals) {
    if (local.name.text == name.text) {
      hides = true;
      hidden = local.name.span;
    }
  }
  if (const auto place = frame.scope->names.find(name.text); place != frame.scope->names.end()) {
    hides = true;
    hidden = place->second->name.span;
    place->second->used = true;
  }
  if (hides) {
    reporter_.report(finding::DuplicateName, name.span, name.text)
        .note(finding::FirstDefinedHere, hidden)
        .hint("give it another name: arguments and `for` names cannot hide another name");
  }
  // Which of the two is meant cannot be told, so nothing more is said about its value.
  frame.locals.push_back({name, hides ? Value{} : std::move(value), std::move(origins)});
}

void Scopes::report_unused() {
  for (const Definition& definition : main().own) {
    if (definition.used) continue;
    // A line that acts by itself does its work without being named again.
    if (definition.kind == DefinitionKind::Line && definition.line->trigger != ast::LineTrigger::None) continue;
    reporter_.report(finding::UnusedName, definition.name.span, kind_name(definition.kind), definition.name.text)
        .hint("use it or remove it");
  }
}

}  // namespace rampart::resolving
