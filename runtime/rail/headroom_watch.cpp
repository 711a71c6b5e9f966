#include "runtime/rail/headroom_watch.h"

namespace rampart {

void HeadroomWatch::advance(const circuit::Circuit& circuit, const Instant& from, const Doing& doing) {
  if (circuit.mode() != circuit::Mode::HeadroomLimited) return;
  const circuit::Piece& piece = circuit.piece();
  const circuit::Setting& setting = circuit.setting();
  const double setpoint = setting.voltage + setting.voltage_slope * piece.length;
  const double current = piece.terminal_current.value(1);
  now_ = HeadroomSpent{setpoint - piece.port_voltage.value(1),    setpoint,        *headroom_,  current,
                       from.plus_seconds(piece.length).seconds(), doing.statement, doing.passes};
}

void HeadroomWatch::end(const Settling& settling) {
  if (!now_) return;
  const double setpoint = now_->setpoint_V;
  const bool counts = setpoint - now_->shortfall_V < settling.band(setpoint).low;
  if (counts && (!worst_ || now_->shortfall_V > worst_->shortfall_V * (1 + 1e-9))) worst_ = now_;
  now_.reset();
}

void HeadroomWatch::continue_as(const HeadroomWatch& other, const Instant& by, const PassShift& passes) {
  now_ = other.now_;
  if (!now_) return;
  now_->time_s += by.seconds();
  passes.apply(now_->passes);
}

}  // namespace rampart
