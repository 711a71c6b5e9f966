// What an editor sends, or something that is none.
#include <sys/mman.h>
#include <unistd.h>

#include <nlohmann/json.hpp>

#include "runtime/editor/conversation.h"
#include "runtime/editor/message_reader.h"
#include "tests/fuzz/check.h"
#include "tests/fuzz/targets.h"

namespace rampart::fuzz {
namespace {

// The frames of a byte stream.
void read_frames(std::string_view bytes) {
  const int file = memfd_create("input", 0);
  require(file >= 0 && write(file, bytes.data(), bytes.size()) == static_cast<ssize_t>(bytes.size()),
          "a file in memory");
  lseek(file, 0, SEEK_SET);
  editor::MessageReader reader(file);
  std::string text;
  while (reader.next(text) != editor::MessageReader::Got::End) {
  }
  close(file);
}

// A request has one answer, and everything that is said is JSON.
class Listener {
 public:
  void hear(const std::string& text) {
    const editor::Json message = editor::Json::parse(text, nullptr, false);
    require(message.is_object() && message.value("jsonrpc", "") == "2.0", "a message is JSON-RPC 2.0");
    if (!message.contains("method")) ++answers_;
  }
  [[nodiscard]] std::size_t answers() const { return answers_; }

 private:
  std::size_t answers_ = 0;
};

bool is_request(const std::string& text) {
  const editor::Json message = editor::Json::parse(text, nullptr, false);
  return message.is_object() && message.contains("id") && message.contains("method");
}

}  // namespace

void messages(std::string_view texts) {
  read_frames(texts);
  editor::Inbox inbox;
  Listener listener;
  editor::Conversation conversation(inbox, [&](const std::string& text) { listener.hear(text); });
  for (const std::string& text : parts_of(texts)) {
    const std::size_t before = listener.answers();
    if (!conversation.receive(text)) break;
    if (is_request(text)) require(listener.answers() == before + 1, "a request has one answer");
    conversation.work_on(true);
  }
}

}  // namespace rampart::fuzz
