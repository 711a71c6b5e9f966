#include "runtime/play/total_power.h"

#include <bit>
#include <boost/container/small_vector.hpp>
#include <utility>

#include "compiler/table/abilities.h"

namespace rampart {
namespace {

// Peaks that differ by less, relatively and in W, are the same.
constexpr double kSamePower = 1e-12;
constexpr double kSameWatts = 1e-15;

const circuit::Signal& current_of(const circuit::Piece& piece, PowerSum::Of of) {
  return of == PowerSum::Of::Terminals ? piece.terminal_current : piece.regulator_current;
}

class SumCurve final : public circuit::Curve {
 public:
  explicit SumCurve(std::size_t powers) { powers_.reserve(powers); }
  void add(const circuit::Signal& voltage, const circuit::Signal& current, double share) {
    powers_.emplace_back(voltage, current, share, 0);
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
  boost::container::small_vector<circuit::ProductCurve, 2> powers_;
};

}  // namespace

PowerSum::PowerSum(std::vector<Share> shares, Of of)
    : shares_(std::move(shares)), of_(of), bounds_(2 * std::bit_ceil(shares_.size()), 0.0) {}

void PowerSum::begin_step(std::size_t place, const RailRun& rail) {
  const circuit::Piece& piece = rail.circuit().piece();
  const circuit::Bounds power =
      circuit::times(piece.terminal_voltage.bounds(0, 1), current_of(piece, of_).bounds(0, 1));
  std::size_t node = bounds_.size() / 2 + place;
  bounds_[node] = shares_[place].share * power.high;
  for (node /= 2; node > 0; node /= 2) bounds_[node] = bounds_[2 * node] + bounds_[2 * node + 1];
}

void PowerSum::follow(const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& now, const Passes& passes,
                      StepParts& parts) {
  const double length = now.since(followed_);
  if (length <= kShortestStep) return;
  const Instant from = std::exchange(followed_, now);
  if (bounds_[1] <= peak_.value * (1 + kSamePower) + kSameWatts) return;
  pieces_.clear();
  for (const Share& share : shares_) {
    pieces_.push_back(&parts.of(share.rail, rails[share.rail]->group(), from, now));
  }
  raise(rails, from, length, passes);
}

void PowerSum::raise(const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& from, double length,
                     const Passes& passes) {
  SumCurve power(shares_.size());
  for (std::size_t i = 0; i < shares_.size(); ++i) {
    power.add(pieces_[i]->terminal_voltage, current_of(*pieces_[i], of_), shares_[i].share);
  }
  const auto found = circuit::maximum_above(power, peak_.value, kSamePower * peak_.value + kSameWatts);
  if (!found) return;
  peak_.value = found->value;
  peak_.time_s = from.plus_seconds(found->time * length).seconds();
  peak_.passes = passes;
  // The statement is that of the rail with the largest share.
  double largest = 0;
  for (std::size_t i = 0; i < shares_.size(); ++i) {
    const double share = shares_[i].share * pieces_[i]->terminal_voltage.value(found->time) *
                         pieces_[i]->terminal_current.value(found->time);
    if (share <= largest) continue;
    largest = share;
    peak_.statement = rails[shares_[i].rail]->doing().statement;
  }
}

TotalPowers::TotalPowers(const Table& table) : by_rail_(table.rails().size()), parts_(table.rails().size()) {
  std::vector<PowerSum::Share> all;
  for (std::size_t i = 0; i < table.rails().size(); ++i) all.push_back({i, 1});
  add(PowerSum(std::move(all), PowerSum::Of::Terminals));
  std::vector<std::vector<PowerSum::Share>> of_supplies(table.bench().supplies.size());
  for (std::size_t rail = 0; rail < table.rails().size(); ++rail) {
    const Abilities abilities = abilities_of(table, table.rails()[rail].rail);
    for (std::size_t member = 0; member < abilities.members.size(); ++member) {
      std::vector<PowerSum::Share>& shares = of_supplies[static_cast<std::size_t>(abilities.members[member]->supply)];
      if (shares.empty() || shares.back().rail != rail) shares.push_back({rail, 0});
      shares.back().share += abilities.shares.of_power(member).to_double();
    }
  }
  for (std::size_t i = 0; i < of_supplies.size(); ++i) {
    const Supply& supply = table.bench().supplies[i];
    std::erase_if(of_supplies[i], [](const PowerSum::Share& one) { return one.share <= 0; });
    if (!supply.power || of_supplies[i].empty()) continue;
    limits_.push_back({supply.name, supply.power->value.to_double(), table.rails()[of_supplies[i].front().rail].rail});
    // What an output capacitance gives takes nothing from a supply at that moment.
    add(PowerSum(std::move(of_supplies[i]), PowerSum::Of::Regulators));
  }
}

void TotalPowers::add(PowerSum sum) {
  for (std::size_t i = 0; i < sum.shares().size(); ++i) by_rail_[sum.shares()[i].rail].push_back({sums_.size(), i});
  sums_.push_back(std::move(sum));
}

TotalPowers TotalPowers::trial() const {
  TotalPowers result = *this;
  result.sums_.front() = PowerSum(sums_.front().shares(), PowerSum::Of::Terminals);
  return result;
}

void TotalPowers::stand_at(const Instant& now) {
  for (PowerSum& sum : sums_) sum.stand_at(now);
}

void TotalPowers::begin_step(std::size_t rail, const RailRun& run) {
  for (const Place& place : by_rail_[rail]) sums_[place.sum].begin_step(place.place, run);
}

void TotalPowers::follow(const std::vector<std::unique_ptr<RailRun>>& rails, std::size_t rail, const Instant& now,
                         const Passes& passes) {
  for (const Place& place : by_rail_[rail]) sums_[place.sum].follow(rails, now, passes, parts_);
}

void TotalPowers::follow(const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& now, const Passes& passes) {
  for (PowerSum& sum : sums_) sum.follow(rails, now, passes, parts_);
}

void TotalPowers::add_margins(std::vector<Margin>& margins) const {
  for (std::size_t i = 0; i < limits_.size(); ++i) {
    const Limit& limit = limits_[i];
    const Peak& peak = sums_[i + 1].peak();
    margins.push_back({limit.rail, MarginKind::TotalPower, limit.power - peak.value, limit.power, peak.time_s,
                       peak.statement, peak.passes, limit.supply});
  }
}

}  // namespace rampart
