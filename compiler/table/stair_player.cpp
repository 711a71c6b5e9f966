#include "compiler/table/rail_player.h"
#include "compiler/table/staircase.h"

namespace rampart {
namespace {

class StairPlayer : public RailPlayer {
 public:
  using RailPlayer::RailPlayer;
  [[nodiscard]] std::unique_ptr<RailPlayer> clone() const override { return std::make_unique<StairPlayer>(*this); }

  [[nodiscard]] std::optional<Nanoseconds> next_time() const override {
    if (!stairs_.done()) return stairs_.time(output_, from(), to());
    if (at_ < instants_.size()) return output_.grid().nearest(instants_[at_].time);
    return std::nullopt;
  }

  void make_next(RowQueue& queue) override {
    if (!stairs_.done()) {
      counts_.resize(output_.members().size());
      stairs_.set(output_, from(), to(), counts_);
      put_counts(stair_time(), from().after, from().statement, false, queue, true);
      stairs_.advance();
      return;
    }
    const RailInstant& instant = instants_[at_++];
    put_rows(on_grid(instant.time), instant.after, instant.statement, false, queue);
    if (at_ < instants_.size()) stairs_ = Staircase(output_, from(), to());
  }

  // Times that are remembered in the room are made one by one.
  [[nodiscard]] bool is_on_stairs() const override { return !stairs_.done() && from().after.known.any() && !room_; }

  void make_stairs(Nanoseconds before, std::size_t most, std::vector<Row>& rows) override {
    const RailInstant& start = from();
    const RailInstant& end = to();
    counts_.resize(output_.members().size());
    const Row like = row_of(0, {}, start.after, start.statement, true);
    for (; !stairs_.done() && rows.size() < most; stairs_.advance()) {
      const Nanoseconds time = stairs_.time(output_, start, end);
      if (time >= before) return;
      stairs_.set(output_, start, end, counts_);
      for (std::size_t i = 0; i < counts_.size(); ++i) {
        Row& row = rows.emplace_back(like);
        row.time = row.until = time;
        row.channel = output_.members()[i];
        row.voltage = row.voltage_until = counts_[i].voltage;
        row.current = row.current_until = counts_[i].current;
      }
    }
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

  [[nodiscard]] Nanoseconds stair_time() {
    return room_ ? on_grid(stairs_.time_numerator(from(), to()), stairs_.count()) : stairs_.time(output_, from(), to());
  }

  std::size_t at_ = 0;  // the instant to come
  Staircase stairs_;
};

}  // namespace

std::unique_ptr<RailPlayer> make_stair_player(const Table& table, RailId rail) {
  return std::make_unique<StairPlayer>(table, rail);
}

}  // namespace rampart
