#include <algorithm>

#include "compiler/checks/families.h"
#include "compiler/checks/moves.h"
#include "lang/findings/limits.h"

// Setpoint times current limit against what channels and supplies can give. Beyond it the limit cannot be delivered.
namespace rampart::checks {
namespace {

// Rails whose part in a sum is shown.
constexpr std::size_t kMostShown = 4;

std::string where(const PowerPeak& peak) {
  return when_text(peak.pass, peak.segment) + (peak.in_safe ? " of `safe`" : "");
}

// "20 V × 2 A + 15 V × 2 A".
std::string sum_text(const PowerPeak& peak) {
  std::string text;
  for (std::size_t i = 0; i < std::min(peak.terms.size(), kMostShown); ++i) {
    const PowerTerm& term = peak.terms[i];
    if (!text.empty()) text += " + ";
    text += to_text(Volts{term.point.voltage}) + " × " + to_text(Amps{term.point.limit});
    if (term.share != Rational(1)) text += " × " + to_text(Quantity{term.share * Rational(100), {}}) + " %";
  }
  if (peak.terms.size() > kMostShown) text += " + " + std::to_string(peak.terms.size() - kMostShown) + " more";
  return text;
}

const PowerTerm& last_to_move(const PowerPeak& peak) {
  return *std::max_element(peak.terms.begin(), peak.terms.end(), [](const PowerTerm& a, const PowerTerm& b) {
    return a.way.last_setter().number < b.way.last_setter().number;
  });
}

bool shows(const Setter& setter, const Setter& shown) {
  return setter.number > 0 && setter.number != shown.number && setter.place != shown.place;
}

// The highest of the run and of the orderly stop.
template <class PeakOf>
const PowerPeak& highest(const Context& context, PeakOf&& peak_of) {
  const PowerPeak* most = &peak_of(context.power.front());
  for (const PowerPeaks& peaks : context.power) {
    if (peak_of(peaks).power > most->power) most = &peak_of(peaks);
  }
  return *most;
}

}  // namespace

void check_power_envelope(const Context& context) {
  for (std::size_t i = 0; i < context.profile.rails.size(); ++i) {
    const Abilities& abilities = context.abilities[i];
    const PowerPeak& peak =
        highest(context, [i](const PowerPeaks& peaks) -> const PowerPeak& { return peaks.rails[i]; });
    if (!abilities.power || peak.power <= abilities.power->value.si) continue;
    const PowerTerm& term = peak.terms.front();
    const Setter& last = term.way.last_setter();
    auto finding = context.report(finding::PowerEnvelope, last.place, last.statement, context.profile.rails[i].name,
                                  Watts{peak.power}, peak.time, where(peak), sum_text(peak), abilities.power->value,
                                  abilities.name);
    if (shows(term.way.voltage_by, last)) finding.note(finding::SetpointMovesHere, term.way.voltage_by.place);
    if (shows(term.way.limit_by, last)) finding.note(finding::LimitMovesHere, term.way.limit_by.place);
    finding.note(finding::PowerGivenHere, abilities.power->span)
        .hint("lower the current limit: above that power the output leaves its setpoint before the limit acts");
  }
}

void check_total_power(const Context& context) {
  for (std::size_t i = 0; i < context.bench.supplies.size(); ++i) {
    const Supply& supply = context.bench.supplies[i];
    if (!supply.power) continue;
    const PowerPeak& peak =
        highest(context, [i](const PowerPeaks& peaks) -> const PowerPeak& { return peaks.supplies[i]; });
    if (peak.power <= supply.power->value.si) continue;
    const Setter& last = last_to_move(peak).way.last_setter();
    auto finding = context.report(finding::TotalPower, last.place, last.statement, supply.name, Watts{peak.power},
                                  peak.time, where(peak), sum_text(peak), supply.power->value);
    for (std::size_t term = 0; term < std::min(peak.terms.size(), kMostShown); ++term) {
      const Setter& other = peak.terms[term].way.last_setter();
      if (!shows(other, last)) continue;
      finding.note(finding::RailMovesHere, other.place, context.profile[peak.terms[term].rail].name);
    }
    finding.note(finding::PowerGivenHere, supply.power->span)
        .hint("lower the current limits of its rails, or move one to another supply");
  }
}

}  // namespace rampart::checks
