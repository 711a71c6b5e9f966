#include "runtime/sweep/kept_limits.h"

#include <cmath>
#include <variant>

#include "runtime/answer/judged_margins.h"
#include "runtime/predict/spread/spread_findings.h"

namespace rampart::sweep {
namespace {

using spread::Reading;
using spread::Subject;

// Less of a limit than this is nothing.
constexpr double kNothing = 1e-9;

// The bounds of the expectations that speak of a plain run, in their order; none of what is no figure.
std::vector<std::optional<double>> plain_bounds(const Profile& profile) {
  std::vector<std::optional<double>> bounds;
  for (const Expectation& expectation : profile.expectations) {
    if (expectation.fault) continue;
    const auto* figure = std::get_if<ExpectFigure>(&expectation.what);
    bounds.push_back(figure != nullptr ? std::optional(std::abs(figure->bound.value.to_double())) : std::nullopt);
  }
  return bounds;
}

bool counts(const KeptLimit& limit, double margin) {
  return !std::isnan(margin) && (!limit.while_held || margin >= 0);
}

std::string words_of(const Profile& profile, const Reading& reading) {
  if (reading.subject == Subject::Expectation) return "`" + reading.name + "`";
  return reading.name + " of " + owner_of(profile, reading);
}

}  // namespace

std::vector<KeptLimit> kept_limits(const Profile& profile, const Simulation& nominal, const FindingSink& findings,
                                   const std::vector<Reading>& readings) {
  const std::vector<const Margin*> judged = judged_margins(profile, nominal, findings);
  const std::vector<std::optional<double>> bounds = plain_bounds(profile);
  std::vector<KeptLimit> limits;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const Reading& reading = readings[i];
    if (reading.subject == Subject::Expectation && bounds[reading.index].value_or(0) > 0) {
      limits.push_back({i, *bounds[reading.index], false});
    }
    for (const Margin* margin : judged) {
      const bool is_it =
          margin->kind == reading.margin && margin->rail == reading.rail && margin->owner == reading.owner;
      if (is_it && margin->limit > 0) {
        limits.push_back({i, margin->limit, row_of(margin->kind).judged == MarginJudged::WhileHeld});
      }
    }
  }
  return limits;
}

bool leaves_less(const KeptLimit& limit, double margin, double keep) {
  return counts(limit, margin) && margin / limit.limit < keep - kNothing;
}

bool is_too_little(const TightMargin& left, double keep) {
  return keep > 0 && left.margin / left.limit < keep - kNothing;
}

std::optional<TightMargin> least_left_of(const Answer& answer) {
  if (!answer.predictions.simulation) return std::nullopt;
  const Profile& profile = *answer.compiled.profile();
  const Simulation& nominal = *answer.predictions.simulation;
  const spread::Ledger ledger(profile, nominal);
  const spread::Outcome outcome = ledger.read(nominal);
  std::optional<TightMargin> least;
  for (const KeptLimit& limit : kept_limits(profile, nominal, answer.findings, ledger.readings())) {
    const Reading& reading = ledger.readings()[limit.reading];
    TightMargin left{words_of(profile, reading), outcome.values[limit.reading], limit.limit, reading.unit, {}};
    const auto& corners = answer.predictions.corners;
    const std::optional<spread::Extreme> low = corners ? corners->readings[limit.reading].low : std::nullopt;
    if (low && low->value < left.margin) {
      left.margin = low->value;
      left.corner = spread::corner_text(answer.predictions.varied->tolerances, low->at);
    }
    const bool is_less = !least || left.margin / left.limit < least->margin / least->limit;
    if (counts(limit, left.margin) && is_less) least = left;
  }
  return least;
}

}  // namespace rampart::sweep
