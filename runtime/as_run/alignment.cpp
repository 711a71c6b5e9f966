#include "runtime/as_run/alignment.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <tuple>
#include <utility>

namespace rampart::as_run {
namespace {

// Planned edges that vote for a shift, places that are looked at closer, and rounds of the robust fit.
constexpr std::size_t kVoters = 80;
constexpr std::size_t kCandidates = 12;
constexpr int kRounds = 8;
// A run that shows fewer of its edges, of those that the log covers, was not found.
constexpr double kLeastMatched = 0.3;
constexpr double kClockSpread = kMostClockError / 2;
// By how much the rest of a run may be late, s.
constexpr double kMostLate = 1;

using Key = std::tuple<std::size_t, std::size_t, bool>;

Key key_of(const Edge& edge) {
  return {edge.rail, edge.level, edge.rising};
}

// A planned edge and the measured one that it is taken for.
struct Match {
  std::size_t segment = 0;
  double planned = 0;   // from the start of its segment
  double measured = 0;  // of the log
  double width = 0;     // between the readings around it
};

struct Matching {
  double start = 0;  // of the segment, in the log
  double clock_error = 0;
  std::vector<Match> matches;
  std::size_t missed = 0;
  std::size_t extra = 0;
  std::size_t unlogged = 0;  // planned edges outside the log
  std::size_t outside = 0;   // measured edges outside the run
  // A log may be cut short, and it may hold more than the run. Edges that lack their partners on both sides speak for
  // another place.
  [[nodiscard]] double score() const {
    return static_cast<double>(matches.size()) - static_cast<double>(missed) - static_cast<double>(extra) -
           static_cast<double>(std::min(unlogged, outside));
  }
};

// Least squares for a shift and a rate, of which it is known beforehand that it is small.
class Line {
 public:
  explicit Line(double error) : error_(error) {}

  void add(double x, double y, double weight = 1) {
    sum_ += weight;
    x_ += weight * x;
    y_ += weight * y;
    xx_ += weight * x * x;
    xy_ += weight * x * y;
  }
  [[nodiscard]] double rate() const {
    const double prior = error_ * error_ / (kClockSpread * kClockSpread);
    const double rate = sum_ > 0 ? (xy_ - x_ * y_ / sum_) / (xx_ - x_ * x_ / sum_ + prior) : 0;
    return std::clamp(rate, -kMostClockError, kMostClockError);
  }
  [[nodiscard]] double at_zero(double rate) const { return sum_ > 0 ? (y_ - rate * x_) / sum_ : 0; }
  // Sum of the squares of x around their mean, with the prior.
  [[nodiscard]] double spread() const {
    return (sum_ > 0 ? xx_ - x_ * x_ / sum_ : 0) + error_ * error_ / (kClockSpread * kClockSpread);
  }
  [[nodiscard]] double weight() const { return sum_; }

 private:
  double error_;
  double sum_ = 0;
  double x_ = 0;
  double y_ = 0;
  double xx_ = 0;
  double xy_ = 0;
};

class Aligner {
 public:
  Aligner(const std::vector<Edge>& planned, const std::vector<Edge>& measured,
          const std::vector<PlannedSegment>& segments, const EdgeBlur& blur, double from, double to)
      : segments_(segments), from_(from), to_(to), measured_(measured), by_segment_(segments.size()) {
    for (const Edge& edge : measured) by_key_[key_of(edge)].push_back(edge);
    for (const Edge& edge : planned) {
      std::size_t segment = segments.size() - 1;
      while (segment > 0 && edge.time < segments[segment].start_s) --segment;
      by_segment_[segment].push_back(edge);
      by_segment_[segment].back().time -= segments[segment].start_s;
    }
    for (const std::vector<Edge>& edges : by_segment_) has_edges_ = has_edges_ || !edges.empty();
    // Readings so far apart that an edge could be taken for the one of another pass: it lies between its two readings.
    const double searched = std::min(3 * blur.interval, least_spacing() / 4);
    tolerance_ = std::max(searched, 0.75 * blur.interval) + 2 * blur.other + 0.005;
    window_ = std::max(searched, 1.1 * blur.interval) + 2 * blur.other + 0.005;
  }

