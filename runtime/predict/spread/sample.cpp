#include "runtime/predict/spread/sample.h"

#include <algorithm>
#include <boost/math/distributions/binomial.hpp>
#include <cmath>
#include <random>

namespace rampart::spread {
namespace {

constexpr double kOutside = 0.05;  // of a confidence interval
// Runs drawn at a time.
constexpr std::size_t kBatch = 4'096;
// In the results of parts.
constexpr std::string_view kSample = "sample";

// Evenly from [0, 1), by the bits that a double holds; distributions of the library differ from one to another.
double even(std::mt19937_64& random) {
  return static_cast<double>(random() >> 11) * 0x1p-53;
}

Spread spread_of(std::vector<double> values) {
  Spread spread;
  if (values.empty()) return spread;
  std::sort(values.begin(), values.end());
  spread.runs = static_cast<std::int64_t>(values.size());
  double sum = 0;
  for (const double value : values) sum += value;
  spread.mean = sum / static_cast<double>(values.size());
  spread.least = values.front();
  spread.p5 = quantile(values, 0.05);
  spread.p50 = quantile(values, 0.5);
  spread.p95 = quantile(values, 0.95);
  spread.most = values.back();
  return spread;
}

// `count` more cases.
std::vector<Positions> drawn(std::mt19937_64& random, std::size_t count, std::size_t tolerances) {
  std::vector<Positions> cases(count, Positions(tolerances));
  for (Positions& positions : cases) {
    for (double& position : positions) position = 2 * even(random) - 1;
  }
  return cases;
}

class Tally {
 public:
  explicit Tally(const Runner& runner)
      : values_(runner.ledger().readings().size()),
        fails_(values_.size()),
        trips_(runner.nominal().trips.size()),
        nominal_(runner.nominal()) {}

  void add(const Outcome& outcome) {
    ++runs_;
    failing_ += outcome.failed();
    for (std::size_t i = 0; i < values_.size(); ++i) {
      if (!std::isnan(outcome.values[i])) values_[i].push_back(outcome.values[i]);
      fails_[i] += outcome.fails[i];
    }
    for (std::size_t i = 0; i < trips_.size(); ++i) trips_[i] += outcome.trips[i].has_value();
  }

  void finish(Sample& sample) {
    for (std::size_t i = 0; i < values_.size(); ++i) {
      sample.readings.push_back({nominal_.values[i], spread_of(std::move(values_[i])), share_of(fails_[i], runs_)});
    }
    sample.failing = share_of(failing_, runs_);
    for (const std::int64_t trips : trips_) sample.trips.push_back(share_of(trips, runs_));
  }

 private:
  std::int64_t runs_ = 0;
  std::int64_t failing_ = 0;
  std::vector<std::vector<double>> values_;
  std::vector<std::int64_t> fails_;
  std::vector<std::int64_t> trips_;
  const Outcome& nominal_;
};

}  // namespace

Share share_of(std::int64_t runs, std::int64_t all) {
  using Binomial = boost::math::binomial_distribution<double>;
  const auto successes = static_cast<double>(runs);
  const auto trials = static_cast<double>(all);
  return {runs, successes / trials, Binomial::find_lower_bound_on_p(trials, successes, kOutside / 2),
          Binomial::find_upper_bound_on_p(trials, successes, kOutside / 2)};
}

double quantile(const std::vector<double>& sorted, double share) {
  const double place = share * static_cast<double>(sorted.size() - 1);
  const auto below = static_cast<std::size_t>(std::floor(place));
  const std::size_t above = std::min(below + 1, sorted.size() - 1);
  return sorted[below] + (place - std::floor(place)) * (sorted[above] - sorted[below]);
}

Sample try_sample(const Runner& runner, const SampleOptions& options, const Job& job) {
  Sample sample;
  sample.options = options;
  Tally tally(runner);
  std::mt19937_64 random(options.seed);
  const auto all = static_cast<std::size_t>(options.count);
  for (std::size_t done = 0; done < all; done += kBatch) {
    const std::vector<Positions> cases = drawn(random, std::min(kBatch, all - done), runner.tolerances().size());
    Job part = job;
    if (job.progress) {
      part.progress = [&](std::size_t batch, std::size_t /*of*/) { job.progress(done + batch, all); };
    }
    for (const Outcome& outcome : runner.run_all(cases, kSample, done, part)) tally.add(outcome);
  }
  tally.finish(sample);
  return sample;
}

Results sample_part(const Runner& runner, const SampleOptions& options, const Part& part, const Job& job) {
  std::mt19937_64 random(options.seed);
  const auto all = static_cast<std::size_t>(options.count);
  return runner.run_part(drawn(random, all, runner.tolerances().size()), kSample, part, job);
}

}  // namespace rampart::spread
