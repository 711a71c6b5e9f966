#pragma once

#include <string>
#include <string_view>

namespace rampart {

// Where an export writes its text, piece after piece.
class TextSink {
 public:
  virtual ~TextSink() = default;
  virtual void write(std::string_view text) = 0;
  // True once nothing more needs to be written, because what was written before was lost.
  [[nodiscard]] virtual bool failed() const = 0;
};

// One that can tell the digest of what it was given.
class DigestSink : public TextSink {
 public:
  // SHA-256 of what was written so far, 64 lower-case hexadecimal digits.
  [[nodiscard]] virtual std::string sha256() = 0;
};

}  // namespace rampart
