#include "runtime/editor/statement_times.h"

#include <algorithm>
#include <limits>

#include "compiler/timeline/timeline.h"
#include "lang/text/overloaded.h"

namespace rampart::editor {
namespace {

constexpr std::size_t kMaxPieces = 20'000;

std::int64_t product(std::int64_t a, std::int64_t b) {
  constexpr std::int64_t kMost = std::numeric_limits<std::int64_t>::max();
  return a > kMost / std::max<std::int64_t>(b, 1) ? kMost : a * b;
}

std::int64_t sum(std::int64_t a, std::int64_t b) {
  return a > std::numeric_limits<std::int64_t>::max() - b ? std::numeric_limits<std::int64_t>::max() : a + b;
}

}  // namespace

class StatementTimes::Walk {
 public:
  Walk(const Timeline& timeline, bool in_safe, StatementTimes& result)
      : timeline_(timeline), cursor_(timeline.walk()), in_safe_(in_safe), result_(result), before_(timeline.initial()) {
    find_depths(timeline.program(), 0);
  }

  void run() {
    while (pieces_ < kMaxPieces) {
      const std::optional<TimelineItem> item = cursor_.next();
      if (!item) return;
      enter_loops();
      std::visit(Overloaded{[&](const Block* block) { add(*block); }, [&](const TimelinePassEnded& end) { add(end); },
                            [&](const TimelineSegmentEnded& end) { add(end); }},
                 *item);
      before_ = cursor_.rails();
    }
    for (auto& [span, time] : result_.times_) time.is_least = time.is_least || time.in_safe == in_safe_;
  }

 private:
  // A loop that is being gone through.
  struct Loop {
    std::size_t first = 0;  // of the pass, in played_
    std::vector<RailState> entry;
    bool skipped = false;
  };

  // How many loops stand around each call.
  void find_depths(const Program& program, std::size_t depth) {
    for (const Statement& statement : program) {
      for (CallId call = statement.call; call != kNoCall; call = timeline_.profile().calls[call].caller) {
        depths_.try_emplace(call, depth);
      }
      std::visit(Overloaded{[&](const Repeat& loop) { find_depths(loop.body, depth + 1); },
                            [&](const Together& group) {
                              for (const Program& branch : group.branches) find_depths(branch, depth);
                            },
                            [&](const Track& track) { find_depths(track.body, depth); }, [](const auto&) {}},
                 statement.what);
    }
  }

  void enter_loops() {
    const std::size_t depth = cursor_.passes().size();
    if (loops_.size() > depth) loops_.resize(depth);
    while (loops_.size() < depth) loops_.push_back({played_.size(), before_, false});
  }

  void add(const Block& block) {
    const RunInstant begin{waits_, block.start};
    const RunInstant end{waits_, block.start + block.length};
    if (block.statement != nullptr) note(*block.statement, begin, end);
    std::map<const Statement*, std::pair<Nanoseconds, Nanoseconds>> inner;
    const auto meet = [&](const Statement* statement, Nanoseconds from, Nanoseconds length) {
      if (statement == nullptr || statement == block.statement) return;
      const auto [place, is_new] = inner.try_emplace(statement, from, from + length);
      if (is_new) return;
      place->second.first = std::min(place->second.first, from);
      place->second.second = std::max(place->second.second, from + length);
    };
    for (const Move& move : block.moves) meet(move.statement, move.start, move.length);
    for (const LineMove& move : block.lines) meet(move.statement, move.start, Nanoseconds{0});
    for (const MarkMove& move : block.marks) meet(move.statement, move.start, Nanoseconds{0});
    for (const auto& [statement, times] : inner) {
      note(*statement, {waits_, block.start + times.first}, {waits_, block.start + times.second});
    }
  }

  void add(const TimelineSegmentEnded& end) {
    const RunInstant at{waits_, end.time};
    if (end.statement != nullptr) note(*end.statement, at, {waits_ + 1, Nanoseconds{0}});
    ++waits_;
  }

