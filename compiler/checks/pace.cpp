#include <algorithm>
#include <optional>
#include <set>

#include "compiler/checks/families.h"
#include "compiler/checks/moves.h"
#include "lang/findings/limits.h"
#include "lang/findings/practice.h"
#include "lang/overloaded.h"

// How fast and how finely setpoints may change.
namespace rampart::checks {
namespace {

// A ramp of fewer stairs is a row of small jumps. Common practice, no source.
constexpr std::int64_t kFewestStairs = 10;

// Watches the spacing of one channel's changing rows within a segment.
struct ChannelPace {
  std::optional<Row> last;     // the last row given
  std::optional<Row> changed;  // the last one that counts
  std::optional<Row> pending;  // a point that counts only if the segment does not end there
};

struct Spacing {
  Span before;
  Nanoseconds between{0};
};

class SpacingCheck {
 public:
  explicit SpacingCheck(const Context& context) : context_(context), paces_(context.bench.channels.size()) {
    for (std::size_t i = 0; i < context.run.rails().size(); ++i) {
      for (const ChannelId member : context.run.rails()[i].members) {
        rails_[member] = RailId{static_cast<std::uint32_t>(i)};
      }
    }
  }

  void walk(const Table& table) {
    walk_folded(table, [this](const TableItem& item, const RowCursor& cursor) {
      if (std::holds_alternative<SegmentEnded>(item)) {
        std::fill(paces_.begin(), paces_.end(), ChannelPace{});
      } else if (const auto* row = std::get_if<Row>(&item)) {
        take(*row, cursor.passes().empty() ? 0 : cursor.passes().back());
      }
    });
    find_short_ramps(table.timeline());
  }

  void report() const {
    worst_.report([this](const Occurrence& found) {
      const Abilities& abilities = context_.of(found.rail);
      const auto between = to_nanoseconds(found.value).value_or(Nanoseconds{0});
      const auto place = spacings_.find({found.place.begin, found.place.end, found.rail});
      auto addition =
          context_.report(finding::StepTooShort, found.place, found.statement, context_.profile[found.rail].name,
                          between, pass_text(found.pass), abilities.timing.minimum_step, abilities.name);
      if (place != spacings_.end() && place->second.before != found.place) {
        addition.note(finding::LastChangeHere, place->second.before);
      }
      addition.note(finding::TimingGivenHere, abilities.timing.span);
      const std::string least = to_text(abilities.timing.minimum_step);
      // Only a ramp that is too short by itself comes with its statement.
      const bool is_ramp = found.statement != nullptr;
      addition.hint(is_ramp ? "let the ramp take " + least + " or more"
                            : "leave " + least + " or more between changes");
    });
  }

 private:
  void take(const Row& row, std::int64_t pass) {
    ChannelPace& pace = paces_[static_cast<std::size_t>(row.channel)];
    if (pace.pending) count(pace, *pace.pending, pass);
    pace.pending.reset();
    const bool linear = context_.bench.supply_of(row.channel).timing.interpolation == Interpolation::Linear;
    const bool differs = !pace.last || pace.last->voltage != row.voltage || pace.last->current != row.current ||
                         pace.last->output != row.output;
    pace.last = row;
    if (differs) {
      count(pace, row, pass);
    } else if (linear) {
      pace.pending = row;
    }
  }

  void count(ChannelPace& pace, const Row& row, std::int64_t pass) {
    const Nanoseconds minimum = context_.bench.supply_of(row.channel).timing.minimum_step;
    const auto rail = rails_.find(row.channel);
    if (pace.changed && rail != rails_.end()) {
      const Nanoseconds between = row.time - pace.changed->time;
      if (between < minimum) meet(rail->second, row.statement, nullptr, pace.changed->statement, between, pass);
    }
    pace.changed = row;
  }

