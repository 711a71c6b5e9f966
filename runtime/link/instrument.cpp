#include "runtime/link/instrument.h"

#include <charconv>
#include <cmath>

#include "runtime/link/conversation.h"

namespace rampart::link {
namespace {

// More answers than this can hardly be outstanding: one query is asked at a time.
constexpr int kMostStaleAnswers = 16;
// What is shown of an answer that makes no sense.
constexpr std::size_t kShownBytes = 60;

std::string shown(const std::string& answer) {
  return "`" + answer.substr(0, kShownBytes) + (answer.size() > kShownBytes ? "…`" : "`");
}

std::string joined(std::span<const std::string> messages) {
  std::string text;
  for (const std::string& message : messages) text += message + "\n";
  return text;
}

std::string trimmed(std::string_view text) {
  while (text.starts_with(' ')) text.remove_prefix(1);
  while (text.ends_with(' ')) text.remove_suffix(1);
  return std::string(text);
}

}  // namespace

std::optional<double> parse_answer_number(std::string_view text) {
  const bool is_positive = text.starts_with('+');
  if (is_positive) text.remove_prefix(1);
  if (text.starts_with('+') || (is_positive && text.starts_with('-'))) return std::nullopt;
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  // Words such as `inf` are no numbers of the standard.
  if (error != std::errc() || end != text.data() + text.size() || !std::isfinite(value)) return std::nullopt;
  return value;
}

std::optional<Identity> parse_identity(const std::string& text) {
  std::string fields[4];
  std::size_t begin = 0;
  for (int i = 0; i < 4; ++i) {
    const std::size_t end = i < 3 ? text.find(',', begin) : text.size();
    if (end == std::string::npos) return std::nullopt;
    fields[i] = trimmed(std::string_view(text).substr(begin, end - begin));
    begin = end + 1;
  }
  if (fields[0].empty() || fields[1].empty() || fields[2].empty()) return std::nullopt;
  return Identity{fields[0], fields[1], fields[2], fields[3], text};
}

Instrument::Instrument(const SupplyLink& link)
    : link_(link), conversation_(std::make_unique<Conversation>(make_transport(link.place), link.timeout)) {}

Instrument::~Instrument() = default;

bool Instrument::fail(const std::string& message, const std::string& why) {
  why_ = message.empty() ? why : "`" + message + "`: " + why;
  return false;
}

bool Instrument::connect() {
  const std::string why = conversation_->open();
  return why.empty() || fail("", place_text(link_.place) + ": " + why);
}

void Instrument::disconnect() {
  conversation_->transport().close();
}

std::optional<std::string> Instrument::ask(const std::string& message) {
  std::string why = conversation_->has_more() ? "something came that nobody asked for" : "";
  if (why.empty()) why = conversation_->send(message + "\n");
  std::string answer;
  if (why.empty()) why = conversation_->receive(answer);
  if (why.empty()) return answer;
  static_cast<void>(fail(message, why));
  return std::nullopt;
}

std::optional<std::string> Instrument::ask_text(MessageKind kind, const std::string& subject) {
  const std::optional<std::string> message = link_.messages.filled(kind, {subject, {}});
  if (!message) {
    static_cast<void>(fail(link_.messages.text(kind), "cannot be written"));
    return std::nullopt;
  }
  return ask(*message);
}

std::string Instrument::sent(MessageKind kind, const std::string& subject) const {
  return link_.messages.filled(kind, {subject, {}}).value_or(link_.messages.text(kind));
}

std::optional<Identity> Instrument::identify() {
  const std::optional<std::string> answer = ask_text(MessageKind::Identify, "");
  if (!answer) return std::nullopt;
  std::optional<Identity> identity = parse_identity(*answer);
  if (!identity) {
    static_cast<void>(fail(link_.messages.text(MessageKind::Identify),
                           "the answer " + shown(*answer) + " is not maker, model, serial number and firmware"));
    return std::nullopt;
  }
  identity_ = *answer;
  return identity;
}

bool Instrument::send(std::span<const std::string> messages) {
  const std::string why = conversation_->send(joined(messages));
  return why.empty() || fail(messages.empty() ? "" : messages.back(), why);
}

bool Instrument::command(std::span<const std::string> messages) {
  const std::string& complete = link_.messages.text(MessageKind::Complete);
  std::string why = conversation_->has_more() ? "something came that nobody asked for" : "";
  if (why.empty()) why = conversation_->send(joined(messages) + complete + "\n");
  std::string answer;
  if (why.empty()) why = conversation_->receive(answer);
  if (why.empty() && parse_answer_number(answer) != 1.0) why = "the answer " + shown(answer) + " is not 1";
  return why.empty() || fail(messages.empty() ? complete : messages.back() + "` and `" + complete, why);
}

bool Instrument::command(MessageKind kind, const MessageFields& fields) {
  const std::optional<std::string> message = link_.messages.filled(kind, fields);
  if (!message) return fail(link_.messages.text(kind), "cannot be written with " + to_text({fields.value, {}}));
  return command({&*message, 1});
}

std::optional<double> Instrument::ask_number(MessageKind kind, const std::string& subject) {
  const std::optional<std::string> answer = ask_text(kind, subject);
  if (!answer) return std::nullopt;
  const std::optional<double> number = parse_answer_number(trimmed(*answer));
  if (!number) {
    static_cast<void>(fail(sent(kind, subject), "the answer " + shown(*answer) + " is not a number"));
  }
  return number;
}

std::optional<bool> Instrument::ask_truth(MessageKind kind, const std::string& subject) {
  const std::optional<std::string> answer = ask_text(kind, subject);
  if (!answer) return std::nullopt;
  const std::string word = trimmed(*answer);
  const std::optional<double> number = parse_answer_number(word);
  if (word == "ON" || number == 1.0) return true;
  if (word == "OFF" || number == 0.0) return false;
  static_cast<void>(fail(sent(kind, subject), "the answer " + shown(*answer) + " is neither 0 nor 1"));
  return std::nullopt;
}

bool Instrument::resynchronize() {
  const std::string& message = link_.messages.text(MessageKind::Identify);
  conversation_->forget();
  is_other_ = false;
  std::string other;
  if (const std::string why = conversation_->send(message + "\n"); !why.empty()) return fail(message, why);
  for (int i = 0; i < kMostStaleAnswers; ++i) {
    std::string answer;
    const std::string why = conversation_->receive(answer);
    if (why == kTimedOut || why == kInterrupted) return fail(message, why);
    const std::optional<Identity> identity = why.empty() ? parse_identity(answer) : std::nullopt;
    if (identity && identity->serial_number == link_.serial_number) return true;
    if (!why.empty() && why != "an answer that is not text") return fail(message, why);
    if (!identity) continue;
    is_other_ = identity->serial_number == other;
    other = identity->serial_number;
    if (is_other_) {
      return fail(message, "the instrument there has serial number " + other + ", not " + link_.serial_number);
    }
    // A byte may have been lost on the way: it is asked once more.
    if (const std::string again = conversation_->send(message + "\n"); !again.empty()) return fail(message, again);
  }
  return fail(message, "only answers to other questions came");
}

void Instrument::interrupt() {
  conversation_->transport().interrupt();
}

void Instrument::resume() {
  conversation_->transport().resume();
}

}  // namespace rampart::link
