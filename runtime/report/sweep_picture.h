#pragma once

#include <optional>
#include <string>
#include <vector>

#include "runtime/predict/answer.h"

// What a report shows of a sweep that was made before.
namespace rampart::report {

// A value of a parameter, and as people write it.
struct SweptValue {
  double value = 0;
  std::string text;
};

struct SweptTrial {
  SweptValue at;
  bool holds = false;
  std::string error;           // the first, in words; empty where it holds, and of the cells of a map
  std::string tightest;        // whose margin it is; empty without a load
  std::optional<double> left;  // share of its limit
};

struct SweptInterval {
  SweptTrial low;
  SweptTrial high;
  std::optional<SweptTrial> below;
  std::optional<SweptTrial> above;
};

struct SweptParameter {
  std::string name;
  SweptTrial present;
  SweptValue low;
  SweptValue high;
  std::vector<SweptInterval> intervals;
  std::optional<SweptTrial> least_bad;
};

struct SweptAxis {
  std::string name;
  std::vector<SweptValue> values;
  double present = 0;
};

struct SweptRow {
  std::vector<SweptTrial> cells;  // one a value across
  std::vector<SweptInterval> intervals;
};

struct SweptMap {
  SweptAxis across;
  SweptAxis up;
  std::vector<SweptRow> rows;  // one a value up
};

struct SweepPicture {
  bool has_load = false;
  std::vector<SweptParameter> parameters;
  std::optional<SweptMap> map;
};

// The text is no answer of `sweep --format json`, or of other files than the report.
struct SweepMistake {
  std::string what;
};

// Reads what `sweep --format json` has written of the profile, bench and load of an answer. Throws SweepMistake.
[[nodiscard]] SweepPicture read_sweep(const std::string& text, const Answer& answer);

}  // namespace rampart::report
