#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "runtime/bench_run/rail_board.h"
#include "runtime/bench_run/row_messages.h"
#include "runtime/bench_run/start_checks.h"
#include "runtime/bench_run/supply_worker.h"

namespace rampart::bench_run {

// The workers of a run, one a supply: who was told what, who has answered, and who was given up.
class Crew {
 public:
  // All has to live as long.
  Crew(const Plan& plan, std::vector<ReadySupply>& supplies, Mailbox& mailbox);

  // The supplies that an instant tells something.
  [[nodiscard]] std::vector<bool> told_by(const TableInstant& instant) const;
  // No reading of these begins that may last beyond that time.
  void keep_free(const std::vector<bool>& supplies, Clock::time_point from);
  // Sends the rows of an instant. What a supply has acknowledged is not sent again, and an output that has tripped
  // stays off.
  void send(const TableInstant& instant, Clock::time_point due, const RailBoard& board);
  // Nothing that was sent counts any more: the next row of each channel is sent as a whole.
  void forget_rows() { writer_.forget(); }
  // Switches one channel off. With `asks_first` its output is read before, to see whether a link has done so already.
  void switch_off_channel(std::size_t channel, bool asks_first);
  // Asks whether a channel has tripped, before it is told anything else.
  void ask_trip(std::size_t channel);
  // Switches all outputs of a supply off whatever it is doing; it gets no more rows.
  void give_up(std::size_t supply, RailBoard& board);
  // Asks the state of all outputs of all supplies.
  void read_outputs();
  void read_without_pause(bool is_wanted);
  // Which line is asked for; none: no line is.
  void watch_line(std::optional<std::size_t> line);

  void note_answer(std::size_t supply) { members_[supply].is_waiting = false; }
  void note_outputs(std::size_t supply, std::vector<OutputState> states);
  // Whether any of these has not answered yet.
  [[nodiscard]] bool owes_answer(const std::vector<bool>& supplies) const;
  [[nodiscard]] bool owes_answer() const { return owes_answer(std::vector<bool>(members_.size(), true)); }
  [[nodiscard]] bool is_given_up(std::size_t supply) const { return members_[supply].is_given_up; }
  [[nodiscard]] std::size_t size() const { return members_.size(); }
  [[nodiscard]] bool knows_all_outputs() const;
  // "right does not answer and is tried again; left: all outputs off".
  [[nodiscard]] std::string silence_text() const;
  // Channels whose output should be off, and is not or does not say so. Of supplies given up, none.
  [[nodiscard]] std::vector<std::size_t> disobedient(const RailBoard& board) const;
  // What is known of a channel of the plan; see knows_all_outputs().
  [[nodiscard]] const OutputState& output(std::size_t channel) const;

 private:
  struct Member {
    std::unique_ptr<SupplyWorker> worker;
    bool is_waiting = false;   // rows are not yet acknowledged
    bool is_given_up = false;  // it was switched off, and gets no more rows
    std::optional<std::vector<OutputState>> outputs;
  };
  void send(std::size_t supply, SupplyWorker::Rows rows);

  const Plan& plan_;
  std::vector<Member> members_;
  RowWriter writer_;
};

}  // namespace rampart::bench_run
