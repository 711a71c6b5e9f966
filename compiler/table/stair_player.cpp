#include "compiler/table/rail_player.h"
#include "compiler/table/staircase.h"

namespace rampart {
namespace {

// A piece between two instants in which something ramps, cut into `stairs` equal intervals. Each holds the value at
// its start, so the staircase is never early; the end value comes with the next instant.
struct Staircase {
  std::int64_t stairs = 0;
  std::int64_t next = 1;  // the interval whose start comes next; the instant itself starts the first

  [[nodiscard]] bool done() const { return next >= stairs; }
};

class StairPlayer : public RailPlayer {
 public:
  using RailPlayer::RailPlayer;
  [[nodiscard]] std::unique_ptr<RailPlayer> clone() const override { return std::make_unique<StairPlayer>(*this); }

  [[nodiscard]] std::optional<Nanoseconds> next_time() const override {
    if (at_ < instants_.size() && stairs_.done()) return output_.grid().nearest(instants_[at_].time);
    if (!stairs_.done()) return output_.grid().nearest(stair_numerator(), stairs_.stairs);
    return std::nullopt;
  }

  void make_next(RowQueue& queue) override {
    if (!stairs_.done()) {
      make_stair(queue);
      return;
    }
    const RailInstant& instant = instants_[at_++];
    put_rows(on_grid(instant.time), instant.after, instant.statement, false, queue);
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
    stairs_.stairs = stair_count(output_, from(), to());
  }

  // The time of the next stair, ns times the number of stairs.
  [[nodiscard]] Int128 stair_numerator() const {
    return Int128{stairs_.stairs} * from().time.count() + Int128{stairs_.next} * length().count();
  }

  void make_stair(RowQueue& queue) {
    const RailState state = on_stair(from(), to(), stairs_.next, stairs_.stairs);
    put_rows(on_grid(stair_numerator(), stairs_.stairs), state, from().statement, false, queue, true);
    ++stairs_.next;
  }

  std::size_t at_ = 0;  // the instant to come
  Staircase stairs_;
};

}  // namespace

std::unique_ptr<RailPlayer> make_stair_player(const Table& table, RailId rail) {
  return std::make_unique<StairPlayer>(table, rail);
}

}  // namespace rampart
