#include "compiler/resolve/expander.h"
#include "lang/findings/resolve.h"
#include "lang/findings/syntax.h"

// A waveform becomes a ramp from point to point, or a step where two points are at one time.
namespace rampart::resolving {

std::optional<Shape> Expander::written_shape(const ast::Waveform& waveform, const Frame& frame) {
  Shape shape;
  bool known = true;
  for (const ast::WaveformPoint& point : waveform.points) {
    const auto time = work_.evaluator.time(point.time, frame);
    const auto voltage = work_.evaluator.quantity(point.voltage, frame, dimension::kVoltage);
    known = known && time && voltage;
    if (known) shape.push_back({*time, Volts{*voltage}, point.span()});
  }
  if (!known) return std::nullopt;
  const auto report = [this](const auto& kind, const Span& place, const auto&... arguments) {
    return work_.reporter.report_value(kind, place, arguments...);
  };
  if (!check_shape(shape, statement_, report)) return std::nullopt;
  return shape;
}

std::optional<Shape> Expander::shape_of(const ast::Waveform& waveform, const Frame& frame) {
  if (!waveform.file) return written_shape(waveform, frame);
  const auto found = work_.options.shapes.find({waveform.file->span.file, waveform.file->span.begin});
  if (found == work_.options.shapes.end() || found->second == nullptr) {
    work_.reporter.fail();
    return std::nullopt;
  }
  return *found->second;
}

void Expander::expand_one(const ast::Waveform& waveform, Frame& frame, Program& out) {
  const auto rail = work_.evaluator.rail(waveform.rail, frame);
  std::optional<Shape> shape = shape_of(waveform, frame);
  std::optional<Rational> scale = Rational(1);
  if (waveform.scale) scale = work_.evaluator.quantity(*waveform.scale, frame, dimension::kNone);
  if (!rail || !shape || !scale || looking_over_) return;
  for (ShapePoint& point : *shape) {
    point.voltage.si = point.voltage.si * *scale;
    if (!point.voltage.si.overflowed()) continue;
    work_.reporter.report_value(finding::NumberTooLarge, waveform.file ? waveform.scale->span() : point.span);
    return;
  }
  for (std::size_t i = 1; i < shape->size() && spend(statements_); ++i) {
    const ShapePoint& point = (*shape)[i];
    Motion motion;
    motion.rail = *rail;
    motion.value = point.voltage.si;
    if (!waveform.file) motion.span = waveform.points[i].voltage.span();
    if (i == 1) motion.stands = Placed<Volts>{shape->front().voltage, shape->front().span};
    const Nanoseconds length = point.time - (*shape)[i - 1].time;
    if (length == Nanoseconds{0}) {
      emit(Jump{{std::move(motion)}}, out);
    } else {
      emit(Ramp{{std::move(motion)}, length}, out);
    }
    out.back().point = point.span;
  }
}

}  // namespace rampart::resolving
