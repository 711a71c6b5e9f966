#include "runtime/load/elements/iv_curve.h"

#include "runtime/load/elements/branch.h"
#include "runtime/load/elements/element_kind.h"

namespace rampart {
namespace {

using circuit::BranchOf;
using circuit::Flow;

class CurveBranch final : public BranchOf<CurveBranch> {
 public:
  explicit CurveBranch(Points points) : points_(std::move(points)) {}
  Flow flow(double volts, const double*) const override {
    std::size_t next = 1;
    while (next + 1 < points_.size() && volts > points_[next].first) ++next;
    const auto& [v0, i0] = points_[next - 1];
    const auto& [v1, i1] = points_[next];
    const double slope = (i1 - i0) / (v1 - v0);
    return {i0 + slope * (volts - v0), slope};
  }
  std::vector<double> corners() const override {
    std::vector<double> result;
    for (std::size_t i = 1; i + 1 < points_.size(); ++i) result.push_back(points_[i].first);
    return result;
  }

 private:
  Points points_;
};

// A current that falls while the voltage rises leaves more than one state open behind a wire, or none.
void check(const CurveElement& element, const ElementPlace& place) {
  for (std::size_t i = 1; i < element.points.size(); ++i) {
    const double before = element.points[i - 1].second;
    const double current = element.points[i].second;
    if (current >= before) continue;
    place.wrong_point("points", i, "a current that falls from " + to_text(before, "A") + " to " + to_text(current, "A"),
                      "one that never falls while the voltage rises",
                      "for a device that draws less at a higher voltage write `kind: constant_power`");
    return;
  }
}

}  // namespace

const ElementKind<CurveElement>& CurveElement::kind() {
  using Field = ElementField<CurveElement>;
  static const ElementKind<CurveElement> kKind{
      "iv_curve",
      "{kind: iv_curve, points: [[0 V, 0 A], [5 V, 200 mA]]}",
      {
          Field::points("points", &CurveElement::points,
                        {2, {dimension::kVoltage, Bound::Any}, {dimension::kCurrent, Bound::Any}}),
      },
      check};
  return kKind;
}

std::unique_ptr<circuit::Branch> CurveElement::branch() const {
  return std::make_unique<CurveBranch>(points);
}

}  // namespace rampart
