#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "lang/findings/finding.h"
#include "lang/text/source.h"
#include "lang/values/quantity.h"

// What the supplies on a bench can do. Every value keeps the place it was written at, for findings.
namespace rampart {

enum class SupplyId : std::uint32_t {};
// A physical output; the order of ids is the order in the bench file.
enum class ChannelId : std::uint32_t {};
enum class CombinationId : std::uint32_t {};
// What feeds a rail.
using Output = std::variant<ChannelId, CombinationId>;

template <class Value>
struct Placed {
  Value value{};
  Span span;
};

template <class Value>
struct Range {
  Value low{};
  Value high{};
  [[nodiscard]] bool contains(const Value& value) const { return low <= value && value <= high; }
};

// Error of a setting or reading: ± (fraction · |value| + offset).
template <class Value>
struct Accuracy {
  Rational fraction;
  Value offset{};
  [[nodiscard]] Value at(const Value& value) const { return Value{abs(value.si) * fraction + offset.si}; }
};

// A range that can be set in steps; step 0 means freely.
template <class Value>
struct SteppedRange {
  Range<Value> range;
  Value step{};
};

enum class Interpolation : std::uint8_t { Hold, Linear };

struct Timing {
  Nanoseconds minimum_step{0};  // a whole multiple of `resolution`
  Nanoseconds resolution{0};    // the grid that row times lie on
  Nanoseconds skew{0};          // how far apart two changes meant for one instant may arrive
  Range<Nanoseconds> on_delay;  // of the output switch
  Interpolation interpolation = Interpolation::Hold;
  Span span;
};

// What a supply can play by itself.
struct TableMemory {
  std::int64_t points = 0;
  std::int64_t repeats = 1;
  std::vector<ChannelId> channels;
  Span span;
};

struct OutputLimits {
  Placed<Range<Volts>> voltage;
  Volts voltage_resolution;
  std::optional<Accuracy<Volts>> voltage_accuracy;
  Placed<Range<Amps>> current;
  Amps current_resolution;
  std::optional<Accuracy<Amps>> current_accuracy;
  std::optional<Placed<Watts>> power;  // envelope of V · I
};

struct Slew {
  VoltsPerSecond up;
  VoltsPerSecond down;
  Span span;
};

// Overtemperature, first order: time_constant · dT/dt = ambient + resistance · (internal_supply − v) · i − T.
struct Thermal {
  Volts internal_supply;
  Rational resistance;  // K/W
  Seconds time_constant;
  Kelvins ambient;
  Kelvins limit;
  Span span;
};

struct RemoteSense {
  Volts headroom;  // how far the terminals may rise above the load's voltage
};

enum class FuseBy : std::uint8_t { CurrentLimit, OwnCurrent };

// The protections a channel has; an absent one is not there and is never emulated.
struct ProtectionAbilities {
  std::optional<Placed<Range<Volts>>> overvoltage;
  std::optional<Accuracy<Volts>> overvoltage_accuracy;
  std::optional<FuseBy> fuse_by;
  std::optional<Placed<SteppedRange<Seconds>>> fuse_delay;
  std::optional<Accuracy<Seconds>> fuse_delay_accuracy;
  std::optional<Placed<SteppedRange<Amps>>> fuse_current;  // with FuseBy::OwnCurrent
  std::optional<Placed<Range<Watts>>> overpower;
  std::optional<Placed<SteppedRange<Seconds>>> overpower_delay;
};

struct Channel {
  std::string name;  // "left.ch1"
  SupplyId supply{};
  OutputLimits limits;
  std::optional<Slew> slew;  // none: the output moves at once
  Farads output_capacitance;
  Amps sink;  // how much current it can take in; 0: one quadrant
  std::optional<Thermal> thermal;
  std::optional<RemoteSense> remote_sense;
  std::optional<Ohms> off_resistance;  // none: open when off
  ProtectionAbilities protection;
  Span span;
};

struct Supply {
  std::string name;
  Timing timing;
  std::optional<TableMemory> table;
  std::optional<Placed<Watts>> power;  // all channels together
  std::vector<std::string> lines;      // trigger lines, by their bare names
  std::optional<bool> tracking;
  std::vector<ChannelId> channels;
  Span span;
};

enum class Arrangement : std::uint8_t { Series, Parallel };

struct Combination {
  std::string name;
  Arrangement arrangement{};
  std::vector<ChannelId> members;
  Span span;
};

// A name that profiles use for an output, whatever it is on this bench.
struct NamedOutput {
  std::string name;
  Output output;
};

enum class LinkedBy : std::uint8_t { Internal, Wired };

// What lets the fuse of one supply switch off outputs of another; see Bench::link_delay().
struct ProtectionLink {
  std::string name;
  LinkedBy by{};
  std::vector<SupplyId> supplies;
  Nanoseconds delay{0};  // from the trip until the other output is off, at the most
  Span span;
};

struct Bench {
  FileId file{};
  std::string title;
  std::vector<Supply> supplies;
  std::vector<Channel> channels;
  std::vector<Combination> combinations;
  std::vector<NamedOutput> outputs;
  std::vector<ProtectionLink> links;  // no two of them have the same two supplies

  [[nodiscard]] const Supply& operator[](SupplyId id) const { return supplies[static_cast<std::size_t>(id)]; }
  [[nodiscard]] const Channel& operator[](ChannelId id) const { return channels[static_cast<std::size_t>(id)]; }
  [[nodiscard]] const Combination& operator[](CombinationId id) const {
    return combinations[static_cast<std::size_t>(id)];
  }
  [[nodiscard]] const Supply& supply_of(ChannelId id) const { return (*this)[(*this)[id].supply]; }
  // What all of these channels can do at once: a grid that lies on each of theirs, and the longest of their minimum
  // steps, made whole on it. The rest is the first one's.
  [[nodiscard]] Timing timing_of(std::span<const ChannelId> members) const;
  [[nodiscard]] std::optional<ChannelId> find_channel(std::string_view name) const;
  // The link between two supplies, or of one with itself; null: there is none.
  [[nodiscard]] const ProtectionLink* find_link(SupplyId one, SupplyId other) const;
  // How long after a trip or an interlock of `from` all of `to` are off, at the most. Within a supply that is at once,
  // where no link says otherwise. None: nothing on this bench links their supplies.
  [[nodiscard]] std::optional<Nanoseconds> link_delay(SupplyId from, std::span<const ChannelId> to) const;
  // The same for a trip of any of `from`.
  [[nodiscard]] std::optional<Nanoseconds> link_delay(std::span<const ChannelId> from,
                                                      std::span<const ChannelId> to) const;
  // The channel, or the members of the combination.
  [[nodiscard]] std::vector<ChannelId> channels_of(const Output& output) const;
  // The named output or the channel that a profile calls `name`.
  [[nodiscard]] std::optional<Output> find_output(std::string_view name) const;
  // Names of outputs and channels, for hints.
  [[nodiscard]] std::vector<std::string> output_names() const;
};

// Reads a bench file. Empty when the findings hold an error of this file; every mistake is reported, not the first.
[[nodiscard]] std::optional<Bench> read_bench(const SourceSet& sources, FileId file, FindingSink& findings);

}  // namespace rampart
