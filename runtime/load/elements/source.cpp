#include "runtime/load/elements/source.h"

#include "runtime/load/elements/branch.h"
#include "runtime/load/elements/element_kind.h"

namespace rampart {
namespace {

using circuit::BranchOf;
using circuit::Flow;

class SourceBranch final : public BranchOf<SourceBranch> {
 public:
  explicit SourceBranch(const SourceElement& part) : part_(part) {}
  Flow flow(double volts, const double*) const override {
    return {(volts - part_.voltage.nominal) / part_.resistance.nominal, 1 / part_.resistance.nominal};
  }

 private:
  SourceElement part_;
};

}  // namespace

const ElementKind<SourceElement>& SourceElement::kind() {
  using Field = ElementField<SourceElement>;
  static const ElementKind<SourceElement> kKind{
      "source",
      "{kind: source, voltage: 5 V +- 5 %, resistance: 1 Ohm}",
      {
          Field::required("voltage", &SourceElement::voltage, dimension::kVoltage, Bound::NotNegative),
          Field::required("resistance", &SourceElement::resistance, dimension::kResistance, Bound::Positive),
      }};
  return kKind;
}

circuit::LinearPart SourceElement::linear() const {
  return circuit::Source{voltage.nominal, resistance.nominal};
}

std::unique_ptr<circuit::Branch> SourceElement::branch() const {
  return std::make_unique<SourceBranch>(*this);
}

}  // namespace rampart
