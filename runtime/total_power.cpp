#include "runtime/total_power.h"

namespace rampart {
namespace {

// The power of all rails together.
class TotalPower final : public circuit::Curve {
 public:
  explicit TotalPower(const std::vector<std::unique_ptr<RailRun>>& rails) {
    for (const auto& rail : rails) {
      const circuit::Piece& piece = rail->circuit().piece();
      powers_.emplace_back(piece.terminal_voltage, piece.terminal_current, 1, 0);
    }
  }
  double value(double t) const override {
    double sum = 0;
    for (const auto& power : powers_) sum += power.value(t);
    return sum;
  }
  double slope(double t) const override {
    double sum = 0;
    for (const auto& power : powers_) sum += power.slope(t);
    return sum;
  }
  circuit::Bounds bounds(double from, double to) const override {
    circuit::Bounds sum;
    for (const auto& power : powers_) sum = circuit::plus(sum, power.bounds(from, to));
    return sum;
  }
  circuit::Bounds slope_bounds(double from, double to) const override {
    circuit::Bounds sum;
    for (const auto& power : powers_) sum = circuit::plus(sum, power.slope_bounds(from, to));
    return sum;
  }
  double rounding() const override {
    double sum = 0;
    for (const auto& power : powers_) sum += power.rounding();
    return sum;
  }

 private:
  std::vector<circuit::ProductCurve> powers_;
};

}  // namespace

void raise_total_power(Peak& peak, const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& from,
                       double length, const Passes& passes) {
  const TotalPower power(rails);
  const auto found = circuit::maximum_above(power, peak.value, 1e-12 * peak.value + 1e-15);
  if (!found) return;
  peak.value = found->value;
  peak.time_s = from.plus_seconds(found->time * length).seconds();
  peak.passes = passes;
  // The statement is that of the rail with the largest share.
  double largest = 0;
  for (const auto& rail : rails) {
    const circuit::Piece& piece = rail->circuit().piece();
    const double share = piece.terminal_voltage.value(found->time) * piece.terminal_current.value(found->time);
    if (share <= largest) continue;
    largest = share;
    peak.statement = rail->doing().statement;
  }
}

}  // namespace rampart
