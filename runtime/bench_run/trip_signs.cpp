#include "runtime/bench_run/trip_signs.h"

#include <array>
#include <utility>

namespace rampart::bench_run {

using link::ConditionBit;
using link::MessageKind;

std::vector<MessageKind> trip_questions(const link::SupplyLink& link) {
  std::vector<MessageKind> kinds;
  for (const MessageKind kind : {MessageKind::OvervoltageTripped, MessageKind::FuseTripped,
                                 MessageKind::OverpowerTripped, MessageKind::OvertemperatureTripped}) {
    if (link.messages.has(kind)) kinds.push_back(kind);
  }
  return kinds;
}

std::string cause_of(MessageKind question) {
  switch (question) {
    case MessageKind::OvervoltageTripped:
      return "overvoltage";
    case MessageKind::FuseTripped:
      return "fuse";
    case MessageKind::OverpowerTripped:
      return "overpower";
    default:
      return "overtemperature";
  }
}

ConditionState read_condition(const link::SupplyLink& link, double bits) {
  const auto value = static_cast<std::int64_t>(bits);
  const auto is_set = [&](ConditionBit what) -> std::optional<bool> {
    const std::optional<std::int64_t> bit = link.condition_bits[static_cast<std::size_t>(what)];
    if (!bit) return std::nullopt;
    return ((value >> *bit) & 1) != 0;
  };
  ConditionState state;
  const std::optional<bool> voltage = is_set(ConditionBit::ConstantVoltage);
  const std::optional<bool> current = is_set(ConditionBit::ConstantCurrent);
  if (voltage == true && current != true) state.mode = "CV";
  if (current == true && voltage != true) state.mode = "CC";
  constexpr std::array<std::pair<ConditionBit, std::string_view>, 4> kCauses{
      {{ConditionBit::Overvoltage, "overvoltage"},
       {ConditionBit::Fuse, "fuse"},
       {ConditionBit::Overpower, "overpower"},
       {ConditionBit::Overtemperature, "overtemperature"}}};
  for (const auto& [bit, cause] : kCauses) {
    if (is_set(bit) == true && state.cause.empty()) state.cause = cause;
  }
  return state;
}

}  // namespace rampart::bench_run
