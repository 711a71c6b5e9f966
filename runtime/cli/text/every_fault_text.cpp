#include "runtime/cli/text/every_fault_text.h"

#include "lang/values/short_text.h"
#include "runtime/cli/text/text_table.h"
#include "runtime/predict/every_fault_words.h"

namespace rampart::cli {

std::string every_fault_text(const Answer& answer) {
  const Profile& profile = *answer.compiled.profile();
  const EveryFault& tried = *answer.predictions.every_fault;
  TextTable table({"fault", "rail", "at", "in", "caught by", "after", "let-through energy", "I2t", "other rails"});
  for (const TriedFault& fault : tried.faults) {
    const FaultInstant& instant = tried.where.instants[fault.instant];
    table.add({std::string(fault_kind_text(fault.kind)), profile[fault.rail].name, to_text(instant.at.seconds(), "s"),
               instant_text(instant), caught_text(profile, fault),
               fault.caught ? short_text(fault.caught->after_s, "s") : "", short_text(fault.let_through_J, "J"),
               i2t_text(fault.let_through_A2s), others_text(profile, fault)});
  }
  return every_fault_summary(tried) + "\n" + (table.empty() ? "" : "\n" + table.text());
}

}  // namespace rampart::cli
