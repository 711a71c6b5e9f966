#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <tuple>
#include <vector>

#include "lang/files/files.h"
#include "lang/findings/finding.h"
#include "lang/job/job.h"
#include "lang/values/quantity.h"
#include "runtime/predict/answer.h"

// Tries a profile at many values of its parameters, one parameter at a time, all others as they are.
namespace rampart::sweep {

// A parameter to vary, and between which values.
struct Vary {
  std::string name;
  Range<Quantity> range;
  std::optional<Quantity> step;  // from the lower end on; none: what the supplies can set
};

enum class Goal : std::uint8_t { LeastValue, GreatestValue, LeastDuration };

struct Find {
  Goal goal{};
  std::string parameter;  // empty with LeastDuration
};

struct Request {
  std::vector<Vary> vary;  // none: all parameters with a range that the caller has not set
  std::optional<Find> find;
};

// What is asked for cannot be done: `option` is where, `what` says why.
struct Refused {
  std::string option;
  std::string what;
};

// "NAME=LOW..HIGH [step S]". Throws Refused.
[[nodiscard]] Vary read_vary(std::string_view text);
// "least" or "greatest", then a parameter or "duration". Throws Refused.
[[nodiscard]] Find read_find(const std::vector<std::string>& words);

// The margin that is the least share of its limit.
struct TightMargin {
  std::string of;  // "fuse of core"
  double margin = 0;
  double limit = 0;
  std::string unit;
};

// What is found at one place under one name is the same mistake, whatever its numbers.
using Mistake = std::tuple<std::string_view, FileId, std::uint32_t, std::uint32_t>;

// What a profile comes to with a parameter at one value. It holds where nothing at error level is found.
struct Trial {
  Quantity value;
  std::vector<Mistake> errors;          // in the order of their names and places, each once
  std::optional<Finding> first_error;   // the first that `check` would print
  std::optional<TightMargin> tightest;  // of the plain run; none without a load
  double duration_s = 0;                // simulated with a load, else as planned; 0 where there is no table

  [[nodiscard]] bool holds() const { return errors.empty(); }
};

// Values that hold, from one to the other. The failing neighbours were tried; none where the range ends.
struct Interval {
  Trial low;
  Trial high;
  std::optional<Trial> below;
  std::optional<Trial> above;
};

// A share of values is tried at first, and the rest where the errors change.
struct ParameterSweep {
  std::string name;
  Range<Quantity> range;
  Trial present;  // the value that it has without the sweep; tried as well
  Quantity step;
  std::optional<Quantity> scan_step;  // the distance of values in the first scan; none: all values were tried
  bool refined = true;                // false: too many changes of errors to follow each down to the step
  std::int64_t tried = 0;
  std::vector<Interval> intervals;  // in rising order
  std::optional<Trial> least_bad;   // with the fewest errors, where nothing holds
};

// The value that was asked for.
struct Best {
  std::size_t parameter = 0;  // in Sweep::parameters
  Trial trial;
  std::string setting;          // "ramp=3.5ms", as --set takes it
  std::optional<Trial> beyond;  // the neighbour that fails; none where the range ends, and for the duration
  bool confirmed = false;       // the profile was compiled again from its text, with the setting, and holds
  Answer answer;                // what it came to
};

struct Sweep {
  Answer base;  // the profile with all parameters as they are
  bool has_load = false;
  std::vector<ParameterSweep> parameters;  // none where the profile cannot be read as a whole
  std::optional<Best> best;                // none where it was not asked for, or nothing holds
};

// Up to so many values of a parameter are all tried; of more, so many at first.
inline constexpr std::int64_t kScanned = 201;
// Most values of one parameter that are tried in all.
inline constexpr std::size_t kMostTrials = 10'000;
// Most values that a range may hold.
inline constexpr std::int64_t kMostValues = 1'000'000'000;

// `path` as for `files`; each file is read once. Nothing is said of tolerances: load and supplies are as their files
// give them. The answer is the same on any number of threads. Throws Refused and JobStopped.
[[nodiscard]] Sweep run(Files& files, const std::string& path, const CompileOptions& options, const Request& request,
                        const Job& job = {});

}  // namespace rampart::sweep
