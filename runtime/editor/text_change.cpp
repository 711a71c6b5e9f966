#include "runtime/editor/text_change.h"

#include <algorithm>

namespace rampart::editor {
namespace {

// Inside a character outside ASCII.
bool goes_on(std::string_view text, std::size_t at) {
  return at < text.size() && (static_cast<unsigned char>(text[at]) & 0xC0U) == 0x80U;
}

}  // namespace

TextChange::TextChange(std::string_view before, std::string_view after)
    : before_size_(static_cast<std::uint32_t>(before.size())), after_size_(static_cast<std::uint32_t>(after.size())) {
  const std::size_t shorter = std::min(before.size(), after.size());
  std::size_t head = 0;
  while (head < shorter && before[head] == after[head]) ++head;
  while (head > 0 && (goes_on(before, head) || goes_on(after, head))) --head;
  std::size_t tail = 0;
  while (tail < shorter - head && before[before.size() - 1 - tail] == after[after.size() - 1 - tail]) ++tail;
  while (tail > 0 && goes_on(before, before.size() - tail)) --tail;
  head_ = static_cast<std::uint32_t>(head);
  tail_ = static_cast<std::uint32_t>(tail);
}

// What was put in at a place stands before what stood there.
std::optional<std::uint32_t> TextChange::after(std::uint32_t before) const {
  if (before >= end_before()) return before - end_before() + end_after();
  return before <= head_ ? std::optional(before) : std::nullopt;
}

std::optional<std::uint32_t> TextChange::before(std::uint32_t after) const {
  if (after >= end_after()) return after - end_after() + end_before();
  return after <= head_ ? std::optional(after) : std::nullopt;
}

std::optional<Span> TextChange::after(const Span& before, FileId file) const {
  if (before.end <= head_) return Span{file, before.begin, before.end};
  if (before.begin < end_before())
    return is_none() ? std::optional(Span{file, before.begin, before.end}) : std::nullopt;
  return Span{file, before.begin - end_before() + end_after(), before.end - end_before() + end_after()};
}

}  // namespace rampart::editor
