#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>

#include "compiler/bench/bench.h"
#include "lang/values/instant.h"
#include "runtime/play/form_curve.h"
#include "runtime/rail/rail_run.h"

namespace rampart {

// What a rail's output may be off, V and A, at the beginning and the end of a piece; straight in between.
struct OutputError {
  double voltage[2] = {0, 0};
  double current[2] = {0, 0};
  double power[2] = {0, 0};
};

// What a signal keeps within, and the size of what it is made of.
struct Reach {
  circuit::Bounds bounds;
  double magnitude = 0;
};

// What rules see of one rail during a stretch of its present step: each thing is made when it is first asked for, once
// for all rules. Bounds settle most questions; the part of the step that the stretch is serves the others.
class RailStretch {
 public:
  // `sign`: -1 for a rail that is reversed.
  RailStretch(double sign, const std::optional<Accuracy<Volts>>& voltage, const std::optional<Accuracy<Amps>>& current);
  // Room is not copied.
  RailStretch(const RailStretch& other)
      : sign_(other.sign_), voltage_error_(other.voltage_error_), current_error_(other.current_error_) {}
  RailStretch(RailStretch&&) noexcept = default;
  RailStretch& operator=(RailStretch&&) noexcept = default;
  ~RailStretch() = default;

  // Looks at the time between two instants within the present step. What is known is kept for as long as `turn` is the
  // same, in which the rail must not go on.
  void look_at(const RailRun& rail, const Instant& from, const Instant& to, std::int64_t turn);

  // A little wider than what any evaluation of its part gives. Not of the slew, on which nothing is judged here.
  [[nodiscard]] const Reach& reach(Signal signal);
  [[nodiscard]] const OutputError& error();
  [[nodiscard]] RailSignals signals();

 private:
  struct ErrorLine {
    double fraction = 0;
    double offset = 0;
    [[nodiscard]] double at(double setpoint) const;
  };
  [[nodiscard]] Reach reach_of(const circuit::Signal& signal, double sign) const;
  [[nodiscard]] OutputError error_there() const;

  double sign_;
  ErrorLine voltage_error_;
  ErrorLine current_error_;
  const RailRun* rail_ = nullptr;
  std::int64_t turn_ = 0;
  Instant from_;
  Instant to_;
  double begin_ = 0;  // of the step, as shares of its length
  double end_ = 1;
  std::array<std::optional<Reach>, 3> reaches_;  // of voltage, current and power
  std::optional<OutputError> error_;
  const circuit::Piece* part_ = nullptr;
  std::unique_ptr<circuit::Piece> room_;
};

}  // namespace rampart
