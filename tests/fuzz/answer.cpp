// What an instrument answers, or something that is no answer.
#include <algorithm>
#include <cmath>
#include <memory>

#include "runtime/link/conversation.h"
#include "runtime/link/instrument.h"
#include "tests/fuzz/check.h"
#include "tests/fuzz/targets.h"

namespace rampart::fuzz {
namespace {

// Hands out the input some bytes at a time, then nothing more.
class HeldBytes : public link::Transport {
 public:
  explicit HeldBytes(std::string_view bytes) : rest_(bytes) {}

  std::string open(link::Deadline /*deadline*/) override { return {}; }
  void close() override {}
  std::string write(std::string_view /*bytes*/, link::Deadline /*deadline*/) override { return {}; }
  std::string read(std::string& into, link::Deadline /*deadline*/) override {
    if (rest_.empty()) return std::string(link::kTimedOut);
    const std::size_t count = std::min<std::size_t>(rest_.size(), 1 + static_cast<unsigned char>(rest_.front()) % 64);
    into += rest_.substr(0, count);
    rest_.remove_prefix(count);
    return {};
  }
  void interrupt() override {}
  void resume() override {}

 private:
  std::string_view rest_;
};

}  // namespace

void answer_lines(std::string_view bytes) {
  link::Conversation conversation(std::make_unique<HeldBytes>(bytes), std::chrono::seconds(1));
  for (;;) {
    std::string answer;
    const std::string why = conversation.receive(answer);
    check_plain(why, "what is wrong with an answer");
    if (!why.empty() && why != "an answer that is not text") break;
    if (!why.empty()) continue;
    require(answer.size() <= 2 * link::Conversation::kMostAnswerBytes, "an answer is short");
    check_plain(answer, "an answer");
    if (const std::optional<double> number = link::parse_answer_number(answer)) {
      require(std::isfinite(*number), "a number is finite");
    }
    if (const std::optional<link::Identity> identity = link::parse_identity(answer)) {
      require(identity->text == answer, "an identity is the answer");
    }
  }
}

}  // namespace rampart::fuzz
