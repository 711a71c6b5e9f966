#pragma once

#include <string>
#include <vector>

#include "runtime/link/link.h"

// What tells that a protection has tripped.
namespace rampart::bench_run {

// The questions that a supply has for it, each about a channel.
[[nodiscard]] std::vector<link::MessageKind> trip_questions(const link::SupplyLink& link);
// "overvoltage", of one of these questions.
[[nodiscard]] std::string cause_of(link::MessageKind question);

// What the condition register of a channel says, by the bits that the link file gives. Empty: nothing.
struct ConditionState {
  std::string mode;   // "CV" or "CC"
  std::string cause;  // of a trip
};
[[nodiscard]] ConditionState read_condition(const link::SupplyLink& link, double bits);

}  // namespace rampart::bench_run
