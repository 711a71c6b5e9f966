#include "compiler/table/rail_player.h"

namespace rampart {

void RailPlayer::begin(const Block& block, const std::vector<const Move*>& moves, RowQueue& queue) {
  find_instants(moves, block.start, state_, instants_);
  if (!instants_.empty()) last_statement_ = instants_.back().statement;
  start(block, queue);
}

void RailPlayer::begin_segment(RowQueue& queue) {
  put_rows(Nanoseconds{0}, state_, last_statement_, true, queue);
}

void RailPlayer::append_pass_state(Nanoseconds /*origin*/, StateKey& state) const {
  state.add(state_.voltage);
  state.add(state_.limit);
  state.add(std::int64_t{state_.on});
  state.add(std::int64_t{state_.known.voltage + 2 * state_.known.limit + 4 * state_.known.output});
}

Nanoseconds RailPlayer::on_grid(Int128 numerator, Int128 denominator) {
  if (room_) room_->meet(output_.grid().room(numerator, denominator));
  return output_.grid().nearest(numerator, denominator);
}

void RailPlayer::put_rows(Nanoseconds time, const RailState& state, const Statement* statement, bool forced,
                          RowQueue& queue) {
  if (!state.known.any()) return;
  output_.set(state.voltage, state.limit, counts_);
  put_counts(time, state, statement, forced, queue, false);
}

void RailPlayer::put_counts(Nanoseconds time, const RailState& state, const Statement* statement, bool forced,
                            RowQueue& queue, bool is_stair) {
  if (!state.known.any()) return;
  for (std::size_t i = 0; i < counts_.size(); ++i) queue.put(row_of(i, time, state, statement, is_stair), forced);
}

Row RailPlayer::row_of(std::size_t member, Nanoseconds time, const RailState& state, const Statement* statement,
                       bool is_stair) const {
  Row row;
  row.time = row.until = time;
  row.channel = output_.members()[member];
  row.voltage = row.voltage_until = counts_[member].voltage;
  row.current = row.current_until = counts_[member].current;
  row.output = state.on;
  row.is_stair = is_stair;
  row.known = state.known;
  if (statement != nullptr) row.statement = statement->span;
  return row;
}

}  // namespace rampart