  AlignmentResult align(const std::optional<double>& shift) {
    AlignmentResult result;
    if (shift) {
      std::vector<Matching> found{match(0, *shift)};
      found.front().start = *shift;
      found.front().clock_error = 0;
      result.alignment = finish(0, std::move(found), true);
      return result;
    }
    if (!has_edges_) {
      result.unaligned.why = "it has no voltage of a rail that changes; give the start of the run with --shift";
      return result;
    }
    std::size_t first = 0;
    while (by_segment_[first].empty()) ++first;
    std::vector<Matching> ranked = candidates(first, from_ - segments_[first].length_s, to_);
    if (ranked.empty() || !is_found(ranked.front())) {
      result.unaligned.why = measured_.empty() ? "the log has no voltage edge" : found_text(ranked);
      return result;
    }
    const Matching* best = &ranked.front();
    for (const Matching& other : ranked) {
      if (std::abs(other.start - best->start) < 2 * tolerance_ || other.score() < best->score()) continue;
      if (is_rest_late(*best, other)) continue;
      if (!is_rest_late(other, *best)) {
        result.unaligned.either = std::minmax(best->start, other.start);
        return result;
      }
      best = &other;
    }
    result.alignment = finish(first, {*best}, false);
    return result;
  }

 private:
  [[nodiscard]] static std::string found_text(const std::vector<Matching>& ranked) {
    const std::size_t matched = ranked.empty() ? 0 : ranked.front().matches.size();
    return "the best place has " + std::to_string(matched) + " of " +
           std::to_string(matched + (ranked.empty() ? 0 : ranked.front().missed)) + " edges";
  }

  [[nodiscard]] static bool is_found(const Matching& matching) {
    const auto matched = static_cast<double>(matching.matches.size());
    const double all = matched + static_cast<double>(matching.missed);
    return matched >= std::min(2.0, all) && matched > 0 && matched >= kLeastMatched * all;
  }

  // One place has the first edges of the run and the other, a little later, those that come after: rows are late, not
  // early.
  [[nodiscard]] static bool is_rest_late(const Matching& early, const Matching& late) {
    return late.start > early.start && late.start - early.start <= kMostLate && !early.matches.empty() &&
           !late.matches.empty() && early.matches.back().planned < late.matches.front().planned;
  }

  // Between planned edges of one kind, s.
  [[nodiscard]] double least_spacing() const {
    double least = std::numeric_limits<double>::infinity();
    for (const std::vector<Edge>& edges : by_segment_) {
      std::map<Key, double> last;
      for (const Edge& edge : edges) {
        const auto [before, is_first] = last.try_emplace(key_of(edge), edge.time);
        if (!is_first) least = std::min(least, edge.time - before->second);
        before->second = edge.time;
      }
    }
    return least;
  }

  // The measured edge of this kind that is nearest to a time.
  [[nodiscard]] const Edge* nearest(const Key& key, double time) const {
    const auto found = by_key_.find(key);
    if (found == by_key_.end()) return nullptr;
    const std::vector<Edge>& edges = found->second;
    const auto after = std::lower_bound(edges.begin(), edges.end(), time,
                                        [](const Edge& edge, double value) { return edge.time < value; });
    if (after == edges.begin()) return &*after;
    const auto before = after - 1;
    if (after == edges.end() || time - before->time <= after->time - time) return &*before;
    return &*after;
  }

  // Goes through a segment that begins at `start`, following the clock from edge to edge.
  [[nodiscard]] Matching match(std::size_t segment, double start) const {
    Matching result;
    Line line(tolerance_ / 3);
    double shift = start;
    double rate = 0;
    double last = 0;
    for (const Edge& edge : by_segment_[segment]) {
      const double expected = shift + (1 + rate) * edge.time;
      const double tolerance = tolerance_ + kMostClockError * (edge.time - last);
      if (expected < from_ || expected > to_) {
        ++result.unlogged;
        continue;
      }
      const Edge* found = nearest(key_of(edge), expected);
      if (found == nullptr || std::abs(found->time - expected) > tolerance) {
        // At an end of the log it may just not be in it.
        if (expected > from_ + tolerance && expected < to_ - tolerance) ++result.missed;
        continue;
      }
      result.matches.push_back({segment, edge.time, found->time, found->late - found->early});
      line.add(edge.time, found->time - edge.time - start);
      rate = line.rate();
      shift = start + line.at_zero(rate);
      last = edge.time;
    }
    result.start = result.matches.empty() ? start : shift;
    result.clock_error = rate;
    const double end = result.start + (1 + rate) * segments_[segment].length_s;
    std::size_t within = 0;
    for (const Edge& edge : measured_) within += edge.time > result.start && edge.time < end ? 1 : 0;
    result.extra = within - std::min(within, result.matches.size());
    result.outside = measured_.size() - within;
    return result;
  }

