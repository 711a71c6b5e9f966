#include "runtime/link/message_reader.h"

#include <algorithm>

#include "lang/findings/files.h"

namespace rampart::link {
namespace {

constexpr std::string_view kNoMessage = "none";

// Without these nothing can be played or switched off safely.
constexpr std::array kNeeded{MessageKind::Identify,       MessageKind::Complete,    MessageKind::OutputOn,
                             MessageKind::OutputOff,      MessageKind::OutputState, MessageKind::Voltage,
                             MessageKind::VoltageSet,     MessageKind::Current,     MessageKind::CurrentSet,
                             MessageKind::MeasuredVoltage};

}  // namespace

std::optional<Messages> read_messages(const Field& field, FindingSink& findings) {
  static const std::vector<std::string_view> kKeys = [] {
    std::vector<std::string_view> keys;
    for (const MessageRow& row : message_rows()) keys.push_back(row.key);
    return keys;
  }();
  const Section section(field, "`messages`", KeyTable{"messages", kKeys}, findings);
  if (!section.is_sound()) return std::nullopt;
  Messages messages;
  bool is_right = true;
  for (const MessageRow& row : message_rows()) {
    section.read(row.key, [&](const Field& text_field) {
      const std::optional<std::string> text = read_title(text_field, findings);
      if (!text) {
        is_right = false;
        return;
      }
      const bool is_none = *text == kNoMessage;
      if (const std::string mistake = is_none ? "" : mistake_of(row.kind, *text); !mistake.empty()) {
        findings.report(finding::ValueImpossible, text_field.value->span, row.key, "`" + shown_text(*text) + "`",
                        mistake);
        is_right = false;
      }
      messages.replace(row.kind, is_none ? "" : *text);
    });
  }
  if (!is_right) return std::nullopt;
  return messages;
}

void check_messages(const SupplyLink& supply, const Section& section, FindingSink& findings) {
  for (const MessageKind kind : kNeeded) {
    if (supply.messages.has(kind)) continue;
    findings.report(finding::ValueImpossible, section.value_place("messages"), row_of(kind).key, "`none`",
                    "a message that the supply understands");
  }
  const bool watches = supply.messages.has(MessageKind::WatchdogFeed);
  if (supply.watchdog &&
      !(watches && supply.messages.has(MessageKind::WatchdogArm) && supply.messages.has(MessageKind::WatchdogDisarm))) {
    findings.report(finding::KeyWithoutOther, section.value_place("watchdog"), section.label(), "watchdog",
                    "messages: watchdog_arm, watchdog_feed, watchdog_disarm");
  } else if (!supply.watchdog && watches) {
    findings.report(finding::KeyWithoutOther, section.value_place("messages"), section.label(), "watchdog_feed",
                    "watchdog");
  }
  const bool has_bits = std::any_of(supply.condition_bits.begin(), supply.condition_bits.end(),
                                    [](const auto& bit) { return bit.has_value(); });
  if (has_bits == supply.messages.has(MessageKind::Condition)) return;
  findings.report(finding::KeyWithoutOther, section.value_place(has_bits ? "condition_bits" : "messages"),
                  section.label(), has_bits ? "condition_bits" : "condition",
                  has_bits ? "messages: condition" : "condition_bits");
}

}  // namespace rampart::link
