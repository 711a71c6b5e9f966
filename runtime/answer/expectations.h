#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "compiler/profile/profile.h"
#include "runtime/answer/simulation.h"

namespace rampart {

enum class ExpectationKind : std::uint8_t { NoTrip, Trip, Figure };

// How one expectation of the profile came out.
struct ExpectationResult {
  ExpectationKind kind{};
  bool under_fault = false;  // speaks of a run with a fault
  std::string text;
  Span span;
  bool holds = false;
  std::optional<double> value;   // the figure; the number of trips; the time of a trip
  std::optional<double> margin;  // how far the figure is from its bound on the good side
  double bound = 0;              // of a figure
  std::string unit;
  std::optional<Peak> reached;  // when and by what, where the figure is of one instant
};

// Judges the expectations that speak of this run, in the order of the profile: the plain run, or that with `fault`.
[[nodiscard]] std::vector<ExpectationResult> judge_expectations(const Profile& profile, const Simulation& simulation,
                                                                const std::optional<std::string>& fault = {});

// True if some expectation asks for this rail to trip by this cause, or for a trip that a linked one follows from: in
// the plain run, or in that with `fault`.
[[nodiscard]] bool trip_expected(const Profile& profile, RailId rail, TripCause cause,
                                 const std::optional<std::string>& fault = {});

// The rail whose trip took this one with it; none where it tripped by itself or not at all.
[[nodiscard]] std::optional<RailId> pulled_by(const Profile& profile, const Simulation& simulation, RailId rail);

}  // namespace rampart
