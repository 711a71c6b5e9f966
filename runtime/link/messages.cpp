#include "runtime/link/messages.h"

#include <fmt/format.h>

#include <algorithm>

#include "compiler/export/template_fields.h"

namespace rampart::link {
namespace {

constexpr std::string_view kVolts = "voltage_V";
constexpr std::string_view kAmps = "current_A";
constexpr std::string_view kWatts = "power_W";
constexpr std::string_view kSeconds = "delay_s";

using Kind = MessageKind;
using Form = AnswerForm;

// Common commands are those of IEEE 488.2, chapter 10; the others are SCPI-1999, volume 2. Which subsystem has which
// header is from memory. Neither standard has words for a delay, for sense, for lines, locks and watchdogs.
constexpr MessageRow kRows[] = {
    {Kind::Identify, "identify", "*IDN?", About::Supply, {}, Form::Text},
    {Kind::Complete, "complete", "*OPC?", About::Supply, {}, Form::Boolean},
    {Kind::EventStatus, "event_status", "*ESR?", About::Supply, {}, Form::Number},
    {Kind::NextError, "next_error", "SYSTem:ERRor:NEXT?", About::Supply, {}, Form::Text},
    {Kind::OutputOn, "output_on", "OUTPut{channel}:STATe ON", About::Channel, {}, Form::None},
    {Kind::OutputOff, "output_off", "OUTPut{channel}:STATe OFF", About::Channel, {}, Form::None},
    {Kind::OutputState, "output_state", "OUTPut{channel}:STATe?", About::Channel, {}, Form::Boolean},
    {Kind::Voltage, "voltage", "SOURce{channel}:VOLTage:LEVel {voltage_V}", About::Channel, kVolts, Form::None},
    {Kind::VoltageSet, "voltage_set", "SOURce{channel}:VOLTage:LEVel?", About::Channel, {}, Form::Number},
    {Kind::Current, "current", "SOURce{channel}:CURRent:LEVel {current_A}", About::Channel, kAmps, Form::None},
    {Kind::CurrentSet, "current_set", "SOURce{channel}:CURRent:LEVel?", About::Channel, {}, Form::Number},
    {Kind::MeasuredVoltage, "measured_voltage", "MEASure{channel}:VOLTage:DC?", About::Channel, {}, Form::Number},
    {Kind::MeasuredCurrent, "measured_current", "MEASure{channel}:CURRent:DC?", About::Channel, {}, Form::Number},
    {Kind::Condition, "condition", {}, About::Channel, {}, Form::Number},
    {Kind::Overvoltage, "overvoltage", "SOURce{channel}:VOLTage:PROTection:LEVel {voltage_V}", About::Channel, kVolts,
     Form::None},
    {Kind::OvervoltageSet,
     "overvoltage_set",
     "SOURce{channel}:VOLTage:PROTection:LEVel?",
     About::Channel,
     {},
     Form::Number},
    {Kind::OvervoltageOn,
     "overvoltage_on",
     "SOURce{channel}:VOLTage:PROTection:STATe ON",
     About::Channel,
     {},
     Form::None},
    {Kind::OvervoltageIsOn,
     "overvoltage_is_on",
     "SOURce{channel}:VOLTage:PROTection:STATe?",
     About::Channel,
     {},
     Form::Boolean},
    {Kind::OvervoltageTripped,
     "overvoltage_tripped",
     "SOURce{channel}:VOLTage:PROTection:TRIPped?",
     About::Channel,
     {},
     Form::Boolean},
    {Kind::FuseCurrent, "fuse_current", "SOURce{channel}:CURRent:PROTection:LEVel {current_A}", About::Channel, kAmps,
     Form::None},
    {Kind::FuseCurrentSet,
     "fuse_current_set",
     "SOURce{channel}:CURRent:PROTection:LEVel?",
     About::Channel,
     {},
     Form::Number},
    {Kind::FuseDelay, "fuse_delay", {}, About::Channel, kSeconds, Form::None},
    {Kind::FuseDelaySet, "fuse_delay_set", {}, About::Channel, {}, Form::Number},
    {Kind::FuseOn, "fuse_on", "SOURce{channel}:CURRent:PROTection:STATe ON", About::Channel, {}, Form::None},
    {Kind::FuseIsOn, "fuse_is_on", "SOURce{channel}:CURRent:PROTection:STATe?", About::Channel, {}, Form::Boolean},
    {Kind::FuseTripped,
     "fuse_tripped",
     "SOURce{channel}:CURRent:PROTection:TRIPped?",
     About::Channel,
     {},
     Form::Boolean},
    {Kind::Overpower, "overpower", "SOURce{channel}:POWer:PROTection:LEVel {power_W}", About::Channel, kWatts,
     Form::None},
    {Kind::OverpowerSet, "overpower_set", "SOURce{channel}:POWer:PROTection:LEVel?", About::Channel, {}, Form::Number},
    {Kind::OverpowerDelay, "overpower_delay", {}, About::Channel, kSeconds, Form::None},
    {Kind::OverpowerDelaySet, "overpower_delay_set", {}, About::Channel, {}, Form::Number},
    {Kind::OverpowerOn, "overpower_on", "SOURce{channel}:POWer:PROTection:STATe ON", About::Channel, {}, Form::None},
    {Kind::OverpowerIsOn,
     "overpower_is_on",
     "SOURce{channel}:POWer:PROTection:STATe?",
     About::Channel,
     {},
     Form::Boolean},
    {Kind::OverpowerTripped,
     "overpower_tripped",
     "SOURce{channel}:POWer:PROTection:TRIPped?",
     About::Channel,
     {},
     Form::Boolean},
    {Kind::OvertemperatureTripped, "overtemperature_tripped", {}, About::Channel, {}, Form::Boolean},
    {Kind::SenseRemote, "sense_remote", {}, About::Channel, {}, Form::None},
    {Kind::SenseLocal, "sense_local", {}, About::Channel, {}, Form::None},
    {Kind::SenseIsRemote, "sense_is_remote", {}, About::Channel, {}, Form::Boolean},
    {Kind::LineHigh, "line_high", {}, About::Line, {}, Form::None},
    {Kind::LineLow, "line_low", {}, About::Line, {}, Form::None},
    {Kind::LineState, "line_state", {}, About::Line, {}, Form::Boolean},
    {Kind::PowerOnOff, "power_on_off", {}, About::Supply, {}, Form::None},
    {Kind::Lock, "lock", {}, About::Supply, {}, Form::Boolean},
    {Kind::Unlock, "unlock", {}, About::Supply, {}, Form::None},
    {Kind::WatchdogArm, "watchdog_arm", {}, About::Supply, {}, Form::None},
    {Kind::WatchdogFeed, "watchdog_feed", {}, About::Supply, {}, Form::None},
    {Kind::WatchdogDisarm, "watchdog_disarm", {}, About::Supply, {}, Form::None},
};
static_assert(std::size(kRows) == kMessageKinds);

constexpr bool in_order() {
  for (std::size_t i = 0; i < kMessageKinds; ++i) {
    if (kRows[i].kind != static_cast<MessageKind>(i)) return false;
  }
  return true;
}
static_assert(in_order());

// Replaces the fields of the row alone: any other is a mistake that fmt tells.
std::string fill(const MessageRow& row, const std::string& text, const MessageFields& fields) {
  TemplateValues values;
  if (row.about == About::Channel) values.push_back({"channel", fields.subject});
  if (row.about == About::Line) values.push_back({"line", fields.subject});
  if (!row.value.empty()) values.push_back({std::string(row.value), std::optional<Rational>(fields.value)});
  return fill_in(text, values);
}

// A width or precision in braces that no message has room for: fmt would make it all the same.
bool has_wide_field(std::string_view text) {
  std::size_t number = 0;
  bool is_inside = false;
  for (const char c : text) {
    is_inside = c == '{' || (is_inside && c != '}');
    number = is_inside && c >= '0' && c <= '9' ? number * 10 + static_cast<std::size_t>(c - '0') : 0;
    if (number >= kMostMessageBytes) return true;
  }
  return false;
}

bool is_printable(std::string_view text) {
  return std::all_of(text.begin(), text.end(), [](char c) { return c >= ' ' && c <= '~'; });
}

}  // namespace

std::span<const MessageRow> message_rows() {
  return kRows;
}

const MessageRow& row_of(MessageKind kind) {
  return kRows[static_cast<std::size_t>(kind)];
}

Messages::Messages() {
  for (const MessageRow& row : kRows) texts_[static_cast<std::size_t>(row.kind)] = row.text;
}

void Messages::replace(MessageKind kind, std::string text) {
  texts_[static_cast<std::size_t>(kind)] = std::move(text);
}

std::optional<std::string> Messages::filled(MessageKind kind, const MessageFields& fields) const {
  try {
    std::string text = fill(row_of(kind), texts_[static_cast<std::size_t>(kind)], fields);
    if (text.size() + 1 > kMostMessageBytes) return std::nullopt;
    return text;
  } catch (const InexactNumber&) {
    return std::nullopt;
  }
}

std::string mistake_of(MessageKind kind, const std::string& text) {
  const MessageRow& row = row_of(kind);
  if (!is_printable(text)) return "printable ASCII";
  if (text.size() + 1 > kMostMessageBytes) return "at most 254 bytes long";
  if (has_wide_field(text)) return "a format with widths below 255";
  const auto questions = std::count(text.begin(), text.end(), '?');
  if (row.answer == AnswerForm::None && questions > 0) return "a command, without `?`";
  if (row.answer != AnswerForm::None && questions != 1) return "one query, with one `?`";
  if (!row.value.empty() && text.find("{" + std::string(row.value)) == std::string::npos) {
    return "a text with the field `{" + std::string(row.value) + "}`";
  }
  try {
    // A name and a number of usual length.
    const std::string sample = fill(row, text, {"1", Rational(1)});
    if (sample.size() + 1 > kMostMessageBytes) return "at most 254 bytes long";
  } catch (const fmt::format_error& error) {
    return std::string("a format of the fields it has (") + error.what() + ")";
  } catch (const InexactNumber&) {
    return "a format that can write any value";
  }
  return {};
}

}  // namespace rampart::link
