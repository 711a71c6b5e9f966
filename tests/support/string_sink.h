#pragma once

#include <string>

#include "compiler/export/text_sink.h"

namespace rampart::test {

// Keeps what an export writes.
class StringSink : public TextSink {
 public:
  void write(std::string_view text) override { text_ += text; }
  [[nodiscard]] bool failed() const override { return false; }
  [[nodiscard]] const std::string& text() const { return text_; }

 private:
  std::string text_;
};

}  // namespace rampart::test
