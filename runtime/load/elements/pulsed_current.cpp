#include "runtime/load/elements/pulsed_current.h"

#include <algorithm>

#include "runtime/load/elements/branch.h"
#include "runtime/load/elements/element_kind.h"

namespace rampart {
namespace {

using circuit::BranchOf;
using circuit::Flow;
using circuit::kKneeVolts;
using circuit::kSameTime;
using circuit::Memory;
using circuit::step_flow;

class PulsedBranch final : public BranchOf<PulsedBranch> {
 public:
  explicit PulsedBranch(const PulsedCurrentElement& part) : part_(part), left_(part.on) {}
  Flow flow(double volts, const double*) const override {
    const double share = is_mean_ ? part_.on / part_.period : on_ ? 1 : 0;
    return step_flow(part_.rest + share * (part_.current.nominal - part_.rest), part_.from, volts);
  }
  std::vector<double> corners() const override { return {part_.from, part_.from + kKneeVolts}; }
  bool switch_at(double, double*) override {
    if (left_ > kSameTime) return false;
    if (part_.period > part_.on) on_ = !on_;
    left_ += on_ ? part_.on : part_.period - part_.on;
    return true;
  }
  double next_change() const override { return std::max(left_, 0.0); }
  std::optional<double> period() const override { return part_.period; }
  void pass_time(double seconds) override { left_ -= seconds; }
  void stand_still(double*) override { is_mean_ = true; }
  void go_on() override { is_mean_ = false; }
  std::optional<Memory> memory() const override {
    const std::size_t way = is_mean_ ? 0 : on_ ? 1 : 2;
    // The clock has gone through many pulses, each with its rounding.
    return Memory{way, left_, 100 * part_.period};
  }

 private:
  PulsedCurrentElement part_;
  bool on_ = true;
  bool is_mean_ = false;  // it draws the mean of its pulses
  double left_;           // s until it changes
};

void check(const PulsedCurrentElement& element, const ElementPlace& place) {
  if (element.on <= element.period) return;
  place.conflict("on", to_text(element.on, "s"), "period", to_text(element.period, "s"))
      .hint("a pulse lasts no longer than its period");
}

}  // namespace

const ElementKind<PulsedCurrentElement>& PulsedCurrentElement::kind() {
  using Field = ElementField<PulsedCurrentElement>;
  static const ElementKind<PulsedCurrentElement> kKind{
      "pulsed_current",
      "{kind: pulsed_current, current: 500 mA +- 10 %, on: 10 ms, period: 100 ms}",
      {
          Field::required("current", &PulsedCurrentElement::current, dimension::kCurrent, Bound::NotNegative),
          Field::required("on", &PulsedCurrentElement::on, dimension::kTime, Bound::Positive),
          Field::required("period", &PulsedCurrentElement::period, dimension::kTime, Bound::Positive),
          Field::optional("from", &PulsedCurrentElement::from, dimension::kVoltage, Bound::NotNegative),
          Field::optional("rest", &PulsedCurrentElement::rest, dimension::kCurrent, Bound::NotNegative),
      },
      check};
  return kKind;
}

std::unique_ptr<circuit::Branch> PulsedCurrentElement::branch() const {
  return std::make_unique<PulsedBranch>(*this);
}

std::optional<CapacitorElement> PulsedCurrentElement::left_when_off(double /*port_voltage*/) const {
  return std::nullopt;
}

}  // namespace rampart
