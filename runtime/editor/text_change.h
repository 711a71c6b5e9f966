#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

#include "lang/text/source.h"

namespace rampart::editor {

// What one text has become: the same up to a place, and the same from another one on.
class TextChange {
 public:
  TextChange(std::string_view before, std::string_view after);

  // Where what stood at an offset stands now; empty for what has been changed.
  [[nodiscard]] std::optional<std::uint32_t> after(std::uint32_t before) const;
  [[nodiscard]] std::optional<std::uint32_t> before(std::uint32_t after) const;
  // The same of a span, of which nothing may have been changed; `file` is the other text.
  [[nodiscard]] std::optional<Span> after(const Span& before, FileId file) const;

  [[nodiscard]] bool is_none() const { return head_ == before_size_ && before_size_ == after_size_; }
  // What differs: from here to the ends, in the text before and after.
  [[nodiscard]] std::uint32_t begin() const { return head_; }
  [[nodiscard]] std::uint32_t end_before() const { return before_size_ - tail_; }
  [[nodiscard]] std::uint32_t end_after() const { return after_size_ - tail_; }

 private:
  std::uint32_t before_size_;
  std::uint32_t after_size_;
  std::uint32_t head_ = 0;
  std::uint32_t tail_ = 0;
};

}  // namespace rampart::editor
