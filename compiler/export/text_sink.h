#pragma once

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

}  // namespace rampart
