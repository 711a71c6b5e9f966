#include "compiler/timeline/loop_measure.h"

#include <algorithm>
#include <iterator>
#include <utility>

#include "compiler/timeline/timeline.h"
#include "lang/findings/syntax.h"
#include "lang/findings/timeline.h"
#include "lang/text/overloaded.h"

namespace rampart {
namespace {

// Far above every bound that is checked, far below overflow of the sums it takes part in.
constexpr Int128 kEndlessLength = Int128{1} << 100;

Int128 times(Int128 length, std::int64_t passes) {
  Int128 product = 0;
  const bool endless = __builtin_mul_overflow(length, static_cast<Int128>(passes), &product);
  return endless ? kEndlessLength : std::min(product, kEndlessLength);
}

void append(ProgramMeasure& total, const ProgramMeasure& part, std::int64_t passes) {
  const auto count = static_cast<double>(passes);
  total.length = std::min(total.length + times(part.length, passes), kEndlessLength);
  total.waits = std::min(total.waits + times(part.waits, passes), kEndlessLength);
  total.moves += part.moves * count;
  total.walked_passes += part.walked_passes * count;
  total.shifting_passes = std::max(total.shifting_passes, part.shifting_passes);
}

RailState shifted(const RailState& last, const RailState& before, std::int64_t passes) {
  return {last.voltage + (last.voltage - before.voltage) * Rational(passes),
          last.limit + (last.limit - before.limit) * Rational(passes), last.on, last.known};
}

bool too_large(const std::vector<RailState>& rails) {
  return std::any_of(rails.begin(), rails.end(),
                     [](const RailState& rail) { return !is_settable(rail.voltage) || !is_settable(rail.limit); });
}

}  // namespace

// Everything calculated from a number that is too large is so too: the first place says it all.
void LoopMeter::report_too_large(const Statement& statement) {
  if (!too_large_) findings_.report(finding::NumberTooLarge, statement.span);
  too_large_ = true;
}

// Once a statement: what it sets is known from there on, so a later pass says nothing new.
void LoopMeter::report_unknown_start(const Statement& statement, const Setpoints& setpoints) {
  const std::optional<RailId> rail = goes_on_from_unknown(statement, setpoints);
  if (!rail || !unknown_.insert(&statement).second) return;
  const std::string& name = (*profile_)[*rail].name;
  const bool may_say_from =
      std::holds_alternative<Ramp>(statement.what) && statement.point.end == statement.point.begin;
  findings_.report(finding::StartUnknown, statement.span, name)
      .hint("a trip can leave it anywhere: " + (may_say_from
                                                    ? "give the ramp a `from`, or write `step " + name + " to …` first"
                                                    : "write the value itself, as in `step " + name + " to …`"));
}

ProgramMeasure LoopMeter::measure(const Program& program, const Setpoints& entry) {
  Setpoints setpoints = entry;
  ProgramMeasure total;
  for (const Statement& statement : program) add_statement(statement, setpoints, total);
  total.exit = std::move(setpoints.rails);
  return total;
}

void LoopMeter::add_statement(const Statement& statement, Setpoints& setpoints, ProgramMeasure& total) {
  if (is_simple(statement)) {
    report_unknown_start(statement, setpoints);
    Block block;
    if (!play(statement, setpoints, block)) report_too_large(statement);
    total.length = std::min(total.length + block.length.count(), kEndlessLength);
    total.moves += static_cast<double>(block.moves.size() + block.lines.size());
    return;
  }
  if (std::holds_alternative<Repeat>(statement.what)) {
    const LoopMeasure& loop = measure_loop(statement, setpoints);
    append(total, loop.all, 1);
    setpoints.rails = loop.all.exit;
  } else if (std::holds_alternative<Together>(statement.what)) {
    add_together(statement, setpoints, total);
  } else if (const auto* track = std::get_if<Track>(&statement.what)) {
    setpoints.tracks.push_back(tracking_of(*track, *profile_));
    const ProgramMeasure inside = measure(track->body, setpoints);
    setpoints.tracks.pop_back();
    append(total, inside, 1);
    setpoints.rails = inside.exit;
  } else if (const auto* await = std::get_if<Await>(&statement.what)) {
    total.waits += await->assume.value_or(Nanoseconds{0}).count();
  }
}

void LoopMeter::add_together(const Statement& statement, Setpoints& setpoints, ProgramMeasure& total) {
  const std::vector<RailState> before = setpoints.rails;
  ProgramMeasure widest;
  for (const Program& branch : std::get<Together>(statement.what).branches) {
    const Setpoints entry{before, setpoints.lines, setpoints.tracks};
    const ProgramMeasure inside = measure(branch, entry);
    widest.length = std::max(widest.length, inside.length);
    widest.moves += inside.moves;
    widest.walked_passes += inside.walked_passes;
    take_changes(before, inside.exit, setpoints.rails);
  }
  if (widest.moves > static_cast<double>(kMaxTogetherMoves)) {
    findings_.report(finding::TogetherTooLarge, statement.span, static_cast<std::int64_t>(kMaxTogetherMoves))
        .hint("take the loop out of `together`, or give each pass its own `together`");
  }
  append(total, widest, 1);
}

const LoopMeasure& LoopMeter::measure_loop(const Statement& repeat, const Setpoints& entry) {
  auto key = std::pair(&repeat, entry.rails);
  const auto at = loops_.lower_bound(key);
  const auto is_it = [&](const auto& other) { return other->first.first == &repeat; };
  if (at != loops_.end() && at->first == key) return at->second;
  if ((at != loops_.end() && is_it(at)) || (at != loops_.begin() && is_it(std::prev(at)))) ++entries_;
  if (entries_ > most_entries_) give_up(repeat);
  LoopMeasure loop = measure_new_loop(repeat, entry);
  return loops_.emplace(std::move(key), std::move(loop)).first->second;
}

LoopMeasure LoopMeter::measure_new_loop(const Statement& repeat, const Setpoints& entry) {
  if (given_up_) return {1, false, {.exit = entry.rails}};
  const Program& body = std::get<Repeat>(repeat.what).body;
  Setpoints setpoints = entry;
  const ProgramMeasure first = measure(body, setpoints);
  setpoints.rails = first.exit;
  const auto* count = std::get_if<std::int64_t>(&std::get<Repeat>(repeat.what).extent);
  const ProgramMeasure later = count != nullptr && *count == 1 ? first : measure(body, setpoints);

  LoopMeasure loop;
  loop.passes = passes_of(repeat, first, later);
  loop.shifts = loop.passes > 1 && later.exit != first.exit;
  loop.all.exit = loop.passes == 1 ? first.exit : later.exit;
  append(loop.all, first, 1);
  append(loop.all, later, loop.passes - 1);
  const double bodies =
      loop.shifts ? static_cast<double>(loop.passes) : std::min(3.0, static_cast<double>(loop.passes));
  loop.all.walked_passes = bodies * (1.0 + std::max(first.walked_passes, later.walked_passes));
  if (loop.shifts) {
    loop.all.shifting_passes *= static_cast<double>(loop.passes);
    for (std::size_t i = 0; i < loop.all.exit.size(); ++i) {
      loop.all.exit[i] = shifted(later.exit[i], first.exit[i], loop.passes - 2);
    }
    if (too_large(loop.all.exit)) report_too_large(repeat);
  }
  if (loop.all.shifting_passes > static_cast<double>(kMaxShiftingPasses)) give_up(repeat);
  return loop;
}

void LoopMeter::give_up(const Statement& repeat) {
  if (std::exchange(given_up_, true)) return;
  findings_.report(finding::TooManyPasses, repeat.span, kMaxShiftingPasses)
      .hint("make the body end at the setpoints it began with, or repeat it less often");
}

std::int64_t LoopMeter::passes_of(const Statement& repeat, const ProgramMeasure& first, const ProgramMeasure& later) {
  const auto& extent = std::get<Repeat>(repeat.what).extent;
  if (const auto* count = std::get_if<std::int64_t>(&extent)) return *count;
  const Int128 time = std::get<Nanoseconds>(extent).count();
  const Int128 first_length = first.length + first.waits;
  const Int128 later_length = later.length + later.waits;
  // Once a statement, whatever setpoints it begins at.
  if (first_length > time) {
    if (!extents_.insert(&repeat).second) return 1;
    const Nanoseconds length{fits_int64(first_length) ? static_cast<std::int64_t>(first_length) : 0};
    findings_.report(finding::PassLongerThanRepeat, repeat.span, length, std::get<Nanoseconds>(extent))
        .hint("give the repeat at least the time of one pass");
    return 1;
  }
  if (later_length == 0) {
    if (!extents_.insert(&repeat).second) return 1;
    findings_.report(finding::EndlessRepeat, repeat.span, std::get<Nanoseconds>(extent))
        .hint("add a `dwell`, or repeat a number of times");
    return 1;
  }
  return 1 + static_cast<std::int64_t>((time - first_length) / later_length);
}

}  // namespace rampart
