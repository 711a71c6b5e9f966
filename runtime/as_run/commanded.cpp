#include "runtime/as_run/commanded.h"

#include <algorithm>
#include <optional>

#include "runtime/as_run/run_times.h"

namespace rampart::as_run {
namespace {

std::optional<std::size_t> rail_of(const Table& table, ChannelId channel) {
  for (std::size_t i = 0; i < table.rails().size(); ++i) {
    const std::vector<ChannelId>& members = table.rails()[i].members;
    if (std::find(members.begin(), members.end(), channel) != members.end()) return i;
  }
  return std::nullopt;
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
    if (const std::optional<std::size_t> rail = rail_of(run.table(), one.row.channel)) {
      const std::string& rail_name = run.table().profile()[run.table().rails()[*rail].rail].name;
      followed.push_back("`" + rail_name + "` from " + time_text(commanded.at.seconds()) + " on");
    }
  }
  std::stable_sort(result.begin(), result.end(),
                   [](const Commanded& a, const Commanded& b) { return a.at.since(b.at) < 0; });
  return result;
}

std::vector<std::size_t> unfollowed_rails(const CommandCheck& check, const LocatedRun& run) {
  std::vector<std::size_t> result;
  for (const CommandDifference& one : check.differences()) {
    const std::optional<std::size_t> target = run.names().find_channel(one.channel);
    const bool is_channel = target && run.names()[*target].of == LogNames::Of::Channel;
    if (!is_channel || one.segment == kSafeSegment || check.is_followed(one.channel)) continue;
    const std::optional<std::size_t> rail = rail_of(run.table(), static_cast<ChannelId>(run.names()[*target].index));
    if (rail && std::find(result.begin(), result.end(), *rail) == result.end()) result.push_back(*rail);
  }
  return result;
}

}  // namespace rampart::as_run
