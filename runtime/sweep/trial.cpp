#include "runtime/sweep/trial.h"

#include <algorithm>

#include "runtime/answer/judged_margins.h"
#include "runtime/answer/margin_words.h"

namespace rampart::sweep {

Trial trial_of(const Compiled& compiled, const Predictions& predictions, const FindingSink& findings,
               const Quantity& value) {
  Trial trial;
  trial.value = value;
  for (const Finding& found : findings.findings()) {
    if (found.severity != Severity::Error) continue;
    if (!trial.first_error) trial.first_error = found;
    trial.errors.emplace_back(found.name, found.span.file, found.span.begin, found.span.end);
  }
  std::sort(trial.errors.begin(), trial.errors.end());
  trial.errors.erase(std::unique(trial.errors.begin(), trial.errors.end()), trial.errors.end());
  if (compiled.run_timeline() != nullptr)
    trial.duration_s = to_seconds(compiled.run_timeline()->duration()).to_double();
  if (!predictions.simulation) return trial;
  const Profile& profile = *compiled.profile();
  trial.duration_s = predictions.simulation->duration_s;
  const std::vector<const Margin*> judged = judged_margins(profile, *predictions.simulation, findings);
  if (!judged.empty()) {
    const Margin& tightest = *judged.front();
    const MarginRow& row = row_of(tightest.kind);
    trial.tightest = {std::string(row.words) + " of " + owner_of(profile, tightest), tightest.margin, tightest.limit,
                      std::string(row.unit)};
  }
  return trial;
}

Trial Trials::at(const std::string& parameter, const Quantity& value, const Job& job) const {
  const Held held{parameter, value};
  FindingSink findings;
  const Compiled compiled = with_values(compiled_, {&held, 1}, findings, job);
  const Predictions predictions = predict(compiled, load_, {}, findings, job);
  return trial_of(compiled, predictions, findings, value);
}

}  // namespace rampart::sweep
