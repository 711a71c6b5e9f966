#include "compiler/compile/parameter_ends.h"

#include <algorithm>
#include <iterator>
#include <set>
#include <tuple>

#include "compiler/checks/checks.h"
#include "compiler/rules/rule_findings.h"
#include "compiler/rules/rules.h"
#include "compiler/table/table.h"
#include "compiler/timeline/timeline.h"
#include "lang/findings/practice.h"
#include "lang/findings/resolve.h"

namespace rampart {
namespace {

// What is found at one place under one name is the same mistake, whatever its numbers.
using Mistake = std::tuple<std::string_view, FileId, std::uint32_t, std::uint32_t>;

Mistake mistake_of(const Finding& finding) {
  return {finding.name, finding.span.file, finding.span.begin, finding.span.end};
}

// A margin of 0 % may well make a step that changes nothing or a ramp of few stairs, and a low level leaves a
// protection idle that is there for the high one: no mistakes of the range.
bool belongs_to_the_value(const Finding& found) {
  const Wording kinds[] = {finding::NoEffect.wording, finding::CoarseRamp.wording, finding::OverpowerNeverActs.wording,
                           finding::AcceptUnused.wording};
  return std::any_of(std::begin(kinds), std::end(kinds), [&](const Wording& kind) { return kind.name == found.name; });
}

std::vector<Finding> compile_with(const SourceSet& sources, const ast::Profile& tree, const Bench& bench,
                                  const ResolveOptions& options) {
  FindingSink findings;
  const Resolution resolution = resolve(sources, tree, bench, options, findings);
  if (!resolution.whole) return findings.take();
  const Profile* profile = &resolution.profile;
  const auto run = build_timeline(*profile, profile->run, TimelineStart::Off, findings);
  std::optional<Timeline> safe;
  if (profile->safe) safe = build_timeline(*profile, *profile->safe, TimelineStart::Unknown, findings);
  if (!run) return findings.take();
  const Table table(*profile, bench, *run);
  std::optional<Table> safe_table;
  if (safe) safe_table.emplace(*profile, bench, *safe);
  run_checks(table, safe_table ? &*safe_table : nullptr, findings);
  report_broken_rules(*profile, judge_rules(table), findings);
  return findings.take();
}

}  // namespace

void check_parameter_ends(const SourceSet& sources, const ast::Profile& tree, const Bench& bench,
                          const ResolveOptions& options, const Profile& profile, FindingSink& findings) {
  std::set<Mistake> known;
  for (const Finding& finding : findings.findings()) known.insert(mistake_of(finding));
  std::size_t tried = 0;
  for (const ParameterValue& parameter : profile.parameters) {
    if (!parameter.range || parameter.set) continue;
    if (tried++ == kMaxParametersAtEnds) {
      findings.report(finding::EndsNotTried, parameter.span, static_cast<std::int64_t>(kMaxParametersAtEnds));
      return;
    }
    for (const Quantity& end : {parameter.range->low, parameter.range->high}) {
      if (end.value == parameter.value.value) continue;
      ResolveOptions held = options;
      held.held.emplace_back(parameter.name, end);
      std::vector<Finding> there = compile_with(sources, tree, bench, held);
      std::erase_if(there, [&](const Finding& found) {
        return found.accepted || belongs_to_the_value(found) || !known.insert(mistake_of(found)).second;
      });
      const std::string shown = parameter_text(end, *parameter.range);
      for (Finding& found : there) {
        found.message = "with `" + parameter.name + "` at " + shown + ", " + found.message;
        found.notes.push_back({parameter.span, fill_words(finding::ParameterHere.wording.words, {})});
      }
      findings.append(std::move(there));
    }
  }
}

}  // namespace rampart
