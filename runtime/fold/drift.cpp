#include "runtime/fold/drift.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace rampart {
namespace {

// Fewer passes are gone through.
constexpr std::int64_t kFewestPasses = 16;
// A change that fades faster than this in a pass is soon over.
constexpr double kSlowest = 0.9;
// Passes to wait at most before looking again.
constexpr std::int64_t kLongestRest = 1024;
// Ends of steps at the same instant, s against the length of the step.
constexpr double kSameLength = 1e-12;
// What is left of fast changes in a pass is nothing below this share of the scales.
constexpr double kAtRest = 2e-14;
// A fast change fades by kSlowest or more in a pass, so all that it still brings is no more than this many times it.
constexpr double kStillToCome = 1 / (1 - kSlowest);
// Trials fit their map to this share of the scales.
constexpr double kSame = 1e-12;
// What rounding leaves in a pass, as a share of the scales.
constexpr double kRounding = 2 * std::numeric_limits<double>::epsilon();
// The map fits if its error over all passes is no more than this share of the scales, or is that of rounding.
constexpr double kMostError = 1e-10;
// No smaller error is reported: coefficients and sums are rounded too.
constexpr double kLeastTold = 1e-13;
// What adds up in a trial pass may be off by this share.
constexpr double kSameSum = 1e-10;

using State = std::vector<double>;

double dot(const State& a, const State& b) {
  double sum = 0;
  for (std::size_t i = 0; i < a.size(); ++i) sum += a[i] * b[i];
  return sum;
}

double size_of(const State& a) {
  double largest = 0;
  for (const double value : a) largest = std::max(largest, std::abs(value));
  return largest;
}

State sum_of(const State& a, double factor, const State& b) {
  State result = a;
  for (std::size_t i = 0; i < result.size(); ++i) result[i] += factor * b[i];
  return result;
}

State times(double factor, const State& a) {
  State result = a;
  for (double& value : result) value *= factor;
  return result;
}

// What the passes of `a` and after them those of `b` come to. All terms have one sign, so nothing cancels.
DriftSums joined(const DriftSums& a, const DriftSums& b) {
  const double kept = 1 - a.lost;
  DriftSums result;
  result.passes = a.passes + b.passes;
  result.lost = a.lost + b.lost - a.lost * b.lost;
  result.distance = a.distance + kept * b.distance;
  result.sum = a.sum + b.passes * a.distance + kept * b.sum;
  result.squares =
      a.squares + b.passes * a.distance * a.distance + 2 * a.distance * kept * b.sum + kept * kept * b.squares;
  return result;
}

// The passes that begin no farther than `distance`.
std::int64_t passes_within(double distance, double loss, std::int64_t most) {
  const double part = loss * distance;
  if (part >= 1) return most;
  const double passes = std::abs(part) < 1e-12 ? distance : std::log1p(-part) / std::log1p(-loss);
  return std::min(most, static_cast<std::int64_t>(std::min(passes * (1 - 1e-12), 1e18)));
}

// Weights of the values at 0, half way and the end that give the sum of a polynomial of second degree over passes:
// `count` of them, whose distances, as shares of the whole, and squares of distances come to `sum` and `squares`.
struct Weights {
  double first = 0;
  double middle = 0;
  double last = 0;

  Weights(double count, double sum, double squares)
      : first(count - 3 * sum + 2 * squares), middle(4 * (sum - squares)), last(2 * squares - sum) {}
};

class DriftSearch {
 public:
  DriftSearch(const State& start, const State& scales, std::int64_t most, const PlayPass& play)
      : start_(start), scales_(scales), most_(most), play_(play) {}

  std::optional<Drift> find() {
    first_ = play_(start_);
    if (!first_ || !find_way() || !measure() || !choose_length() || !is_smooth()) return std::nullopt;
    return drift();
  }

