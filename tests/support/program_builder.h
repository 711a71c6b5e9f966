#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "compiler/table/table.h"

// Builds benches and programs in a few words, for tests of what comes after the resolver.
namespace rampart::test {

inline Rational number(std::string_view text) {
  return parse_quantity(text)->value;
}

inline Nanoseconds time(std::string_view text) {
  return *to_nanoseconds(number(text));
}

struct ChannelSpec {
  std::string name = "ch1";
  std::string voltage_high = "24 V";
  std::string voltage_resolution = "10 mV";
  std::string current_high = "3 A";
  std::string current_resolution = "1 mA";
};

struct SupplySpec {
  std::string minimum_step = "10 ms";
  std::string resolution = "1 ms";
  Interpolation interpolation = Interpolation::Hold;
  std::vector<ChannelSpec> channels{ChannelSpec{}};
};

inline Bench make_bench(const std::vector<SupplySpec>& supplies) {
  Bench bench;
  for (const SupplySpec& spec : supplies) {
    Supply supply;
    supply.name = "s" + std::to_string(bench.supplies.size() + 1);
    supply.timing.minimum_step = time(spec.minimum_step);
    supply.timing.resolution = time(spec.resolution);
    supply.timing.interpolation = spec.interpolation;
    for (const ChannelSpec& channel_spec : spec.channels) {
      Channel channel;
      channel.name = supply.name + "." + channel_spec.name;
      channel.supply = SupplyId{static_cast<std::uint32_t>(bench.supplies.size())};
      channel.limits.voltage.value = {Volts{0}, Volts{number(channel_spec.voltage_high)}};
      channel.limits.voltage_resolution = Volts{number(channel_spec.voltage_resolution)};
      channel.limits.current.value = {Amps{0}, Amps{number(channel_spec.current_high)}};
      channel.limits.current_resolution = Amps{number(channel_spec.current_resolution)};
      supply.channels.push_back(ChannelId{static_cast<std::uint32_t>(bench.channels.size())});
      bench.channels.push_back(channel);
    }
    bench.supplies.push_back(supply);
  }
  return bench;
}

// A profile with one rail on each channel of the bench, and an empty run.
inline Profile make_profile(const Bench& bench) {
  Profile profile;
  for (std::size_t i = 0; i < bench.channels.size(); ++i) {
    Rail rail;
    rail.name = "r" + std::to_string(i + 1);
    rail.output = ChannelId{static_cast<std::uint32_t>(i)};
    profile.rails.push_back(rail);
  }
  return profile;
}

template <class Action>
Statement statement(Action action) {
  Statement result;
  result.what = std::move(action);
  return result;
}

inline Motion motion(std::uint32_t rail, std::string_view value, Drive drive = Drive::Voltage, bool relative = false) {
  Motion result;
  result.rail = RailId{rail};
  result.drive = drive;
  result.relative = relative;
  result.value = number(value);
  return result;
}

inline Statement on(std::uint32_t rail) {
  return statement(Switch{true, {RailId{rail}}});
}
inline Statement off(std::uint32_t rail) {
  return statement(Switch{false, {RailId{rail}}});
}
inline Statement step(std::uint32_t rail, std::string_view value) {
  return statement(Jump{{motion(rail, value)}});
}
inline Statement step_by(std::uint32_t rail, std::string_view value) {
  return statement(Jump{{motion(rail, value, Drive::Voltage, true)}});
}
inline Statement limit(std::uint32_t rail, std::string_view value) {
  return statement(Jump{{motion(rail, value, Drive::Limit)}});
}
inline Statement ramp(std::uint32_t rail, std::string_view value, std::string_view over) {
  return statement(Ramp{{motion(rail, value)}, time(over)});
}
inline Statement ramp_at(std::uint32_t rail, std::string_view value, std::string_view rate) {
  return statement(Ramp{{motion(rail, value)}, number(rate)});
}
inline Statement dwell(std::string_view length) {
  return statement(Dwell{time(length)});
}
inline Statement measure(std::string name, std::string_view over) {
  return statement(Measurement{std::move(name), time(over)});
}
inline Statement mark(std::string name) {
  return statement(Mark{std::move(name)});
}
inline Statement repeat(std::int64_t passes, Program body) {
  return statement(Repeat{passes, std::move(body)});
}
inline Statement repeat_for(std::string_view length, Program body) {
  return statement(Repeat{time(length), std::move(body)});
}
inline Statement together(std::vector<Program> branches) {
  return statement(Together{std::move(branches)});
}

}  // namespace rampart::test
