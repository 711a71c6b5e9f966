#include <algorithm>

#include "compiler/table/rail_player.h"

namespace rampart {
namespace {

RailState with(RailState state, const Rational& voltage, const Rational& limit) {
  state.voltage = voltage;
  state.limit = limit;
  return state;
}

// A jump is a straight run of one minimum step: from the point where it happens to where the timeline is by then.
class LinePlayer : public RailPlayer {
 public:
  using RailPlayer::RailPlayer;
  [[nodiscard]] std::unique_ptr<RailPlayer> clone() const override { return std::make_unique<LinePlayer>(*this); }

  [[nodiscard]] std::optional<Nanoseconds> next_time() const override {
    if (at_ < instants_.size()) return output_.grid().nearest(instants_[at_].time);
    return std::nullopt;
  }

  void make_next(RowQueue& queue) override {
    const RailInstant& instant = instants_[at_++];
    // Several jumps at one instant are one: it starts where the first of them did.
    const bool merges = jump_ && jump_->time == instant.time;
    Rational voltage = merges ? jump_->voltage_before : instant.voltage_before;
    Rational limit = merges ? jump_->limit_before : instant.limit_before;
    // A segment's first point is where the channel starts: no run leads up to it, and an output that is switched on
    // there has its limit at once. So has a setpoint that was not known before.
    if (!now_ || now_->time != instant.time) now_ = Now{instant.time, instant.known_before};
    const bool starts = instant.time == Nanoseconds{0};
    if (starts || !now_->known_before.voltage) voltage = instant.after.voltage;
    if (starts || !now_->known_before.limit) limit = instant.after.limit;
    put_point(on_grid(instant.time), with(instant.after, voltage, limit), instant.statement, queue);
    jump_.reset();
    if (voltage != instant.after.voltage || limit != instant.after.limit) {
      jump_ = Jump{instant.time, voltage, limit, instant.after, instant.statement};
    }
    if (at_ < instants_.size()) {
      run_to(instants_[at_], instant, queue);
    } else if (instant.time < block_end_) {
      land(queue);
    }
  }

  Nanoseconds end_segment(Nanoseconds time, RowQueue& queue) override {
    if (jump_) land(queue);
    // A jump shortly before the end arrives after it.
    const Nanoseconds end = std::max(output_.grid().nearest(time), last_point_);
    put_rows(end, state_, last_statement_, true, queue);
    last_point_ = Nanoseconds{0};
    now_.reset();
    return end;
  }

  void skip(Nanoseconds by) override {
    if (jump_) jump_->time += by;
    last_point_ += by;
  }

  void append_state(Nanoseconds origin, StateKey& state) const override {
    RailPlayer::append_state(origin, state);
    state.add(std::max(last_point_ - origin, Nanoseconds{0}).count());
  }

  void append_pass_state(Nanoseconds origin, StateKey& state) const override {
    RailPlayer::append_pass_state(origin, state);
    if (!jump_) return;
    state.add((jump_->time - origin).count());
    state.add(jump_->voltage_before);
    state.add(jump_->limit_before);
  }

 protected:
  void start(const Block& block, RowQueue& queue) override {
    at_ = 0;
    block_end_ = block.start + block.length;
    const bool acts_at_once = !instants_.empty() && instants_.front().time == block.start;
    if (jump_ && block.length > Nanoseconds{0} && !acts_at_once) land(queue);
  }

 private:
  // A jump of which it is not known yet whether the rail stays or ramps on from it.
  struct Jump {
    Nanoseconds time{0};
    Rational voltage_before;
    Rational limit_before;
    RailState after;
    const Statement* statement = nullptr;
  };

  // The instant of the last point, and what was known before the first of its statements.
  struct Now {
    Nanoseconds time{0};
    KnownSetpoints known_before;
  };

  [[nodiscard]] Nanoseconds landing_time() { return on_grid(jump_->time) + output_.grid().minimum_step; }

  void put_point(Nanoseconds time, const RailState& state, const Statement* statement, RowQueue& queue) {
    put_rows(time, state, statement, true, queue);
    last_point_ = time;
  }

  // The rail stays where it jumped to.
  void land(RowQueue& queue) {
    if (!jump_) return;
    const Nanoseconds time = landing_time();
    const Jump jump = *jump_;
    jump_.reset();
    aim(on_grid(jump.time), time, jump.after.voltage, jump.after.limit, queue);
    put_point(time, jump.after, jump.statement, queue);
  }

  // The rail runs from `from` straight to `to`, after a jump's own run where there is one.
  void run_to(const RailInstant& to, const RailInstant& from, RowQueue& queue) {
    Nanoseconds start = on_grid(from.time);
    const Nanoseconds end = on_grid(to.time);
    if (jump_ && landing_time() < end) {
      const Nanoseconds landing = landing_time();
      const Rational part = Rational::fraction((landing - from.time).count(), (to.time - from.time).count());
      const Rational voltage = from.after.voltage + (to.voltage_before - from.after.voltage) * part;
      const Rational limit = from.after.limit + (to.limit_before - from.after.limit) * part;
      const double length = static_cast<double>((to.time - from.time).count());
      if (room_)
        room_->meet(output_.room(voltage, (from.after.voltage - to.voltage_before).to_double() / length, limit,
                                 (from.after.limit - to.limit_before).to_double() / length));
      aim(start, landing, voltage, limit, queue);
      put_point(landing, with(from.after, voltage, limit), from.statement, queue);
      start = landing;
    }
    jump_.reset();
    aim(start, end, to.voltage_before, to.limit_before, queue);
  }

  // Lets the rows at `time` run to the given values at `until`.
  void aim(Nanoseconds time, Nanoseconds until, const Rational& voltage, const Rational& limit, RowQueue& queue) {
    output_.set(voltage, limit, counts_);
    for (std::size_t i = 0; i < counts_.size(); ++i) {
      Row* row = queue.find(time, output_.members()[i]);
      if (row == nullptr) continue;
      row->until = until;
      row->voltage_until = counts_[i].voltage;
      row->current_until = counts_[i].current;
    }
  }

  std::size_t at_ = 0;  // the instant to come
  Nanoseconds block_end_{0};
  std::optional<Jump> jump_;
  std::optional<Now> now_;
  Nanoseconds last_point_{0};  // of the segment, on the grid
};

}  // namespace

std::unique_ptr<RailPlayer> make_line_player(const Table& table, RailId rail) {
  return std::make_unique<LinePlayer>(table, rail);
}

}  // namespace rampart
