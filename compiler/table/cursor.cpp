#include <algorithm>
#include <functional>
#include <limits>
#include <numeric>
#include <set>
#include <utility>

#include "compiler/table/rail_player.h"
#include "compiler/table/row_queue.h"
#include "compiler/table/table.h"
#include "lang/text/overloaded.h"

namespace rampart {
namespace {

// The last row given of a channel or line: only what differs from it is given again.
struct LastGiven {
  std::int64_t voltage = 0;
  std::int64_t current = 0;
  bool output = false;
  KnownSetpoints known;
};

bool same(const LastGiven& last, const Row& row) {
  return last.voltage == row.voltage && last.current == row.current && last.output == row.output &&
         last.known == row.known;
}

// None where it is out of reach. Nothing is measured in 0.
std::optional<Nanoseconds> common_multiple(Nanoseconds a, Nanoseconds b) {
  if (b == Nanoseconds{0}) return a;
  const Int128 multiple = Int128{a.count()} / std::gcd(a.count(), b.count()) * b.count();
  if (!fits_int64(multiple)) return std::nullopt;
  return Nanoseconds{static_cast<std::int64_t>(multiple)};
}

}  // namespace

class RowCursor::Work {
 public:
  explicit Work(const Table& table)
      : table_(&table),
        timeline_(table.timeline()),
        queue_(table.bench().channels.size()),
        last_(table.bench().channels.size()),
        last_lines_(table.profile().lines.size()),
        moves_(table.rails().size()),
        coarsest_(coarsest_grid(table)) {
    for (const RailSetup& setup : table.rails()) {
      const bool line = table.bench().supply_of(setup.members.front()).timing.interpolation == Interpolation::Linear;
      players_.push_back(line ? make_line_player(table, setup.rail) : make_stair_player(table, setup.rail));
      resolutions_.insert(players_.back()->output().grid().resolution.count());
    }
    for (const std::int64_t resolution : resolutions_) {
      if (common_grid_) common_grid_ = common_multiple(*common_grid_, Nanoseconds{resolution});
    }
    begin_segment();
  }

  Work(const Work& other)
      : table_(other.table_),
        timeline_(other.timeline_),
        queue_(other.queue_),
        last_(other.last_),
        last_lines_(other.last_lines_),
        moves_(other.moves_.size()),
        resolutions_(other.resolutions_),
        coarsest_(other.coarsest_),
        common_grid_(other.common_grid_),
        room_(other.room_),
        last_loop_(other.last_loop_),
        due_(other.due_),
        rows_(other.rows_),
        given_(other.given_),
        items_(other.items_),
        in_block_(other.in_block_),
        block_end_(other.block_end_),
        bound_(other.bound_),
        boundary_(other.boundary_),
        passes_(other.passes_) {
    for (const auto& player : other.players_) players_.push_back(player->clone());
  }
  Work& operator=(const Work&) = delete;

  std::optional<TableItem> next() {
    while (true) {
      if (given_ < rows_.size()) {
        ++items_;
        return rows_[given_++];
      }
      while (queue_.has_before(bound_)) {
        const RowQueue::Entry entry = queue_.take();
        if (!is_news(entry)) continue;
        passes_ = entry.passes;
        ++items_;
        return entry.item;
      }
      if (boundary_) return pass_boundary();
      if (in_block_) {
        advance_block();
      } else if (!begin_item()) {
        return std::nullopt;
      }
    }
  }

  std::span<const Row> next_rows() {
    while (given_ == rows_.size() && in_block_ && !boundary_ && !queue_.has_before(bound_)) advance_block();
    const std::span<const Row> rows = std::span(rows_).subspan(given_);
    given_ = rows_.size();
    items_ += static_cast<std::int64_t>(rows.size());
    return rows;
  }

  void skip_passes(std::int64_t passes) {
    const Nanoseconds before = timeline_.now();
    timeline_.skip_passes(passes);
    const Nanoseconds by = timeline_.now() - before;
    queue_.shift(by);
    bound_ += by;
    for (const auto& player : players_) player->skip(by);
  }

  [[nodiscard]] std::optional<Nanoseconds> common_grid() const { return common_grid_; }
  [[nodiscard]] std::int64_t given() const { return items_; }

