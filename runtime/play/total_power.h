#pragma once

#include <optional>
#include <string>
#include <vector>

#include "runtime/play/step_parts.h"
#include "runtime/rail/rail_run.h"

namespace rampart {

// The greatest power of several rails together.
//
// Each rail's power has a bound for the whole of its step. As long as the sum of these bounds is below the peak that is
// known, no more is asked. Only else the powers are added up as they are, over the time in which no rail's step ends.
class PowerSum {
 public:
  // A rail, and how much of its power counts.
  struct Share {
    std::size_t rail = 0;
    double share = 1;
  };
  enum class Of : std::uint8_t { Terminals, Regulators };
  PowerSum(std::vector<Share> shares, Of of);

  // All rails stand at `now`; what comes is followed from there.
  void stand_at(const Instant& now) { followed_ = now; }
  // The rail in this place of the list has begun a step.
  void begin_step(std::size_t place, const RailRun& rail);
  // Follows the present steps up to `now`.
  void follow(const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& now, const Passes& passes,
              StepParts& parts);
  [[nodiscard]] const std::vector<Share>& shares() const { return shares_; }
  [[nodiscard]] const Peak& peak() const { return peak_; }

 private:
  // In `pieces_`.
  void raise(const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& from, double length,
             const Passes& passes);

  std::vector<Share> shares_;
  Of of_;
  Instant followed_;
  Peak peak_;
  // Bounds of the steps and their sums by pairs: node n is the sum of 2n and 2n + 1, and the leaves come last.
  std::vector<double> bounds_;
  std::vector<const circuit::Piece*> pieces_;  // of the stretch that is looked at
};

// The power of all rails together, and what each supply that has a power for all its channels together is asked for.
class TotalPowers {
 public:
  explicit TotalPowers(const Table& table);
  // The same, with the peak of all rails from now on.
  [[nodiscard]] TotalPowers trial() const;

  void stand_at(const Instant& now);
  void begin_step(std::size_t rail, const RailRun& run);
  // Follows the present steps up to `now`: the sums that a rail is part of, or all.
  void follow(const std::vector<std::unique_ptr<RailRun>>& rails, std::size_t rail, const Instant& now,
              const Passes& passes);
  void follow(const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& now, const Passes& passes);
  [[nodiscard]] const Peak& all() const { return sums_.front().peak(); }
  void add_margins(std::vector<Margin>& margins) const;

 private:
  struct Limit {
    std::string supply;
    double power = 0;
    RailId rail{};  // the first that draws from it
  };
  struct Place {
    std::size_t sum = 0;
    std::size_t place = 0;
  };
  void add(PowerSum sum);

  std::vector<PowerSum> sums_;  // of all rails, then of each supply
  std::vector<Limit> limits_;   // of each supply
  std::vector<std::vector<Place>> by_rail_;
  StepParts parts_;
};

}  // namespace rampart
