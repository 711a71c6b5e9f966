#include "lang/values/short_text.h"
#include "runtime/predict/every_fault_words.h"
#include "runtime/report/sections.h"

namespace rampart::report {

Markup faults_section(const Subject& subject) {
  if (!subject.answer.predictions.every_fault) return {};
  const EveryFault& tried = *subject.answer.predictions.every_fault;
  HtmlTable table("A short and an open circuit on each rail, one in each run",
                  {"fault", "rail", "#at", "in", "caught by", "#after", "#let-through energy", "#I2t", "other rails"});
  for (const TriedFault& fault : tried.faults) {
    const FaultInstant& instant = tried.where.instants[fault.instant];
    const bool is_missed = fault.kind == FaultKind::Short && !fault.caught && fault.is_fed;
    table.add_row(is_missed ? "broken" : "",
                  {text(fault_kind_text(fault.kind)), name(subject.profile[fault.rail].name),
                   subject.at(instant.at.seconds(), fault.rail), name(instant_text(instant)),
                   text(caught_text(subject.profile, fault)),
                   fault.caught ? text(short_text(fault.caught->after_s, "s")) : Markup(),
                   text(short_text(fault.let_through_J, "J")), text(i2t_text(fault.let_through_A2s)),
                   text(others_text(subject.profile, fault))});
  }
  return section("faults", "Faults", element("p", text(every_fault_summary(tried))) + table.markup());
}

}  // namespace rampart::report
