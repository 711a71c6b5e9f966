#pragma once

#include <cstdint>
#include <vector>

#include "runtime/predict/spread/runner.h"

namespace rampart::spread {

inline constexpr std::int64_t kMostSamples = 100'000;

struct SampleOptions {
  std::int64_t count = 0;  // 1 … kMostSamples
  std::uint64_t seed = 1;
};

// A part of all runs, with the exact 95 % confidence interval of C. J. Clopper and E. S. Pearson, Biometrika 26 (1934)
// for the share in all devices and benches that are spread like this.
struct Share {
  std::int64_t runs = 0;
  double share = 0;
  double low = 0;
  double high = 0;
};
[[nodiscard]] Share share_of(std::int64_t runs, std::int64_t all);

struct Spread {
  std::int64_t runs = 0;  // that have a value; the rest is 0 where none has
  double mean = 0;
  double least = 0;
  double p5 = 0;
  double p50 = 0;
  double p95 = 0;
  double most = 0;
};

// Quantile of sorted values, straight between neighbours: type 7 of R. J. Hyndman and Y. Fan, "Sample quantiles in
// statistical packages", The American Statistician 50 (1996).
[[nodiscard]] double quantile(const std::vector<double>& sorted, double share);

struct SampleReading {
  double nominal = 0;
  Spread spread;
  Share failing;  // rules and expectations
};

struct Sample {
  SampleOptions options;
  std::vector<SampleReading> readings;  // in the order of the ledger
  Share failing;                        // with anything that is an error
  std::vector<Share> trips;             // by rail
};

// Every value is drawn by itself, evenly between its ends: what to assume where only the ends are known (JCGM 101:2008,
// 6.4.2; from memory). Runs are drawn one after another from the seed.
[[nodiscard]] Sample try_sample(const Runner& runner, const SampleOptions& options, const Job& job = {});
// What a part of the runs that this takes comes to.
[[nodiscard]] Results sample_part(const Runner& runner, const SampleOptions& options, const Part& part,
                                  const Job& job = {});

}  // namespace rampart::spread
