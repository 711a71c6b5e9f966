#pragma once

#include <string>

#include "compiler/export/sha256.h"
#include "compiler/export/text_sink.h"

namespace rampart::test {

// Keeps what an export writes.
class StringSink : public DigestSink {
 public:
  void write(std::string_view text) override { text_ += text; }
  [[nodiscard]] bool failed() const override { return false; }
  [[nodiscard]] std::string sha256() override { return sha256_of(text_); }
  [[nodiscard]] const std::string& text() const { return text_; }

 private:
  std::string text_;
};

}  // namespace rampart::test
