#pragma once

#include <memory>
#include <string>
#include <string_view>

namespace rampart {

// The SHA-256 digest of a text that comes piece by piece, after FIPS 180-4. A copy goes on by itself.
class Sha256 {
 public:
  Sha256();
  Sha256(const Sha256& other);
  Sha256& operator=(const Sha256& other);
  ~Sha256();

  void add(std::string_view bytes);
  // 64 lower-case hexadecimal digits of what was added so far. What is added afterwards begins anew.
  [[nodiscard]] std::string finish();

 private:
  struct State;
  std::unique_ptr<State> state_;
};

[[nodiscard]] std::string sha256_of(std::string_view bytes);

// Hexadecimal digits, written in the digits of base 64 (RFC 4648, section 4).
[[nodiscard]] std::string base64_of_hex(std::string_view hex);

}  // namespace rampart
