#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string_view>

namespace rampart {

// A word of up to eight bytes as one number; 0 for a longer one, for one with a NUL byte, and for none.
[[nodiscard]] constexpr std::uint64_t packed(std::string_view word) {
  if (word.size() > sizeof(std::uint64_t)) return 0;
  std::uint64_t number = 0;
  for (const char c : word) {
    if (c == '\0') return 0;
    number = number << 8U | static_cast<unsigned char>(c);
  }
  return number;
}

// A fixed set of such words, each with a value, made when the program is compiled and searched by hashing.
// kSlots: a power of two, at least twice as many as words.
template <class Value, std::size_t kSlots>
class WordTable {
 public:
  // Of a word that is there already, the first value stays.
  constexpr void add(std::string_view word, const Value& value) {
    const std::uint64_t key = packed(word);
    Slot& slot = slots_[place_of(key)];
    if (slot.key == key) return;
    slot = {key, value};
  }
  // None if the word is not there.
  [[nodiscard]] constexpr const Value* find(std::string_view word) const {
    const std::uint64_t key = packed(word);
    const Slot& slot = slots_[place_of(key)];
    return key != 0 && slot.key == key ? &slot.value : nullptr;
  }

 private:
  struct Slot {
    std::uint64_t key = 0;
    Value value{};
  };

  // Where the word is, or where it would be.
  [[nodiscard]] constexpr std::size_t place_of(std::uint64_t key) const {
    constexpr std::uint64_t kGoldenRatio = 0x9E3779B97F4A7C15U;  // Fibonacci hashing: Knuth, TAOCP 3, section 6.4
    std::size_t place = (key * kGoldenRatio >> 32U) % kSlots;
    while (slots_[place].key != 0 && slots_[place].key != key) place = (place + 1) % kSlots;
    return place;
  }

  std::array<Slot, kSlots> slots_{};
};

}  // namespace rampart
