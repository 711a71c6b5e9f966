#include "runtime/load/elements/constant_current.h"

#include "runtime/load/elements/branch.h"
#include "runtime/load/elements/element_kind.h"

namespace rampart {
namespace {

using circuit::BranchOf;
using circuit::Flow;
using circuit::kKneeVolts;
using circuit::step_flow;

class ConstantCurrentBranch final : public BranchOf<ConstantCurrentBranch> {
 public:
  ConstantCurrentBranch(double current, double from) : current_(current), from_(from) {}
  Flow flow(double volts, const double*) const override { return step_flow(current_, from_, volts); }
  std::vector<double> corners() const override { return {from_, from_ + kKneeVolts}; }

 private:
  double current_;
  double from_;
};

}  // namespace

const ElementKind<ConstantCurrentElement>& ConstantCurrentElement::kind() {
  using Field = ElementField<ConstantCurrentElement>;
  static const ElementKind<ConstantCurrentElement> kKind{
      "constant_current",
      "{kind: constant_current, current: 600 mA +- 10 %}",
      {
          Field::required("current", &ConstantCurrentElement::current, dimension::kCurrent, Bound::NotNegative),
          Field::optional("from", &ConstantCurrentElement::from, dimension::kVoltage, Bound::NotNegative),
      }};
  return kKind;
}

std::unique_ptr<circuit::Branch> ConstantCurrentElement::branch() const {
  return std::make_unique<ConstantCurrentBranch>(current.nominal, from);
}

}  // namespace rampart
