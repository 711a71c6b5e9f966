#pragma once

#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "compiler/resolve/evaluator.h"
#include "compiler/resolve/reporter.h"
#include "compiler/resolve/resolve.h"
#include "compiler/resolve/scope.h"

namespace rampart::resolving {

// One profile on its way from text to values. Each step below adds its part to `profile`.
struct Work {
  Work(const SourceSet& source_set, const ast::Profile& text, const Bench& on_bench, const ResolveOptions& how,
       FindingSink& findings)
      : sources(source_set),
        file(text),
        bench(on_bench),
        options(how),
        reporter(findings, profile.calls),
        scopes(source_set, text, how, reporter),
        evaluator(source_set, profile, scopes, reporter) {}

  // A frame at the top of the profile.
  [[nodiscard]] Frame top() { return {&scopes.main(), {}}; }

  const SourceSet& sources;
  const ast::Profile& file;
  const Bench& bench;
  const ResolveOptions& options;
  Profile profile;
  std::vector<RailId> unplaced;  // rails whose channel is not known
  Reporter reporter;
  Scopes scopes;
  Evaluator evaluator;
  std::set<std::string, std::less<>> marks;            // that the run reaches
  std::set<std::string, std::less<>> unreached_marks;  // that stand where nothing leads, or nothing that is right
  std::map<std::string, Span, std::less<>> readings;   // where each is named
  bool has_unknown_marks = false;                      // whose names hold values that are not known
};

// False, with a finding, for a rail that already stands in the statement; else it is kept in `seen`.
bool is_new_rail(Work& work, const ast::Name& name, RailId rail, std::vector<std::pair<RailId, Span>>& seen);

// The mark that a rule or an expectation names. Empty, with a finding, where the run does not reach it.
[[nodiscard]] std::optional<std::string> reached_mark(Work& work, const ast::Label& label);

// Rails and lines: their channels and terminals at the bench.
void declare_outputs(Work& work);
// Parameters and lets of every file, in the order they need one another.
void calculate_values(Work& work);
void resolve_protection(Work& work);
// The run and the orderly stop; sequences that neither calls are looked over as well.
void expand_programs(Work& work);
void resolve_rules(Work& work);
void resolve_expectations(Work& work);
void resolve_acceptances(Work& work);

}  // namespace rampart::resolving
