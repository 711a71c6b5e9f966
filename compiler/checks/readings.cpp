#include <algorithm>
#include <map>

#include "compiler/bench/switch_delay.h"
#include "compiler/checks/families.h"
#include "compiler/checks/moves.h"
#include "lang/findings/limits.h"
#include "lang/findings/practice.h"

// Readings whose time reaches back to where something still changed. A wait counts as no time: it may be over at once.
namespace rampart::checks {
namespace {

// The last change of a rail: of its setpoint while it is on, or of its output.
struct LastChange {
  Nanoseconds time{0};
  const Statement* statement = nullptr;  // none: the program began
};

// A reading that begins before a change.
struct TooEarly {
  RailId rail{};
  Nanoseconds left{0};  // from the change to the reading
  const MeasurementMove* reading = nullptr;
  const Statement* statement = nullptr;
  const Statement* change = nullptr;
  std::int64_t pass = 0;

  [[nodiscard]] Nanoseconds missing() const { return std::get<Measurement>(statement->what).over - left; }
};

class ReadingCheck {
 public:
  ReadingCheck(const Context& context, const Table& table)
      : context_(context),
        longest_(longest_reading(table.timeline().program())),
        changes_(context.profile.rails.size()),
        on_(context.profile.rails.size(), false) {
    const SwitchPositions latest(context.bench.supplies.size(), 1);
    for (const RailSetup& setup : table.rails()) {
      closing_.push_back(switch_delay(context.bench, setup.members, latest));
    }
    if (longest_ > Nanoseconds{0}) walk(table.timeline());
  }

  void report(bool is_safe) const {
    for (const auto& [place, found] : worst_) report(found, is_safe);
  }

 private:
  using Place = std::tuple<FileId, std::uint32_t, std::uint32_t>;

  // How long ago each rail changed and the program began, as far as a reading reaches.
  struct Ages {
    ReadingCheck& check;
    [[nodiscard]] std::vector<Nanoseconds> at_end(const TimelinePassEnded& pass, const TimelineCursor&) const {
      const Nanoseconds now = check.segment_ + pass.time;
      std::vector<Nanoseconds> ages{std::min(now - check.begin_, check.longest_)};
      for (const LastChange& change : check.changes_) ages.push_back(std::min(now - change.time, check.longest_));
      return ages;
    }
    // Nothing that a reading reaches has changed since the pass before.
    void skipped(const TimelinePassEnded&, Nanoseconds by) const {
      check.begin_ += by;
      for (LastChange& change : check.changes_) change.time += by;
    }
  };

  void walk(const Timeline& timeline) {
    walk_folded(
        timeline,
        [this](const TimelineItem& item, const TimelineCursor& cursor) {
          if (const auto* end = std::get_if<TimelineSegmentEnded>(&item)) segment_ += end->time;
          const auto* const* block = std::get_if<const Block*>(&item);
          if (block != nullptr) take(**block, cursor);
        },
        Ages{*this});
  }

  void take(const Block& block, const TimelineCursor& cursor) {
    std::size_t reading = 0;
    const std::int64_t pass = cursor.passes().empty() ? 0 : cursor.passes().back();
    const auto read_until = [&](Nanoseconds time) {
      for (; reading < block.measurements.size() && block.measurements[reading].start < time; ++reading) {
        look_at(block, block.measurements[reading], pass);
      }
    };
    for (const Move& move : block.moves) {
      read_until(move.start + Nanoseconds{1});
      take(block, move);
    }
    read_until(Nanoseconds::max());
  }

  void take(const Block& block, const Move& move) {
    const auto rail = static_cast<std::size_t>(move.rail);
    const bool switches = move.kind == MoveKind::Output && on_[rail] != (move.to.sign() > 0);
    if (move.kind == MoveKind::Output) on_[rail] = move.to.sign() > 0;
    const bool moves = move.kind == MoveKind::Voltage && on_[rail] && move.from != move.to;
    if (!switches && !moves) return;
    const Nanoseconds closing = switches && on_[rail] ? closing_[rail] : Nanoseconds{0};
    const Nanoseconds time = segment_ + block.start + move.start + move.length + closing;
    if (time >= changes_[rail].time) changes_[rail] = {time, move.statement};
  }

  void look_at(const Block& block, const MeasurementMove& move, std::int64_t pass) {
    const Nanoseconds now = segment_ + block.start + move.start;
    meet({RailId{}, now - begin_, &move, move.statement, nullptr, pass});
    for (std::size_t i = 0; i < changes_.size(); ++i) {
      if (changes_[i].statement == nullptr) continue;
      const Nanoseconds left = std::max(now - changes_[i].time, Nanoseconds{0});
      meet({RailId{static_cast<std::uint32_t>(i)}, left, &move, move.statement, changes_[i].statement, pass});
    }
  }

  // Of each statement the one that misses most; that the program had not begun counts before all.
  void meet(const TooEarly& found) {
    if (found.missing() <= Nanoseconds{0}) return;
    const Span& span = found.statement->span;
    const auto [kept, is_new] = worst_.try_emplace(Place{span.file, span.begin, span.end}, found);
    const auto rank = [](const TooEarly& one) { return std::pair(one.change == nullptr, one.missing()); };
    if (!is_new && rank(found) > rank(kept->second)) kept->second = found;
  }

  void report(const TooEarly& found, bool is_safe) const {
    const auto& reading = std::get<Measurement>(found.statement->what);
    const Span& span = found.statement->span;
    const std::string shorter =
        found.left > Nanoseconds{0} ? ", or measure over " + to_text(found.left) + " or less" : "";
    const std::string hint = "dwell " + to_text(found.missing()) + " longer before it" + shorter;
    if (found.change == nullptr) {
      context_
          .report(finding::ReadingBeforeBegin, span, found.statement, reading.name, reading.over,
                  is_safe ? "`safe`" : "the run", to_text(found.left) + pass_text(found.pass))
          .hint(hint);
      return;
    }
    const std::string when =
        found.left > Nanoseconds{0} ? "only " + to_text(found.left) + " before" : "at that very instant";
    context_
        .practice(finding::ReadingTooEarly, found.rail, span, found.statement, reading.name, reading.over,
                  context_.profile[found.rail].name, when, pass_text(found.pass))
        .note(finding::LastChangeHere, found.change->span)
        .hint(hint);
  }

  const Context& context_;
  Nanoseconds longest_;
  Nanoseconds segment_{0};           // where the present one began
  Nanoseconds begin_{0};             // of the program
  std::vector<LastChange> changes_;  // by RailId
  std::vector<bool> on_;
  std::vector<Nanoseconds> closing_;  // until an output conducts, at the latest
  std::map<Place, TooEarly> worst_;
};

}  // namespace

void check_readings(const Context& context) {
  for (const Table* table : context.tables()) {
    ReadingCheck(context, *table).report(table == context.safe);
  }
}

}  // namespace rampart::checks
