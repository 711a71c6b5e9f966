#include "compiler/export/row_text.h"

#include <algorithm>

namespace rampart {

void PieceBuffer::flush() {
  if (used_ > 0) sink_.write(std::string_view(text_).substr(0, used_));
  used_ = 0;
}

void PieceBuffer::make_room(std::size_t characters) {
  flush();
  if (text_.size() < characters) text_.resize(characters);
}

NumberField::NumberField(const DecimalScale& scale, Zeros zeros) : scale_(scale), zeros_(zeros) {
  for (int i = 0; i < scale.decimals; ++i) one_ *= 10;
  set(0);
}

void NumberField::set(std::int64_t counts) {
  counts_ = counts;
  const std::int64_t number = counts * scale_.factor;
  char* end = nullptr;
  if (whole_ >= 0 && number >= whole_ && number - whole_ < one_) {
    end = write_digits(static_cast<std::uint64_t>(number - whole_), scale_.decimals, text_ + fraction_at_);
  } else {
    end = write_decimal(number, scale_.decimals, text_);
    fraction_at_ = static_cast<std::size_t>(end - text_ - scale_.decimals);
    whole_ = number < 0 ? -1 : number - number % one_;
  }
  if (zeros_ == Zeros::LeftOut && scale_.decimals > 0) end = without_zeros(end);
  length_ = static_cast<std::size_t>(end - text_);
}

char* TimeField::write(Nanoseconds time, char* at) {
  constexpr std::int64_t kSecond = 1'000'000'000;
  std::int64_t fraction = time.count() - second_ * kSecond;
  if (fraction < 0 || fraction >= kSecond) {
    second_ = time.count() / kSecond;
    fraction = time.count() % kSecond;
  }
  at = whole_.write(second_, at);
  *at++ = '.';
  at = write_nine_digits(static_cast<std::uint32_t>(fraction), at);
  return zeros_ == NumberField::Zeros::Kept ? at : without_zeros(at);
}

}  // namespace rampart
