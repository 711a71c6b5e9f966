#include <map>
#include <tuple>

#include "compiler/bench/switch_delay.h"
#include "compiler/checks/families.h"
#include "compiler/checks/moves.h"
#include "lang/findings/limits.h"
#include "lang/findings/practice.h"

// On, off, and statements that do nothing. The orderly stop begins wherever the run happened to be: what it has not set
// itself is not known there.
namespace rampart::checks {
namespace {

bool switches_on(const MoveView& view) {
  return view.move.kind == MoveKind::Output && view.move.to.sign() > 0 && !view.before.on;
}

// In `safe`, which does not know whether the output is on already.
bool tells_on(const MoveView& view) {
  return view.move.kind == MoveKind::Output && view.move.to.sign() > 0;
}

Occurrence occurrence_of(const MoveView& view, const Rational& value) {
  return {view.move.rail, view.move.statement->span, view.move.statement, view.pass, value, abs(value)};
}

// Statements and what they did, over all passes and calls.
class Effects {
 public:
  explicit Effects(const Context& context) : context_(context) {}

  void meet(const MoveView& view) {
    const Key key{view.move.statement->span.begin, view.move.statement->span.end, view.move.rail, view.move.kind};
    Last& last = last_[{view.move.rail, view.move.kind}];
    const bool jumps = view.move.length.count() == 0;
    const bool overwrites = jumps && last.statement != nullptr && last.statement != view.move.statement &&
                            last.segment == view.segment && last.instant == view.start;
    if (overwrites) {
      effects_[last.key].overwritten_by = view.move.statement;
    } else {
      settle(last);
    }
    Effect& effect = effects_[key];
    effect.statement = view.move.statement;
    if (jumps) {
      last = {view.move.statement, key, view.segment, view.start, view.move.from != view.move.to};
    } else {
      last.statement = nullptr;
      effect.did_something = effect.did_something || view.move.from != view.move.to;
    }
  }

  void report() {
    for (auto& [what, last] : last_) settle(last);
    for (const auto& [key, effect] : effects_) {
      if (effect.did_something) continue;
      const RailId rail = std::get<2>(key);
      auto addition = context_.practice(finding::NoEffect, rail, effect.statement->span, effect.statement,
                                        context_.profile[rail].name);
      if (effect.overwritten_by != nullptr) addition.note(finding::OverwrittenHere, effect.overwritten_by->span);
      addition.hint(effect.overwritten_by != nullptr ? "remove it, or `dwell` before the next change"
                                                     : "remove it: the rail is already there");
    }
  }

 private:
  using Key = std::tuple<std::uint32_t, std::uint32_t, RailId, MoveKind>;
  struct Effect {
    const Statement* statement = nullptr;
    const Statement* overwritten_by = nullptr;
    bool did_something = false;
  };
  // The last jump of one quantity of a rail, which the next may overwrite.
  struct Last {
    const Statement* statement = nullptr;
    Key key;
    std::size_t segment = 0;
    Nanoseconds instant{0};
    bool changed = false;
  };

  void settle(Last& last) {
    if (last.statement != nullptr && last.changed) effects_[last.key].did_something = true;
    last.statement = nullptr;
  }

  const Context& context_;
  std::map<Key, Effect> effects_;
  std::map<std::pair<RailId, MoveKind>, Last> last_;
};

// Those that did nothing wherever their text was played, in the order of the text.
std::map<std::pair<std::uint32_t, std::uint32_t>, const Statement*> idle_statements(
    const std::map<const Statement*, bool>& did_something) {
  std::map<std::pair<std::uint32_t, std::uint32_t>, const Statement*> idle;
  for (const auto& [statement, did] : did_something) {
    if (!did) idle[{statement->span.begin, statement->span.end}] = statement;
  }
  for (const auto& [statement, did] : did_something) {
    if (did) idle.erase({statement->span.begin, statement->span.end});
  }
  return idle;
}

// A line that is set to the level it has, in each pass. How a line stands before it is set first is not known.
void check_line_effect(const Context& context, const Table& table) {
  std::map<const Statement*, bool> did_something;
  std::map<LineId, bool> levels;
  walk_folded(table.timeline(), [&](const TimelineItem& item, const TimelineCursor&) {
    const auto* const* block = std::get_if<const Block*>(&item);
    if (block == nullptr) return;
    for (const LineMove& move : (*block)->lines) {
      const auto level = levels.find(move.line);
      bool& did = did_something[move.statement];
      did = did || level == levels.end() || level->second != move.high;
      levels[move.line] = move.high;
    }
  });
  for (const auto& [place, statement] : idle_statements(did_something)) {
    const auto* set = std::get_if<SetLine>(&statement->what);
    if (set == nullptr) continue;
    context
        .practice(finding::NoEffectOnLine, std::nullopt, statement->span, statement, context.profile[set->line].name,
                  set->high ? "high" : "low")
        .hint("remove it, or change the line in between");
  }
}

// Setpoints that are not 0 V before an output's switch has closed for sure. A wait takes the time that it is assumed to
// take.
class Closings {
 public:
  explicit Closings(const Context& context) : context_(context), pending_(context.run.rails().size()) {
    const SwitchPositions latest(context.run.bench().supplies.size(), 1);
    for (const RailSetup& setup : context.run.rails()) {
      delays_.push_back(switch_delay(context.run.bench(), setup.members, latest));
    }
  }

