#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "runtime/rail/figures.h"
#include "runtime/rail/rail_way.h"

// A loop whose passes differ by the slow drift of one linear circuit alone, as where a large capacitor charges through
// many of them. As long as a pass goes through the same steps, its end is an affine map of its start: many passes are a
// power of that map, and what adds up in a pass is a polynomial of where it begins.
namespace rampart {

// The steps of a pass. Two passes with equal lengths and the same ways change nothing but at the same instants.
struct PassTrace {
  std::vector<double> lengths;  // s
  std::vector<RailWay> ways;    // of all rails in each step

  [[nodiscard]] bool like(const PassTrace& other) const;
};

// A pass that was played on trial.
struct TrialPass {
  std::vector<circuit::StateGain> gains;  // of the state's numbers
  RailSums sums;                          // of the pass
  PassTrace trace;
  std::vector<double> peaks;
};
// Plays a pass from a state. None where it ends otherwise than in another state.
using PlayPass = std::function<std::optional<TrialPass>(const std::vector<double>& state)>;

// Passes that can be added at once.
struct Drift {
  std::int64_t passes = 0;
  std::vector<double> end;  // the state after them
  RailSums sums;            // of all of them
  double error = 0;         // bound for the state, as a share of its scales
};

// Passes from `start` on, at most `most`; none where the next ones have to be gone through. Numbers of the state are
// measured against `scales`.
[[nodiscard]] std::optional<Drift> find_drift(const std::vector<double>& start, const std::vector<double>& scales,
                                              std::int64_t most, const PlayPass& play);

// A bound as it is told: up to a power of ten, since its digits are those of rounding; nothing stays nothing.
[[nodiscard]] double told_error(double error);

// Follows by how much the state changes from pass to pass, and tells when to look for a drift: looking costs as much as
// some dozens of passes.
class DriftWatch {
 public:
  // The state has changed by this in a pass, against its scales.
  [[nodiscard]] bool is_due(std::vector<double> change);
  void found() { rest_ = 1; }
  void not_found();
  // Something else has changed too.
  void forget() { last_.clear(); }

 private:
  std::vector<double> last_;
  std::int64_t wait_ = 0;
  std::int64_t rest_ = 1;
};

// How the distance from a start grows that is 1 after the first pass, and in each further pass 1 more than `1 - loss`
// of what it was; and what the distances at which `passes` passes begin, and their squares, come to.
struct DriftSums {
  double passes = 0;
  double lost = 0;  // 1 - (1 - loss)^passes
  double distance = 0;
  double sum = 0;
  double squares = 0;
};
[[nodiscard]] DriftSums drift_sums(double loss, std::int64_t passes);

}  // namespace rampart