 private:
  // A pass from so many times `step` away, if it goes through the same steps as the first.
  [[nodiscard]] std::optional<TrialPass> pass_at(double distance, const State& step) const {
    State state = start_;
    for (std::size_t i = 0; i < state.size(); ++i) state[i] += distance * step[i] * scales_[i];
    std::optional<TrialPass> pass = play_(state);
    if (pass && !pass->trace.like(first_->trace)) pass.reset();
    return pass;
  }
  // What a pass changes, against the scales.
  [[nodiscard]] State gain(const TrialPass& pass) const {
    State result = start_;
    for (std::size_t i = 0; i < result.size(); ++i) result[i] = pass.gains[i].gained / scales_[i];
    return result;
  }
  [[nodiscard]] State gain_above_first(const TrialPass& pass) const { return sum_of(gain(pass), -1, gain(*first_)); }

  // The change in one pass is small and its direction not exact. So the direction is taken from a pass that begins far
  // off along it, where the fast part of the change has died out, and only the size from the first pass.
  bool find_way() {
    const State change = gain(*first_);
    const double size = size_of(change);
    if (size == 0) return false;
    length_ = std::min(static_cast<double>(most_), 1 / size);
    std::optional<TrialPass> far;
    while (length_ >= kFewestPasses && !(far = pass_at(length_, change))) length_ /= 2;
    if (!far) return false;
    const State slow = sum_of(change, 1 / length_, gain_above_first(*far));
    choose_gauge(slow);
    if (slow[gauge_] == 0) return false;
    step_ = times(change[gauge_] / slow[gauge_], slow);
    unrest_ = size_of(sum_of(change, -1, step_));
    return unrest_ <= kAtRest;
  }

  // The number of the state that tells the distance best: one that moves up and down within a pass carries the rounding
  // of that movement.
  void choose_gauge(const State& slow) {
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < slow.size(); ++i) {
      const double noise = first_->gains[i].moved / scales_[i] / std::abs(slow[i]);
      if (noise < least) {
        least = noise;
        gauge_ = i;
      }
    }
  }

  bool measure() {
    last_ = pass_at(length_, step_);
    if (!last_) return false;
    const State more = gain_above_first(*last_);
    loss_ = -more[gauge_] / (length_ * step_[gauge_]);
    off_ = size_of(sum_of(more, length_ * loss_, step_));
    return loss_ > -1e-6 && loss_ < 1 - kSlowest;
  }

  // As far as a pass takes the same steps. All passes between two that do so do too, since what decides about a step is
  // affine in the distance.
  bool choose_length() {
    const double end = drift_sums(loss_, most_).distance;
    if (std::optional<TrialPass> far = pass_at(end, step_)) {
      last_ = std::move(far);
      length_ = end;
    }
    passes_ = end <= length_ ? most_ : passes_within(length_, loss_, most_);
    if (passes_ < kFewestPasses) return false;
    sums_ = drift_sums(loss_, passes_);
    return off_ <= 16 * kRounding || off_ * sums_.distance <= kMostError;
  }

  // Whether the trials in between are what the ends say they should be.
  bool is_smooth() {
    middle_ = pass_at(length_ / 2, step_);
    std::optional<TrialPass> quarter = pass_at(length_ / 4, step_);
    if (!middle_ || !quarter) return false;
    const State bend = sum_of(gain_above_first(*middle_), -0.5, gain_above_first(*last_));
    if (size_of(bend) > kSame) return false;
    for (const TrialPass* pass : {&*middle_, &*quarter}) {
      for (std::size_t i = 0; i < pass->peaks.size(); ++i) {
        if (pass->peaks[i] > std::max(first_->peaks[i], last_->peaks[i]) * (1 + 1e-9)) return false;
      }
    }
    return sums_fit(quarter->sums, Weights(1, 0.25, 0.0625));
  }

