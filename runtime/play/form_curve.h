#pragma once

#include <boost/container/small_vector.hpp>
#include <cmath>
#include <variant>
#include <vector>

#include "compiler/profile/profile.h"
#include "runtime/circuit/circuit.h"

namespace rampart {

// What a condition sees of one rail: its planned piece, and -1 for a rail that is reversed.
struct RailSignals {
  const circuit::Piece* piece = nullptr;
  double sign = 1;
};

// A linear form over simulated quantities during one piece, as a curve on [0, 1]: voltages at the load, currents and
// powers at the terminals. The pieces must outlive it.
class FormCurve final : public circuit::Curve {
 public:
  // `rails` by rail. The form is taken `sign` times.
  FormCurve(const LinearForm& form, double sign, const std::vector<RailSignals>& rails);

  [[nodiscard]] double value(double t) const override;
  [[nodiscard]] double slope(double t) const override;
  [[nodiscard]] circuit::ValueAndSlope at(double t) const override;
  [[nodiscard]] circuit::Bounds bounds(double from, double to) const override;
  [[nodiscard]] circuit::Bounds slope_bounds(double from, double to) const override;
  [[nodiscard]] double rounding() const override;
  // What cannot be told from zero.
  [[nodiscard]] double tolerance() const { return rounding() + kSameShare * std::abs(constant_); }

 private:
  static constexpr double kSameShare = 1e-12;
  using TermCurve = std::variant<circuit::SignalCurve, circuit::ProductCurve>;
  struct Part {
    double factor;
    TermCurve of;
    [[nodiscard]] const circuit::Curve& curve() const {
      return std::visit([](const circuit::Curve& curve) -> const circuit::Curve& { return curve; }, of);
    }
  };
  [[nodiscard]] static TermCurve curve_of(Signal signal, const RailSignals& rail);

  double constant_;
  boost::container::small_vector<Part, 1> terms_;  // most forms have one
};

}  // namespace rampart