  void meet(RailId rail, const Span& place, const Statement* statement, const Span& before, Nanoseconds between,
            std::int64_t pass) {
    worst_.meet({rail, place, statement, pass, to_seconds(between), -to_seconds(between)});
    Spacing& spacing = spacings_.try_emplace({place.begin, place.end, rail}, Spacing{before, between}).first->second;
    if (between < spacing.between) spacing = {before, between};
  }

  // A ramp shorter than one step makes a single row, which can be far from its neighbours.
  void find_short_ramps(const Timeline& timeline) {
    walk_moves(timeline, [this](const MoveView& view) {
      const Abilities& abilities = context_.of(view.move.rail);
      if (view.move.length.count() == 0 || view.move.length >= abilities.timing.minimum_step) return;
      if (view.move.from == view.move.to) return;
      meet(view.move.rail, view.move.statement->span, view.move.statement, view.move.statement->span, view.move.length,
           view.pass);
    });
  }

  const Context& context_;
  std::vector<ChannelPace> paces_;
  std::map<ChannelId, RailId> rails_;
  WorstOccurrences worst_;
  std::map<std::tuple<std::uint32_t, std::uint32_t, RailId>, Spacing> spacings_;
};

Nanoseconds nearest_multiple(Nanoseconds time, Nanoseconds step) {
  return Nanoseconds{static_cast<std::int64_t>(divide_rounded(time.count(), step.count()) * step.count())};
}

bool lies_in(const Span& inner, const Span& outer) {
  return inner.file == outer.file && outer.begin <= inner.begin && inner.end <= outer.end;
}

class GridCheck {
 public:
  explicit GridCheck(const Context& context) : context_(context) {}

  // Loops whose passes do not fit; their statements are not reported once more.
  void walk_loops(const Table& table) {
    walk_folded(table, [this](const TableItem& item, const RowCursor&) {
      const auto* pass = std::get_if<PassEnded>(&item);
      if (pass == nullptr || pass->unit <= 1 || !reported_.insert(key(pass->statement)).second) return;
      loops_.push_back(pass->statement);
      const Nanoseconds grid = coarsest_grid();
      context_.report(finding::OffGridPasses, pass->statement, nullptr, pass->length, grid, pass->unit)
          .hint("make the passes " + to_text(nearest_multiple(pass->length, grid)) + " long");
    });
  }

  void walk_blocks(const Table& table) {
    walk_folded(table.timeline(), [this](const TimelineItem& item, const TimelineCursor&) {
      const auto* const* block = std::get_if<const Block*>(&item);
      if (block == nullptr) return;
      for (const Move& move : (*block)->moves) look_at(move.length, context_.of(move.rail), *move.statement);
      if ((*block)->moves.empty() && !std::holds_alternative<Pulse>((*block)->statement->what)) {
        look_at((*block)->length, coarsest(), *(*block)->statement);
      }
    });
  }

 private:
  using Key = std::tuple<FileId, std::uint32_t, std::uint32_t>;
  static Key key(const Span& span) { return {span.file, span.begin, span.end}; }

  [[nodiscard]] const Abilities& coarsest() const {
    return *std::max_element(
        context_.abilities.begin(), context_.abilities.end(),
        [](const Abilities& a, const Abilities& b) { return a.timing.resolution < b.timing.resolution; });
  }
  [[nodiscard]] Nanoseconds coarsest_grid() const { return coarsest().timing.resolution; }

  [[nodiscard]] bool is_in_reported_loop(const Statement& statement) const {
    return std::any_of(loops_.begin(), loops_.end(), [&](const Span& loop) {
      if (lies_in(statement.span, loop)) return true;
      for (CallId call = statement.call; call != kNoCall; call = context_.profile.calls[call].caller) {
        if (lies_in(context_.profile.calls[call].span, loop)) return true;
      }
      return false;
    });
  }