  [[nodiscard]] bool sums_fit(const RailSums& played, const Weights& weights) const {
    const std::vector<double> expected = added(weights).values();
    const std::vector<double> found = played.values();
    const std::vector<double> low = first_->sums.values();
    const std::vector<double> high = last_->sums.values();
    const double noise = 1e-13 * std::max(size_of(low), size_of(high));
    for (std::size_t i = 0; i < found.size(); ++i) {
      const double size = std::max({std::abs(found[i]), std::abs(low[i]), std::abs(high[i])});
      if (std::abs(expected[i] - found[i]) > kSameSum * size + noise) return false;
    }
    return true;
  }

  [[nodiscard]] RailSums added(const Weights& weights) const {
    RailSums sums(first_->sums.elements.size());
    sums.add(first_->sums, weights.first);
    sums.add(middle_->sums, weights.middle);
    sums.add(last_->sums, weights.last);
    return sums;
  }

  [[nodiscard]] Drift drift() const {
    const Weights weights(sums_.passes, sums_.sum / length_, sums_.squares / (length_ * length_));
    Drift result{passes_, start_, added(weights), error()};
    for (std::size_t i = 0; i < start_.size(); ++i) result.end[i] += sums_.distance * step_[i] * scales_[i];
    return result;
  }

  // Four times what a pass is off by, over all passes, what fast changes still bring, and the rounding of the answer.
  [[nodiscard]] double error() const {
    const double moved = std::max(first_->gains[gauge_].moved, last_->gains[gauge_].moved) / scales_[gauge_];
    const double noise = kRounding * moved * size_of(step_) / std::abs(step_[gauge_]);
    return 4 * (std::max(off_, noise) * sums_.distance + kStillToCome * unrest_ + kRounding);
  }

  const State& start_;
  const State& scales_;
  std::int64_t most_;
  const PlayPass& play_;
  std::optional<TrialPass> first_;
  std::optional<TrialPass> middle_;
  std::optional<TrialPass> last_;
  State step_;             // of the first pass, against the scales
  std::size_t gauge_ = 0;  // the number that it is measured by
  double length_ = 0;      // from the first pass to the last, in steps
  double loss_ = 0;        // how much less far the next step goes
  double unrest_ = 0;      // what of the first pass is no part of its step
  double off_ = 0;         // what the last pass left the way
  std::int64_t passes_ = 0;
  DriftSums sums_;
};

}  // namespace

bool PassTrace::like(const PassTrace& other) const {
  return rails == other.rails && ways == other.ways &&
         std::equal(lengths.begin(), lengths.end(), other.lengths.begin(), other.lengths.end(),
                    [](double a, double b) { return std::abs(a - b) <= kSameLength * std::max(a, b) + 1e-15; });
}

DriftSums drift_sums(double loss, std::int64_t passes) {
  DriftSums result;
  DriftSums power{1, loss, 1, 0, 0};
  for (; passes > 0; passes /= 2) {
    if (passes % 2 == 1) result = joined(result, power);
    power = joined(power, power);
  }
  return result;
}

std::optional<Drift> find_drift(const State& start, const State& scales, std::int64_t most, const PlayPass& play) {
  if (most < kFewestPasses) return std::nullopt;
  return DriftSearch(start, scales, most, play).find();
}

double told_error(double error) {
  if (error == 0) return 0;
  double told = kLeastTold;
  while (told < error) told *= 10;
  return told;
}

bool DriftWatch::is_due(State change) {
  const State before = std::exchange(last_, std::move(change));
  if (wait_ > 0) {
    --wait_;
    return false;
  }
  if (before.size() != last_.size()) return false;
  const double square = dot(before, before);
  if (square == 0) return false;
  const double fading = dot(last_, before) / square;
  if (fading < kSlowest || fading > 2) return false;
  return size_of(sum_of(last_, -fading, before)) <= 0.1 * size_of(last_);
}

void DriftWatch::not_found() {
  wait_ = rest_;
  rest_ = std::min(2 * rest_, kLongestRest);
}

}  // namespace rampart
