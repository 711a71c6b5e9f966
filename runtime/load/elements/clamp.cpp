#include "runtime/load/elements/clamp.h"

#include <algorithm>

#include "runtime/load/elements/branch.h"
#include "runtime/load/elements/element_kind.h"

namespace rampart {
namespace {

using circuit::BranchOf;
using circuit::Flow;

class ClampBranch final : public BranchOf<ClampBranch> {
 public:
  ClampBranch(double breakdown, double resistance) : breakdown_(breakdown), conductance_(1 / resistance) {}
  Flow flow(double volts, const double*) const override {
    const double beyond = volts - std::clamp(volts, -breakdown_, breakdown_);
    if (beyond == 0) return {0, 0};
    return {beyond * conductance_, conductance_};
  }
  std::vector<double> corners() const override { return {-breakdown_, breakdown_}; }

 private:
  double breakdown_;
  double conductance_;
};

}  // namespace

const ElementKind<ClampElement>& ClampElement::kind() {
  using Field = ElementField<ClampElement>;
  static const ElementKind<ClampElement> kKind{
      "clamp",
      "{kind: clamp, breakdown_voltage: 15 V +- 5 %, dynamic_resistance: 100 mOhm}",
      {
          Field::required("breakdown_voltage", &ClampElement::breakdown_voltage, dimension::kVoltage, Bound::Positive),
          Field::required("dynamic_resistance", &ClampElement::dynamic_resistance, dimension::kResistance,
                          Bound::Positive),
      }};
  return kKind;
}

std::unique_ptr<circuit::Branch> ClampElement::branch() const {
  return std::make_unique<ClampBranch>(breakdown_voltage.nominal, dynamic_resistance.nominal);
}

}  // namespace rampart
