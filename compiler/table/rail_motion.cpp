#include "compiler/table/rail_motion.h"

#include <algorithm>

namespace rampart {
namespace {

Rational value_at(const Move& move, Nanoseconds time) {
  const Nanoseconds into = time - move.start;
  if (into >= move.length) return move.to;
  return move.from + (move.to - move.from) * Rational::fraction(into.count(), move.length.count());
}

// The moves that rule a rail's quantities at one instant: the last that started.
struct Ruling {
  const Move* voltage = nullptr;
  const Move* limit = nullptr;

  void read(Nanoseconds time, RailState& state) const {
    if (voltage != nullptr) state.voltage = value_at(*voltage, time);
    if (limit != nullptr) state.limit = value_at(*limit, time);
  }
};

void take(const Move& move, Ruling& ruling, RailState& state) {
  switch (move.kind) {
    case MoveKind::Voltage:
      ruling.voltage = &move;
      state.known.voltage = true;
      break;
    case MoveKind::Limit:
      ruling.limit = &move;
      state.known.limit = true;
      break;
    case MoveKind::Output:
      state.on = move.to.sign() != 0;
      state.known.output = true;
      break;
  }
}

void collect_times(const std::vector<const Move*>& moves, std::vector<Nanoseconds>& times) {
  for (const Move* move : moves) {
    times.push_back(move->start);
    if (move->length > Nanoseconds{0}) times.push_back(move->start + move->length);
  }
  std::sort(times.begin(), times.end());
  times.erase(std::unique(times.begin(), times.end()), times.end());
}

}  // namespace

void find_instants(const std::vector<const Move*>& moves, Nanoseconds block_start, RailState& state,
                   std::vector<RailInstant>& instants) {
  instants.clear();
  if (moves.empty()) return;
  std::vector<Nanoseconds> times;
  collect_times(moves, times);
  Ruling ruling;
  std::size_t started = 0;
  const Statement* statement = moves.front()->statement;
  for (const Nanoseconds time : times) {
    ruling.read(time, state);
    RailInstant instant{block_start + time, state.voltage, state.limit, {}, nullptr};
    for (; started < moves.size() && moves[started]->start == time; ++started) {
      const Move& move = *moves[started];
      statement = move.statement;
      take(move, ruling, state);
    }
    ruling.read(time, state);
    instant.after = state;
    instant.statement = statement;
    instants.push_back(instant);
  }
}

}  // namespace rampart
