#include "runtime/play/form_curve.h"

namespace rampart {
namespace {

using circuit::Bounds;
using circuit::ProductCurve;
using circuit::SignalCurve;

Bounds scaled(const Bounds& bounds, double factor) {
  return circuit::times(bounds, {factor, factor});
}

}  // namespace

FormCurve::TermCurve FormCurve::curve_of(Signal signal, const RailSignals& rail) {
  const circuit::Piece& piece = *rail.piece;
  switch (signal) {
    case Signal::Voltage:
      return SignalCurve(piece.port_voltage.times(rail.sign));
    case Signal::Current:
      return SignalCurve(piece.terminal_current);
    case Signal::Power:
      return ProductCurve(piece.terminal_voltage, piece.terminal_current, 1, 0);
    case Signal::Slew:
      break;
  }
  const double a_second = piece.length > 0 ? 1 / piece.length : 0;
  return SignalCurve(piece.port_voltage.derivative().times(rail.sign * a_second));
}

FormCurve::FormCurve(const LinearForm& form, double sign, const std::vector<RailSignals>& rails)
    : constant_(sign * form.constant.to_double()) {
  terms_.reserve(form.terms.size());
  for (const Term& term : form.terms) {
    const RailSignals& rail = rails[static_cast<std::size_t>(term.rail)];
    terms_.push_back({sign * term.coefficient.to_double(), curve_of(term.signal, rail)});
  }
}

double FormCurve::value(double t) const {
  double sum = constant_;
  for (const Part& part : terms_) sum += part.factor * part.curve().value(t);
  return sum;
}

double FormCurve::slope(double t) const {
  double sum = 0;
  for (const Part& part : terms_) sum += part.factor * part.curve().slope(t);
  return sum;
}

circuit::ValueAndSlope FormCurve::at(double t) const {
  circuit::ValueAndSlope sum{constant_, 0};
  for (const Part& part : terms_) {
    const auto [value, slope] = part.curve().at(t);
    sum.value += part.factor * value;
    sum.slope += part.factor * slope;
  }
  return sum;
}

Bounds FormCurve::bounds(double from, double to) const {
  Bounds sum{constant_, constant_};
  for (const Part& part : terms_) sum = circuit::plus(sum, scaled(part.curve().bounds(from, to), part.factor));
  return sum;
}

Bounds FormCurve::slope_bounds(double from, double to) const {
  Bounds sum;
  for (const Part& part : terms_) sum = circuit::plus(sum, scaled(part.curve().slope_bounds(from, to), part.factor));
  return sum;
}

double FormCurve::rounding() const {
  double sum = circuit::kRoundingShare * std::abs(constant_);
  for (const Part& part : terms_) sum += std::abs(part.factor) * part.curve().rounding();
  return sum;
}

}  // namespace rampart
