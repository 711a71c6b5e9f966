#include "runtime/predict/every_fault_words.h"

#include <algorithm>
#include <cstdio>

namespace rampart {

std::string_view fault_kind_text(FaultKind kind) {
  return kind == FaultKind::Short ? "short" : "open";
}

std::string caught_text(const Profile& profile, const TriedFault& fault) {
  if (!fault.caught) return fault.kind == FaultKind::Short && !fault.is_fed ? "nothing flows" : "nothing";
  return std::string(trip_cause_words(fault.caught->cause)) + " of " + profile[fault.caught->rail].name;
}

// Prefixes would stand before a square.
std::string i2t_text(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.4g A2s", value == 0 ? 0.0 : value);
  return text;
}

std::string reaction_text(const OtherRail& other) {
  switch (other.reaction) {
    case RailReaction::Tripped:
      return (other.trip->cause == TripCause::Linked ? "switched off by link"
                                                     : "trips: " + std::string(trip_cause_words(other.trip->cause))) +
             " at " + to_text(other.trip->time_s, "s");
    case RailReaction::SwitchedOff:
      return "shut down by the safe sequence";
    case RailReaction::PlayedOn:
      break;
  }
  return "stays on";
}

std::string others_text(const Profile& profile, const TriedFault& fault) {
  std::string text;
  for (const OtherRail& other : fault.others) {
    if (!text.empty()) text += ", ";
    text += profile[other.rail].name + " " + reaction_text(other);
    if (other.reaction == RailReaction::SwitchedOff && !fault.caught && fault.timed_out) text += " (a wait times out)";
  }
  return text;
}

std::string every_fault_summary(const EveryFault& tried) {
  const auto idle = std::count_if(tried.faults.begin(), tried.faults.end(), [](const TriedFault& fault) {
    return fault.kind == FaultKind::Short && !fault.caught && !fault.is_fed;
  });
  const std::string no_flow = idle == 0 ? "" : ", no current flows in " + std::to_string(idle);
  const auto count = [&](FaultKind kind, bool caught) {
    return std::to_string(std::count_if(tried.faults.begin(), tried.faults.end(), [&](const TriedFault& fault) {
      return fault.kind == kind && (!caught || fault.caught.has_value());
    }));
  };
  return count(FaultKind::Short, true) + " of " + count(FaultKind::Short, false) + " shorts caught" + no_flow + ", " +
         count(FaultKind::Open, true) + " of " + count(FaultKind::Open, false) + " open circuits; a short is " +
         to_text(kShortOhms, "Ohm") +
         (tried.where.left_out > 0 ? "; " + std::to_string(tried.where.left_out) + " instants were left out: at most " +
                                         std::to_string(kMaxFaultInstants) + " are tried"
                                   : "");
}

}  // namespace rampart
