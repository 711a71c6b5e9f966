#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <string_view>

namespace rampart {

// The SHA-256 digest of a text that comes piece by piece, after FIPS 180-4.
class Sha256 {
 public:
  void add(std::string_view bytes);
  // 64 lower-case hexadecimal digits of what was added so far. Nothing can be added afterwards.
  [[nodiscard]] std::string finish();

 private:
  void take_block(const unsigned char* block);

  // FIPS 180-4, 5.3.3: the first 32 bits of the fractions of the square roots of the first eight primes.
  std::array<std::uint32_t, 8> state_{0x6a09e667U, 0xbb67ae85U, 0x3c6ef372U, 0xa54ff53aU,
                                      0x510e527fU, 0x9b05688cU, 0x1f83d9abU, 0x5be0cd19U};
  std::array<unsigned char, 64> block_{};
  std::size_t filled_ = 0;
  std::uint64_t length_ = 0;  // bytes
};

[[nodiscard]] std::string sha256_of(std::string_view bytes);

}  // namespace rampart
