#include "runtime/play/simulate.h"

#include "runtime/play/assumed.h"
#include "runtime/play/player.h"

namespace rampart {

std::vector<RailDeviation> deviations_at(const Table& table, const SwitchPositions& positions) {
  std::vector<RailDeviation> deviations;
  for (const RailSetup& setup : table.rails()) {
    RailDeviation& rail = deviations.emplace_back();
    for (const ChannelId member : setup.members) {
      ChannelDeviation& channel = rail.members.emplace_back();
      channel.on_delay = positions[static_cast<std::size_t>(table.bench()[member].supply)];
    }
  }
  return deviations;
}

Simulation simulate(const Table& table, const Table* safe, const Load& load, const Incidents& incidents,
                    CourseSink* sink, const Job& job, RunNotes* notes) {
  if (job.progress) job.progress(0, static_cast<std::size_t>(table.timeline().duration().count()));
  Player player(table, safe, load, incidents, sink, job);
  if (notes != nullptr) player.note(*notes);
  Simulation result = player.play();
  result.assumed = assumed_of(table, load);
  return result;
}

std::optional<Simulation> simulate_from(const MarkStates& marks, const std::string& mark, const Table& table,
                                        const Load& load, const Incidents& incidents, const Job& job) {
  const Player* at = marks.at(mark);
  if (at == nullptr) return std::nullopt;
  Simulation result = Player(*at, incidents, &job).play();
  result.assumed = assumed_of(table, load);
  return result;
}

JudgedRun judge(const Table& table, const Table* safe, const Load& load, const Incidents& incidents,
                const Milestones& known, const Job& job) {
  return Player(table, safe, load, incidents, nullptr, job).judge(known);
}

}  // namespace rampart
