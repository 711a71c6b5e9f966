#pragma once

#include <string>
#include <string_view>

#include "compiler/export/sha256.h"
#include "compiler/export/text_sink.h"

namespace rampart::fuzz {

// Takes the first bytes of an export, and has failed then: tables may be longer than any disk.
class ShortSink : public DigestSink {
 public:
  void write(std::string_view text) override {
    if (!failed()) text_ += text;
  }
  [[nodiscard]] bool failed() const override { return text_.size() >= kMost; }
  [[nodiscard]] std::string sha256() override { return sha256_of(text_); }
  [[nodiscard]] const std::string& text() const { return text_; }

 private:
  static constexpr std::size_t kMost = 200'000;
  std::string text_;
};

}  // namespace rampart::fuzz
