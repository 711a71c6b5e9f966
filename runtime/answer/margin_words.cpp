#include "runtime/answer/margin_words.h"

#include <algorithm>
#include <cmath>

#include "lang/findings/practice.h"
#include "lang/values/quantity.h"

namespace rampart {
namespace {

// Less of a limit than this is nothing.
constexpr double kSmallestShownShare = 1e-9;

// A finding says that the protection of this margin can not act.
bool never_acts(const Profile& profile, const Margin& margin, const FindingSink& findings) {
  const Protection& protection = profile[margin.rail].protection;
  const auto is_told = [&](std::string_view name, const Span& span) {
    return std::any_of(findings.findings().begin(), findings.findings().end(),
                       [&](const Finding& finding) { return finding.name == name && finding.span == span; });
  };
  if (margin.what == "fuse" && protection.fuse) {
    const std::optional<Placed<Amps>>& current = protection.fuse->current;
    return is_told(finding::FuseNeverActs.wording.name, protection.fuse->delay.span) ||
           (current && is_told(finding::FuseNeverActs.wording.name, current->span));
  }
  return margin.what.starts_with("overpower") && protection.overpower &&
         is_told(finding::OverpowerNeverActs.wording.name, protection.overpower->power.span);
}

}  // namespace

std::optional<double> share_left(std::string_view what, double margin, double limit) {
  if (what == "current-limit") return std::nullopt;
  return limit != 0 ? margin / limit : 0.0;
}

const Margin* least_margin(const Profile& profile, const Simulation& simulation, const FindingSink& findings) {
  const Margin* least = nullptr;
  double least_share = 0;
  for (const Margin& margin : simulation.margins) {
    const std::optional<double> share = share_left(margin.what, margin.margin, margin.limit);
    if (!share || (least != nullptr && *share >= least_share)) continue;
    if (never_acts(profile, margin, findings)) continue;
    least = &margin;
    least_share = *share;
  }
  return least;
}

std::string left_of(const Margin& margin) {
  const bool is_nothing = std::abs(margin.margin) < kSmallestShownShare * std::abs(margin.limit);
  return to_text(is_nothing ? 0.0 : margin.margin, margin.unit);
}

std::string owner_of(const Profile& profile, std::string_view what, RailId rail, const std::string& owner) {
  if (what == "total-power") return owner;
  const std::string& name = profile[rail].name;
  return what == "overtemperature" ? name + " (" + owner + ")" : name;
}

std::string reason_of(const Margin& margin) {
  const std::string reached = to_text(margin.limit - margin.margin, margin.unit);
  const std::string limit = to_text(margin.limit, margin.unit);
  if (margin.what == "fuse")
    return "the condition of the fuse held for " + reached + " at the longest; it acts after " + limit;
  if (margin.what == "overvoltage") return "the terminals came to " + reached + "; the protection acts above " + limit;
  if (margin.what == "overpower" && margin.unit == "s")
    return "the output gave more than the threshold for " + reached + " at the longest; the protection acts after " +
           limit;
  if (margin.what == "overpower" || margin.what == "overpower-level")
    return "the output gave " + reached + "; the protection acts above " + limit;
  if (margin.what == "overtemperature")
    return "the output stage came to " + reached + " above ambient; it switches off at " + limit + " above";
  if (margin.what == "settling" && margin.margin >= 0)
    return "the rail was there after " + reached + "; its setpoint stood for " + limit;
  if (margin.what == "settling")
    return "the rail was not there when its setpoint, which stood for " + limit + ", was left";
  return reached + " was drawn; there is no more than " + limit;
}

}  // namespace rampart