  // Places of a segment that many differences of edges vote for, the best first.
  [[nodiscard]] std::vector<Matching> candidates(std::size_t segment, double from, double to) const {
    const std::vector<Edge>& edges = by_segment_[segment];
    std::vector<double> votes;
    for (std::size_t i = 0; i < edges.size() && i < kVoters; ++i) {
      // Later edges are blurred by the clock.
      if (kMostClockError * (edges[i].time - edges.front().time) > tolerance_) break;
      const auto found = by_key_.find(key_of(edges[i]));
      if (found == by_key_.end()) continue;
      for (const Edge& edge : found->second) {
        const double start = edge.time - edges[i].time;
        if (start >= from - tolerance_ && start <= to + tolerance_) votes.push_back(start);
      }
    }
    std::sort(votes.begin(), votes.end());
    struct Place {
      std::size_t count;
      double start;
    };
    std::vector<Place> places;
    std::size_t end = 0;
    for (std::size_t i = 0; i < votes.size(); ++i) {
      while (end < votes.size() && votes[end] <= votes[i] + window_) ++end;
      places.push_back({end - i, votes[i + (end - i) / 2]});
    }
    std::stable_sort(places.begin(), places.end(), [](const Place& a, const Place& b) { return a.count > b.count; });
    std::vector<Matching> result;
    std::vector<double> taken;
    for (const Place& place : places) {
      if (result.size() == kCandidates) break;
      const bool is_near = std::any_of(taken.begin(), taken.end(),
                                       [&](double start) { return std::abs(start - place.start) < window_; });
      if (is_near) continue;
      taken.push_back(place.start);
      result.push_back(match(segment, place.start));
    }
    std::stable_sort(result.begin(), result.end(),
                     [](const Matching& a, const Matching& b) { return a.score() > b.score(); });
    return result;
  }

  // Goes on from the segments that were found, one after another, and fits all together.
  [[nodiscard]] Alignment finish(std::size_t first, std::vector<Matching> found, bool is_given) {
    Alignment result;
    result.starts.resize(segments_.size());
    result.starts[first] = {found.front().start, true};
    const double rate = 1 + found.front().clock_error;
    for (std::size_t i = first; i-- > 0;) {
      result.starts[i].log_s = result.starts[i + 1].log_s - rate * (segments_[i].length_s + segments_[i].usual_wait_s);
    }
    for (std::size_t i = first + 1; i < segments_.size(); ++i) {
      const PlannedSegment& before = segments_[i - 1];
      const double end = result.starts[i - 1].log_s + rate * before.length_s;
      std::vector<Matching> ranked;
      if (!by_segment_[i].empty()) ranked = candidates(i, end, end + before.longest_wait_s);
      if (ranked.empty() || !is_found(ranked.front())) {
        result.starts[i] = {end + rate * before.usual_wait_s, false};
        if (!ranked.empty()) result.missed += ranked.front().missed + ranked.front().matches.size();
        continue;
      }
      result.starts[i] = {ranked.front().start, true};
      found.push_back(std::move(ranked.front()));
    }
    std::vector<Match> matches;
    for (const Matching& matching : found) {
      matches.insert(matches.end(), matching.matches.begin(), matching.matches.end());
      result.missed += matching.missed;
      result.extra += matching.extra;
    }
    result.matched = matches.size();
    fit(matches, found.front().clock_error, is_given, result);
    return result;
  }

