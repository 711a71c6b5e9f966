#include "runtime/report/packed_numbers.h"

#include <string_view>

namespace rampart::report {
namespace {

constexpr std::string_view kDigits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
constexpr unsigned kBits = 5;
constexpr std::uint64_t kMore = 1U << kBits;

}  // namespace

void PackedNumbers::add(std::int64_t number) {
  const auto bits = static_cast<std::uint64_t>(number);
  std::uint64_t rest = number < 0 ? (~bits << 1U) | 1U : bits << 1U;
  while (rest >= kMore) {
    text_ += kDigits[(rest % kMore) | kMore];
    rest >>= kBits;
  }
  text_ += kDigits[rest];
}

}  // namespace rampart::report
