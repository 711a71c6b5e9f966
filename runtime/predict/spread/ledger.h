#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "compiler/profile/profile.h"
#include "runtime/answer/simulation.h"

// What is read from each of many runs, in one fixed order, so that runs can be compared number by number.
namespace rampart::spread {

enum class Subject : std::uint8_t { Figure, Margin, Rule, Expectation };

struct Reading {
  Subject subject{};
  std::optional<RailId> rail;  // none: of all rails, or no matter of one
  std::size_t index = 0;       // of a figure in the order of readings; of a rule or expectation in the profile's
  std::string name;            // for people: "peak current", "fuse", a rule's name, an expectation's text
  std::string unit;
  std::optional<MarginKind> margin{};
  double limit = 0;     // of a margin: what it is measured against
  std::string owner{};  // of a margin: its output or supply, where a rail has several
};

// Whose reading it is: the rail, or what a margin's kind says; empty where it is no matter of one.
[[nodiscard]] std::string owner_of(const Profile& profile, const Reading& reading);

struct Outcome {
  std::vector<double> values;                   // one a reading; NaN where the run gives none
  std::vector<bool> fails;                      // likewise: a rule or expectation that does not hold
  std::vector<std::optional<TripCause>> trips;  // by rail
  std::vector<bool> unasked;                    // by rail: a trip that nobody asked for
  bool timed_out = false;                       // a wait
  bool given_up = false;                        // a rail never comes to rest, so its values become an estimate

  // Anything that a plain run reports as an error.
  [[nodiscard]] bool failed() const;
};

// An outcome as text, from which it is read back exactly. None where the text is of no outcome with as many readings
// and rails as `like`.
[[nodiscard]] std::string outcome_text(const Outcome& outcome);
[[nodiscard]] std::optional<Outcome> read_outcome(std::string_view text, const Outcome& like);

class Ledger {
 public:
  // Reads what `nominal` has: other runs of the same table have no more.
  Ledger(const Profile& profile, const Simulation& nominal);

  [[nodiscard]] const std::vector<Reading>& readings() const { return readings_; }
  [[nodiscard]] Outcome read(const Simulation& simulation) const;

 private:
  void add_figures(RailId rail);
  const Profile* profile_;
  std::vector<Reading> readings_;
};

}  // namespace rampart::spread