  void look_at(Nanoseconds length, const Abilities& abilities, const Statement& statement) {
    const Nanoseconds grid = abilities.timing.resolution;
    if (length % grid == Nanoseconds{0} || is_in_reported_loop(statement)) return;
    if (!reported_.insert(key(statement.span)).second) return;
    context_.report(finding::OffGrid, statement.span, &statement, length, grid, abilities.name)
        .note(finding::TimingGivenHere, abilities.timing.span)
        .hint("let it take " + to_text(std::max(grid, nearest_multiple(length, grid))));
  }

  const Context& context_;
  std::vector<Span> loops_;
  std::set<Key> reported_;
};

}  // namespace

void check_step_spacing(const Context& context) {
  SpacingCheck check(context);
  for (const Table* table : context.tables()) check.walk(*table);
  check.report();
}

void check_grid(const Context& context) {
  if (context.abilities.empty()) return;
  GridCheck check(context);
  for (const Table* table : context.tables()) check.walk_loops(*table);
  for (const Table* table : context.tables()) check.walk_blocks(*table);
}

void check_slew(const Context& context) {
  WorstOccurrences worst;
  for (const Table* table : context.tables()) {
    walk_moves(table->timeline(), [&](const MoveView& view) {
      const Abilities& abilities = context.of(view.move.rail);
      const bool ramps = view.move.kind == MoveKind::Voltage && view.move.length.count() > 0 && view.before.on;
      if (!ramps || !abilities.slew) return;
      const Rational rate = abs(view.move.to - view.move.from) / to_seconds(view.move.length);
      const bool up = abs(view.move.to) > abs(view.move.from);
      const Rational excess = rate - (up ? abilities.slew->up : abilities.slew->down).si;
      if (excess.sign() <= 0) return;
      worst.meet({view.move.rail, view.move.statement->span, view.move.statement, view.pass, rate, excess});
    });
  }
  worst.report([&](const Occurrence& found) {
    const Abilities& abilities = context.of(found.rail);
    const VoltsPerSecond limit{found.value - found.excess};
    context
        .report(finding::SlewTooFast, found.place, found.statement, context.profile[found.rail].name,
                VoltsPerSecond{found.value}, pass_text(found.pass), limit, abilities.name)
        .note(finding::SlewGivenHere, abilities.slew->span)
        .hint("ramp at " + to_text(limit) + " or slower: the output lags behind its setpoint otherwise");
  });
}

void check_coarse_ramps(const Context& context) {
  WorstOccurrences worst;
  for (const Table* table : context.tables()) {
    walk_moves(table->timeline(), [&](const MoveView& view) {
      const Abilities& abilities = context.of(view.move.rail);
      const bool ramps = view.move.kind == MoveKind::Voltage && view.move.length.count() > 0 && view.before.on;
      if (!ramps || abilities.timing.interpolation != Interpolation::Hold) return;
      const std::int64_t steps = view.move.length / abilities.timing.minimum_step;
      const Rational counts = abs(view.move.to - view.move.from) / abilities.shares.voltage_step();
      if (steps == 0 || steps >= kFewestStairs || counts <= Rational(steps)) return;
      worst.meet({view.move.rail, view.move.statement->span, view.move.statement, view.pass,
                  abs(view.move.to - view.move.from) / Rational(steps), Rational(kFewestStairs - steps)});
    });
  }
  worst.report([&](const Occurrence& found) {
    const Abilities& abilities = context.of(found.rail);
    const auto steps = static_cast<std::int64_t>(kFewestStairs - found.excess.floor());
    const std::string stairs = std::to_string(steps) + (steps == 1 ? " stair" : " stairs");
    context
        .practice(finding::CoarseRamp, found.rail, found.place, found.statement, context.profile[found.rail].name,
                  stairs, Volts{found.value}, pass_text(found.pass))
        .note(finding::TimingGivenHere, abilities.timing.span)
        .hint("ramp over " + to_text(abilities.timing.minimum_step * kFewestStairs) + " or longer");
  });
}

}  // namespace rampart::checks
