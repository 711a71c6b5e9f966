#include "runtime/load/elements/inductor.h"

#include "runtime/load/elements/branch.h"
#include "runtime/load/elements/element_kind.h"

namespace rampart {
namespace {

using circuit::BranchOf;
using circuit::Flow;
using circuit::Slopes;

class InductorBranch final : public BranchOf<InductorBranch> {
 public:
  explicit InductorBranch(const InductorElement& part) : part_(part) {}
  std::size_t state_count() const override { return 1; }
  void start(double* state) const override { state[0] = part_.initial_current; }
  Flow flow(double, const double* state) const override { return {state[0], 0}; }
  void rates(double volts, const double* state, double* rates) const override {
    rates[0] = (volts - part_.resistance.nominal * state[0]) / part_.inductance.nominal;
  }
  Slopes slopes(double, const double*) const override {
    return {1, 1 / part_.inductance.nominal, -part_.resistance.nominal / part_.inductance.nominal};
  }
  double flow_rate(double, double, const double*, const double* rates) const override { return rates[0]; }
  double held(double, const double* state) const override { return state[0]; }
  double stored(const double* state) const override { return part_.inductance.nominal * state[0] * state[0] / 2; }
  double stored_slope(const double* state) const override { return part_.inductance.nominal * state[0]; }
  double loss(double, const double* state) const override { return part_.resistance.nominal * state[0] * state[0]; }
  bool is_inductor() const override { return true; }

 private:
  InductorElement part_;
};

}  // namespace

const ElementKind<InductorElement>& InductorElement::kind() {
  using Field = ElementField<InductorElement>;
  static const ElementKind<InductorElement> kKind{
      "inductor",
      "{kind: inductor, inductance: 10 mH +- 10 %, resistance: 2 Ohm}",
      {
          Field::required("inductance", &InductorElement::inductance, dimension::kInductance, Bound::Positive),
          Field::required("resistance", &InductorElement::resistance, dimension::kResistance, Bound::NotNegative),
          Field::optional("initial_current", &InductorElement::initial_current, dimension::kCurrent,
                          Bound::NotNegative),
      }};
  return kKind;
}

circuit::LinearPart InductorElement::linear() const {
  return circuit::Inductor{inductance.nominal, resistance.nominal, initial_current};
}

std::unique_ptr<circuit::Branch> InductorElement::branch() const {
  return std::make_unique<InductorBranch>(*this);
}

}  // namespace rampart
