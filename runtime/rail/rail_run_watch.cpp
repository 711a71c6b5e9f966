#include "runtime/rail/rail_run.h"

#include <algorithm>
#include <cmath>

namespace rampart {
namespace {

// Peaks that differ by less of their size are one: what is solved in steps comes back to a limit by rounding.
constexpr double kSamePeak = 1e-9;

// The greater of two peaks; of equal ones the earlier.
void raise_peak(Peak& peak, const circuit::Curve& curve, const Instant& from, double length, const Doing& doing) {
  const auto found = circuit::maximum_above(curve, peak.value, 1e-12 * std::abs(peak.value) + 1e-15);
  if (!found) return;
  const bool is_same = peak.value > 0 && found->value - peak.value <= kSamePeak * peak.value;
  peak.value = found->value;
  if (!is_same) peak = {found->value, from.plus_seconds(found->time * length).seconds(), doing.statement, doing.passes};
}

}  // namespace

void RailRun::update_peaks(const Instant& from) {
  const circuit::Piece& piece = circuit_->piece();
  raise_peak(voltage_, circuit::SignalCurve(piece.terminal_voltage), from, piece.length, doing_);
  raise_peak(current_, circuit::SignalCurve(piece.terminal_current), from, piece.length, doing_);
  raise_peak(power_, circuit::ProductCurve(piece.terminal_voltage, piece.terminal_current, 1, 0), from, piece.length,
             doing_);
  if (output_.capacitance == 0) return;
  raise_peak(regulator_power_, circuit::ProductCurve(piece.terminal_voltage, piece.regulator_current, 1, 0), from,
             piece.length, doing_);
}

// What is short while a capacitor charges is no lack of headroom: only what is left at the end of such a stretch
// counts.
void RailRun::watch_headroom(const Instant& from) {
  if (circuit_->mode() != circuit::Mode::HeadroomLimited) return;
  const circuit::Piece& piece = circuit_->piece();
  const circuit::Setting& setting = circuit_->setting();
  const double setpoint = setting.voltage + setting.voltage_slope * piece.length;
  const double current = piece.terminal_current.value(1);
  headroom_now_ = HeadroomSpent{setpoint - piece.port_voltage.value(1),    setpoint,         *output_.headroom, current,
                                from.plus_seconds(piece.length).seconds(), doing_.statement, doing_.passes};
}

void RailRun::end_headroom() {
  if (!headroom_now_) return;
  const double setpoint = headroom_now_->setpoint_V;
  const bool counts = setpoint - headroom_now_->shortfall_V < settling_.band(setpoint).low;
  if (counts && (!headroom_ || headroom_now_->shortfall_V > headroom_->shortfall_V * (1 + 1e-9))) {
    headroom_ = headroom_now_;
  }
  headroom_now_.reset();
}

}  // namespace rampart
