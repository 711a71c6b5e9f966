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
#include "runtime/part/part.h"
#include "runtime/predict/answer.h"

// Tries a profile at many values of its parameters: one parameter at a time, or two against each other.
namespace rampart::sweep {

// A parameter to vary, and between which values.
struct Vary {
  std::string name;
  Range<Quantity> range;
  std::optional<Quantity> step;  // from the lower end on; none: what the supplies can set
  bool is_bare = false;          // both ends are numbers without a unit
};

enum class Goal : std::uint8_t { LeastValue, GreatestValue, LeastDuration, LeastEnergy };

struct Find {
  Goal goal{};
  std::string name;  // the parameter; of energy the rail, or "total"; empty of a duration
};

// What the value that is looked for has to stand beside a plain run without errors.
struct Demand {
  bool corners = true;  // the ends of all tolerances
  double keep = 0;      // the share that has to be left of each limit
};

struct Request {
  std::vector<Vary> vary;  // none: all parameters with a range that the caller has not set
  std::optional<Find> find;
  Demand demand;    // of what is looked for
  Sharing sharing;  // the work of one machine among several, or what these have found
};

// What is asked for cannot be done: `option` is where, `what` says why.
struct Refused {
  std::string option;
  std::string what;
};

// "NAME=LOW..HIGH [step S]". Throws Refused.
[[nodiscard]] Vary read_vary(std::string_view text);
// "least" or "greatest", then a parameter, "duration", "energy(RAIL)" or "energy(total)". Throws Refused.
[[nodiscard]] Find read_find(const std::vector<std::string>& words);
// "2%": 0 … 1. Throws Refused.
[[nodiscard]] double read_keep(std::string_view text);

// The margin that is the least share of its limit.
struct TightMargin {
  std::string of;  // "fuse of core"
  double margin = 0;
  double limit = 0;
  std::string unit;
  std::string corner{};  // what is not nominal there; empty of the plain run
};

// What is found at one place under one name is the same mistake, whatever its numbers.
using Mistake = std::tuple<std::string_view, FileId, std::uint32_t, std::uint32_t>;

// What a profile comes to with a parameter at one value. It holds where nothing at error level is found and as much is
// left of each limit as was asked for.
struct Trial {
  Quantity value;
  std::vector<Mistake> errors;            // in the order of their names and places, each once
  std::size_t first = 0;                  // of these the one that `check` would print first
  std::optional<Finding> first_error;     // the same in words, where a trial is shown by itself
  std::optional<TightMargin> tightest;    // of the plain run; none without a load
  std::optional<TightMargin> too_little;  // that leaves less than was asked for
  double duration_s = 0;                  // simulated with a load, else as planned; 0 where there is no table
  double energy_J = 0;                    // of the rail that is asked for, or total; 0 without a simulation
  // By how much expectations, waits and rules of the simulation are missed, the worst first: as a share of the bound;
  // of a rule, or a bound of 0, in SI units.
  std::vector<double> missed{};

  [[nodiscard]] bool holds() const { return errors.empty() && !too_little; }
};

// Values that hold, from one to the other. The failing neighbours were tried; none where the range ends.
struct Interval {
  Trial low;
  Trial high;
  std::optional<Trial> below;
  std::optional<Trial> above;
};

// All values, or a share of them at first and the rest where the errors change.
struct ParameterSweep {
  std::string name;
  Range<Quantity> range;
  Trial present;  // the value that it has without the sweep; tried as well
  Quantity step;
  std::optional<Quantity> scan_step;  // the distance of values in the first scan; none: all values were tried
  bool refined = true;                // false: too many changes of errors to follow each down to the step
  std::vector<Trial> trials;          // in rising order
  std::vector<Interval> intervals;    // likewise
  std::optional<Trial> least_bad;     // with the fewest errors, where nothing holds
};

// One side of a map.
struct MapAxis {
  std::string name;
  Range<Quantity> range;
  Quantity step;                 // of the supplies, or as it was given
  std::vector<Quantity> values;  // of the columns or rows, in rising order; the one that the profile has among them
};

struct MapRow {
  Quantity value;                   // of the upright axis
  std::vector<Trial> cells;         // one a column
  std::vector<Interval> intervals;  // along the row, down to the step of the columns
};

// Two parameters against each other.
struct Map {
  MapAxis across;
  MapAxis upright;
  std::vector<MapRow> rows;  // in rising order
  std::int64_t tried = 0;
  Trial present;  // with both as they are; its value is that of `across`
  Quantity present_upright;
};

// The value that was asked for.
struct Best {
  std::size_t parameter = 0;  // in Sweep::parameters
  Trial trial;
  std::string setting;          // "ramp=3.5ms", as --set takes it
  std::optional<Trial> beyond;  // the neighbour that fails; none where the range ends, and for duration and energy
  std::optional<TightMargin> tightest{};  // with the corners, where they were asked for
  std::size_t corners = 0;                // that were tried at it
  bool confirmed = false;                 // the profile was compiled again from its text, with the setting, and holds
  Answer answer;                          // what it came to
};

// Where nothing holds all that was asked for: what comes nearest, and what stands against it.
struct Nearest {
  std::size_t parameter = 0;
  Trial trial;
  std::size_t corners = 0;  // with errors
  std::size_t tried = 0;    // corners
};

struct Sweep {
  Answer base;  // the profile with all parameters as they are
  bool has_load = false;
  std::vector<ParameterSweep> parameters;  // none where the profile cannot be read as a whole, and with a map
  std::optional<Map> map;                  // of two parameters
  std::optional<Best> best;                // none where it was not asked for, or nothing holds
  std::optional<Nearest> nearest;          // where it was asked for and nothing holds
  std::optional<PartFile> part;            // in place of all these, where a part was asked for
};

// Up to so many values of a parameter are all tried; of more, kScanned at first.
inline constexpr std::int64_t kAllTried = 10'000;
inline constexpr std::int64_t kScanned = 1'001;
// Most values of one parameter that are tried in all.
inline constexpr std::size_t kMostTrials = 20'000;
// Most values that a range may hold.
inline constexpr std::int64_t kMostValues = 1'000'000'000;
// Columns and rows of a map without a step, and cells of one with.
inline constexpr std::int64_t kMapColumns = 41;
inline constexpr std::int64_t kMapRows = 21;
inline constexpr std::int64_t kMostCells = 40'000;
// Values at which corners are tried at first.
inline constexpr std::int64_t kCornersScanned = 201;

// `path` as for `files`; each file is read once. Tolerances are tried for the value that is looked for alone. The
// answer is the same on any number of threads, and of parts that were joined. Throws Refused, PartMistake, JobStopped.
[[nodiscard]] Sweep run(Files& files, const std::string& path, const CompileOptions& options, const Request& request,
                        const Job& job = {});

}  // namespace rampart::sweep
