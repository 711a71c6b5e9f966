#include "runtime/rail/limit_room.h"

#include <algorithm>
#include <limits>

namespace rampart {

using circuit::Mode;

void LimitRoom::advance(const circuit::Circuit& circuit, const Instant& from, const Doing& doing) {
  const circuit::Setting& setting = circuit.setting();
  if (!setting.on || reached_) return;
  if (circuit.mode() == Mode::ConstantCurrent || circuit.mode() == Mode::Clamped) {
    least_ = Least{0, setting.limit, {setting.limit, from.seconds(), doing.statement, doing.passes}};
    reached_ = true;
    return;
  }
  const circuit::Piece& piece = circuit.piece();
  const double rise = setting.limit_slope * piece.length;
  const double known = least_ ? -least_->room_A : -std::numeric_limits<double>::infinity();
  if (piece.regulator_current.bounds(0, 1).high - (setting.limit + std::min(rise, 0.0)) <= known) return;
  const circuit::SignalCurve excess(piece.regulator_current.plus_line(-setting.limit, -rise));
  const auto found = circuit::maximum_above(excess, known, 1e-12 * setting.limit + 1e-15);
  if (!found) return;
  const double time = from.plus_seconds(found->time * piece.length).seconds();
  const double limit = setting.limit + rise * found->time;
  least_ = Least{-found->value, limit, {limit + found->value, time, doing.statement, doing.passes}};
}

}  // namespace rampart