  // Robust least squares: Tukey's biweight, with the median deviation of what counts as scale (P. J. Huber,
  // E. M. Ronchetti, "Robust Statistics", 2009). It begins with the edges that most agree on, not with all: a half that
  // is late is to be late, and not the whole a little.
  void fit(const std::vector<Match>& matches, double first_rate, bool is_given, Alignment& result) const {
    if (matches.empty()) {
      result.uncertainty_s = tolerance_;
      return;
    }
    double least_scale = 0;
    for (const Match& match : matches) least_scale += match.width / 6 / static_cast<double>(matches.size());
    least_scale = std::max(least_scale, 1e-7);
    std::vector<double> weights = agreeing(matches, first_rate, 6 * least_scale + 0.002);
    double scale = least_scale;
    double rate = first_rate;
    double spread = 1;
    double sum = 0;
    for (int round = 0; round < kRounds; ++round) {
      std::vector<Line> lines(segments_.size(), Line(scale));
      for (std::size_t i = 0; i < matches.size(); ++i) {
        const Match& match = matches[i];
        lines[match.segment].add(match.planned, match.measured - match.planned, weights[i]);
      }
      pool(lines, rate, spread);
      std::vector<double> deviations;
      std::vector<double> sizes;
      for (std::size_t i = 0; i < matches.size(); ++i) {
        const Match& match = matches[i];
        const double start =
            is_given && match.segment == 0 ? result.starts[0].log_s : lines[match.segment].at_zero(rate);
        deviations.push_back(match.measured - match.planned * (1 + rate) - start);
        if (weights[i] > 0) sizes.push_back(std::abs(deviations.back()));
      }
      if (!sizes.empty()) {
        const auto middle = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2);
        std::nth_element(sizes.begin(), middle, sizes.end());
        scale = std::max(1.4826 * *middle, least_scale);
      }
      sum = 0;
      for (std::size_t i = 0; i < matches.size(); ++i) {
        const double share = deviations[i] / (4.685 * scale);
        weights[i] = std::abs(share) < 1 ? (1 - share * share) * (1 - share * share) : 0;
        sum += weights[i];
      }
      for (std::size_t i = 0; i < segments_.size(); ++i) {
        if (lines[i].weight() > 0 && !(is_given && i == 0)) result.starts[i].log_s = lines[i].at_zero(rate);
      }
    }
    result.clock_error = rate;
    const double count = std::max(1.0, sum / static_cast<double>(segments_.size()));
    result.uncertainty_s = (3 * scale + 3 * least_scale) / std::sqrt(count);
    result.clock_uncertainty = std::min(kMostClockError, 3 * scale / std::sqrt(spread));
  }

  // 1 for the matches of each segment that lie within `width` of each other, where most do; of several such places the
  // earliest: rows come late, not early. 0 for the others.
  [[nodiscard]] std::vector<double> agreeing(const std::vector<Match>& matches, double rate, double width) const {
    std::vector<double> weights(matches.size(), 0);
    for (std::size_t segment = 0; segment < segments_.size(); ++segment) {
      std::vector<std::pair<double, std::size_t>> shifts;
      for (std::size_t i = 0; i < matches.size(); ++i) {
        if (matches[i].segment == segment)
          shifts.emplace_back(matches[i].measured - matches[i].planned * (1 + rate), i);
      }
      std::sort(shifts.begin(), shifts.end());
      std::size_t best = 0;
      std::size_t most = 0;
      std::size_t end = 0;
      for (std::size_t i = 0; i < shifts.size(); ++i) {
        while (end < shifts.size() && shifts[end].first <= shifts[i].first + width) ++end;
        if (end - i > most) {
          most = end - i;
          best = i;
        }
      }
      for (std::size_t i = best; i < best + most; ++i) weights[shifts[i].second] = 1;
    }
    return weights;
  }

  // One rate for all segments, each with its own start.
  static void pool(const std::vector<Line>& lines, double& rate, double& spread) {
    double above = 0;
    double below = 0;
    for (const Line& line : lines) {
      if (line.weight() <= 0) continue;
      above += line.rate() * line.spread();
      below += line.spread();
    }
    rate = below > 0 ? above / below : 0;
    spread = std::max(below, 1e-30);
  }

  const std::vector<PlannedSegment>& segments_;
  double from_;
  double to_;
  const std::vector<Edge>& measured_;
  std::map<Key, std::vector<Edge>> by_key_;
  std::vector<std::vector<Edge>> by_segment_;
  double tolerance_ = 0;  // of a match
  double window_ = 0;     // of votes for one place
  bool has_edges_ = false;
};

}  // namespace

AlignmentResult align(const std::vector<Edge>& planned, const std::vector<Edge>& measured,
                      const std::vector<PlannedSegment>& segments, const EdgeBlur& blur, double from, double to,
                      const std::optional<double>& shift) {
  return Aligner(planned, measured, segments, blur, from, to).align(shift);
}

}  // namespace rampart::as_run
