#include "runtime/editor/server.h"

#include <exception>
#include <nlohmann/json.hpp>
#include <thread>

#include "runtime/editor/conversation.h"
#include "runtime/editor/inbox.h"
#include "runtime/editor/message_reader.h"

namespace rampart::editor {
namespace {

// A request that is cancelled while it waits is not answered when its turn comes.
void look_for_cancel(const std::string& text, Inbox& inbox) {
  constexpr std::size_t kLongestCancel = 1000;
  if (text.size() > kLongestCancel || text.find("$/cancelRequest") == std::string::npos) return;
  const Json message = Json::parse(text, nullptr, false);
  const bool is_cancel = message.is_object() && message.value("method", Json()) == "$/cancelRequest" &&
                         message.contains("params") && message["params"].is_object() &&
                         message["params"].contains("id");
  if (is_cancel) inbox.cancel(message["params"]["id"].dump());
}

void read_all(int input, Inbox& inbox) {
  MessageReader reader(input);
  for (std::string text;;) {
    switch (reader.next(text)) {
      case MessageReader::Got::Message:
        look_for_cancel(text, inbox);
        inbox.put(Received{std::move(text)});
        break;
      case MessageReader::Got::Broken:
        inbox.put(BrokenFrame{std::move(text)});
        break;
      case MessageReader::Got::End:
        inbox.put(EndOfInput{});
        return;
    }
  }
}

// False: the conversation is over.
bool handle(const Event& event, Conversation& conversation) {
  if (const auto* message = std::get_if<Received>(&event)) return conversation.receive(message->text);
  if (const auto* broken = std::get_if<BrokenFrame>(&event)) conversation.answer_broken(broken->why);
  if (const auto* prediction = std::get_if<PredictionPtr>(&event)) conversation.take(*prediction);
  if (const auto* told = std::get_if<PredictionsTold>(&event)) conversation.take(*told);
  return !std::holds_alternative<EndOfInput>(event);
}

}  // namespace

int serve(int input, int output) {
  // It is never destroyed: the thread that reads waits for input that may never come.
  static auto* const kInbox = new Inbox;
  Inbox& inbox = *kInbox;
  std::thread(read_all, input, std::ref(inbox)).detach();
  bool is_writable = true;
  Conversation conversation(inbox,
                            [&](const std::string& text) { is_writable = is_writable && write_message(output, text); });
  while (is_writable) {
    const std::optional<Event> event = inbox.take(conversation.next_deadline());
    try {
      if (event && !handle(*event, conversation)) break;
      conversation.work_on(inbox.is_empty());
    } catch (const std::exception& failure) {
      conversation.give_up(failure.what());
    }
  }
  return conversation.was_shut_down() ? 0 : 1;
}

}  // namespace rampart::editor
