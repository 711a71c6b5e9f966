#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace rampart {

// Values one after another as text, from which each is read back exactly.
class FieldWriter {
 public:
  // Also what is not finite.
  void number(double value);
  void whole(std::int64_t value);
  void words(std::string_view any);
  [[nodiscard]] std::string take() { return std::move(text_); }

 private:
  void add(std::string_view field);
  std::string text_;
};

// Reads what a FieldWriter has written. What is not there reads as 0 or nothing, and is_right() says so.
class FieldReader {
 public:
  explicit FieldReader(std::string_view text) : rest_(text) {}

  [[nodiscard]] double number();
  [[nodiscard]] std::int64_t whole();
  // A number of things of which each takes a field at least.
  [[nodiscard]] std::size_t count();
  // No characters that a terminal obeys and does not show: nothing that was written has any.
  [[nodiscard]] std::string words();
  // All was read, and all of it was as it was asked for.
  [[nodiscard]] bool is_right() const { return is_right_ && rest_.empty(); }

 private:
  std::string_view next();
  std::string_view rest_;
  bool is_right_ = true;
};

}  // namespace rampart
