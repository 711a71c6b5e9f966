#include "runtime/answer/margin_words.h"

#include <algorithm>
#include <cmath>

#include "lang/values/quantity.h"

namespace rampart {
namespace {

// Less of a limit than this is nothing.
constexpr double kSmallestShownShare = 1e-9;

// A finding says that the protection of this margin can not act.
bool never_acts(const Profile& profile, const Margin& margin, const FindingSink& findings) {
  const MarginRow& row = row_of(margin.kind);
  if (row.never_acts == nullptr) return false;
  const std::vector<Span> places = row.never_acts_at(profile[margin.rail].protection);
  return std::any_of(findings.findings().begin(), findings.findings().end(), [&](const Finding& finding) {
    return finding.name == row.never_acts->name &&
           std::find(places.begin(), places.end(), finding.span) != places.end();
  });
}

}  // namespace

std::optional<double> share_left(MarginKind kind, double margin, double limit) {
  if (!row_of(kind).has_share) return std::nullopt;
  return limit != 0 ? margin / limit : 0.0;
}

const Margin* least_margin(const Profile& profile, const Simulation& simulation, const FindingSink& findings) {
  const Margin* least = nullptr;
  double least_share = 0;
  for (const Margin& margin : simulation.margins) {
    const std::optional<double> share = share_left(margin.kind, margin.margin, margin.limit);
    if (!share || (least != nullptr && *share >= least_share)) continue;
    if (never_acts(profile, margin, findings)) continue;
    least = &margin;
    least_share = *share;
  }
  return least;
}

std::string left_of(const Margin& margin) {
  const bool is_nothing = std::abs(margin.margin) < kSmallestShownShare * std::abs(margin.limit);
  return to_text(is_nothing ? 0.0 : margin.margin, row_of(margin.kind).unit);
}

std::string owner_of(const Profile& profile, MarginKind kind, RailId rail, const std::string& owner) {
  const std::string& name = profile[rail].name;
  switch (row_of(kind).owner) {
    case MarginOwner::Rail:
    case MarginOwner::Output:
      return name;
    case MarginOwner::Channel:
      return name + " (" + owner + ")";
    case MarginOwner::Supply:
      return owner;
  }
  return {};
}

double spell_of(const Margin& margin) {
  return row_of(margin.kind).is_time ? margin.limit - margin.margin : 0;
}

std::string reason_of(const Margin& margin) {
  const MarginRow& row = row_of(margin.kind);
  return row.reason(to_text(margin.limit - margin.margin, row.unit), to_text(margin.limit, row.unit),
                    margin.margin >= 0);
}

}  // namespace rampart
