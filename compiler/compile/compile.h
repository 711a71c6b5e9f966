#pragma once

#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "compiler/bench/bench.h"
#include "compiler/profile/profile.h"
#include "compiler/resolve/held.h"
#include "compiler/rules/rules.h"
#include "compiler/table/highest_demand.h"
#include "compiler/table/table.h"
#include "compiler/timeline/timeline.h"
#include "lang/files/files.h"
#include "lang/files/read_text.h"
#include "lang/findings/finding.h"
#include "lang/job/job.h"
#include "lang/text/source.h"

// A profile and its bench, from files to a setpoint table.
namespace rampart {

class SymbolIndex;
namespace ast {
struct Profile;
}  // namespace ast

struct CompileOptions {
  std::optional<std::string> bench;   // instead of the one that the profile names
  std::optional<std::string> load;    // likewise; it is read by read_load()
  std::vector<std::string> settings;  // of parameters, as NAME=VALUE
  std::optional<std::string> folder;  // that paths in the profile start from, instead of its own
};

// A fault of the load that an expectation speaks of.
struct NamedFault {
  std::string name;
  Span place;
};

enum class FileRole : std::uint8_t { Profile, Import, Waveform, Bench };

// A file that was read, or could not be.
struct Dependency {
  FileRole role{};
  std::string path;
  TextPtr text;  // null: it could not be read
};

// What a profile comes to on its bench. Each part is there if all that it comes from is right, and null if not. It
// never changes: a copy shares all parts, on any thread.
class Compiled {
 public:
  // Of no profile at all.
  Compiled();

  [[nodiscard]] const std::string& path() const;
  // All that was read: the profile first, then its imports, the points of waveforms and the bench.
  [[nodiscard]] const std::vector<Dependency>& files() const;
  // The texts of these and of the settings.
  [[nodiscard]] const SourceSet& texts() const;
  [[nodiscard]] const ast::Profile* tree() const;
  // Of one of the files; null for any other.
  [[nodiscard]] const ast::Profile* tree(FileId file) const;
  [[nodiscard]] const Bench* bench() const;
  // The load that is to be read with it: none is named, or the profile is not to be read.
  [[nodiscard]] const std::optional<NamedPath>& load() const;
  [[nodiscard]] const std::vector<NamedFault>& faults() const;
  [[nodiscard]] const Profile* profile() const;
  [[nodiscard]] const Timeline* run_timeline() const;
  [[nodiscard]] const Table* run() const;
  // The orderly stop: null too where the profile has none.
  [[nodiscard]] const Table* safe() const;
  // Of the run, by rail; empty without a run.
  [[nodiscard]] const std::vector<HighestDemand>& demands() const;
  // Judged on the setpoints.
  [[nodiscard]] const std::vector<RuleResult>& rules() const;

 private:
  struct Read;
  struct Whole;
  class Reader;
  explicit Compiled(std::shared_ptr<const Whole> whole) : whole_(std::move(whole)) {}
  static Compiled settle(std::shared_ptr<const Read> read, std::span<const Held> held, FindingSink& findings,
                         const Job& job);
  friend Compiled compile(Files& files, const std::string& path, const CompileOptions& options, FindingSink& findings,
                          const Job& job);
  friend SymbolIndex symbols_of(const Compiled& compiled);
  friend Compiled with_values(const Compiled& compiled, std::span<const Held> held, FindingSink& findings,
                              const Job& job);

  std::shared_ptr<const Whole> whole_;
};

// Reads a profile with its imports and its bench, resolves it, lays it out in time and checks it; rules are judged on
// the setpoints. One pass reports everything that is wrong, and the texts are added to those of the findings. `path` as
// for `files`. Throws JobStopped.
[[nodiscard]] Compiled compile(Files& files, const std::string& path, const CompileOptions& options,
                               FindingSink& findings, const Job& job = {});

// The same profile with some of its parameters held at other values, which have to be in range: nothing is read again,
// and what depends on values is done anew. Findings are those of these values, alike or not at the others. Throws
// JobStopped.
[[nodiscard]] Compiled with_values(const Compiled& compiled, std::span<const Held> held, FindingSink& findings,
                                   const Job& job = {});

}  // namespace rampart
