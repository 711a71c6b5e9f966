#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "compiler/bench/bench.h"
#include "compiler/profile/profile.h"
#include "compiler/resolve/held.h"
#include "compiler/shape/shape.h"
#include "lang/findings/finding.h"
#include "lang/job/job.h"
#include "lang/syntax/ast.h"
#include "lang/text/source.h"

namespace rampart {

// An `import` statement and the file it names. The same file by two ways is the same `profile`.
struct ImportedFile {
  Span statement;
  const ast::Profile* profile = nullptr;  // null: it could not be read, which has been reported
};

// Where the path of a file begins: its text, and the offset there.
using PlaceOfPath = std::pair<FileId, std::uint32_t>;

struct ResolveOptions {
  // Parameter settings: each file's text is `NAME=VALUE`, and its name says which option gave it.
  std::vector<FileId> settings;
  // Parameters held at a value, after the settings; the values have to be in range.
  std::vector<Held> held;
  // The imports of the profile and of the files it imports.
  std::vector<ImportedFile> imports;
  // The points of each file that a `waveform` names, by where its path stands; null: it could not be read, which has
  // been reported.
  std::map<PlaceOfPath, const Shape*> shapes;
  // False: the bench could not be read, so nothing is said about channels and lines that it lacks.
  bool bench_known = true;
  // False: parts of the profile could not be read, so nothing is said about what may stand in them.
  bool parsed_whole = true;
  Job job{};  // what is written out at length can be stopped
};

// Bounds on what a profile may expand to.
inline constexpr std::int64_t kMaxExpandedStatements = 1'000'000;
inline constexpr int kMaxExpandedNesting = 64;  // blocks and calls, one inside the other

// What became of a profile. Where it is not whole, its statements hold what could be resolved of them, so that these
// values can still be checked; it cannot be laid out in time.
struct Resolution {
  Profile profile;
  bool whole = false;            // no error was found
  std::vector<RailId> unplaced;  // rails whose channel is not known

  // Empty where it is not whole.
  [[nodiscard]] std::optional<Profile> take_whole() && {
    return whole ? std::optional(std::move(profile)) : std::nullopt;
  }
};

// Looks up the names of a profile, calculates its values and expands `do` and `for`. Every mistake is reported, each
// once and at its place. Throws JobStopped.
[[nodiscard]] Resolution resolve(const SourceSet& sources, const ast::Profile& profile, const Bench& bench,
                                 const ResolveOptions& options, FindingSink& findings);

}  // namespace rampart
