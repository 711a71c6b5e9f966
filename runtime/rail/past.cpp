#include "runtime/rail/past.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <utility>

namespace rampart {
namespace {

// Instants that differ by less, s, are one.
constexpr double kSameInstant = 1e-12;

void add(Past::Means& sum, const Past::Means& term, double factor) {
  sum.voltage += term.voltage * factor;
  sum.current += term.current * factor;
}

}  // namespace

void Past::advance(const circuit::Circuit& circuit, const Instant& from) {
  const circuit::Piece& piece = circuit.piece();
  if (reach_ <= 0 || piece.length <= 0) return;
  const circuit::Signal& voltage = sensed_ ? piece.port_voltage : piece.terminal_voltage;
  const circuit::Signal& current = piece.terminal_current;
  const circuit::Basis& basis = voltage.basis();
  const Means area{piece.length * integral(voltage), piece.length * integral(current)};
  stretches_.push_back(
      {from, piece.length, area, Course{basis.degree(), basis.poles(), voltage.weights(), current.weights()}});
  prune(from.plus_seconds(piece.length));
}

void Past::prune(const Instant& now) {
  const auto is_over = [&](const Stretch& stretch) { return now.since(stretch.begin) - stretch.length > reach_; };
  while (stretches_.size() > 1 && (stretches_.size() > kMostStretches || is_over(stretches_.front()))) {
    stretches_.pop_front();
  }
}

Past::Means Past::tail(const Stretch& stretch, double seconds) {
  if (seconds >= stretch.length) return stretch.area;
  Means sum;
  if (const auto* repeats = std::get_if<Repeats>(&stretch.what)) {
    const double whole = std::floor(seconds / repeats->period);
    sum = tail_of(repeats->body, seconds - whole * repeats->period);
    add(sum, repeats->area, whole);
    return sum;
  }
  const auto& course = std::get<Course>(stretch.what);
  circuit::Basis basis;
  basis.reset(course.degree, course.poles);
  const double share = seconds / stretch.length;
  sum.voltage = stretch.length * integral_of_end(circuit::Signal(basis, course.voltage), share);
  sum.current = stretch.length * integral_of_end(circuit::Signal(basis, course.current), share);
  return sum;
}

template <class Stretches>
Past::Means Past::tail_of(const Stretches& stretches, double seconds) {
  Means sum;
  for (auto stretch = stretches.rbegin(); stretch != stretches.rend() && seconds > 0; ++stretch) {
    add(sum, tail(*stretch, seconds), 1);
    seconds -= stretch->length;
  }
  return sum;
}

std::optional<Past::Means> Past::means(const Instant& from, const Instant& to) const {
  if (stretches_.empty() || stretches_.front().begin.since(from) > kSameInstant) return std::nullopt;
  const double seconds = to.since(from);
  Means means;
  add(means, tail_of(stretches_, seconds), 1 / seconds);
  return means;
}

void Past::repeat(const Instant& from, const Instant& to, std::int64_t times, const Instant& added) {
  const auto first = std::find_if(stretches_.begin(), stretches_.end(),
                                  [&](const Stretch& stretch) { return stretch.begin.since(from) > -kSameInstant; });
  if (first == stretches_.end()) return;
  const double period = to.since(from);
  // Nothing reaches back before the last pass.
  if (period >= reach_) {
    stretches_.erase(stretches_.begin(), first);
    shift(added);
    return;
  }
  Repeats repeats{period, {}, {}};
  for (auto stretch = first; stretch != stretches_.end(); ++stretch) {
    add(repeats.area, stretch->area, 1);
    repeats.body.push_back(std::move(*stretch));
  }
  stretches_.erase(first, stretches_.end());
  const auto count = static_cast<double>(times + 1);
  Means area;
  add(area, repeats.area, count);
  stretches_.push_back({from, period * count, area, std::move(repeats)});
}

void Past::shift(const Instant& by) {
  for (Stretch& stretch : stretches_) stretch.begin = stretch.begin.plus(by);
}

void Past::continue_as(const Past& other, const Instant& by, const Instant& began) {
  stretches_.clear();
  std::copy_if(other.stretches_.begin(), other.stretches_.end(), std::back_inserter(stretches_),
               [&](const Stretch& stretch) { return stretch.begin.since(began) > -kSameInstant; });
  shift(by);
}

}  // namespace rampart
