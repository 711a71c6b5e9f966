#include "runtime/load/elements/load_profile.h"

#include <algorithm>
#include <utility>

#include "runtime/load/elements/branch.h"
#include "runtime/load/elements/element_kind.h"

namespace rampart {
namespace {

using circuit::BranchOf;
using circuit::Edge;
using circuit::Flow;
using circuit::kKneeVolts;
using circuit::kManyStarts;
using circuit::kReached;
using circuit::kSameTime;
using circuit::Memory;
using circuit::step_flow;

class LoadProfileBranch final : public BranchOf<LoadProfileBranch> {
 public:
  // What it draws pulls its own voltage down: power counts as lost this far below the level only. Common practice, no
  // source.
  static constexpr double kLostShare = 0.9;

  explicit LoadProfileBranch(LoadProfileElement part) : part_(std::move(part)) {}
  Flow flow(double volts, const double*) const override {
    return step_flow(good_ && next_ > 0 ? part_.draws[next_ - 1].second : 0, 0, volts);
  }
  double port_capacitance() const override { return part_.input_capacitance ? part_.input_capacitance->nominal : 0; }
  std::vector<double> corners() const override { return {0, kKneeVolts}; }
  std::optional<Edge> edge() const override {
    if (good_) return Edge{kLostShare * part_.power_good.nominal, false};
    return Edge{part_.power_good.nominal, true};
  }
  bool switch_at(double volts, double*) override {
    const bool good = good_ ? volts > kLostShare * part_.power_good.nominal * (1 + kReached)
                            : volts >= part_.power_good.nominal * (1 - kReached);
    const bool changed = good != good_;
    if (changed) {
      good_ = good;
      if (good) ++starts_;
      next_ = 0;
      left_ = good ? part_.draws.front().first : 0;
    }
    const std::size_t before = next_;
    while (good_ && next_ < part_.draws.size() && left_ <= kSameTime) {
      ++next_;
      if (next_ < part_.draws.size()) left_ += part_.draws[next_].first - part_.draws[next_ - 1].first;
    }
    return changed || next_ != before;
  }
  double next_change() const override {
    return good_ && next_ < part_.draws.size() ? std::max(left_, 0.0) : BranchOf::next_change();
  }
  void pass_time(double seconds) override {
    if (good_ && next_ < part_.draws.size()) left_ -= seconds;
  }
  void stand_still(double*) override {
    if (starts_ > kManyStarts) good_ = false;
  }
  std::optional<Memory> memory() const override {
    return Memory{good_ ? 1 + next_ : 0, good_ && next_ < part_.draws.size() ? left_ : 0, 1e-3};
  }

 private:
  LoadProfileElement part_;
  bool good_ = false;
  std::size_t next_ = 0;  // of the steps still to come
  double left_ = 0;       // s until it does
  int starts_ = 0;
};

}  // namespace

const ElementKind<LoadProfileElement>& LoadProfileElement::kind() {
  using Field = ElementField<LoadProfileElement>;
  static const ElementKind<LoadProfileElement> kKind{
      "load_profile",
      "{kind: load_profile, power_good: 3 V +- 5 %, draws: [[0 s, 100 mA], [50 ms, 400 mA]]}",
      {
          Field::required("power_good", &LoadProfileElement::power_good, dimension::kVoltage, Bound::NotNegative),
          Field::points("draws", &LoadProfileElement::draws,
                        {1, {dimension::kTime, Bound::NotNegative}, {dimension::kCurrent, Bound::NotNegative}}),
          Field::optional("input_capacitance", &LoadProfileElement::input_capacitance, dimension::kCapacitance,
                          Bound::Positive),
      }};
  return kKind;
}

std::unique_ptr<circuit::Branch> LoadProfileElement::branch() const {
  return std::make_unique<LoadProfileBranch>(*this);
}

std::optional<CapacitorElement> LoadProfileElement::left_when_off(double port_voltage) const {
  if (!input_capacitance) return std::nullopt;
  return CapacitorElement{*input_capacitance, {}, std::nullopt, port_voltage};
}

}  // namespace rampart
