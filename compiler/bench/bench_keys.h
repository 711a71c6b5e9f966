#pragma once

#include <array>
#include <span>
#include <string_view>

#include "compiler/bench/meter.h"
#include "compiler/yaml/file_values.h"

// The keys of a bench file, map by map. docs/bench.schema.json has the same under the same names, and docs/bench.md
// says what each means; a test compares them.
namespace rampart::bench_keys {

inline constexpr std::array<std::string_view, 4> kBench{"bench", "supplies", "outputs", "links"};
inline constexpr std::array<std::string_view, 6> kSupply{"timing", "table", "power", "lines", "tracking", "channels"};
inline constexpr std::array<std::string_view, 5> kTiming{"minimum_step", "resolution", "skew", "on_delay",
                                                         "interpolation"};
inline constexpr std::array<std::string_view, 3> kTable{"points", "repeats", "channels"};
inline constexpr std::array<std::string_view, 12> kChannel{
    "like", "voltage", "current", "power",          "slew",       "output_capacitance",
    "sink", "thermal", "sense",   "off_resistance", "protection", "readback"};
inline constexpr std::array<std::string_view, 3> kSetting{"range", "resolution", "accuracy"};
inline constexpr std::array<KeyAdvice, 1> kSettingAdvice{
    {{"tolerance", "how far a supply may be off is its accuracy: write it as in `accuracy: 0.05 % + 10 mV`"}}};
inline constexpr std::array<std::string_view, 2> kSlew{"up", "down"};
inline constexpr std::array<std::string_view, 5> kThermal{"internal_supply", "resistance", "time_constant", "ambient",
                                                          "limit"};
inline constexpr std::array<std::string_view, 2> kSense{"remote", "headroom"};
inline constexpr std::array<std::string_view, 8> kProtection{"overvoltage", "overvoltage_accuracy", "fuse_by",
                                                             "fuse_delay",  "fuse_delay_accuracy",  "fuse_current",
                                                             "overpower",   "overpower_delay"};
inline constexpr std::array<std::string_view, 2> kCombination{"series", "parallel"};

inline constexpr std::array<std::string_view, 3> kLink{"internal", "wired", "delay"};

inline constexpr std::array<KeyTable, 16> kTables{{{"bench", kBench},
                                                   {"supply", kSupply},
                                                   {"timing", kTiming},
                                                   {"table", kTable},
                                                   {"channel", kChannel},
                                                   {"voltage_setting", kSetting, kSettingAdvice},
                                                   {"current_setting", kSetting, kSettingAdvice},
                                                   {"slew", kSlew},
                                                   {"thermal", kThermal},
                                                   {"sense", kSense},
                                                   {"protection", kProtection},
                                                   {"readback", meter_keys::kMeter},
                                                   {"meter_quantity", meter_keys::kQuantity},
                                                   {"meter_range", meter_keys::kRange},
                                                   {"combination", kCombination},
                                                   {"link", kLink}}};

// The table of the map `what`, which must be one of kTables.
[[nodiscard]] constexpr KeyTable of(std::string_view what) {
  return key_table(kTables, what);
}

}  // namespace rampart::bench_keys