  void add(const TimelinePassEnded& end) {
    ++pieces_;
    const RunInstant now{waits_, end.time};
    Loop& loop = loops_.back();
    const bool alike = loop.entry == cursor_.rails() && !end.segments;
    if (alike && !loop.skipped && end.remaining > 1) skip(loop, end.remaining - 1);
    if (end.pass == 1) play_loop(end, loop, now);
    if (end.remaining == 0) {
      StatementTime& time = time_of(end.statement->span);
      if (time.times == 1) time.end = now, time.after = cursor_.rails();
    }
    loop.first = played_.size();
    loop.entry = cursor_.rails();
  }

  // The statement around the pass that ends first.
  void play_loop(const TimelinePassEnded& end, const Loop& loop, const RunInstant& now) {
    const RunInstant begin{end.segments ? std::max<std::int64_t>(waits_ - 1, 0) : waits_,
                           end.segments ? Nanoseconds{0} : end.time - end.length};
    play(end.statement->span, begin, now);
    StatementTime& time = time_of(end.statement->span);
    if (time.times == 1) time.before = loop.entry, time.pass.pop_back();
  }

  // What the last pass played is played so often more.
  void skip(Loop& loop, std::int64_t passes) {
    cursor_.skip_passes(passes);
    loop.skipped = true;
    const std::size_t last = played_.size();
    for (std::size_t i = loop.first; i < last && played_.size() < kMaxPieces; ++i) {
      const auto [time, times] = played_[i];
      time->times = sum(time->times, product(times, passes));
      played_.emplace_back(time, product(times, passes));
    }
  }

  void note(const Statement& statement, const RunInstant& begin, const RunInstant& end) {
    play(statement.span, begin, end);
    for (CallId call = statement.call; call != kNoCall; call = timeline_.profile().calls[call].caller) {
      note_call(call, begin, end);
    }
  }

  // One call goes on for as long as the passes around it stay the same.
  void note_call(CallId call, const RunInstant& begin, const RunInstant& end) {
    const std::span<const std::int64_t> passes = cursor_.passes();
    const std::vector<std::int64_t> around(
        passes.begin(), passes.begin() + static_cast<std::ptrdiff_t>(std::min(depths_.at(call), passes.size())));
    const Span& span = timeline_.profile().calls[call].span;
    const auto [open, is_new] = open_calls_.try_emplace(call, around);
    if (is_new || open->second != around) {
      open->second = around;
      play(span, begin, end);
      return;
    }
    StatementTime& time = time_of(span);
    if (time.times > 1) return;
    time.end = end;
    time.after = cursor_.rails();
  }

  void play(const Span& span, const RunInstant& begin, const RunInstant& end) {
    ++pieces_;
    StatementTime& time = time_of(span);
    if (time.times == 0) {
      const std::span<const std::int64_t> passes = cursor_.passes();
      time.in_safe = in_safe_;
      time.begin = begin;
      time.end = end;
      time.pass.assign(passes.begin(), passes.end());
      time.before = before_;
      time.after = cursor_.rails();
    }
    time.last = begin;
    time.times = sum(time.times, 1);
    played_.emplace_back(&time, 1);
  }

  StatementTime& time_of(const Span& span) { return result_.times_[{span.file, {span.begin, span.end}}]; }

  const Timeline& timeline_;
  TimelineCursor cursor_;
  bool in_safe_;
  StatementTimes& result_;
  std::vector<RailState> before_;
  std::int64_t waits_ = 0;
  std::size_t pieces_ = 0;
  std::vector<Loop> loops_;
  std::vector<std::pair<StatementTime*, std::int64_t>> played_;
  std::map<CallId, std::size_t> depths_;
  std::map<CallId, std::vector<std::int64_t>> open_calls_;
};

StatementTimes::StatementTimes(const Compiled& compiled) {
  if (compiled.run_timeline() != nullptr) Walk(*compiled.run_timeline(), false, *this).run();
  if (compiled.safe() != nullptr) Walk(compiled.safe()->timeline(), true, *this).run();
}

const StatementTime* StatementTimes::of(const Span& statement) const {
  const auto found = times_.find({statement.file, {statement.begin, statement.end}});
  return found == times_.end() ? nullptr : &found->second;
}

}  // namespace rampart::editor
