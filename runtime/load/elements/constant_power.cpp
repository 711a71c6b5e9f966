#include "runtime/load/elements/constant_power.h"

#include <algorithm>

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
using circuit::Slopes;
using circuit::step_flow;

// One state while there is a soft start: the share of the power it has reached.
class ConstantPowerBranch final : public BranchOf<ConstantPowerBranch> {
 public:
  explicit ConstantPowerBranch(const ConstantPowerElement& part) : part_(part) {}
  std::size_t state_count() const override { return part_.soft_start > 0 ? 1 : 0; }
  void start(double* state) const override {
    if (part_.soft_start > 0) state[0] = 0;
  }
  Flow flow(double volts, const double* state) const override {
    Flow result = step_flow(part_.quiescent_current.nominal, 0, volts);
    if (!running_) return result;
    // Where its clock is not followed, the soft start just ends.
    const double power = part_.soft_start > 0 ? part_.power.nominal * std::min(state[0], 1.0) : part_.power.nominal;
    // It has stopped long before; only trial steps of the solver come here.
    const double least = part_.stops_at.nominal / 2;
    if (volts <= least) {
      result.current += power * volts / (least * least);
      result.slope += power / (least * least);
    } else {
      result.current += power / volts;
      result.slope -= power / (volts * volts);
    }
    return result;
  }
  void rates(double, const double*, double* rates) const override {
    if (part_.soft_start > 0) rates[0] = running_ && rising_ ? 1 / part_.soft_start : 0;
  }
  Slopes slopes(double volts, const double* state) const override {
    if (!running_ || part_.soft_start == 0 || state[0] > 1) return {};
    const double least = part_.stops_at.nominal / 2;
    return {volts <= least ? part_.power.nominal * volts / (least * least) : part_.power.nominal / volts, 0, 0};
  }
  double flow_rate(double volts, double volts_rate, const double* state, const double* rates) const override {
    const double by_voltage = flow(volts, state).slope * volts_rate;
    if (!running_ || part_.soft_start == 0 || state[0] >= 1) return by_voltage;
    return by_voltage + part_.power.nominal * rates[0] / std::max(volts, part_.stops_at.nominal / 2);
  }
  double port_capacitance() const override { return part_.input_capacitance.nominal; }
  double port_voltage() const override { return part_.initial_voltage; }
  std::vector<double> corners() const override {
    if (part_.quiescent_current.nominal == 0) return {};
    return {0, kKneeVolts};
  }
  std::optional<Edge> edge() const override {
    if (running_) return Edge{part_.stops_at.nominal, false};
    return Edge{part_.starts_at.nominal, true};
  }
  bool switch_at(double volts, double* state) override {
    const bool next =
        running_ ? volts > part_.stops_at.nominal * (1 + kReached) : volts >= part_.starts_at.nominal * (1 - kReached);
    if (next != running_) {
      running_ = next;
      if (next) ++starts_;
      rising_ = next && part_.soft_start > 0;
      left_ = part_.soft_start;
      if (part_.soft_start > 0) state[0] = 0;
      return true;
    }
    if (!rising_ || left_ > kSameTime) return false;
    rising_ = false;
    state[0] = 1;
    return true;
  }
  std::optional<bool> runs() const override { return running_; }
  double next_change() const override { return rising_ ? left_ : BranchOf::next_change(); }
  void pass_time(double seconds) override {
    if (rising_) left_ -= seconds;
  }
  void stand_still(double* state) override {
    if (starts_ <= kManyStarts) return;
    running_ = rising_ = false;
    if (part_.soft_start > 0) state[0] = 0;
  }
  std::optional<Memory> memory() const override {
    const std::size_t way = !running_ ? 0 : rising_ ? 1 : 2;
    return Memory{way, rising_ ? left_ : 0, part_.soft_start};
  }

 private:
  ConstantPowerElement part_;
  bool running_ = false;
  bool rising_ = false;
  double left_ = 0;  // of the soft start, s
  int starts_ = 0;
};

// A converter that stopped above the voltage where it starts would do both at once.
void check(const ConstantPowerElement& element, const ElementPlace& place) {
  if (element.stops_at.high < element.starts_at.low) return;
  const bool by_tolerance = element.stops_at.nominal < element.starts_at.nominal;
  place
      .conflict("stops_at", (by_tolerance ? "up to " : "") + to_text(element.stops_at.high, "V"), "starts_at",
                (by_tolerance ? "down to " : "") + to_text(element.starts_at.low, "V"))
      .hint("a converter stops below the voltage where it starts");
}

}  // namespace

const ElementKind<ConstantPowerElement>& ConstantPowerElement::kind() {
  using Field = ElementField<ConstantPowerElement>;
  static const ElementKind<ConstantPowerElement> kKind{
      "constant_power",
      "{kind: constant_power, power: 10 W +- 10 %, starts_at: 7 V, stops_at: 6 V, input_capacitance: 100 uF}",
      {
          Field::required("power", &ConstantPowerElement::power, dimension::kPower, Bound::NotNegative),
          Field::required("starts_at", &ConstantPowerElement::starts_at, dimension::kVoltage, Bound::Positive),
          Field::required("stops_at", &ConstantPowerElement::stops_at, dimension::kVoltage, Bound::Positive),
          Field::required("input_capacitance", &ConstantPowerElement::input_capacitance, dimension::kCapacitance,
                          Bound::Positive),
          Field::optional("initial_voltage", &ConstantPowerElement::initial_voltage, dimension::kVoltage,
                          Bound::NotNegative),
          Field::optional("soft_start", &ConstantPowerElement::soft_start, dimension::kTime, Bound::NotNegative),
          Field::optional("quiescent_current", &ConstantPowerElement::quiescent_current, dimension::kCurrent,
                          Bound::NotNegative),
      },
      check};
  return kKind;
}

std::unique_ptr<circuit::Branch> ConstantPowerElement::branch() const {
  return std::make_unique<ConstantPowerBranch>(*this);
}

std::optional<CapacitorElement> ConstantPowerElement::left_when_off(double port_voltage) const {
  return CapacitorElement{input_capacitance, {}, std::nullopt, port_voltage};
}

}  // namespace rampart
