#include "runtime/margin_words.h"

#include <algorithm>
#include <cmath>

#include "lang/quantity.h"

namespace rampart {
namespace {

// Less of a limit than this is nothing.
constexpr double kSmallestShownShare = 1e-9;
// More than any margin can be of its limit.
constexpr double kNoShare = 2;

double share_of(const Margin& margin) {
  const bool told_if_gone = margin.what == "settling" || margin.what == "overpower-level";
  const bool elsewhere = margin.what == "current-limit" || (told_if_gone && margin.margin <= 0);
  if (elsewhere) return kNoShare;
  return margin.limit != 0 ? margin.margin / margin.limit : 0.0;
}

}  // namespace

const Margin* least_margin(const Simulation& simulation) {
  const auto least = std::min_element(simulation.margins.begin(), simulation.margins.end(),
                                      [](const Margin& a, const Margin& b) { return share_of(a) < share_of(b); });
  return least == simulation.margins.end() || share_of(*least) == kNoShare ? nullptr : &*least;
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
  if (margin.what == "power-envelope" || margin.what == "total-power")
    return reached + " was drawn; there is no more than " + limit;
  return "the rail took " + reached + " to come to its setpoint, which stood for " + limit;
}

}  // namespace rampart
