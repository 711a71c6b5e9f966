#pragma once

#include <optional>
#include <string>
#include <vector>

#include "lang/job/job.h"
#include "runtime/predict/fault_instants.h"
#include "runtime/scenario/simulator.h"

namespace rampart {

// What a short circuit is taken to be, Ohm: a few centimetres of wire. Common practice, no source.
inline constexpr double kShortOhms = 0.01;

enum class FaultKind : std::uint8_t { Short, Open };

// What another rail did from the fault on.
enum class RailReaction : std::uint8_t { PlayedOn, Tripped, SwitchedOff };

struct OtherRail {
  RailId rail{};
  RailReaction reaction{};
  std::optional<Trip> trip;  // with Tripped
};

// The protection that acted first from the fault on.
struct Catch {
  RailId rail{};
  TripCause cause{};
  double after_s = 0;
};

struct TriedFault {
  FaultKind kind{};
  RailId rail{};
  std::size_t instant = 0;  // of EveryFault::instants
  std::optional<Catch> caught;
  double let_through_J = 0;    // that left the rail's terminals from the fault on
  double let_through_A2s = 0;  // its current squared, over the same time
  // More left the terminals than the output capacitance can have held: there is something to catch.
  bool is_fed = false;
  bool timed_out = false;  // a wait, from the fault on or before
  std::vector<OtherRail> others;
};

struct EveryFault {
  FaultInstants where;
  std::vector<TriedFault> faults;  // by instant, rail and kind
};

// Runs the table once for each rail, instant and kind of fault. A short stands beside what is on the rail; an open
// circuit in its place. `plain` is the run without faults.
// Throws JobStopped.
[[nodiscard]] EveryFault try_every_fault(const Simulator& simulator, const Simulation& plain, const Job& job = {});

// Reports rails whose short nothing catches (fault-uncaught).
void report_every_fault(const Profile& profile, const EveryFault& tried, FindingSink& findings);

// "mark \"nominal\"", "ramp up".
[[nodiscard]] std::string instant_text(const FaultInstant& instant);

}  // namespace rampart