  void report() {
    walk();
    worst_.report([&](const Occurrence& found) {
      const std::string& name = context_.profile[found.rail].name;
      const Nanoseconds delay = delays_[static_cast<std::size_t>(found.rail)];
      context_
          .practice(finding::HotSwitchClosing, found.rail, found.place, found.statement, name, Volts{found.value},
                    pass_text(found.pass), delay)
          .hint("write `dwell " + to_text(delay) + "` after `on " + name + "`, before its setpoint moves");
    });
  }

 private:
  struct Pending {
    Nanoseconds since{0};
    bool is_open = false;  // told to close, and not known to have closed
  };

  void walk() {
    using State = std::pair<std::vector<RailState>, std::vector<bool>>;
    PassFolder<State> folder;
    std::map<LoopId, Nanoseconds> pass_ends;
    rails_ = context_.run.timeline().initial();
    TimelineCursor cursor = context_.run.timeline().walk();
    while (const std::optional<TimelineItem> item = cursor.next()) {
      if (const auto* block = std::get_if<const Block*>(&*item)) take(**block, cursor);
      if (const auto* segment = std::get_if<TimelineSegmentEnded>(&*item)) wait(*segment);
      const auto* pass = std::get_if<TimelinePassEnded>(&*item);
      if (pass == nullptr) continue;
      const Nanoseconds began = pass_ends.try_emplace(pass->loop, clock_).first->second;
      if (pass->remaining > 0) {
        const std::int64_t skipped =
            folder.passes_to_skip(pass->loop, pass->pass, pass->remaining, {cursor.rails(), cursor.lines()});
        if (skipped > 0) cursor.skip_passes(skipped);
        shift((clock_ - began) * skipped, began);
      }
      pass_ends[pass->loop] = clock_;
    }
  }

  // Passes were left out: what was switched on in the last one was switched on later.
  void shift(Nanoseconds added, Nanoseconds began) {
    for (Pending& pending : pending_) {
      if (pending.since >= began) pending.since += added;
    }
    clock_ += added;
  }

  void wait(const TimelineSegmentEnded& segment) {
    if (segment.statement != nullptr)
      clock_ += std::get<Await>(segment.statement->what).assume.value_or(Nanoseconds{0});
  }

  void take(const Block& block, const TimelineCursor& cursor) {
    for (const Move& move : block.moves) {
      const auto rail = static_cast<std::size_t>(move.rail);
      RailState& state = rails_[rail];
      if (move.kind == MoveKind::Output) {
        // One that is switched on at another setpoint is told as that.
        const bool starts = move.to.sign() > 0 && !state.on && state.voltage.sign() == 0;
        if (move.to.sign() == 0 || starts) pending_[rail] = {clock_ + move.start, starts};
        state.on = move.to.sign() > 0;
      }
      if (move.kind != MoveKind::Voltage) continue;
      meet(move, cursor);
      state.voltage = move.to;
    }
    rails_ = cursor.rails();
    clock_ += block.length;
  }

  void meet(const Move& move, const TimelineCursor& cursor) {
    const auto rail = static_cast<std::size_t>(move.rail);
    const Nanoseconds left = pending_[rail].since + delays_[rail] - (clock_ + move.start);
    if (!pending_[rail].is_open || left.count() <= 0) return;
    Rational value = move.to;
    if (left < move.length) {
      value = move.from + (move.to - move.from) * Rational::fraction(left.count(), move.length.count());
      if (value.overflowed()) value = move.to;
    }
    if (value.sign() == 0) return;
    const std::int64_t pass = cursor.passes().empty() ? 0 : cursor.passes().back();
    worst_.meet({move.rail, place_of(move), move.statement, pass, value, abs(value)});
  }

