#include <algorithm>

#include "compiler/table/rail_player.h"

namespace rampart {
namespace {

// A piece between two instants in which something ramps, cut into `stairs` equal intervals. Each holds the value at
// its start, so the staircase is never early; the end value comes with the next instant.
struct Staircase {
  std::int64_t stairs = 0;
  std::int64_t next = 1;  // the interval whose start comes next; the instant itself starts the first

  [[nodiscard]] bool done() const { return next >= stairs; }
};

std::int64_t count_change(const std::vector<MemberCounts>& from, const std::vector<MemberCounts>& to) {
  std::int64_t most = 0;
  for (std::size_t i = 0; i < from.size(); ++i) {
    most = std::max({most, std::abs(to[i].voltage - from[i].voltage), std::abs(to[i].current - from[i].current)});
  }
  return most;
}

Rational between(const Rational& from, const Rational& to, std::int64_t part, std::int64_t parts) {
  return from + (to - from) * Rational::fraction(part, parts);
}

class StairPlayer : public RailPlayer {
 public:
  using RailPlayer::RailPlayer;
  [[nodiscard]] std::unique_ptr<RailPlayer> clone() const override { return std::make_unique<StairPlayer>(*this); }

  [[nodiscard]] std::optional<Nanoseconds> next_time() const override {
    if (at_ < instants_.size() && stairs_.done()) return output_.grid().nearest(instants_[at_].time);
    if (!stairs_.done()) return stair_time();
    return std::nullopt;
  }

  void make_next(RowQueue& queue) override {
    if (!stairs_.done()) {
      make_stair(queue);
      return;
    }
    const RailInstant& instant = instants_[at_++];
    put_rows(output_.grid().nearest(instant.time), instant.after, instant.statement, false, queue);
    if (at_ < instants_.size()) begin_stairs();
  }

  Nanoseconds end_segment(Nanoseconds time, RowQueue& queue) override {
    const Nanoseconds end = output_.grid().nearest(time);
    put_rows(end, state_, last_statement_, true, queue);
    return end;
  }

 protected:
  void start(const Block&, RowQueue&) override {
    at_ = 0;
    stairs_ = {};
  }

 private:
  [[nodiscard]] const RailInstant& from() const { return instants_[at_ - 1]; }
  [[nodiscard]] const RailInstant& to() const { return instants_[at_]; }
  [[nodiscard]] Nanoseconds length() const { return to().time - from().time; }

  void begin_stairs() {
    stairs_ = {};
    if (from().after.voltage == to().voltage_before && from().after.limit == to().limit_before) return;
    output_.set(from().after.voltage, from().after.limit, counts_);
    first_counts_ = counts_;
    output_.set(to().voltage_before, to().limit_before, counts_);
    stairs_.stairs = std::min(length() / output_.grid().minimum_step, count_change(first_counts_, counts_));
  }

  [[nodiscard]] Nanoseconds stair_time() const {
    const Int128 stairs = stairs_.stairs;
    return output_.grid().nearest(stairs * from().time.count() + Int128{stairs_.next} * length().count(), stairs);
  }

  void make_stair(RowQueue& queue) {
    RailState state = from().after;
    state.voltage = between(state.voltage, to().voltage_before, stairs_.next, stairs_.stairs);
    state.limit = between(state.limit, to().limit_before, stairs_.next, stairs_.stairs);
    put_rows(stair_time(), state, from().statement, false, queue, true);
    ++stairs_.next;
  }

  std::size_t at_ = 0;  // the instant to come
  Staircase stairs_;
  std::vector<MemberCounts> first_counts_;
};

}  // namespace

std::unique_ptr<RailPlayer> make_stair_player(const Table& table, RailId rail) {
  return std::make_unique<StairPlayer>(table, rail);
}

}  // namespace rampart
