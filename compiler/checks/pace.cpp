#include <algorithm>
#include <numeric>
#include <set>

#include "compiler/checks/families.h"
#include "compiler/checks/moves.h"
#include "lang/findings/limits.h"
#include "lang/findings/practice.h"

// How fast and how finely setpoints may change.
namespace rampart::checks {
namespace {

// A ramp of fewer stairs is a row of small jumps. Common practice, no source.
constexpr std::int64_t kFewestStairs = 10;

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
    walk_folded(table.timeline(), [this](const TimelineItem& item, const TimelineCursor&) {
      const auto* pass = std::get_if<TimelinePassEnded>(&item);
      if (pass != nullptr && !pass->segments) look_at_pass(*pass);
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

  void look_at_pass(const TimelinePassEnded& pass) {
    const Span& place = pass.statement->span;
    const Int128 alike = passes_alike(pass.length);
    const std::int64_t passes = pass.pass + pass.remaining;
    if (passes == 1 || alike <= 1 || !reported_.insert(key(place)).second) return;
    loops_.push_back(place);
    const Nanoseconds grid = coarsest_grid();
    const std::string hint =
        "make the passes " + to_text(std::max(grid, nearest_multiple(pass.length, grid))) + " long";
    if (alike < passes) {
      context_.report(finding::OffGridPasses, place, nullptr, pass.length, grid, static_cast<std::int64_t>(alike))
          .hint(hint);
    } else {
      context_.report(finding::OffGridAllPasses, place, nullptr, pass.length, grid, passes).hint(hint);
    }
  }

  // After how many passes of this length the steps lie on every grid as before. Grids that are whole nanoseconds have a
  // common multiple that may be beyond 64 bits: it is then so far off that no loop gets there.
  [[nodiscard]] Int128 passes_alike(Nanoseconds length) const {
    constexpr Int128 kNever = Int128{1} << 62;
    Int128 alike = 1;
    for (const Abilities& abilities : context_.abilities) {
      const std::int64_t resolution = abilities.timing.resolution.count();
      const std::int64_t own = resolution / std::gcd(length.count(), resolution);
      if (alike >= kNever) break;
      alike *= own / std::gcd(static_cast<std::int64_t>(alike), own);
    }
    return alike;
  }

  void look_at(Nanoseconds length, const Abilities& abilities, const Statement& statement) {
    const Nanoseconds grid = abilities.timing.resolution;
    if (length % grid == Nanoseconds{0} || is_in_reported_loop(statement)) return;
    if (!reported_.insert(key(statement.span)).second) return;
    context_.report(finding::OffGrid, statement.span, &statement, length, grid, abilities.name)
        .note(finding::TimingGivenHere, abilities.timing.span)
        .hint("make it " + to_text(std::max(grid, nearest_multiple(length, grid))));
  }

  const Context& context_;
  std::vector<Span> loops_;
  std::set<Key> reported_;
};

}  // namespace

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
        .hint("ramp at " + to_text(limit) + " or slower; otherwise the output lags behind its setpoint");
  });
}

void check_coarse_ramps(const Context& context) {
  WorstOccurrences worst;
  for (const Table* table : context.tables()) {
    walk_moves(table->timeline(), [&](const MoveView& view) {
      const Abilities& abilities = context.of(view.move.rail);
      const bool ramps = view.move.kind == MoveKind::Voltage && view.move.length.count() > 0 && view.before.on;
      if (!ramps || abilities.timing.interpolation != Interpolation::Hold) return;
      const Rational height = abs(view.move.to - view.move.from);
      const Rational counts = height / abilities.shares.voltage_step();
      const std::int64_t steps = view.move.length / abilities.timing.minimum_step;
      const auto stairs =
          counts.overflowed() ? steps : static_cast<std::int64_t>(std::min<Int128>(steps, counts.rounded()));
      if (stairs == 0 || stairs >= kFewestStairs) return;
      worst.meet({view.move.rail, view.move.statement->span, view.move.statement, view.pass, height,
                  Rational(kFewestStairs - stairs)});
    });
  }
  worst.report([&](const Occurrence& found) {
    const Abilities& abilities = context.of(found.rail);
    const auto stairs = static_cast<std::int64_t>(kFewestStairs - found.excess.floor());
    const Volts step{abilities.shares.voltage_step()};
    const Rational counts = found.value / step.si;
    const bool by_time = counts.overflowed() || counts >= Rational(kFewestStairs);
    auto addition = context.practice(finding::CoarseRamp, found.rail, found.place, found.statement,
                                     context.profile[found.rail].name,
                                     stairs == 1 ? std::string("a single step") : std::to_string(stairs) + " stairs",
                                     Volts{found.value / Rational(stairs)}, pass_text(found.pass));
    if (by_time) {
      addition.note(finding::TimingGivenHere, abilities.timing.span)
          .hint("ramp over " + to_text(abilities.timing.minimum_step * kFewestStairs) + " or longer");
    } else {
      addition.hint("`" + abilities.name + "` is set in steps of " + to_text(step) +
                    ", so a longer ramp is no finer: use `step` instead");
    }
  });
}

}  // namespace rampart::checks
