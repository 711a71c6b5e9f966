#pragma once

#include <optional>
#include <string>
#include <vector>

#include "runtime/as_run/edges.h"

// Where a run lies in its log: one shift, and how fast the log's clock goes.
namespace rampart::as_run {

// The clocks of log and supplies differ by no more than this share.
inline constexpr double kMostClockError = 500e-6;

// A segment as the table has it. Times of the run count its waits as nothing.
struct PlannedSegment {
  double start_s = 0;
  double length_s = 0;
  double longest_wait_s = 0;  // after it
  double usual_wait_s = 0;    // what the profile assumes
};

// What of the measuring blurs an edge, s.
struct EdgeBlur {
  double interval = 0;  // between readings
  double other = 0;     // windows, latencies, switch delays
};

struct Alignment {
  // Of each segment: the time of the log at which it begins, s, and whether an edge says so.
  struct Start {
    double log_s = 0;
    bool observed = false;
  };
  std::vector<Start> starts;
  double clock_error = 0;    // a second of the run is 1 + this of the log
  double uncertainty_s = 0;  // of where a segment begins
  double clock_uncertainty = 0;
  std::size_t matched = 0;  // edges of the prediction that were found
  std::size_t missed = 0;   // that were not, though the log has readings there
  std::size_t extra = 0;    // edges of the log that no edge of the prediction explains
};

// Why there is no alignment.
struct Unaligned {
  std::string why;                                  // empty: it is ambiguous
  std::optional<std::pair<double, double>> either;  // the two shifts
};

struct AlignmentResult {
  std::optional<Alignment> alignment;
  Unaligned unaligned;  // without one
};

// Finds the run in a log by votes of edge differences, then by least squares. `planned` as predicted with the delays of
// the meters added; both by time. `from`, `to`: what the log covers, s. `shift`: where the run begins, known.
[[nodiscard]] AlignmentResult align(const std::vector<Edge>& planned, const std::vector<Edge>& measured,
                                    const std::vector<PlannedSegment>& segments, const EdgeBlur& blur, double from,
                                    double to, const std::optional<double>& shift);

}  // namespace rampart::as_run