  void go_to_pass(std::int64_t passes) {
    if (passes == 0) return;
    skip_passes(passes - 1);
    go_through_pass();
  }

  // What has been queued is given first. What skip_passes() has moved off the grid is among it, and soon gone.
  PhaseRoom go_through_pass() {
    room_ = PhaseRoom{};
    for (const auto& player : players_) player->keep_room();
    const LoopId loop = *last_loop_;
    while (const std::optional<TableItem> item = next()) {
      const auto* pass = std::get_if<PassEnded>(&*item);
      if (pass != nullptr && pass->loop == loop) break;
    }
    PhaseRoom room = *std::exchange(room_, std::nullopt);
    for (const auto& player : players_) room.meet(player->take_room());
    return room;
  }

  [[nodiscard]] StateKey state() const {
    StateKey key;
    for (const auto& player : players_) {
      player->append_state(timeline_.now(), key);
    }
    for (const std::int64_t resolution : resolutions_) key.add(timeline_.now().count() % resolution);
    append_given(timeline_.now(), key);
    return key;
  }

  [[nodiscard]] StateKey state_on_grid(Nanoseconds origin) const {
    StateKey key;
    for (const auto& player : players_) player->append_pass_state(timeline_.now(), key);
    append_given(origin, key);
    return key;
  }

  [[nodiscard]] const std::vector<RailState>& setpoints() const { return timeline_.rails(); }

  // Of the item given last: rows are made ahead of the time at which they are given.
  [[nodiscard]] std::span<const std::int64_t> passes() const { return passes_ ? *passes_ : timeline_.passes(); }

 private:
  void begin_segment() {
    for (const auto& player : players_) player->begin_segment(queue_);
    bound_ = Nanoseconds{0};
  }

  // Rows and line rows that change nothing are left out. The first of each is always news: how a channel or a line
  // stood before it, nobody knows.
  bool is_news(const Row& row, bool forced) {
    std::optional<LastGiven>& last = last_[static_cast<std::size_t>(row.channel)];
    if (last && same(*last, row) && !forced) return false;
    last = LastGiven{row.voltage, row.current, row.output, row.known};
    return true;
  }

  bool is_news(const RowQueue::Entry& entry) {
    return std::visit(Overloaded{
                          [&](const Row& row) { return is_news(row, entry.forced); },
                          [&](const LineRow& row) {
                            std::optional<bool>& last = last_lines_[static_cast<std::size_t>(row.line)];
                            if (last == row.high) return false;
                            last = row.high;
                            return true;
                          },
                          [](const auto&) { return true; },
                      },
                      entry.item);
  }

  // What was given of each channel and line, and what is to come, times counted from `origin`.
  void append_given(Nanoseconds origin, StateKey& key) const {
    for (const std::optional<LastGiven>& last : last_) {
      if (!last) continue;
      for (const std::int64_t number : {last->voltage, last->current, std::int64_t{last->output}}) {
        key.add(number);
      }
    }
    for (const bool high : timeline_.lines()) key.add(std::int64_t{high});
    queue_.append_state(origin, key);
  }

  // Everything queued before a boundary has been given: now the boundary itself.
  TableItem pass_boundary() {
    ++items_;
    TableItem item = *boundary_;
    boundary_.reset();
    passes_.reset();
    if (std::holds_alternative<SegmentEnded>(item) && std::get<SegmentEnded>(item).await != nullptr) begin_segment();
    return item;
  }

  bool begin_item() {
    const std::optional<TimelineItem> item = timeline_.next();
    if (!item) return false;
    std::visit(Overloaded{[this](const Block* block) { begin_block(*block); },
                          [this](const TimelinePassEnded& pass) { end_pass(pass); },
                          [this](const TimelineSegmentEnded& segment) { end_segment(segment); }},
               *item);
    return true;
  }

