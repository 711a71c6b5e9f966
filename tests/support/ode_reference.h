#pragma once

#include <functional>
#include <memory>
#include <vector>

// SUNDIALS CVODE (BDF, dense Newton, root finding) behind a few plain functions: the outsider that simulations are held
// against.
namespace rampart::test {

class OdeReference {
 public:
  using Values = std::vector<double>;
  using Rates = std::function<void(double t, const Values& state, Values& rates)>;
  using Roots = std::function<void(double t, const Values& state, Values& values)>;

  OdeReference(Values state, double relative, double absolute);
  ~OdeReference();

  // Goes from t to `until` under these equations; stops at the first sign change of a root function and gives its
  // number, or -1 where none came. Starts anew at each call.
  int advance(double until, const Rates& rates, const Roots& roots, std::size_t root_count);
  [[nodiscard]] double time() const { return time_; }
  [[nodiscard]] Values& state() { return state_; }

 private:
  struct Solver;
  Values state_;
  double time_ = 0;
  double relative_;
  double absolute_;
};

}  // namespace rampart::test
