#include "runtime/play/total_power.h"

#include "compiler/table/abilities.h"

namespace rampart {
namespace {

// The power of all rails together: with shares that of their outputs' regulators, since what an output capacitance
// gives takes nothing from a supply at that moment.
class TotalPower final : public circuit::Curve {
 public:
  TotalPower(const std::vector<std::unique_ptr<RailRun>>& rails, const std::vector<double>& shares) {
    for (std::size_t i = 0; i < rails.size(); ++i) {
      const double share = shares.empty() ? 1 : shares[i];
      if (share == 0) continue;
      const circuit::Piece& piece = rails[i]->circuit().piece();
      powers_.emplace_back(piece.terminal_voltage, shares.empty() ? piece.terminal_current : piece.regulator_current,
                           share, 0);
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
                       double length, const Passes& passes, const std::vector<double>& shares) {
  const TotalPower power(rails, shares);
  const auto found = circuit::maximum_above(power, peak.value, 1e-12 * peak.value + 1e-15);
  if (!found) return;
  peak.value = found->value;
  peak.time_s = from.plus_seconds(found->time * length).seconds();
  peak.passes = passes;
  // The statement is that of the rail with the largest share.
  double largest = 0;
  for (std::size_t i = 0; i < rails.size(); ++i) {
    const circuit::Piece& piece = rails[i]->circuit().piece();
    const double share = (shares.empty() ? 1 : shares[i]) * piece.terminal_voltage.value(found->time) *
                         piece.terminal_current.value(found->time);
    if (share <= largest) continue;
    largest = share;
    peak.statement = rails[i]->doing().statement;
  }
}

SupplyPowers::SupplyPowers(const Table& table) {
  for (std::size_t i = 0; i < table.bench().supplies.size(); ++i) {
    const Supply& supply = table.bench().supplies[i];
    if (!supply.power) continue;
    One one{supply.name, supply.power->value.to_double(), {}, {}, {}};
    bool used = false;
    for (const RailSetup& setup : table.rails()) {
      const Abilities abilities = abilities_of(table, setup.rail);
      double share = 0;
      for (std::size_t member = 0; member < abilities.members.size(); ++member) {
        const bool is_its = abilities.members[member]->supply == SupplyId{static_cast<std::uint32_t>(i)};
        if (is_its) share += abilities.shares.of_power(member).to_double();
      }
      if (share > 0 && !used) one.rail = setup.rail;
      used = used || share > 0;
      one.shares.push_back(share);
    }
    if (used) supplies_.push_back(std::move(one));
  }
}

void SupplyPowers::take(const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& from, double length,
                        const Passes& passes) {
  for (One& one : supplies_) raise_total_power(one.peak, rails, from, length, passes, one.shares);
}

void SupplyPowers::add_margins(std::vector<Margin>& margins) const {
  for (const One& one : supplies_) {
    margins.push_back({one.rail, MarginKind::TotalPower, one.power - one.peak.value, one.power, one.peak.time_s,
                       one.peak.statement, one.peak.passes, one.supply});
  }
}

}  // namespace rampart
