#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "lang/values/rational.h"

// What is said to a supply. Each message has a text of its own in the link file, or the default of SCPI-1999 and
// IEEE 488.2, or none.
namespace rampart::link {

enum class MessageKind : std::uint8_t {
  Identify,
  Complete,
  EventStatus,
  NextError,
  OutputOn,
  OutputOff,
  OutputState,
  Voltage,
  VoltageSet,
  Current,
  CurrentSet,
  MeasuredVoltage,
  MeasuredCurrent,
  Condition,
  Overvoltage,
  OvervoltageSet,
  OvervoltageOn,
  OvervoltageIsOn,
  OvervoltageTripped,
  FuseCurrent,
  FuseCurrentSet,
  FuseDelay,
  FuseDelaySet,
  FuseOn,
  FuseIsOn,
  FuseTripped,
  Overpower,
  OverpowerSet,
  OverpowerDelay,
  OverpowerDelaySet,
  OverpowerOn,
  OverpowerIsOn,
  OverpowerTripped,
  OvertemperatureTripped,
  SenseRemote,
  SenseLocal,
  SenseIsRemote,
  LineHigh,
  LineLow,
  LineState,
  PowerOnOff,
  Lock,
  Unlock,
  WatchdogArm,
  WatchdogFeed,
  WatchdogDisarm,
  Count
};
inline constexpr std::size_t kMessageKinds = static_cast<std::size_t>(MessageKind::Count);

// What a message is about, besides the supply itself.
enum class About : std::uint8_t { Supply, Channel, Line };
// What a query is answered with, as IEEE 488.2 names it; None for a command.
enum class AnswerForm : std::uint8_t { None, Text, Number, Boolean };

struct MessageRow {
  MessageKind kind;
  std::string_view key;   // in the link file
  std::string_view text;  // the default; empty: there is none
  About about;
  std::string_view value;  // the field that it carries, such as "voltage_V"; empty: none
  AnswerForm answer;
};

// In the order of MessageKind. The sections of the standards are in docs/run.md.
[[nodiscard]] std::span<const MessageRow> message_rows();
[[nodiscard]] const MessageRow& row_of(MessageKind kind);

// The most bytes of one message, its line end among them: what the lists of `build` keep to as well.
inline constexpr std::size_t kMostMessageBytes = 255;

// What a message is filled with.
struct MessageFields {
  std::string subject;  // what the link file calls the channel or line in messages
  Rational value;       // in V, A, W or s
};

// The texts of one supply.
class Messages {
 public:
  Messages();

  // Empty text: the supply has no such message.
  void replace(MessageKind kind, std::string text);
  [[nodiscard]] bool has(MessageKind kind) const { return !texts_[static_cast<std::size_t>(kind)].empty(); }
  [[nodiscard]] const std::string& text(MessageKind kind) const { return texts_[static_cast<std::size_t>(kind)]; }
  // The message as it is sent, without its line end. Empty where a format cannot write the value exactly or the message
  // would be too long.
  [[nodiscard]] std::optional<std::string> filled(MessageKind kind, const MessageFields& fields) const;

 private:
  std::array<std::string, kMessageKinds> texts_;
};

// Why `text` cannot be the message of this kind; empty if it can.
[[nodiscard]] std::string mistake_of(MessageKind kind, const std::string& text);

}  // namespace rampart::link
