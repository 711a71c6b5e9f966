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

std::optional<std::uint32_t> TextChange::after(std::uint32_t before) const {
  if (before <= head_) return before;
  if (before >= end_before()) return before - end_before() + end_after();
  return std::nullopt;
}

std::optional<std::uint32_t> TextChange::before(std::uint32_t after) const {
  if (after <= head_) return after;
  if (after >= end_after()) return after - end_after() + end_before();
  return std::nullopt;
}

std::optional<Span> TextChange::after(const Span& before, FileId file) const {
  const bool is_whole = before.end <= head_ || before.begin >= end_before();
  const std::optional<std::uint32_t> begin = after(before.begin);
  const std::optional<std::uint32_t> end = after(before.end);
  if ((!is_whole && !is_none()) || !begin || !end || *end < *begin) return std::nullopt;
  return Span{file, *begin, *end};
}

}  // namespace rampart::editor
