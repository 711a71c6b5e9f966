#pragma once

#include <array>
#include <string_view>

#include "compiler/yaml/file_values.h"

// The keys of a load file, map by map. docs/load.schema.json has the same under the same names, and docs/load.md says
// what each means; a test compares them.
namespace rampart::load_keys {

inline constexpr std::array<std::string_view, 3> kLoad{"load", "rails", "faults"};
inline constexpr std::array<std::string_view, 2> kRail{"wire", "elements"};
inline constexpr std::array<std::string_view, 3> kFault{"rail", "at", "becomes"};

inline constexpr std::array<std::string_view, 2> kResistor{"kind", "resistance"};
inline constexpr std::array<std::string_view, 5> kCapacitor{"kind", "capacitance", "esr", "leakage", "initial_voltage"};
inline constexpr std::array<std::string_view, 4> kInductor{"kind", "inductance", "resistance", "initial_current"};
inline constexpr std::array<std::string_view, 3> kConstantCurrent{"kind", "current", "from"};
inline constexpr std::array<std::string_view, 8> kConstantPower{"kind",
                                                                "power",
                                                                "starts_at",
                                                                "stops_at",
                                                                "input_capacitance",
                                                                "initial_voltage",
                                                                "soft_start",
                                                                "quiescent_current"};
inline constexpr std::array<std::string_view, 6> kDiode{"kind",      "saturation_current", "ideality",
                                                        "in_series", "series_resistance",  "temperature"};
inline constexpr std::array<std::string_view, 7> kLamp{
    "kind", "rated_voltage", "rated_power", "cold_resistance", "heat_capacity", "cold_temperature", "exponent"};
inline constexpr std::array<std::string_view, 2> kCurve{"kind", "points"};
inline constexpr std::array<std::string_view, 6> kPulsedCurrent{"kind", "current", "on", "period", "from", "rest"};
inline constexpr std::array<std::string_view, 3> kSource{"kind", "voltage", "resistance"};
inline constexpr std::array<std::string_view, 4> kLoadProfile{"kind", "power_good", "draws", "input_capacitance"};

inline constexpr std::array<KeyTable, 3> kTables{{{"load", kLoad}, {"rail", kRail}, {"fault", kFault}}};
// By the value of `kind`.
inline constexpr std::array<KeyTable, 11> kElements{{{"resistor", kResistor},
                                                     {"capacitor", kCapacitor},
                                                     {"inductor", kInductor},
                                                     {"constant_current", kConstantCurrent},
                                                     {"constant_power", kConstantPower},
                                                     {"diode", kDiode},
                                                     {"lamp", kLamp},
                                                     {"iv_curve", kCurve},
                                                     {"pulsed_current", kPulsedCurrent},
                                                     {"source", kSource},
                                                     {"load_profile", kLoadProfile}}};

}  // namespace rampart::load_keys
