#include "runtime/as_run/record_check.h"

#include <algorithm>
#include <array>
#include <cstdio>

#include "compiler/export/sha256.h"
#include "lang/findings/logs.h"
#include "lang/values/quantity.h"

namespace rampart::as_run {
namespace {

std::string digest_of(std::FILE* stream) {
  Sha256 digest;
  std::array<char, 1 << 16> piece{};
  while (const std::size_t got = std::fread(piece.data(), 1, piece.size(), stream)) digest.add({piece.data(), got});
  return std::ferror(stream) != 0 ? std::string() : digest.finish();
}

std::string file_name(const std::string& path) {
  return path.substr(path.rfind('/') + 1);
}

// What `run` writes into each of its logs, and nobody else has to.
bool is_of_run(const Logger& logger) {
  const auto has = [&](std::string_view word) {
    const std::vector<SeenEvent>& events = logger.survey.events;
    return std::any_of(events.begin(), events.end(), [&](const SeenEvent& event) { return event.word == word; });
  };
  return has("start") && has("segment");
}

// What of the profile the run played otherwise than it is now; empty: nothing.
std::string difference_of(const RecordedRun& run, const Origin& origin) {
  const auto other_file = [](const RecordedFile& played, const OriginFile& now) {
    if (played.sha256 == now.sha256) return std::string();
    if (file_name(played.name) == file_name(now.name)) return "`" + now.name + "` has been changed since";
    return "the run played `" + played.name + "`, and this is `" + now.name + "`";
  };
  const auto other_files = [&](const std::vector<RecordedFile>& played, const std::vector<OriginFile>& now) {
    std::string other = played.size() == now.size() ? "" : "it read other files";
    for (std::size_t i = 0; i < played.size() && i < now.size() && other.empty(); ++i) {
      other = other_file(played[i], now[i]);
    }
    return other;
  };
  if (!run.profile) return {};
  for (const std::string& other : {other_file(*run.profile, origin.profile), other_files(run.imports, origin.imports),
                                   other_files(run.waveforms, origin.waveforms)}) {
    if (!other.empty()) return other;
  }
  for (const RecordedParameter& played : run.parameters) {
    for (const OriginParameter& now : origin.parameters) {
      const std::string value = to_text(now.value);
      if (played.name != now.name || played.value == value) continue;
      return "parameter `" + now.name + "` was " + played.value + " in the run, and is " + value + " here";
    }
  }
  return {};
}

class Checker {
 public:
  Checker(Files& files, const Logger& logger, FindingSink& findings)
      : files_(files), logger_(logger), findings_(findings), place_{findings.texts().add(logger.path, ""), 0, 0} {}

  RecordCheck check(const Origin& origin) {
    check_log();
    if (const std::string other = difference_of(*logger_.record, origin); !other.empty()) {
      findings_.report(finding::LogOfAnother, place_, "profile", other)
          .hint("evaluate it with the profile and the parameters that were played");
      result_.mismatches.push_back("the log is of another profile: " + other);
    }
    const std::optional<RecordedFile>& bench = logger_.record->bench;
    if (bench && origin.bench && bench->sha256 != origin.bench->sha256) {
      result_.not_checked.push_back("whether `" + origin.bench->name +
                                    "` is the bench that was played: it has changed since, or is another");
    }
    return std::move(result_);
  }

 private:
  void check_log() {
    const std::string record = record_path(logger_.path);
    const std::string& wanted = logger_.record->log_sha256;
    if (wanted.empty()) {
      result_.not_checked.push_back("whether " + logger_.path + " is as it was written: its record " + record +
                                    (logger_.record->has_end ? " has no digest of it" : " was never finished"));
      return;
    }
    std::string why;
    const FileStream stream = files_.open(logger_.path, why);
    const std::string digest = stream ? digest_of(stream.get()) : std::string();
    if (digest == wanted) return;
    const std::string what = digest.empty() ? "it cannot be read" : "it has been changed since, or is of another run";
    findings_.report(finding::LogNotOfRecord, place_, logger_.path, record, what)
        .hint("evaluate the log as `run` wrote it");
    result_.mismatches.push_back(logger_.path + " is not the log of its record: " + what);
  }

  Files& files_;
  const Logger& logger_;
  FindingSink& findings_;
  Span place_;
  RecordCheck result_;
};

}  // namespace

std::string record_path(const std::string& log) {
  return log + ".run.json";
}

void read_record(Files& files, Logger& logger, FindingSink& findings) {
  const std::string path = record_path(logger.path);
  const FileStream stream = files.open(path, logger.record_fault);
  if (!stream) return;
  std::string text(kMostRecordBytes + 1, '\0');
  text.resize(std::fread(text.data(), 1, text.size(), stream.get()));
  logger.record = read_recorded_run(text, logger.record_fault);
  if (logger.record) return;
  logger.has_broken_record = true;
  findings.report(finding::RecordMalformed, Span{findings.texts().add(path, ""), 0, 0}, logger.record_fault);
}

RecordCheck check_record(Files& files, const Logger& logger, const Origin& origin, FindingSink& findings) {
  if (logger.record) return Checker(files, logger, findings).check(origin);
  RecordCheck result;
  if (is_of_run(logger) && !logger.has_broken_record) {
    result.not_checked.push_back("whether " + logger.path + " is as it was written: " + record_path(logger.path) +
                                 ": " + logger.record_fault);
  }
  return result;
}

}  // namespace rampart::as_run
