#include "compiler/export/sha256.h"

#include <cryptopp/base64.h>
#include <cryptopp/hex.h>
#include <cryptopp/sha.h>

#include <array>

namespace rampart {
namespace {

const CryptoPP::byte* bytes_of(std::string_view text) {
  return reinterpret_cast<const CryptoPP::byte*>(text.data());
}

}  // namespace

struct Sha256::State {
  CryptoPP::SHA256 hash;
};

Sha256::Sha256() : state_(std::make_unique<State>()) {}
Sha256::Sha256(const Sha256& other) : state_(std::make_unique<State>(*other.state_)) {}
Sha256& Sha256::operator=(const Sha256& other) {
  *state_ = *other.state_;
  return *this;
}
Sha256::~Sha256() = default;

void Sha256::add(std::string_view bytes) {
  state_->hash.Update(bytes_of(bytes), bytes.size());
}

std::string Sha256::finish() {
  std::array<CryptoPP::byte, CryptoPP::SHA256::DIGESTSIZE> digest{};
  state_->hash.Final(digest.data());
  static constexpr std::string_view kDigits = "0123456789abcdef";
  std::string text;
  for (const CryptoPP::byte byte : digest) {
    text += kDigits[byte >> 4U];
    text += kDigits[byte & 0xFU];
  }
  return text;
}

std::string sha256_of(std::string_view bytes) {
  Sha256 digest;
  digest.add(bytes);
  return digest.finish();
}

std::string base64_of_hex(std::string_view hex) {
  CryptoPP::HexDecoder decoder;
  decoder.Put(bytes_of(hex), hex.size());
  decoder.MessageEnd();
  CryptoPP::Base64Encoder encoder(nullptr, false);
  decoder.TransferTo(encoder);
  encoder.MessageEnd();
  std::string text(encoder.MaxRetrievable(), '\0');
  encoder.Get(reinterpret_cast<CryptoPP::byte*>(text.data()), text.size());
  return text;
}

}  // namespace rampart
