#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

#include "compiler/export/decimal.h"
#include "compiler/export/text_sink.h"
#include "compiler/table/table.h"

// What writes millions of rows: text goes straight to its place, and what stays from row to row is kept as text.
namespace rampart {

// Collects text and hands it on in large pieces.
class PieceBuffer {
 public:
  explicit PieceBuffer(TextSink& sink) : sink_(sink), text_(kPieceBytes, '\0') {}
  PieceBuffer(const PieceBuffer&) = delete;
  PieceBuffer& operator=(const PieceBuffer&) = delete;
  ~PieceBuffer() { flush(); }

  void add(std::string_view text) {
    char* const at = room(text.size());
    text.copy(at, text.size());
    take(at + text.size());
  }
  // Where so many characters may be written next; take() then says where they end.
  [[nodiscard]] char* room(std::size_t characters) {
    if (text_.size() - used_ < characters) make_room(characters);
    return text_.data() + used_;
  }
  void take(const char* end) { used_ = static_cast<std::size_t>(end - text_.data()); }

  // False once further text would be lost.
  [[nodiscard]] bool keep_going() const { return !sink_.failed(); }
  void flush();

 private:
  static constexpr std::size_t kPieceBytes = std::size_t{1} << 16;
  void make_room(std::size_t characters);

  TextSink& sink_;
  std::string text_;
  std::size_t used_ = 0;
};

// The number of a column. Its text is kept, since it often stays the same from row to row, or its whole part does.
class NumberField {
 public:
  enum class Zeros { Kept, LeftOut };  // at the end of the fraction

  NumberField(const DecimalScale& scale, Zeros zeros);
  // Writes to `at`, where there is room for kLongestDecimal characters. Gives the end.
  [[nodiscard]] char* write(std::int64_t counts, char* at) {
    if (counts != counts_) set(counts);
    std::string_view(text_, kLongestDecimal).copy(at, kLongestDecimal);
    return at + length_;
  }

 private:
  void set(std::int64_t counts);

  DecimalScale scale_;
  Zeros zeros_;
  std::int64_t one_ = 1;  // in the unit of the last decimal
  std::int64_t counts_ = 0;
  std::int64_t whole_ = -1;  // the whole part, in that unit; below 0: none is kept
  std::size_t fraction_at_ = 0;
  std::size_t length_ = 0;
  char text_[kLongestDecimal] = {};
};

// Times in seconds, which rise from row to row: the whole seconds are kept.
class TimeField {
 public:
  explicit TimeField(NumberField::Zeros zeros) : whole_({1, 0}, NumberField::Zeros::Kept), zeros_(zeros) {}
  // As NumberField::write(), for a time from 0.
  [[nodiscard]] char* write(Nanoseconds time, char* at);

 private:
  NumberField whole_;
  NumberField::Zeros zeros_;
  std::int64_t second_ = 0;
};

}  // namespace rampart
