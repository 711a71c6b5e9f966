#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "runtime/sweep/sweep.h"

namespace rampart::sweep {

// What a value comes to that is tried with all that is asked of the best one.
struct Weighed {
  Trial trial;
  std::size_t failing = 0;  // corners with errors
  std::size_t corners = 0;  // that were tried
  double left = 1;          // the least share of a limit that is left, in corners too; negative of one that is exceeded
};

// Fewer errors; of as many, more that are measured; then less missed, the worst first; then more of each limit left.
[[nodiscard]] bool is_less_bad(const Trial& a, const Trial& b);
// Fewer errors, then fewer corners that fail, then more left.
[[nodiscard]] bool comes_nearer(const Weighed& a, const Weighed& b);

// Carries out trials of one profile, on any thread.
class Trials {
 public:
  // Of what they were made from, with the texts of both; all outlive the trials. `energy_of`: none is the total.
  Trials(const Compiled& compiled, const LoadPtr& load, std::optional<RailId> energy_of)
      : compiled_(compiled), load_(load), energy_of_(energy_of) {}

  // With parameters held at values in their ranges; the last one's is the value of the trial. All throw JobStopped.
  [[nodiscard]] Trial at(std::span<const Held> held, const Job& job) const;
  // The same trial, with its first error in words.
  [[nodiscard]] Trial explained(std::span<const Held> held, const Job& job) const;
  // Whether values that hold in a plain run hold with the demand too.
  [[nodiscard]] bool meets(std::span<const Held> held, const Demand& demand, const Job& job) const;
  [[nodiscard]] Weighed weighed(std::span<const Held> held, const Demand& demand, const Job& job) const;
  // What an answer comes to, as a trial of `value`.
  [[nodiscard]] Trial of(const Answer& answer, const Quantity& value) const;

 private:
  [[nodiscard]] Trial made(std::span<const Held> held, bool in_words, const Job& job) const;

  const Compiled& compiled_;
  const LoadPtr& load_;
  std::optional<RailId> energy_of_;
};

// A trial as text, and back exactly. Places are told by the order of the texts. None where the text is of no trial.
[[nodiscard]] std::string trial_text(const Trial& trial, const SourceSet& texts);
[[nodiscard]] std::optional<Trial> read_trial(std::string_view text, const Quantity& value, const SourceSet& texts);

}  // namespace rampart::sweep
