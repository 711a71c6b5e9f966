#pragma once

#include <functional>

#include "runtime/circuit/circuit.h"
#include "runtime/waveform/waveform.h"

namespace rampart {

// A rail's quantities during the planned piece of its circuit, at times from 0 to 1.
class PieceCurves {
 public:
  // `sign`: -1 for a rail that is reversed. The circuit must stay as it is meanwhile.
  PieceCurves(const circuit::Circuit& circuit, double sign);

  [[nodiscard]] WaveValues at(double time) const;
  // Whether each quantity keeps within its error of the straight line between its values at `from` and `to`. What an
  // error without bound allows is not worked out.
  [[nodiscard]] bool is_straight(double from, double to, const WaveValues& error) const;

 private:
  // A signal with its first and second derivative.
  struct Bent {
    explicit Bent(const circuit::Signal& signal)
        : value(signal), slope(signal.derivative()), curvature(slope.derivative()) {}
    circuit::Signal value;
    circuit::Signal slope;
    circuit::Signal curvature;
  };
  [[nodiscard]] static double bend_of(const Bent& signal, double from, double to);
  [[nodiscard]] double bend_of_power(double from, double to) const;

  double sign_;
  double setpoint_;
  double setpoint_slope_;
  double limit_;
  double limit_slope_;
  Bent terminal_;
  Bent load_;
  Bent current_;
};

// Hands out values at times in (0, 1], the last at 1, between which straight lines are off by no more than `error`.
// False where `take` said false and so ended it.
bool sample(const PieceCurves& curves, const WaveValues& error,
            const std::function<bool(double time, const WaveValues& values)>& take);

}  // namespace rampart