  const Context& context_;
  std::vector<Nanoseconds> delays_;  // the longest, by rail
  std::vector<Pending> pending_;     // by rail
  std::vector<RailState> rails_;
  Nanoseconds clock_{0};  // through all segments
  WorstOccurrences worst_;
};

}  // namespace

void check_limit_before_on(const Context& context) {
  WorstOccurrences worst;
  walk_moves(context.run.timeline(), [&](const MoveView& view) {
    if (switches_on(view) && view.before.limit.sign() == 0) worst.meet(occurrence_of(view, 0));
  });
  worst.report([&](const Occurrence& found) {
    const std::string& name = context.profile[found.rail].name;
    context.report(finding::NoCurrentLimit, found.place, found.statement, name)
        .hint("set one before: `limit " + name + " to 500 mA`");
  });
  if (context.safe == nullptr) return;
  WorstOccurrences in_safe;
  walk_moves(context.safe->timeline(), [&](const MoveView& view) {
    const bool limited = view.before.known.limit && view.before.limit.sign() != 0;
    if (tells_on(view) && !limited) in_safe.meet(occurrence_of(view, 0));
  });
  in_safe.report([&](const Occurrence& found) {
    const std::string& name = context.profile[found.rail].name;
    context.report(finding::NoLimitInSafe, found.place, found.statement, name)
        .hint("set it in `safe` before the `on`: `limit " + name + " to 500 mA`");
  });
}

void check_hot_switch(const Context& context) {
  WorstOccurrences worst;
  walk_moves(context.run.timeline(), [&](const MoveView& view) {
    if (switches_on(view) && view.before.voltage.sign() != 0) worst.meet(occurrence_of(view, view.before.voltage));
  });
  if (context.safe != nullptr) {
    walk_moves(context.safe->timeline(), [&](const MoveView& view) {
      const bool is_up = view.before.known.voltage && view.before.voltage.sign() != 0;
      if (tells_on(view) && is_up) worst.meet(occurrence_of(view, view.before.voltage));
    });
  }
  worst.report([&](const Occurrence& found) {
    const std::string& name = context.profile[found.rail].name;
    context
        .practice(finding::HotSwitch, found.rail, found.place, found.statement, name, Volts{found.value},
                  pass_text(found.pass))
        .hint("switch it on at 0 V and ramp up: `step " + name + " to 0 V` before, `ramp` after");
  });
  Closings(context).report();
}

void check_ramp_while_off(const Context& context) {
  WorstOccurrences worst;
  walk_moves(context.run.timeline(), [&](const MoveView& view) {
    const bool ramps = view.move.kind == MoveKind::Voltage && view.move.length.count() > 0 &&
                       view.move.from != view.move.to && !view.before.on;
    if (ramps) worst.meet(occurrence_of(view, view.move.to));
  });
  worst.report([&](const Occurrence& found) {
    const std::string& name = context.profile[found.rail].name;
    context.practice(finding::RampWhileOff, found.rail, found.place, found.statement, name, pass_text(found.pass))
        .hint("switch it on before: `on " + name + "`");
  });
}

void check_left_on(const Context& context) {
  std::map<RailId, const Statement*> on;
  walk_moves(context.run.timeline(), [&](const MoveView& view) {
    if (view.move.kind != MoveKind::Output) return;
    if (view.move.to.sign() == 0) {
      on.erase(view.move.rail);
    } else if (!view.before.on) {
      on[view.move.rail] = view.move.statement;
    }
  });
  for (const auto& [rail, statement] : on) {
    const std::string& name = context.profile[rail].name;
    context.practice(finding::LeftOn, rail, statement->span, statement, name)
        .hint("end the run with `off " + name + "`");
  }
  if (context.safe == nullptr) return;
  std::map<RailId, std::pair<bool, const Statement*>> last;
  walk_moves(context.safe->timeline(), [&](const MoveView& view) {
    if (view.move.kind == MoveKind::Output) last[view.move.rail] = {view.move.to.sign() > 0, view.move.statement};
  });
  for (std::size_t i = 0; i < context.usage.size(); ++i) {
    const RailId rail{static_cast<std::uint32_t>(i)};
    const std::string& name = context.profile[rail].name;
    const auto [is_on, statement] = last.try_emplace(rail, context.used_in_run[i], nullptr).first->second;
    if (!is_on) continue;
    if (statement != nullptr) {
      context.practice(finding::LeftOnBySafe, rail, statement->span, statement, name)
          .hint("end `safe` with `off " + name + "`");
      continue;
    }
    const Span& safe = context.profile.safe_span;
    context.practice(finding::LeftOnBySafe, rail, {safe.file, safe.begin, safe.begin + 4}, nullptr, name)
        .hint("add `off " + name + "` to it");
  }
}

void check_effect(const Context& context) {
  Effects effects(context);
  walk_moves(context.run.timeline(), [&](const MoveView& view) { effects.meet(view); });
  effects.report();
  for (const Table* table : context.tables()) check_line_effect(context, *table);
}

}  // namespace rampart::checks
