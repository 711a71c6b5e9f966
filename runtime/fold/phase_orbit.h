#pragma once

#include <cstdint>
#include <optional>

// Where the passes of a loop begin on a grid that their length is no whole multiple of.
//
// The phases (start + n step) mod modulus are a rotation. The first pass in an arc is the least n with
// low <= n step mod modulus <= high: halving the problem as in Euclid's algorithm finds it in O(log modulus). The
// number of passes in an arc is a sum of floors, which the same steps shorten.
namespace rampart {

// Phases on the grid, in ns, both ends included.
struct PhaseArc {
  std::int64_t low = 0;
  std::int64_t high = 0;

  [[nodiscard]] bool holds(std::int64_t phase) const { return low <= phase && phase <= high; }
  friend bool operator==(const PhaseArc&, const PhaseArc&) = default;
};

// Pass n begins at the phase (start + n * step) mod modulus. 0 <= start, step < modulus.
struct PhaseOrbit {
  std::int64_t start = 0;
  std::int64_t step = 0;
  std::int64_t modulus = 1;

  [[nodiscard]] std::int64_t phase(std::int64_t pass) const;
  // The first pass that begins in the arc, found as in Euclid's algorithm; none if no pass ever does.
  [[nodiscard]] std::optional<std::int64_t> first_in(const PhaseArc& arc) const;
  // How many of the passes 0 .. passes - 1 begin in the arc, as a difference of two sums of floors: see Graham, Knuth,
  // Patashnik, Concrete Mathematics, 2nd ed., section 3.5.
  [[nodiscard]] std::int64_t count_in(const PhaseArc& arc, std::int64_t passes) const;
  // The same passes, counted from this one on.
  [[nodiscard]] PhaseOrbit from(std::int64_t pass) const { return {phase(pass), step, modulus}; }
};

}  // namespace rampart
