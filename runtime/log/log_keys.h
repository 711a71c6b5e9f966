#pragma once

#include <array>
#include <string_view>

#include "compiler/bench/meter.h"
#include "compiler/yaml/file_values.h"

// The keys of a log description, map by map. docs/log.schema.json has the same under the same names, and docs/as-run.md
// says what each means; a test compares them.
namespace rampart::log_keys {

inline constexpr std::array<std::string_view, 12> kLog{"log",         "separator",  "decimal", "skip_lines",
                                                       "time",        "columns",    "date",    "operator",
                                                       "instruments", "instrument", "device",  "ambient"};
inline constexpr std::array<std::string_view, 3> kTime{"format", "zone", "resolution"};
inline constexpr std::array<std::string_view, 6> kColumn{"is", "rail", "channel", "unit", "sign", "instrument"};
inline constexpr std::array<std::string_view, 10> kInstrument{
    "serial", "calibration_due", "voltage", "current", "window", "nplc", "mains", "latency", "refresh", "point"};
inline constexpr std::array<std::string_view, 3> kDevice{"part", "serial", "revision"};

inline constexpr std::array<KeyTable, 7> kTables{{{"log", kLog},
                                                  {"time", kTime},
                                                  {"column", kColumn},
                                                  {"instrument", kInstrument},
                                                  {"device", kDevice},
                                                  {"meter_quantity", meter_keys::kQuantity},
                                                  {"meter_range", meter_keys::kRange}}};

}  // namespace rampart::log_keys
