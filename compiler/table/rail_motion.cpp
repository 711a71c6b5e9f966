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
  times.reserve(2 * moves.size());
  for (const Move* move : moves) {
    times.push_back(move->start);
    if (move->length > Nanoseconds{0}) times.push_back(move->start + move->length);
  }
  std::sort(times.begin(), times.end());
  times.erase(std::unique(times.begin(), times.end()), times.end());
}

// How a rail moves between two neighbouring instants, in V/ns and A/ns.
struct Slope {
  Rational voltage;
  Rational limit;

  [[nodiscard]] bool overflowed() const { return voltage.overflowed() || limit.overflowed(); }
  friend bool operator==(const Slope&, const Slope&) = default;
};

Slope slope_between(const RailInstant& from, const RailInstant& to) {
  const Rational voltage = to.voltage_before - from.after.voltage;
  const Rational limit = to.limit_before - from.after.limit;
  if (voltage.sign() == 0 && limit.sign() == 0) return {};
  const Rational time = Rational::fraction((to.time - from.time).count(), 1);
  return {voltage / time, limit / time};
}

bool is_flat(const RailInstant& from, const RailInstant& to) {
  return to.voltage_before == from.after.voltage && to.limit_before == from.after.limit;
}

// The rail stands before the first instant of a block and after the last.
void leave_out_idle(std::vector<RailInstant>& instants) {
  std::size_t kept = 0;
  bool flat_before = true;
  for (std::size_t i = 0; i < instants.size(); ++i) {
    const bool flat_after = i + 1 == instants.size() || is_flat(instants[i], instants[i + 1]);
    bool idle = !instants[i].jumps() && !instants[i].switches && flat_before == flat_after;
    if (idle && !flat_before) {
      // What was left out since the last that is kept lies on one straight line with it.
      const Slope before = slope_between(instants[kept - 1], instants[i]);
      idle = !before.overflowed() && before == slope_between(instants[i], instants[i + 1]);
    }
    flat_before = flat_after;
    if (idle) continue;
    if (kept != i) instants[kept] = std::move(instants[i]);
    ++kept;
  }
  instants.resize(kept);
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
    const bool was_on = state.on;
    RailInstant instant{block_start + time, state.voltage, state.limit, state.known, {}, nullptr, false};
    for (; started < moves.size() && moves[started]->start == time; ++started) {
      const Move& move = *moves[started];
      statement = move.statement;
      take(move, ruling, state);
    }
    ruling.read(time, state);
    instant.after = state;
    instant.statement = statement;
    instant.switches = state.on != was_on || state.known != instant.known_before;
    instants.push_back(instant);
  }
  leave_out_idle(instants);
}

}  // namespace rampart
