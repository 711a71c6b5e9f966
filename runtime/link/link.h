#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "lang/findings/finding.h"
#include "lang/text/source.h"
#include "lang/values/quantity.h"
#include "runtime/link/messages.h"

// How each supply of a bench is reached, and what is said to it: the link file, docs/run.md.
namespace rampart::link {

// Numeric addresses alone: which instrument is meant does not depend on a name service.
struct TcpPlace {
  std::string address;
  std::uint16_t port = 5025;
};

enum class Parity : std::uint8_t { None, Odd, Even };
enum class FlowControl : std::uint8_t { None, Software, Hardware };

struct SerialPlace {
  std::string device;
  std::int64_t baud = 9600;
  std::int64_t data_bits = 8;
  std::int64_t stop_bits = 1;
  Parity parity = Parity::None;
  FlowControl flow = FlowControl::None;
};

struct UsbtmcPlace {
  std::string device;
};

using Place = std::variant<TcpPlace, SerialPlace, UsbtmcPlace>;

// "10.0.0.2 port 5025", "/dev/usbtmc0".
[[nodiscard]] std::string place_text(const Place& place);

// A channel or line, and what messages call it.
struct LinkName {
  std::string name;     // as the bench has it, without the supply: "ch1"
  std::string subject;  // "1"
};

// What a person sets at the supply, where no message does.
enum class ByHand : std::uint8_t { Sense, Overvoltage, Fuse, Overpower, Links, Lines };
inline constexpr std::size_t kByHandKinds = 6;
[[nodiscard]] std::string_view by_hand_name(ByHand what);

// What a bit of a channel's condition register can say.
enum class ConditionBit : std::uint8_t {
  ConstantVoltage,
  ConstantCurrent,
  Overvoltage,
  Fuse,
  Overpower,
  Overtemperature
};
inline constexpr std::size_t kConditionBits = 6;

struct SupplyLink {
  std::string name;  // as in the bench file
  Place place;
  std::string serial_number;  // the third field of the answer to *IDN?
  Nanoseconds timeout{std::chrono::seconds(1)};
  Nanoseconds monitor{std::chrono::milliseconds(500)};
  std::vector<LinkName> channels;
  std::vector<LinkName> lines;
  std::vector<ByHand> by_hand;
  std::array<std::optional<std::int64_t>, kConditionBits> condition_bits;  // by ConditionBit; none: no bit says that
  Messages messages;
  std::optional<Nanoseconds> watchdog;  // how often it is fed
  std::optional<std::string> calibration_due;
  Span span;

  // What messages call a channel of this supply. Empty if the link does not name it.
  [[nodiscard]] std::optional<std::string> subject_of_channel(std::string_view channel) const;
  [[nodiscard]] std::optional<std::string> subject_of_line(std::string_view line) const;
  [[nodiscard]] bool is_by_hand(ByHand what) const;
};

struct Link {
  std::string title;
  std::vector<SupplyLink> supplies;

  [[nodiscard]] const SupplyLink* find(std::string_view supply) const;
};

// Reads a link file. Empty when the findings hold an error of this file; every mistake is reported.
[[nodiscard]] std::optional<Link> read_link(const SourceSet& sources, FileId file, FindingSink& findings);

}  // namespace rampart::link
