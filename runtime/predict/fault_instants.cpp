#include "runtime/predict/fault_instants.h"

#include <algorithm>
#include <array>
#include <set>

#include "compiler/table/folded_walk.h"
#include "lang/text/overloaded.h"

namespace rampart {
namespace {

InstantKind kind_of(const Block& block) {
  return std::visit(Overloaded{
                        [&](const Ramp&) {
                          const auto voltage =
                              std::find_if(block.moves.begin(), block.moves.end(), [](const Move& move) {
                                return move.kind == MoveKind::Voltage && move.length > Nanoseconds{0};
                              });
                          if (voltage == block.moves.end()) return InstantKind::LimitRamp;
                          const Rational low = std::min(voltage->from, voltage->to);
                          const bool away = low < Rational(0) ? voltage->to == low : voltage->from == low;
                          return away ? InstantKind::RampUp : InstantKind::RampDown;
                        },
                        [](const Dwell&) { return InstantKind::Dwell; },
                        [](const Pulse&) { return InstantKind::Pulse; },
                        [](const Together&) { return InstantKind::Together; },
                        [](const auto&) { return InstantKind::Statement; },
                    },
                    block.statement->what);
}

Instant middle(const Instant& from, const Instant& to) {
  return {(from.whole + to.whole) / 2, (from.rest + to.rest) / 2};
}

class Finder {
 public:
  explicit Finder(const Simulation& plain) : plain_(plain) {}

  FaultInstants find(const Timeline& timeline) {
    for (const MarkTime& mark : plain_.first_marks) add({mark.at, mark.mark, InstantKind::Mark, mark.statement});
    walk(timeline);
    FaultInstants result;
    std::stable_sort(found_.begin(), found_.end(),
                     [](const FaultInstant& a, const FaultInstant& b) { return a.at.since(b.at) < 0; });
    if (found_.size() > kMaxFaultInstants) {
      result.left_out = static_cast<std::int64_t>(found_.size() - kMaxFaultInstants);
      found_.resize(kMaxFaultInstants);
    }
    result.instants = std::move(found_);
    return result;
  }

 private:
  void add(FaultInstant instant) {
    if (instant.at.seconds() < plain_.duration_s) found_.push_back(std::move(instant));
  }

  void walk(const Timeline& timeline) {
    using State = std::pair<std::vector<RailState>, std::vector<bool>>;
    PassFolder<State> folder;
    TimelineCursor cursor = timeline.walk();
    while (const std::optional<TimelineItem> item = cursor.next()) {
      if (segment_ >= plain_.segment_starts.size()) return;
      if (const auto* block = std::get_if<const Block*>(&*item)) take(**block);
      if (const auto* end = std::get_if<TimelineSegmentEnded>(&*item)) take(*end);
      const auto* pass = std::get_if<TimelinePassEnded>(&*item);
      if (pass == nullptr || pass->remaining == 0) continue;
      const std::int64_t skipped =
          folder.passes_to_skip(pass->loop, pass->pass, pass->remaining, {cursor.rails(), cursor.lines()});
      // Where passes that hold waits are left out, it is not known when the next segment began.
      if (skipped > 0 && pass->segments) return;
      if (skipped > 0) cursor.skip_passes(skipped);
    }
  }

  void take(const Block& block) {
    if (block.length <= Nanoseconds{0} || block.statement == nullptr) return;
    const InstantKind kind = kind_of(block);
    if (!kinds_.insert(kind).second) return;
    const Instant begin = plain_.segment_starts[segment_].plus(block.start);
    add({middle(begin, begin.plus(block.length)), "", kind, block.statement->span});
  }

  void take(const TimelineSegmentEnded& end) {
    const Instant begin = plain_.segment_starts[segment_].plus(end.time);
    ++segment_;
    if (end.statement == nullptr || segment_ >= plain_.segment_starts.size()) return;
    const Instant next = plain_.segment_starts[segment_];
    if (next.since(begin) <= 0 || !kinds_.insert(InstantKind::Await).second) return;
    add({middle(begin, next), "", InstantKind::Await, end.statement->span});
  }

  const Simulation& plain_;
  std::vector<FaultInstant> found_;
  std::set<InstantKind> kinds_;
  std::size_t segment_ = 0;
};

}  // namespace

std::string_view instant_kind_name(InstantKind kind) {
  static constexpr std::array<std::string_view, 9> kNames = {"",      "ramp up",  "ramp down", "limit ramp", "dwell",
                                                             "pulse", "together", "await",     "statement"};
  return kNames[static_cast<std::size_t>(kind)];
}

FaultInstants fault_instants(const Timeline& timeline, const Simulation& plain) {
  return Finder(plain).find(timeline);
}

}  // namespace rampart
