#include "runtime/load/elements/resistor.h"

#include "runtime/load/elements/branch.h"
#include "runtime/load/elements/element_kind.h"

namespace rampart {
namespace {

using circuit::BranchOf;
using circuit::Flow;

class ResistorBranch final : public BranchOf<ResistorBranch> {
 public:
  explicit ResistorBranch(double resistance) : conductance_(1 / resistance) {}
  Flow flow(double volts, const double*) const override { return {volts * conductance_, conductance_}; }

 private:
  double conductance_;
};

}  // namespace

const ElementKind<ResistorElement>& ResistorElement::kind() {
  using Field = ElementField<ResistorElement>;
  static const ElementKind<ResistorElement> kKind{
      "resistor",
      "{kind: resistor, resistance: 12 Ohm +- 5 %}",
      {
          Field::required("resistance", &ResistorElement::resistance, dimension::kResistance, Bound::Positive),
      }};
  return kKind;
}

circuit::LinearPart ResistorElement::linear() const {
  return circuit::Resistor{resistance.nominal};
}

std::unique_ptr<circuit::Branch> ResistorElement::branch() const {
  return std::make_unique<ResistorBranch>(resistance.nominal);
}

}  // namespace rampart
