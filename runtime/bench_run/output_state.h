#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/link/instrument.h"
#include "runtime/link/link.h"

// What is known of the outputs of real supplies, and the way to switch them off.
namespace rampart::bench_run {

// What is known of an output. CommandedOff: the supply was told, and nothing it said since confirms or denies it.
enum class Known : std::uint8_t { ConfirmedOff, CommandedOff, On, Unknown };
[[nodiscard]] std::string_view known_name(Known known);

struct OutputState {
  std::string channel;  // "left.ch1"
  Known known = Known::Unknown;
  std::optional<double> volts;  // measured at last, if the supply gave a reading
  std::string why;              // what stands in the way of knowing more

  [[nodiscard]] bool is_off() const { return known == Known::ConfirmedOff; }
};

// "confirmed off, 12.3 mV", "unknown, may be on: no answer in time".
[[nodiscard]] std::string state_text(const OutputState& state);

struct SupplyState {
  std::string supply;
  std::string place;
  std::string identity;  // the answer to *IDN?; empty: none came
  std::vector<OutputState> outputs;
};

// Switches outputs of one supply off and reads back what came of it. The instrument is connected. Nothing that fails
// ends it early: each output is told, and each is asked.
[[nodiscard]] std::vector<OutputState> switch_off(link::Instrument& instrument,
                                                  std::span<const link::LinkName> channels);

// Only asks.
[[nodiscard]] std::vector<OutputState> ask_outputs(link::Instrument& instrument,
                                                   std::span<const link::LinkName> channels);

// Connects to every supply of a link at once, and switches all its outputs off. One that gives another serial number is
// left alone.
[[nodiscard]] std::vector<SupplyState> switch_all_off(const link::Link& link);

// The outputs that are not confirmed off.
[[nodiscard]] std::vector<const OutputState*> not_off(std::span<const SupplyState> supplies);

}  // namespace rampart::bench_run