  void begin_block(const Block& block) {
    for (auto& moves : moves_) moves.clear();
    for (const Move& move : block.moves) moves_[static_cast<std::size_t>(move.rail)].push_back(&move);
    bound_ = bound_at(block.start);
    queue_.set_passes(timeline_.passes());
    for (std::size_t i = 0; i < players_.size(); ++i) {
      players_[i]->begin(block, moves_[i], queue_);
      note_due(i);
    }
    for (const LineMove& line : block.lines) {
      const Timing& timing = table_->bench()[table_->profile()[line.line].supply].timing;
      const TimeGrid grid{timing.minimum_step, timing.resolution, timing.interpolation};
      if (room_) room_->meet(grid.room((block.start + line.start).count()));
      queue_.put(LineRow{grid.nearest(block.start + line.start), line.line, line.high, line.statement->span});
    }
    for (const MarkMove& mark : block.marks) {
      if (room_) room_->meet(coarsest_.room((block.start + mark.start).count()));
      queue_.put(mark_of(block, mark, coarsest_));
    }
    for (const MeasurementMove& move : block.measurements) {
      if (room_) room_->meet(coarsest_.room((block.start + move.start).count()));
      queue_.put(measurement_of(block, move, coarsest_));
    }
    block_end_ = block.start + block.length;
    in_block_ = true;
  }

  // Makes the earliest rows to come in this block; with none left, the block is over.
  void advance_block() {
    if (due_.empty()) {
      in_block_ = false;
      return;
    }
    const Nanoseconds time = due_.front().first;
    bound_ = std::max(bound_, std::min(time, bound_at(block_end_)));
    // What comes before them is given first.
    if (queue_.has_before(bound_) || make_stairs()) return;
    const std::size_t player = take_due();
    players_[player]->make_next(queue_);
    note_due(player);
  }

  // Rows of stairs that nothing queued or still to be made comes between need not be queued. False if there are none.
  bool make_stairs() {
    Nanoseconds end = queue_.has_any() ? std::min(queue_.first_time(), bound_at(block_end_)) : bound_at(block_end_);
    for (const Due& due : due_) {
      if (!players_[due.second]->is_on_stairs()) end = std::min(end, due.first);
    }
    rows_.clear();
    given_ = 0;
    while (!due_.empty() && due_.front().first < end && rows_.size() < kMostRows) make_stairs_before(end);
    std::erase_if(rows_, [this](const Row& row) { return !is_news(row, false); });
    passes_ = queue_.passes();
    return !rows_.empty();
  }

  // The rows of the earliest stair, and those of its player that come before any other's. Stairs of one time stand in
  // the order of their channels. Whoever leaves its stairs brings `end` forward.
  void make_stairs_before(Nanoseconds& end) {
    const Nanoseconds time = due_.front().first;
    const std::size_t first_row = rows_.size();
    std::size_t players = 0;
    while (!due_.empty() && due_.front().first == time) {
      const std::size_t player = take_due();
      const bool is_alone = players++ == 0 && (due_.empty() || due_.front().first > time);
      const Nanoseconds before = !is_alone      ? time + Nanoseconds{1}
                                 : due_.empty() ? end
                                                : std::min(end, due_.front().first);
      players_[player]->make_stairs(before, is_alone ? kMostRows : kNoLimit, rows_);
      const std::optional<Nanoseconds> next = note_due(player);
      if (next && !players_[player]->is_on_stairs()) end = std::min(end, *next);
    }
    if (players == 1) return;
    std::sort(rows_.begin() + static_cast<std::ptrdiff_t>(first_row), rows_.end(),
              [](const Row& a, const Row& b) { return a.channel < b.channel; });
  }

  // The heap of `due_` has the earliest in front, of those the first in the order of the rails.
  std::optional<Nanoseconds> note_due(std::size_t player) {
    const std::optional<Nanoseconds> next = players_[player]->next_time();
    if (!next) return next;
    due_.emplace_back(*next, player);
    std::push_heap(due_.begin(), due_.end(), std::greater<>());
    return next;
  }
  std::size_t take_due() {
    std::pop_heap(due_.begin(), due_.end(), std::greater<>());
    const std::size_t player = due_.back().second;
    due_.pop_back();
    return player;
  }

  // No row still to be made from `now` on lies before this.
  [[nodiscard]] Nanoseconds bound_at(Nanoseconds now) const {
    Nanoseconds bound = now;
    for (const std::int64_t resolution : resolutions_) {
      bound = std::min(bound, TimeGrid{{}, Nanoseconds{resolution}, {}}.nearest(now));
    }
    return bound;
  }

