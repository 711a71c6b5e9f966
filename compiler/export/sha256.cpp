#include "compiler/export/sha256.h"

#include <algorithm>
#include <bit>

namespace rampart {
namespace {

// FIPS 180-4, 4.2.2: the first 32 bits of the fractions of the cube roots of the first 64 primes.
constexpr std::array<std::uint32_t, 64> kRoundConstants{
    0x428a2f98U, 0x71374491U, 0xb5c0fbcfU, 0xe9b5dba5U, 0x3956c25bU, 0x59f111f1U, 0x923f82a4U, 0xab1c5ed5U,
    0xd807aa98U, 0x12835b01U, 0x243185beU, 0x550c7dc3U, 0x72be5d74U, 0x80deb1feU, 0x9bdc06a7U, 0xc19bf174U,
    0xe49b69c1U, 0xefbe4786U, 0x0fc19dc6U, 0x240ca1ccU, 0x2de92c6fU, 0x4a7484aaU, 0x5cb0a9dcU, 0x76f988daU,
    0x983e5152U, 0xa831c66dU, 0xb00327c8U, 0xbf597fc7U, 0xc6e00bf3U, 0xd5a79147U, 0x06ca6351U, 0x14292967U,
    0x27b70a85U, 0x2e1b2138U, 0x4d2c6dfcU, 0x53380d13U, 0x650a7354U, 0x766a0abbU, 0x81c2c92eU, 0x92722c85U,
    0xa2bfe8a1U, 0xa81a664bU, 0xc24b8b70U, 0xc76c51a3U, 0xd192e819U, 0xd6990624U, 0xf40e3585U, 0x106aa070U,
    0x19a4c116U, 0x1e376c08U, 0x2748774cU, 0x34b0bcb5U, 0x391c0cb3U, 0x4ed8aa4aU, 0x5b9cca4fU, 0x682e6ff3U,
    0x748f82eeU, 0x78a5636fU, 0x84c87814U, 0x8cc70208U, 0x90befffaU, 0xa4506cebU, 0xbef9a3f7U, 0xc67178f2U};

// The functions of 4.1.2.
std::uint32_t choose(std::uint32_t x, std::uint32_t y, std::uint32_t z) {
  return (x & y) ^ (~x & z);
}
std::uint32_t majority(std::uint32_t x, std::uint32_t y, std::uint32_t z) {
  return (x & y) ^ (x & z) ^ (y & z);
}
std::uint32_t large_sigma0(std::uint32_t x) {
  return std::rotr(x, 2) ^ std::rotr(x, 13) ^ std::rotr(x, 22);
}
std::uint32_t large_sigma1(std::uint32_t x) {
  return std::rotr(x, 6) ^ std::rotr(x, 11) ^ std::rotr(x, 25);
}
std::uint32_t small_sigma0(std::uint32_t x) {
  return std::rotr(x, 7) ^ std::rotr(x, 18) ^ (x >> 3);
}
std::uint32_t small_sigma1(std::uint32_t x) {
  return std::rotr(x, 17) ^ std::rotr(x, 19) ^ (x >> 10);
}

}  // namespace

void Sha256::add(std::string_view bytes) {
  length_ += bytes.size();
  while (!bytes.empty()) {
    const std::size_t taken = std::min(bytes.size(), block_.size() - filled_);
    std::copy_n(bytes.begin(), taken, block_.begin() + static_cast<std::ptrdiff_t>(filled_));
    bytes.remove_prefix(taken);
    filled_ += taken;
    if (filled_ < block_.size()) return;
    take_block(block_.data());
    filled_ = 0;
  }
}

// 5.1.1: a one bit, zeros, and the length in bits as 64 bits end the last block.
std::string Sha256::finish() {
  const std::uint64_t bits = length_ * 8;
  std::string padding(1, '\x80');
  padding.append((block_.size() * 2 - 9 - filled_) % block_.size(), '\0');
  for (int shift = 56; shift >= 0; shift -= 8) padding += static_cast<char>(bits >> shift & 0xFFU);
  add(padding);
  static constexpr std::string_view kDigits = "0123456789abcdef";
  std::string text;
  for (const std::uint32_t word : state_) {
    for (int shift = 28; shift >= 0; shift -= 4) text += kDigits[word >> shift & 0xFU];
  }
  return text;
}

// 6.2.2: the message schedule, then 64 rounds.
void Sha256::take_block(const unsigned char* block) {
  std::array<std::uint32_t, 64> schedule{};
  for (std::size_t t = 0; t < 16; ++t) {
    for (std::size_t byte = 0; byte < 4; ++byte) schedule[t] = schedule[t] << 8 | block[4 * t + byte];
  }
  for (std::size_t t = 16; t < schedule.size(); ++t) {
    schedule[t] = small_sigma1(schedule[t - 2]) + schedule[t - 7] + small_sigma0(schedule[t - 15]) + schedule[t - 16];
  }
  auto [a, b, c, d, e, f, g, h] = state_;
  for (std::size_t t = 0; t < schedule.size(); ++t) {
    const std::uint32_t first = h + large_sigma1(e) + choose(e, f, g) + kRoundConstants[t] + schedule[t];
    const std::uint32_t second = large_sigma0(a) + majority(a, b, c);
    h = g;
    g = f;
    f = e;
    e = d + first;
    d = c;
    c = b;
    b = a;
    a = first + second;
  }
  const std::array<std::uint32_t, 8> worked{a, b, c, d, e, f, g, h};
  for (std::size_t i = 0; i < state_.size(); ++i) state_[i] += worked[i];
}

std::string sha256_of(std::string_view bytes) {
  Sha256 digest;
  digest.add(bytes);
  return digest.finish();
}

}  // namespace rampart
