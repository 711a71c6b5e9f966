#include <algorithm>

#include "compiler/timeline/loop_measure.h"
#include "compiler/timeline/setpoints.h"
#include "compiler/timeline/timeline.h"
#include "lang/text/overloaded.h"

namespace rampart {
namespace {

// A place in one program: the run itself, a loop's body, or a `track` block.
struct Frame {
  explicit Frame(const Program& statements) : program(&statements) {}

  const Program* program;
  std::size_t next = 0;
  std::size_t tracks = 0;  // those in force outside of it

  const Statement* loop = nullptr;  // the `repeat`, in a loop's body
  std::int64_t passes = 1;
  Nanoseconds pass_start{0};      // on the clock that runs through all segments
  std::size_t pass_segments = 0;  // how many segments had ended then
  std::vector<RailState> pass_entry;
};

}  // namespace

class TimelineCursor::Work {
 public:
  explicit Work(const Timeline& timeline)
      : timeline_(&timeline),
        setpoints_{timeline.initial(), std::vector<bool>(timeline.profile().lines.size()), {}},
        meter_(timeline.profile()) {
    frames_.emplace_back(timeline.program());
  }

  // A branch of a `together`, on its own from the setpoints given.
  Work(const Timeline& timeline, const Program& branch, Setpoints entry)
      : timeline_(&timeline), setpoints_(std::move(entry)), meter_(timeline.profile()) {
    frames_.emplace_back(branch);
  }

  std::optional<TimelineItem> next() {
    finish_block();
    if (restart_clock_) now_ = Nanoseconds{0};
    restart_clock_ = false;
    if (pass_over_) begin_next_pass();
    while (!finished_) {
      Frame& frame = frames_.back();
      if (frame.next == frame.program->size()) {
        if (std::optional<TimelineItem> item = leave(frame)) return item;
        continue;
      }
      if (std::optional<TimelineItem> item = enter((*frame.program)[frame.next++])) return item;
    }
    return std::nullopt;
  }

  void skip_passes(std::int64_t count) {
    passes_.back() += count;
    clock_ += last_pass_ * count;
    // A pass that ends in another segment than it began leaves the next one as far into its segment.
    if (frames_.back().pass_segments == segments_) now_ += last_pass_ * count;
  }

  [[nodiscard]] const Setpoints& setpoints() const { return setpoints_; }
  [[nodiscard]] Nanoseconds now() const { return now_; }
  [[nodiscard]] std::span<const std::int64_t> passes() const { return passes_; }

 private:
  void finish_block() {
    now_ += block_.length;
    clock_ += block_.length;
    block_.length = Nanoseconds{0};
  }

  std::optional<TimelineItem> enter(const Statement& statement) {
    if (is_simple(statement)) {
      (void)play(statement, setpoints_, block_);
      return give_block();
    }
    return std::visit(Overloaded{
                          [&](const Repeat& loop) { return enter_loop(statement, loop); },
                          [&](const Together& group) { return enter_together(statement, group); },
                          [&](const Track& track) { return enter_track(track); },
                          [&](const Await&) { return end_segment(&statement); },
                          [](const auto&) { return std::optional<TimelineItem>(); },
                      },
                      statement.what);
  }

  std::optional<TimelineItem> give_block() {
    block_.start = now_;
    return TimelineItem{&block_};
  }

  std::optional<TimelineItem> enter_loop(const Statement& statement, const Repeat& loop) {
    const auto* count = std::get_if<std::int64_t>(&loop.extent);
    Frame frame(loop.body);
    frame.tracks = setpoints_.tracks.size();
    frame.loop = &statement;
    frame.passes = count != nullptr ? *count : meter_.measure_loop(statement, setpoints_).passes;
    frames_.push_back(std::move(frame));
    passes_.push_back(0);
    begin_pass();
    return std::nullopt;
  }

  void begin_pass() {
    Frame& frame = frames_.back();
    frame.next = 0;
    frame.pass_start = clock_;
    frame.pass_segments = segments_;
    frame.pass_entry = setpoints_.rails;
    ++passes_.back();
  }

  void begin_next_pass() {
    pass_over_ = false;
    const Frame& frame = frames_.back();
    // Passes without time, waits and effect would be walked for nothing, however many there are.
    const bool idle =
        last_pass_ == Nanoseconds{0} && frame.pass_segments == segments_ && frame.pass_entry == setpoints_.rails;
    if (passes_.back() < frame.passes && !idle) {
      begin_pass();
    } else {
      leave_frame();
    }
  }

