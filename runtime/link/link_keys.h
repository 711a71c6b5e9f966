#pragma once

#include <array>
#include <string_view>

#include "compiler/yaml/file_values.h"

// The keys of a link file, map by map; those of `messages` are the message_rows(). docs/link.schema.json has the same
// under the same names, and docs/run.md says what each means; a test compares them.
namespace rampart::link::link_keys {

inline constexpr std::array<std::string_view, 2> kLink{"link", "supplies"};
inline constexpr std::array<std::string_view, 13> kSupply{
    "tcp",   "serial",  "usbtmc",   "serial_number",   "timeout",        "monitor", "channels",
    "lines", "by_hand", "watchdog", "calibration_due", "condition_bits", "messages"};
inline constexpr std::array<std::string_view, 2> kTcp{"address", "port"};
inline constexpr std::array<std::string_view, 6> kSerial{"device", "baud", "data_bits", "parity", "stop_bits", "flow"};
inline constexpr std::array<std::string_view, 1> kUsbtmc{"device"};

// In the order of ConditionBit.
inline constexpr std::array<std::string_view, 6> kConditionBits{
    "constant_voltage", "constant_current", "overvoltage", "fuse", "overpower", "overtemperature"};

inline constexpr std::array<KeyTable, 6> kTables{{{"link", kLink},
                                                  {"supply", kSupply},
                                                  {"tcp", kTcp},
                                                  {"serial", kSerial},
                                                  {"usbtmc", kUsbtmc},
                                                  {"condition_bits", kConditionBits}}};

// The table of the map `what`, which must be one of kTables.
[[nodiscard]] constexpr KeyTable of(std::string_view what) {
  return key_table(kTables, what);
}

}  // namespace rampart::link::link_keys
