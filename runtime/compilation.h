#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "compiler/bench.h"
#include "compiler/profile.h"
#include "compiler/table.h"
#include "compiler/timeline.h"
#include "lang/ast.h"
#include "lang/finding.h"
#include "lang/source.h"
#include "runtime/load.h"
#include "runtime/simulation.h"

namespace rampart {

struct CompileOptions {
  std::optional<std::string> bench;   // instead of the one the profile names
  std::optional<std::string> load;    // likewise
  std::vector<std::string> settings;  // NAME=VALUE
};

// A profile on its way from text to answers. Each part is there if everything before it went well; the parts point to
// each other, so a compilation stays where it was made.
struct Compilation {
  explicit Compilation(std::string profile_path) : path(std::move(profile_path)) {}
  Compilation(const Compilation&) = delete;
  Compilation& operator=(const Compilation&) = delete;

  std::string path;
  SourceSet sources;
  FindingSink findings;
  bool unreadable = false;  // a file could not be read at all

  std::vector<std::unique_ptr<ast::Profile>> trees;  // the profile's, then those of its imports
  std::optional<Bench> bench;
  std::optional<Load> load;
  std::optional<Profile> profile;
  std::optional<Timeline> run_timeline;
  std::optional<Timeline> safe_timeline;
  std::optional<Table> run;
  std::optional<Table> safe;
  std::optional<Simulation> simulation;
};

// Takes a profile all the way: reads its files, resolves and lays it out in time, checks it, and simulates it where it
// has a load. Every finding of every stage is kept. `path` "-" is standard input.
[[nodiscard]] std::unique_ptr<Compilation> compile(const std::string& path, const CompileOptions& options);

}  // namespace rampart