  std::optional<TimelineItem> enter_track(const Track& track) {
    Frame frame(track.body);
    frame.tracks = setpoints_.tracks.size();
    frames_.push_back(std::move(frame));
    setpoints_.tracks.push_back(tracking_of(track, timeline_->profile()));
    return std::nullopt;
  }

  std::optional<TimelineItem> leave(Frame& frame) {
    if (frame.loop != nullptr) {
      pass_over_ = true;
      last_pass_ = clock_ - frame.pass_start;
      return TimelineItem{TimelinePassEnded{timeline_->loop_id(*frame.loop), passes_.back(),
                                            frame.passes - passes_.back(), now_, last_pass_,
                                            frame.pass_segments != segments_, frame.loop}};
    }
    if (frames_.size() > 1) {
      leave_frame();
      return std::nullopt;
    }
    finished_ = true;
    return end_segment(nullptr);
  }

  void leave_frame() {
    setpoints_.tracks.resize(frames_.back().tracks);
    if (frames_.back().loop != nullptr) passes_.pop_back();
    frames_.pop_back();
  }

  std::optional<TimelineItem> end_segment(const Statement* await) {
    ++segments_;
    restart_clock_ = true;
    return TimelineItem{TimelineSegmentEnded{now_, await}};
  }

  // Walks each branch from the same setpoints and lays their moves side by side into one block.
  std::optional<TimelineItem> enter_together(const Statement& statement, const Together& group) {
    const Setpoints before = setpoints_;
    block_ = Block{};
    block_.statement = &statement;
    for (const Program& branch : group.branches) {
      Work work(*timeline_, branch, before);
      while (const std::optional<TimelineItem> item = work.next()) {
        if (const auto* block = std::get_if<const Block*>(&*item)) lay_beside(**block);
      }
      take_changes(before, work.setpoints_);
    }
    const auto by_start = [](const auto& a, const auto& b) { return a.start < b.start; };
    std::stable_sort(block_.moves.begin(), block_.moves.end(), by_start);
    std::stable_sort(block_.lines.begin(), block_.lines.end(), by_start);
    std::stable_sort(block_.marks.begin(), block_.marks.end(), by_start);
    std::stable_sort(block_.measurements.begin(), block_.measurements.end(), by_start);
    return give_block();
  }

  void lay_beside(const Block& part) {
    const auto add = [&part](const auto& from, auto& to) {
      for (auto item : from) {
        item.start += part.start;
        to.push_back(item);
      }
    };
    add(part.moves, block_.moves);
    add(part.lines, block_.lines);
    add(part.marks, block_.marks);
    add(part.measurements, block_.measurements);
    block_.length = std::max(block_.length, part.start + part.length);
  }

  void take_changes(const Setpoints& before, const Setpoints& after) {
    rampart::take_changes(before.rails, after.rails, setpoints_.rails);
    for (std::size_t i = 0; i < after.lines.size(); ++i) {
      if (after.lines[i] != before.lines[i]) setpoints_.lines[i] = after.lines[i];
    }
  }

  const Timeline* timeline_;
  Setpoints setpoints_;
  std::vector<Frame> frames_;
  std::vector<std::int64_t> passes_;
  bool pass_over_ = false;
  Nanoseconds now_{0};    // from the start of the segment
  Nanoseconds clock_{0};  // through all segments
  Nanoseconds last_pass_{0};
  std::size_t segments_ = 0;
  bool restart_clock_ = false;
  bool finished_ = false;
  Block block_;
  LoopMeter meter_;  // finds nothing: what is walked has been measured before
};

TimelineCursor::TimelineCursor(const Timeline& timeline) : work_(std::make_unique<Work>(timeline)) {}
TimelineCursor::TimelineCursor(const TimelineCursor& other) : work_(std::make_unique<Work>(*other.work_)) {}
TimelineCursor::TimelineCursor(TimelineCursor&&) noexcept = default;
TimelineCursor& TimelineCursor::operator=(TimelineCursor&&) noexcept = default;
TimelineCursor::~TimelineCursor() = default;

std::optional<TimelineItem> TimelineCursor::next() {
  return work_->next();
}
void TimelineCursor::skip_passes(std::int64_t passes) {
  work_->skip_passes(passes);
}
const std::vector<RailState>& TimelineCursor::rails() const {
  return work_->setpoints().rails;
}
const std::vector<bool>& TimelineCursor::lines() const {
  return work_->setpoints().lines;
}
Nanoseconds TimelineCursor::now() const {
  return work_->now();
}
std::span<const std::int64_t> TimelineCursor::passes() const {
  return work_->passes();
}

}  // namespace rampart
