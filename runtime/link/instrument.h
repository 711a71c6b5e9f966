#pragma once

#include <memory>
#include <optional>
#include <span>
#include <string>

#include "runtime/link/link.h"
#include "runtime/link/transport.h"

namespace rampart::link {

class Conversation;

// The answer to *IDN? (IEEE 488.2, 10.14): four fields.
struct Identity {
  std::string maker;
  std::string model;
  std::string serial_number;
  std::string firmware;
  std::string text;  // the whole answer
};

// Readings that SCPI-1999 gives for values beyond the range, and for none (volume 1, 7.2.1).
inline constexpr double kInfinity = 9.9e37;
inline constexpr double kNotANumber = 9.91e37;

// One supply, spoken to in its messages. Each call waits for the answer, at most for the link's time-out, and gives
// nothing (or false) where it failed; why() then says what happened. After a failure answer and question may be out of
// step until resynchronize(). All calls come from one thread, except interrupt().
class Instrument {
 public:
  // `link` has to live as long.
  explicit Instrument(const SupplyLink& link);
  ~Instrument();
  Instrument(const Instrument&) = delete;
  Instrument& operator=(const Instrument&) = delete;

  [[nodiscard]] const SupplyLink& link() const { return link_; }
  // What failed last: "`OUTPut1:STATe?`: no answer in time".
  [[nodiscard]] const std::string& why() const { return why_; }

  [[nodiscard]] bool connect();
  void disconnect();
  [[nodiscard]] std::optional<Identity> identify();
  // Sends commands, one a line, and waits until they are complete.
  [[nodiscard]] bool command(std::span<const std::string> messages);
  [[nodiscard]] bool command(MessageKind kind, const MessageFields& fields);
  // The same without waiting: for what has to be sent although nothing may answer.
  [[nodiscard]] bool send(std::span<const std::string> messages);
  [[nodiscard]] std::optional<std::string> ask_text(MessageKind kind, const std::string& subject);
  [[nodiscard]] std::optional<double> ask_number(MessageKind kind, const std::string& subject);
  [[nodiscard]] std::optional<bool> ask_truth(MessageKind kind, const std::string& subject);
  // Asks who is there until that answer comes, so that no older one is outstanding. True also if the answer is the one
  // expected.
  [[nodiscard]] bool resynchronize();
  // True once resynchronize() has found another instrument there, by the same other serial number twice: nothing may be
  // sent to it, and nothing it says is about this supply.
  [[nodiscard]] bool is_other() const { return is_other_; }

  // From any thread: see Transport.
  void interrupt();
  void resume();

 private:
  // A question as it was sent.
  [[nodiscard]] std::string sent(MessageKind kind, const std::string& subject) const;
  [[nodiscard]] bool fail(const std::string& message, const std::string& why);
  [[nodiscard]] std::optional<std::string> ask(const std::string& message);

  const SupplyLink& link_;
  std::unique_ptr<Conversation> conversation_;
  std::string identity_;  // the last one that was read
  std::string why_;
  bool is_other_ = false;
};

// An answer as a number (IEEE 488.2, 8.7: NR1, NR2 or NR3). Empty if it is none.
[[nodiscard]] std::optional<double> parse_answer_number(std::string_view text);
// The fields of an answer to *IDN?. Empty if there are not four, or the first three say nothing.
[[nodiscard]] std::optional<Identity> parse_identity(const std::string& text);

}  // namespace rampart::link
