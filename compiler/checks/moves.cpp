#include "compiler/checks/moves.h"

#include <algorithm>

#include "lang/values/instant.h"

namespace rampart::checks {
namespace {

const std::vector<Motion>* motions_of(const Statement& statement) {
  if (const auto* jump = std::get_if<Jump>(&statement.what)) return &jump->motions;
  if (const auto* ramp = std::get_if<Ramp>(&statement.what)) return &ramp->motions;
  return nullptr;
}

void take_up(Usage& usage, const RailState& state, const Span& place) {
  if (!state.on) return;
  const Rational level = abs(state.voltage);
  if (state.known.voltage && (!usage.highest || *usage.highest < level)) {
    usage.highest = level;
    usage.highest_place = place;
  }
  usage.highest_limit = std::max(usage.highest_limit, state.limit);
}

}  // namespace

const Motion* motion_of(const Statement& statement, RailId rail) {
  const std::vector<Motion>* motions = motions_of(statement);
  if (motions == nullptr) return nullptr;
  const auto own =
      std::find_if(motions->begin(), motions->end(), [rail](const Motion& motion) { return motion.rail == rail; });
  return own == motions->end() ? nullptr : &*own;
}

Span place_of(const Move& move) {
  const Motion* motion = motion_of(*move.statement, move.rail);
  return motion != nullptr && motion->span.end > motion->span.begin ? motion->span : move.statement->span;
}

std::vector<Usage> usage_of(const Timeline& timeline, const PowerPeaks& power, const std::vector<bool>& may_be_on) {
  std::vector<Usage> usage(timeline.profile().rails.size());
  walk_moves_from(begin_of(timeline, may_be_on), timeline, [&usage](const MoveView& view) {
    Usage& rail = usage[static_cast<std::size_t>(view.move.rail)];
    rail.driven = true;
    RailState after = view.before;
    if (view.move.kind == MoveKind::Voltage) {
      after.voltage = view.move.to;
      after.known.voltage = true;
    }
    if (view.move.kind == MoveKind::Limit) after.limit = view.move.to;
    if (view.move.kind == MoveKind::Output) after.on = view.move.to.sign() > 0;
    rail.switched_on = rail.switched_on || after.on;
    take_up(rail, after, place_of(view.move));
  });
  for (std::size_t i = 0; i < usage.size(); ++i) usage[i].highest_power = power.rails[i].power;
  return usage;
}

std::string pass_text(std::int64_t pass) {
  return pass > 1 ? in_pass(pass) : std::string();
}

std::string when_text(std::int64_t pass, std::size_t segment) {
  return pass_text(pass) + (segment > 0 ? " after the last wait" : "");
}

}  // namespace rampart::checks
