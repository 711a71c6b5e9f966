#include "lang/text/character.h"

namespace rampart {
namespace {

constexpr std::string_view kReplacement = "\uFFFD";

enum class Newlines : std::uint8_t { Replaced, Kept };

std::string visible(std::string_view text, Newlines newlines) {
  std::string shown;
  shown.reserve(text.size());
  for (std::size_t at = 0; at < text.size();) {
    const Character character = character_at(text, at);
    const bool stays = character.code == '\n' && newlines == Newlines::Kept;
    const bool replaced = !character.valid || (is_hidden(character.code) && !stays);
    shown += replaced ? kReplacement : text.substr(at, character.length);
    at += character.length;
  }
  return shown;
}

}  // namespace

Character character_at(std::string_view text, std::size_t at) {
  const auto byte = [&](std::size_t i) -> std::uint32_t {
    return at + i < text.size() ? static_cast<unsigned char>(text[at + i]) : 0U;
  };
  const auto continues = [&](std::size_t i) { return (byte(i) & 0xC0U) == 0x80U; };
  const std::uint32_t lead = byte(0);
  if (lead < 0x80U) return {1, lead, true};
  if (lead >= 0xC2U && lead <= 0xDFU && continues(1)) return {2, (lead & 0x1FU) << 6U | (byte(1) & 0x3FU), true};
  if (lead >= 0xE0U && lead <= 0xEFU && continues(1) && continues(2)) {
    const std::uint32_t code = (lead & 0x0FU) << 12U | (byte(1) & 0x3FU) << 6U | (byte(2) & 0x3FU);
    const bool surrogate = code >= 0xD800U && code <= 0xDFFFU;
    if (code >= 0x800U && !surrogate) return {3, code, true};
  }
  if (lead >= 0xF0U && lead <= 0xF4U && continues(1) && continues(2) && continues(3)) {
    const std::uint32_t code =
        (lead & 0x07U) << 18U | (byte(1) & 0x3FU) << 12U | (byte(2) & 0x3FU) << 6U | (byte(3) & 0x3FU);
    if (code >= 0x10000U && code <= 0x10FFFFU) return {4, code, true};
  }
  return {1, lead, false};
}

bool is_hidden(std::uint32_t code) {
  return code < 0x20U || (code >= 0x7FU && code < 0xA0U) || code == 0x061CU || code == 0x200EU || code == 0x200FU ||
         (code >= 0x2028U && code <= 0x202EU) || (code >= 0x2066U && code <= 0x2069U) || code == 0xFEFFU;
}

std::string visible_text(std::string_view text) {
  return visible(text, Newlines::Replaced);
}

std::string visible_lines(std::string_view text) {
  return visible(text, Newlines::Kept);
}

}  // namespace rampart
