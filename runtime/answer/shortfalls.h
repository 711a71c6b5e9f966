#pragma once

#include <optional>

#include "lang/text/source.h"
#include "lang/values/instant.h"
#include "runtime/answer/stored_charge.h"

// What a rail fell short of in a run, in SI units.
namespace rampart {

// Above this a rail counts as charged: it can surprise a hand or the next test. Common practice, no source.
inline constexpr double kChargedVolts = 0.5;
// With more than this it does too; with less than that it can not. Common practice, no source.
inline constexpr double kChargedJoules = 1e-3;
inline constexpr double kHarmlessJoules = 1e-9;

// Above kChargedVolts. A wait for just that voltage may end a rounding above it, which is no charge.
[[nodiscard]] constexpr bool is_charged(double volts) {
  return (volts < 0 ? -volts : volts) > kChargedVolts * (1 + 1e-9);
}

// A setpoint that the rail had not come to when the next change came.
struct MissedSetpoint {
  double setpoint_V = 0;
  double voltage_V = 0;              // what it had by then
  double enough_V = 0;               // from above: what would have been low enough
  double time_s = 0;                 // when the change came
  double had_s = 0;                  // how long the setpoint had stood; 0: it was left as soon as it was reached
  std::optional<double> needs_s;     // how much longer it would take, where that can be told
  std::optional<StoredCharge> from;  // from above: what it held when the setpoint came
  double limit_A = 0;                // meanwhile
  bool at_load = false;              // it is the load's voltage that is regulated
  bool was_off = false;              // the change was `off`
  Span statement;                    // that brought the setpoint
  Passes passes;
};

// A voltage that was still there when the output was switched on.
struct ChargedAtOn {
  double voltage_V = 0;
  double time_s = 0;
  Span statement;
  Passes passes;
};

// Remote sense that asks for more than its headroom.
struct HeadroomSpent {
  double shortfall_V = 0;  // of the load, against its setpoint
  double setpoint_V = 0;
  double headroom_V = 0;  // all of it on the wire
  double current_A = 0;
  double time_s = 0;
  Span statement;
  Passes passes;
};

// The worst of each.
struct Shortfalls {
  std::optional<MissedSetpoint> not_settled;  // from below, and what else the regulator did not come to
  std::optional<MissedSetpoint> cannot_sink;  // from above
  std::optional<ChargedAtOn> charged_at_on;
  std::optional<HeadroomSpent> headroom;
};

}  // namespace rampart
