#include "runtime/as_run/stop.h"

#include <algorithm>
#include <utility>

#include "runtime/as_run/run_times.h"

namespace rampart::as_run {
namespace {

// It names its cause.
bool is_certain(const SeenEvent& event) {
  return event.word == "trip" && event.rest != "linked" && event.rest != "joined" && event.rest != "unknown";
}

std::optional<RailId> rail_id(const LocatedRun& run, const std::optional<std::size_t>& target) {
  const std::optional<std::size_t> rail = target ? run.rail_of(*target) : std::nullopt;
  return rail ? std::optional(run.table().rails()[*rail].rail) : std::nullopt;
}

// One that took others along may be found after them.
void find_tripped(const LocatedRun& run, const SeenEvent& first, const Survey& survey, Stop& stop) {
  const SeenEvent* cause = &first;
  for (const SeenEvent& event : survey.events) {
    if (&event < &first || is_certain(*cause)) continue;
    if (is_certain(event)) cause = &event;
  }
  stop.tripped = rail_id(run, cause->target).value_or(run.table().rails().front().rail);
  stop.words = cause->word == "off"  ? "off, and no protection says that it tripped"
               : cause->rest.empty() ? cause->word
                                     : cause->rest;
  const auto add = [&stop](const std::optional<RailId>& rail) {
    if (!rail || rail == stop.tripped) return;
    if (std::find(stop.along.begin(), stop.along.end(), *rail) == stop.along.end()) stop.along.push_back(*rail);
  };
  for (const SeenEvent& event : survey.events) {
    if (&event >= &first && tells_off(event.word)) add(rail_id(run, event.target));
  }
  const std::optional<double> safe = run.safe_begin();
  for (const SeenOff& off : survey.extra_offs) {
    if (safe && off.time >= first.line.time && off.time <= *safe) add(rail_id(run, off.target));
  }
}

}  // namespace

bool tells_off(std::string_view word) {
  return word == "trip" || word == "off";
}

std::optional<Stop> find_stop(const LocatedRun& run, const Simulation& predicted) {
  const bool is_predicted = std::any_of(predicted.rails.begin(), predicted.rails.end(),
                                        [](const RailFigures& one) { return one.trip.has_value(); });
  std::optional<Stop> stop;
  for (std::size_t i = 0; i < run.loggers().size(); ++i) {
    const Logger& logger = *run.loggers()[i];
    if (!logger.shift_s) continue;
    for (const SeenEvent& event : logger.survey.events) {
      if ((!tells_off(event.word) && event.word != "stop") || (tells_off(event.word) && is_predicted)) continue;
      const double run_s = logger.clock.run_of(event.line.time);
      if (run_s < 0 || run_s >= predicted.duration_s || (stop && stop->run_s <= run_s)) continue;
      stop.emplace();
      stop->run_s = run_s;
      stop->log_s = event.line.time;
      stop->log = i;
      stop->words = event.rest.empty() ? std::string(event.word) : event.rest;
      if (tells_off(event.word)) find_tripped(run, event, logger.survey, *stop);
      break;
    }
  }
  if (!stop) return stop;
  // A second stop, or a supply that was given up: what is left of `safe` is not played.
  for (const SeenEvent& event : run.leader().survey.events) {
    if (ends_safe(event.word, event.rest)) stop->ends_s = std::min(stop->ends_s, event.line.time);
  }
  return stop;
}

Excursion trip_of(const Stop& stop) {
  Excursion trip;
  trip.along = stop.along;
  trip.rail = *stop.tripped;
  trip.from = trip.to = trip.worst = {stop.run_s, stop.log_s, {}};
  trip.cause = Cause::Tripped;
  trip.other = stop.words;
  trip.log = stop.log;
  return trip;
}

bool is_cut_off(const LocatedRun& run, const Stop& stop, RailId rail) {
  if (run.played().safe == nullptr || stop.tripped == rail) return true;
  if (std::find(stop.along.begin(), stop.along.end(), rail) != stop.along.end()) return true;
  if (!stop.tripped || !stop.words.starts_with("fuse")) return false;
  const std::optional<Fuse>& fuse = run.table().profile()[*stop.tripped].protection.fuse;
  return fuse && std::find(fuse->linked.begin(), fuse->linked.end(), rail) != fuse->linked.end();
}

}  // namespace rampart::as_run
