#pragma once

#include <array>
#include <memory>
#include <vector>

#include "runtime/circuit/damped_step.h"
#include "runtime/circuit/state_slopes.h"

namespace rampart::circuit {

// Every course over a step is given at these shares of it, the start and the nodes of the method, and is the polynomial
// through them.
inline constexpr std::size_t kNodes = 7;
[[nodiscard]] const std::array<double, kNodes>& step_nodes();
// The polynomial's weights of 1, t, ..., t^(kNodes - 1).
[[nodiscard]] std::vector<double> through_nodes(const std::array<double, kNodes>& values);

// Steps of x' = f(x) by collocation at the six Radau points: the polynomial that starts in the present state and obeys
// the equations at every node. It takes stiff equations, its courses are those polynomials themselves, and it begins
// anew after every event at no cost.
class StiffStep {
 public:
  StiffStep(std::size_t count, double relative, double absolute);
  StiffStep(const StiffStep& other);
  ~StiffStep();

  // Forgets what it learned about the length of steps.
  void restart();
  // Allows so many times the error that it was made with.
  void loosen(double times);
  // Takes a step of up to `longest` s, shorter where the error asks for it. Where that would be less than `shortest` it
  // takes a damped one, which goes straight to its end. The states at the nodes are in `at_node`. Returns the length.
  double take(const std::vector<double>& state, const Rates& rates, const RateSlopes& slopes, double longest,
              double shortest);
  // The next step is no longer than this.
  void bound_next(double length);
  // The last step was a damped one.
  [[nodiscard]] bool damped() const { return damped_; }
  [[nodiscard]] const std::vector<double>& at_node(std::size_t node) const { return at_nodes_[node]; }

 private:
  struct Work;
  double take_damped(const std::vector<double>& state, const Rates& rates, double length);
  void fill_nodes();
  std::unique_ptr<Work> work_;
  bool damped_ = false;
  std::array<std::vector<double>, kNodes> at_nodes_;
};

}  // namespace rampart::circuit
