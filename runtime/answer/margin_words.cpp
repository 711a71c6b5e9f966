#include "runtime/answer/margin_words.h"

#include <algorithm>
#include <cmath>

#include "lang/values/quantity.h"
#include "lang/values/short_text.h"

namespace rampart {
namespace {

// Less of a limit than this is nothing.
constexpr double kSmallestShownShare = 1e-9;

}  // namespace

bool never_acts(const Profile& profile, const Margin& margin, const FindingSink& findings) {
  const MarginRow& row = row_of(margin.kind);
  if (row.never_acts == nullptr) return false;
  const std::vector<Span> places = row.never_acts_at(profile[margin.rail].protection);
  return std::any_of(findings.findings().begin(), findings.findings().end(), [&](const Finding& finding) {
    return finding.name == row.never_acts->name &&
           std::find(places.begin(), places.end(), finding.span) != places.end();
  });
}

bool has_tripped(const Simulation& simulation, const Margin& margin) {
  const std::optional<Trip>& trip = simulation.rails[static_cast<std::size_t>(margin.rail)].trip;
  return trip && row_of(margin.kind).trips_by == trip->cause;
}

double share_of(double margin, double limit) {
  return limit != 0 ? margin / limit : 0.0;
}

std::string share_text(double margin, double limit) {
  const double percent = 100 * share_of(margin, limit) + kSmallestShownShare;
  const double step = std::abs(percent) < 10 ? 0.1 : 1.0;
  return to_text(std::floor(percent / step + kSmallestShownShare) * step, "%");
}

std::string left_text(MarginKind kind, double margin, double limit) {
  return short_text_down(margin, row_of(kind).unit, kSmallestShownShare * std::abs(limit));
}

std::string left_cell(const Profile& profile, const Simulation& simulation, const Margin& margin,
                      const FindingSink& findings) {
  if (has_tripped(simulation, margin)) return "tripped";
  return never_acts(profile, margin, findings) ? "cannot act" : left_text(margin);
}

std::string left_words(MarginKind kind, double margin, double limit) {
  const MarginRow& row = row_of(kind);
  const bool is_left = margin >= -kSmallestShownShare * std::abs(limit);
  const std::string distance = is_left ? left_text(kind, margin, limit)
                                       : short_text_up(-margin, row.unit, kSmallestShownShare * std::abs(limit));
  const std::vector<std::string> values{distance, short_text(limit, row.unit)};
  return fill_words(is_left ? row.left : row.beyond, values);
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

std::string exceeded_words(const Simulation& simulation) {
  for (const Margin& margin : simulation.margins) {
    const MarginRow& row = row_of(margin.kind);
    if (row.judged != MarginJudged::WhileHeld || margin.margin >= -kSmallestShownShare * margin.limit ||
        has_tripped(simulation, margin))
      continue;
    return std::string(row.words) + " below 0 " + std::string(row.unit) +
           ": above the threshold for less than the delay";
  }
  return {};
}

double spell_of(const Margin& margin) {
  return row_of(margin.kind).is_time ? margin.limit - margin.margin : 0;
}

std::string reason_of(const Margin& margin) {
  const MarginRow& row = row_of(margin.kind);
  return row.reason(short_text(margin.limit - margin.margin, row.unit), short_text(margin.limit, row.unit),
                    margin.margin >= 0);
}

}  // namespace rampart
