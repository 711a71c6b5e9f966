#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "runtime/rail/figures.h"
#include "runtime/rail/rail_way.h"

// Many passes of a loop in one step, where each differs from the one before by the slow drift of one linear circuit, as
// when a large capacitor charges over hundreds of passes.
//
// As long as passes take the same steps, in the same modes, the state x at the end of a pass is an affine map of the
// state at its start, since every step is one. After the fast modes of the circuit have died out, x moves along one
// direction d, and a pass takes it from x0 + s d to x0 + ((1 - loss) s + 1) d. The distance s after n passes is then a
// geometric sum, and what adds up in a pass (energy, charge) is a polynomial of second degree in s, because currents
// and voltages are affine in s and powers are their products.
//
// The search plays passes on trial, from s = 0, from the far end, from half way and from a quarter:
//   1. the change of the first pass, and of one far off, give the direction d and the loss;
//   2. the far end is moved out to the last pass asked for, or else as far as a trial still takes the same steps; what
//      decides about a step is affine in s, so all passes in between take them too;
//   3. the trial half way has to lie on the line, no peak in between may be above those at both ends, and the sums at a
//      quarter have to be what the polynomial through the other three says.
// The bound of the error is what the far trial is off the line, times the passes, with the rounding of a pass.
namespace rampart {

// The steps of a pass, in the order in which they end. Two passes of which these agree obey the same equations in the
// same stretches of time.
struct PassTrace {
  std::vector<std::size_t> rails;  // whose step it is
  std::vector<double> lengths;     // s
  std::vector<RailWay> ways;

  [[nodiscard]] bool like(const PassTrace& other) const;
};

// A pass that was played on trial.
struct TrialPass {
  std::vector<circuit::StateGain> gains;  // of the state's numbers
  RailSums sums;                          // of the pass
  PassTrace trace;
  std::vector<double> peaks;
};
// Plays a pass from a state. None where it ends in a trip, or with anything changed but the state.
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

// The bound that is reported for an error: rounded up to a power of ten, since its digits are those of rounding. An
// error of 0 stays 0.
[[nodiscard]] double told_error(double error);

// Follows by how much the state changes from pass to pass, and tells when to look for a drift: looking costs as much as
// some dozens of passes.
class DriftWatch {
 public:
  // The state has changed by this in a pass, against its scales.
  [[nodiscard]] bool is_due(std::vector<double> change);
  void found() { rest_ = 1; }
  void not_found();
  // The pass has changed something else too, so the change of the state says nothing.
  void forget() { last_.clear(); }

 private:
  std::vector<double> last_;
  std::int64_t wait_ = 0;
  std::int64_t rest_ = 1;
};

// The distance from the start after `passes` passes, each of which takes a distance s to (1 - loss) s + 1, and the sums
// of the distances at which these passes begin and of their squares.
struct DriftSums {
  double passes = 0;
  double lost = 0;  // 1 - (1 - loss)^passes
  double distance = 0;
  double sum = 0;
  double squares = 0;
};
[[nodiscard]] DriftSums drift_sums(double loss, std::int64_t passes);

}  // namespace rampart
