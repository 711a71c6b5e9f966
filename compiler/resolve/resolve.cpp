#include "compiler/resolve/resolve.h"

#include <map>
#include <utility>

#include "compiler/resolve/work.h"
#include "lang/findings/resolve.h"
#include "lang/findings/syntax.h"
#include "lang/text/overloaded.h"

namespace rampart {
namespace {

// Title, bench, load, run and safe may each stand once.
void check_single_declarations(resolving::Work& work) {
  std::map<std::string_view, Span> seen;
  const auto meet = [&](std::string_view what, const Span& span) {
    const auto [place, is_new] = seen.try_emplace(what, span);
    if (is_new) return;
    work.reporter.report(finding::DuplicateName, span, what)
        .note(finding::FirstDefinedHere, place->second)
        .hint("keep one of them");
  };
  for (const ast::Declaration& declaration : work.file.declarations) {
    std::visit(Overloaded{[&](const ast::Title& title) {
                            meet("profile", title.text.span);
                            work.profile.title = title.text.value;
                          },
                          [&](const ast::BenchPath& bench) { meet("bench", bench.path.span); },
                          [&](const ast::LoadPath& load) { meet("load", load.path.span); },
                          [&](const ast::Run& run) { meet("run", run.body.span); },
                          [&](const ast::Safe& safe) { meet("safe", safe.body.span); }, [](const auto&) {}},
               declaration.what);
  }
  if (seen.find("run") == seen.end() && work.options.parsed_whole) {
    work.reporter.report(finding::NoRun, {work.file.file, 0, 0}).hint("write what the rails do: `run { … }`");
  }
}

}  // namespace

Resolution resolve(const SourceSet& sources, const ast::Profile& profile, const Bench& bench,
                   const ResolveOptions& options, FindingSink& findings) {
  resolving::Work work(sources, profile, bench, options, findings);
  check_single_declarations(work);
  resolving::declare_outputs(work);
  resolving::calculate_values(work);
  resolving::resolve_protection(work);
  resolving::expand_programs(work);
  resolving::resolve_rules(work);
  resolving::resolve_expectations(work);
  resolving::resolve_acceptances(work);
  if (options.parsed_whole) work.scopes.report_unused();
  return {std::move(work.profile), !work.reporter.failed(), std::move(work.unplaced)};
}

}  // namespace rampart