  void end_pass(const TimelinePassEnded& pass) {
    bound_ = bound_at(pass.time);
    if (room_) {
      for (const std::int64_t resolution : resolutions_) {
        room_->meet(TimeGrid{{}, Nanoseconds{resolution}, {}}.room(pass.time.count()));
      }
    }
    last_loop_ = pass.loop;
    boundary_ = PassEnded{pass.loop, pass.pass,   pass.remaining,      pass.segments ? 1 : unit_of(pass.length),
                          pass.time, pass.length, pass.statement->span};
  }

  // So many passes of this length end on every grid as far from it as they began; kNeverAlike where they do so later
  // than any loop ends.
  [[nodiscard]] std::int64_t unit_of(Nanoseconds length) const {
    std::int64_t unit = 1;
    for (const std::int64_t resolution : resolutions_) {
      const std::int64_t own = resolution / std::gcd(length.count(), resolution);
      const std::int64_t factor = own / std::gcd(unit, own);
      if (factor > kNeverAlike / unit) return kNeverAlike;
      unit *= factor;
    }
    return unit;
  }

  void end_segment(const TimelineSegmentEnded& segment) {
    Nanoseconds end{0};
    for (const auto& player : players_) end = std::max(end, player->end_segment(segment.time, queue_));
    if (players_.empty()) end = segment.time;
    bound_ = Nanoseconds::max();
    const auto* await = segment.statement != nullptr ? std::get_if<Await>(&segment.statement->what) : nullptr;
    boundary_ = SegmentEnded{end, await, segment.statement != nullptr ? segment.statement->span : Span{}};
  }

  static constexpr std::size_t kMostRows = 128;
  static constexpr std::size_t kNoLimit = std::numeric_limits<std::size_t>::max();

  const Table* table_;
  TimelineCursor timeline_;
  std::vector<std::unique_ptr<RailPlayer>> players_;
  RowQueue queue_;
  std::vector<std::optional<LastGiven>> last_;
  std::vector<std::optional<bool>> last_lines_;
  std::vector<std::vector<const Move*>> moves_;  // of the current block, by rail
  std::set<std::int64_t> resolutions_;           // of the rails' grids, in ns
  TimeGrid coarsest_;
  std::optional<Nanoseconds> common_grid_ = Nanoseconds{1};
  std::optional<PhaseRoom> room_;    // of what is no player's, while it is kept
  std::optional<LoopId> last_loop_;  // of the pass that ended last
  using Due = std::pair<Nanoseconds, std::size_t>;
  std::vector<Due> due_;   // players with rows to make in the block and their times, a heap
  std::vector<Row> rows_;  // of stairs, made at once; those from given_ on are still to be given
  std::size_t given_ = 0;
  std::int64_t items_ = 0;  // given so far
  bool in_block_ = false;
  Nanoseconds block_end_{0};
  Nanoseconds bound_{0};  // everything queued before it is complete
  std::optional<TableItem> boundary_;
  RowQueue::SharedPasses passes_;  // of the row, line row or mark given last; none at a boundary
};

RowCursor::RowCursor(const Table& table) : work_(std::make_unique<Work>(table)) {}
RowCursor::RowCursor(const RowCursor& other) : work_(std::make_unique<Work>(*other.work_)) {}
RowCursor::RowCursor(RowCursor&&) noexcept = default;
RowCursor& RowCursor::operator=(RowCursor&&) noexcept = default;
RowCursor::~RowCursor() = default;

std::optional<TableItem> RowCursor::next() {
  return work_->next();
}
std::span<const Row> RowCursor::next_rows() {
  return work_->next_rows();
}
void RowCursor::skip_passes(std::int64_t passes) {
  work_->skip_passes(passes);
}
std::int64_t RowCursor::given() const {
  return work_->given();
}
StateKey RowCursor::state() const {
  return work_->state();
}
const std::vector<RailState>& RowCursor::setpoints() const {
  return work_->setpoints();
}
std::span<const std::int64_t> RowCursor::passes() const {
  return work_->passes();
}
std::optional<Nanoseconds> RowCursor::common_grid() const {
  return work_->common_grid();
}
void RowCursor::go_to_pass(std::int64_t passes) {
  work_->go_to_pass(passes);
}
PhaseRoom RowCursor::go_through_pass() {
  return work_->go_through_pass();
}
StateKey RowCursor::state_on_grid(Nanoseconds origin) const {
  return work_->state_on_grid(origin);
}

}  // namespace rampart
