#include "runtime/as_run/course_window.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace rampart::as_run {
namespace {

// More points than this are not kept, however long the window is.
constexpr std::size_t kMostPoints = 500'000;

double value_of(const WaveSample& sample, WaveQuantity quantity) {
  return sample.values[static_cast<std::size_t>(quantity)];
}

}  // namespace

void Band::include(double value) {
  low = std::min(low, value);
  high = std::max(high, value);
}

void Band::include(const Band& other) {
  low = std::min(low, other.low);
  high = std::max(high, other.high);
}

CourseWindow::CourseWindow(const RailWaveform& rail, WaveQuantity voltage, double kept)
    : cursor_(rail), voltage_(voltage), kept_(kept) {}

void CourseWindow::reach(double time) {
  if (time > newest_) newest_ = time;
  while (!is_over_ && (points_.empty() || points_.back().time <= time)) {
    const std::optional<WaveSample> sample = cursor_.next();
    if (!sample) {
      is_over_ = true;
      break;
    }
    Point point;
    point.time = sample->time;
    point.value[0] = value_of(*sample, voltage_);
    point.value[1] = value_of(*sample, WaveQuantity::Current);
    point.limit = value_of(*sample, WaveQuantity::Limit);
    if (!points_.empty()) {
      const Point& last = points_.back();
      for (std::size_t i = 0; i < kMeasured; ++i) {
        point.sum[i] = last.sum[i] + (point.time - last.time) * (last.value[i] + point.value[i]) / 2;
      }
    }
    points_.push_back(point);
  }
  forget_before(newest_ - kept_);
  while (points_.size() > kMostPoints) points_.pop_front();
}

void CourseWindow::forget_before(double time) {
  // The one before stays, as the beginning of its line.
  while (points_.size() > 2 && points_[1].time < time) points_.pop_front();
}

std::size_t CourseWindow::place(double time) const {
  const auto after = std::upper_bound(points_.begin(), points_.end(), time,
                                      [](double value, const Point& point) { return value < point.time; });
  return after == points_.begin() ? 0 : static_cast<std::size_t>(after - points_.begin()) - 1;
}

std::size_t CourseWindow::place_from(std::size_t i, double time) const {
  while (i + 1 < points_.size() && points_[i + 1].time <= time) ++i;
  return i;
}

// At a jump the side before it, or the one after it.
double CourseWindow::value_at(std::size_t i, std::size_t quantity, double time, bool left) const {
  if (left) {
    while (i > 0 && points_[i].time >= time) --i;
    if (points_[i].time >= time) return points_[i].value[quantity];
  }
  const Point& from = points_[i];
  if (time <= from.time || i + 1 == points_.size()) return from.value[quantity];
  const Point& to = points_[i + 1];
  const double length = to.time - from.time;
  if (length <= 0) return to.value[quantity];
  return from.value[quantity] + (to.value[quantity] - from.value[quantity]) * ((time - from.time) / length);
}

double CourseWindow::sum_at(std::size_t i, std::size_t quantity, double time) const {
  const Point& from = points_[i];
  const double since = time - from.time;
  if (since <= 0 || i + 1 == points_.size()) return from.sum[quantity] + since * from.value[quantity];
  return from.sum[quantity] + since * (from.value[quantity] + value_at(i, quantity, time, false)) / 2;
}

Band CourseWindow::values(Measured quantity, double from, double to) {
  reach(to);
  if (points_.empty()) return {};
  const std::size_t q = place_of(quantity);
  const std::size_t first = place(from);
  const std::size_t last = place_from(first, to);
  const double begin = value_at(first, q, from, true);
  Band band{begin, begin};
  band.include(value_at(first, q, from, false));
  band.include(value_at(last, q, to, true));
  band.include(value_at(last, q, to, false));
  for (std::size_t i = first + 1; i < points_.size() && points_[i].time <= to; ++i) {
    band.include(points_[i].value[q]);
  }
  return band;
}

// The mean is a parabola between instants at which either end of the window passes a point: its extremes are at these,
// or where the values at both ends of the window are the same.
Band CourseWindow::means(Measured quantity, double from, double to, double window) {
  if (window <= 0) return values(quantity, from, to);
  reach(to);
  if (points_.empty()) return {};
  const std::size_t q = place_of(quantity);
  // Where the end of the window lies, and its begin.
  std::size_t head = place(from);
  std::size_t tail = place(from - window);
  std::vector<double> ends{from};
  const auto add_points = [&](std::size_t first, double shift) {
    for (std::size_t i = first; i < points_.size() && points_[i].time + shift < to; ++i) {
      if (points_[i].time + shift > from) ends.push_back(points_[i].time + shift);
    }
  };
  // Both come in order.
  add_points(head, 0);
  const auto middle = static_cast<std::ptrdiff_t>(ends.size());
  add_points(tail, window);
  std::inplace_merge(ends.begin(), ends.begin() + middle, ends.end());
  ends.push_back(to);
  const auto mean = [&](double end, std::size_t last, std::size_t first) {
    return (sum_at(last, q, end) - sum_at(first, q, end - window)) / window;
  };
  const double first = mean(from, head, tail);
  Band band{first, first};
  for (std::size_t i = 1; i < ends.size(); ++i) {
    const double a = ends[i - 1];
    const double b = ends[i];
    const double rises_a = value_at(head, q, a, false) - value_at(tail, q, a - window, false);
    const std::size_t head_a = head;
    const std::size_t tail_a = tail;
    head = place_from(head, b);
    tail = place_from(tail, b - window);
    band.include(mean(b, head, tail));
    if (b <= a) continue;
    const double rises_b = value_at(head, q, b, true) - value_at(tail, q, b - window, true);
    if ((rises_a < 0) == (rises_b < 0) || rises_a == rises_b) continue;
    const double turn = a + (b - a) * rises_a / (rises_a - rises_b);
    band.include(mean(turn, place_from(head_a, turn), place_from(tail_a, turn - window)));
  }
  return band;
}

std::optional<bool> CourseWindow::is_on(double from, double to) {
  reach(to);
  if (points_.empty()) return false;
  std::size_t i = place(from);
  const bool first = points_[i].limit != 0;
  for (++i; i < points_.size() && points_[i].time <= to; ++i) {
    if ((points_[i].limit != 0) != first) return std::nullopt;
  }
  return first;
}

double CourseWindow::limit_at(double time) {
  reach(time);
  return points_.empty() ? 0 : points_[place(time)].limit;
}

}  // namespace rampart::as_run
