#pragma once

#include <functional>
#include <vector>

namespace rampart::circuit {

using Rates = std::function<void(const double* state, double* rates)>;
// A step of x' = f(x) by the implicit Euler method. It does not overshoot however long it is, so it serves where steps
// with a bounded error would be too short. `end` is where it leads; false if there is no such place.
[[nodiscard]] bool damped_step(const std::vector<double>& start, const Rates& rates, double length,
                               std::vector<double>& end);

}  // namespace rampart::circuit
