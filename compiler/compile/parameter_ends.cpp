#include "compiler/compile/parameter_ends.h"

#include <algorithm>
#include <iterator>
#include <set>
#include <tuple>

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

}  // namespace

void check_parameter_ends(const Compiled& compiled, FindingSink& findings, const Job& job) {
  if (compiled.run() == nullptr) return;
  std::set<Mistake> known;
  for (const Finding& finding : findings.findings()) known.insert(mistake_of(finding));
  std::size_t tried = 0;
  for (const ParameterValue& parameter : compiled.profile()->parameters) {
    if (!parameter.range || parameter.set) continue;
    if (tried++ == kMaxParametersAtEnds) {
      findings.report(finding::EndsNotTried, parameter.span, static_cast<std::int64_t>(kMaxParametersAtEnds));
      return;
    }
    for (const Quantity& end : {parameter.range->low, parameter.range->high}) {
      if (end.value == parameter.value.value) continue;
      const Held held{parameter.name, end};
      FindingSink at_end;
      static_cast<void>(with_values(compiled, {&held, 1}, at_end, job));
      std::vector<Finding> there = at_end.take();
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
