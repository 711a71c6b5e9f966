#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "compiler/bench/bench.h"
#include "lang/findings/finding.h"
#include "lang/text/source.h"
#include "lang/values/quantity.h"

// What an instrument reads, and how far that may be from what is there: a supply's own meter, or one beside a log.
namespace rampart {

struct Field;
class Section;

// One measuring range, for values up to and including `up_to` by magnitude; none: for all.
template <class Value>
struct MeterRange {
  std::optional<Value> up_to;
  Accuracy<Value> accuracy;
};

// How one quantity is measured. There is a range or more, the smallest first.
template <class Value>
struct MeterQuantity {
  std::vector<MeterRange<Value>> ranges;
  Value noise{};  // a reading may be so far off besides, either way
};

enum class MeasuredAt : std::uint8_t { Terminals, Load };

struct Meter {
  std::optional<MeterQuantity<Volts>> voltage;  // none: it does not measure it, or how well is not known
  std::optional<MeterQuantity<Amps>> current;
  Nanoseconds window{0};         // a reading is the mean over so long
  Range<Nanoseconds> latency;    // from the end of the window to the time stamp
  Nanoseconds refresh{0};        // a reading is repeated for so long
  std::optional<MeasuredAt> at;  // none: at the point that the supply regulates
  Span span;
};

// The keys of a meter and of the maps in it; a file may add keys of its own beside them.
namespace meter_keys {
inline constexpr std::array<std::string_view, 8> kMeter{"voltage", "current", "window",  "nplc",
                                                        "mains",   "latency", "refresh", "point"};
inline constexpr std::array<std::string_view, 3> kQuantity{"accuracy", "ranges", "noise"};
inline constexpr std::array<std::string_view, 2> kRange{"up_to", "accuracy"};
}  // namespace meter_keys

// Reads the keys of a meter out of a map whose keys were checked. Empty after a mistake.
[[nodiscard]] std::optional<Meter> read_meter(const Section& section, FindingSink& findings);

// "10 ms .. 20 ms" in whole nanoseconds.
[[nodiscard]] std::optional<Range<Nanoseconds>> read_times(const Field& field, FindingSink& findings);

}  // namespace rampart
