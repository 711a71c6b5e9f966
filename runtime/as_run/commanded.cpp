#include "runtime/as_run/commanded.h"

#include <algorithm>

#include "runtime/as_run/run_times.h"

namespace rampart::as_run {
namespace {

std::string rail_of(const Table& table, ChannelId channel) {
  for (const RailSetup& setup : table.rails()) {
    if (std::find(setup.members.begin(), setup.members.end(), channel) != setup.members.end())
      return table.profile()[setup.rail].name;
  }
  return {};
}

}  // namespace

std::unique_ptr<CommandCheck> check_commands(const LocatedRun& run, double max_late_s, const Job& job) {
  constexpr std::int64_t kBetweenChecks = 100'000;  // lines
  auto check = std::make_unique<CommandCheck>(run.table(), run.played().safe, run.names());
  const Logger& logger = run.leader();
  std::string why;
  const FileStream stream = run.files().open(logger.path, why);
  if (!stream) return check;
  LogReader reader(stream.get(), logger.path, logger.description, run.names(), nullptr);
  std::int64_t lines = 0;
  bool goes_on = reader.open();
  while (goes_on && reader.next()) {
    if (++lines % kBetweenChecks == 0) job.check();
    goes_on = !logger.survey.ends_at || reader.line() < *logger.survey.ends_at;
    if (!goes_on) break;
    const double time = logger.survey.seconds(reader.time());
    if (reader.command()) check->take(*reader.command(), reader.segment(), time);
    if (reader.event()) check->take(*reader.event(), time);
  }
  check->finish(logger.survey.last, max_late_s);
  return check;
}

std::vector<Commanded> commanded_of(const CommandCheck& check, const LocatedRun& run,
                                    const std::vector<Instant>& segment_starts, std::vector<std::string>& followed) {
  std::vector<Commanded> result;
  std::vector<ChannelId> told;
  for (const CommandedRow& one : check.commanded()) {
    const std::string& name = run.names()[run.names().of_channel(one.row.channel)].name;
    if (one.segment >= segment_starts.size() || !check.is_followed(name)) continue;
    Commanded& commanded = result.emplace_back(Commanded{one.row, segment_starts[one.segment].plus(one.row.time)});
    commanded.row.time = commanded.row.until = Nanoseconds{0};
    if (std::find(told.begin(), told.end(), one.row.channel) != told.end()) continue;
    told.push_back(one.row.channel);
    const std::string rail = rail_of(run.table(), one.row.channel);
    if (!rail.empty()) followed.push_back("`" + rail + "` from " + time_text(commanded.at.seconds()) + " on");
  }
  std::stable_sort(result.begin(), result.end(),
                   [](const Commanded& a, const Commanded& b) { return a.at.since(b.at) < 0; });
  return result;
}

}  // namespace rampart::as_run
