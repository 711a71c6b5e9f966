#include "compiler/checks/families.h"
#include "compiler/table/endless_phases.h"
#include "lang/findings/timeline.h"

namespace rampart::checks {

void check_phases(const Context& context) {
  for (const EndlessPhase& endless : endless_phases(context.run.timeline())) {
    const Rule& rule = context.profile.rules[endless.rule];
    context.report(finding::PhaseNotEnded, rule.phase->to_span, nullptr, rule.name, rule.phase->to, rule.phase->from)
        .hint(endless.ended_before ? "swap the two marks: the phase begins where it should end"
                                   : "put the mark where the phase ends");
  }
}

}  // namespace rampart::checks
