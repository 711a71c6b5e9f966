#include "runtime/predict/compilation.h"

#include <algorithm>
#include <filesystem>
#include <map>

#include "compiler/checks/checks.h"
#include "compiler/compile/parameter_ends.h"
#include "compiler/resolve/resolve.h"
#include "compiler/rules/rule_findings.h"
#include "compiler/timeline/branch_conflicts.h"
#include "compiler/yaml/file_values.h"
#include "lang/findings/files.h"
#include "lang/findings/resolve.h"
#include "lang/syntax/parse.h"
#include "runtime/answer/expectations.h"
#include "runtime/predict/prediction_runs.h"

namespace rampart {
namespace {

// Where a path stands in the texts: the statement that names it, or an option.
struct NamedPath {
  std::string path;
  std::optional<Span> place;
};

std::string in_folder(const std::filesystem::path& folder, const std::string& path) {
  const std::filesystem::path named(path);
  return named.is_absolute() ? path : (folder / named).lexically_normal().string();
}

// One spelling for all paths to a file.
std::string one_spelling(const std::string& path) {
  std::error_code failure;
  const std::filesystem::path real = std::filesystem::weakly_canonical(path, failure);
  return failure || path == "-" ? path : real.string();
}

template <class Node>
const Node* find_declaration(const ast::Profile& tree) {
  for (const ast::Declaration& declaration : tree.declarations) {
    if (const Node* node = std::get_if<Node>(&declaration.what)) return node;
  }
  return nullptr;
}

class Compiler {
 public:
  Compiler(Compilation& work, const CompileOptions& options) : work_(work), options_(options) {}

  void run() {
    const ast::Profile* tree = read_tree({work_.path, std::nullopt});
    if (tree == nullptr) return;
    read_imports(*tree);
    report_import_cycles(*tree);
    read_bench_file(*tree);
    read_load_file(*tree);
    report_unknown_faults(*tree);
    resolve_profile(*tree);
    if (!work_.profile || !work_.bench) return;
    lay_out();
    if (!work_.run) return;
    run_checks(*work_.run, work_.safe ? &*work_.safe : nullptr, work_.findings);
    work_.rules = judge_rules(*work_.run);
    PredictionRuns runs(work_, options_);
    if (work_.load) {
      runs.predict();
    } else if (options_.needs_load && !work_.unreadable && !work_.findings.has_errors()) {
      work_.findings.report(finding::NoLoad, Span{tree->file, 0, 0})
          .hint("write `load \"FILE.load.yaml\"` or give one with --load FILE");
    }
    if (options_.waveforms) runs.record();
    report_rules(*work_.profile, work_.rules, work_.simulation ? &work_.simulation->rules : nullptr, work_.findings);
    check_parameter_ends(work_.sources, *tree, *work_.bench, resolve_options_, *work_.profile, work_.findings);
  }

 private:
  // A path as the given file names it.
  [[nodiscard]] std::string beside(const ast::Profile& tree, const std::string& path) const {
    const bool is_profile = &tree == work_.trees.front().get();
    if (is_profile && options_.folder) return in_folder(*options_.folder, path);
    if (is_profile && work_.path == "-") return path;
    return in_folder(std::filesystem::path(work_.sources[tree.file].name()).parent_path(), path);
  }

  // The file's text as a source; empty, with a finding, if it could not be read.
  std::optional<FileId> read_source(const NamedPath& named) {
    const bool stands_in = options_.stand_in && is_same_file(named.path, options_.stand_in->path);
    FileText file = read_file(stands_in ? options_.stand_in->by : named.path);
    const std::string name = named.path == "-" ? kStandardInput : named.path;
    if (file.failure.empty()) return work_.sources.add(name, std::move(file.text));
    work_.unreadable = true;
    const Span place = named.place ? *named.place : Span{work_.sources.add(name, ""), 0, 0};
    work_.findings.report(finding::Unreadable, place, name, file.failure);
    return std::nullopt;
  }

  const ast::Profile* read_tree(const NamedPath& named) {
    const std::optional<FileId> file = read_source(named);
    if (!file) return nullptr;
    const std::size_t errors = work_.findings.error_count();
    work_.trees.push_back(std::make_unique<ast::Profile>(parse(work_.sources, *file, work_.findings)));
    parse_errors_ += work_.findings.error_count() - errors;
    return work_.trees.back().get();
  }

  // Reads each imported file once, however many ways lead to it.
  void read_imports(const ast::Profile& tree) {
    known_trees_.emplace(one_spelling(work_.path), &tree);
    std::size_t next = 0;
    while (next < work_.trees.size()) {  // which grow as they are read
      const ast::Profile& importer = *work_.trees[next++];
      for (const ast::Declaration& declaration : importer.declarations) {
        const auto* import = std::get_if<ast::Import>(&declaration.what);
        if (import == nullptr) continue;
        const std::string path = beside(importer, import->path.value);
        const auto [known, is_new] = known_trees_.try_emplace(one_spelling(path), nullptr);
        if (is_new) known->second = read_tree({path, import->path.span});
        imports_.push_back({declaration.span, known->second});
      }
    }
  }

  // Follows the imports from file to file. One that leads back into a file still being followed closes a cycle, and is
  // cut.
  void report_import_cycles(const ast::Profile& tree) {
    std::map<FileId, std::vector<ImportedFile*>> imports_of;
    for (ImportedFile& import : imports_) imports_of[import.statement.file].push_back(&import);
    struct Visit {
      const ast::Profile* tree;
      std::size_t next = 0;
    };
    std::vector<Visit> visits{{&tree, 0}};
    std::map<const ast::Profile*, bool> is_open{{&tree, true}};
    while (!visits.empty()) {
      const std::vector<ImportedFile*>& imports = imports_of[visits.back().tree->file];
      if (visits.back().next == imports.size()) {
        is_open[visits.back().tree] = false;
        visits.pop_back();
        continue;
      }
      ImportedFile& import = *imports[visits.back().next++];
      if (import.profile == nullptr) continue;
      const auto [state, is_new] = is_open.try_emplace(import.profile, true);
      if (is_new) {
        visits.push_back({import.profile, 0});
      } else if (state->second) {
        work_.findings.report(finding::ImportCycle, import.statement, work_.sources[import.profile->file].name())
            .hint("move what both need to a file of its own");
        import.profile = nullptr;
      }
    }
  }

  template <class Node>
  std::optional<NamedPath> named_path(const ast::Profile& tree, const std::optional<std::string>& option) {
    if (option) return NamedPath{*option, std::nullopt};
    const auto* node = find_declaration<Node>(tree);
    if (node == nullptr) return std::nullopt;
    return NamedPath{beside(tree, node->path.value), node->path.span};
  }

  void read_bench_file(const ast::Profile& tree) {
    const std::optional<NamedPath> named = named_path<ast::BenchPath>(tree, options_.bench);
    if (!named) {
      // A file that could not be parsed may well name one.
      if (!work_.findings.has_errors()) {
        work_.findings.report(finding::NoBench, Span{tree.file, 0, 0})
            .hint("write `bench \"FILE.bench.yaml\"` or give one with --bench FILE");
      }
      return;
    }
    if (const std::optional<FileId> file = read_source(*named)) {
      work_.bench = read_bench(work_.sources, *file, work_.findings);
    }
  }

  void read_load_file(const ast::Profile& tree) {
    const std::optional<NamedPath> named = named_path<ast::LoadPath>(tree, options_.load);
    if (!named) return;
    if (const std::optional<FileId> file = read_source(*named)) {
      work_.load = read_load(work_.sources, *file, work_.findings);
    }
  }

  void resolve_profile(const ast::Profile& tree) {
    ResolveOptions& options = resolve_options_;
    options.imports = imports_;
    options.bench_known = work_.bench.has_value();
    for (const std::string& setting : options_.settings) {
      options.settings.push_back(work_.sources.add("--set " + setting, setting));
    }
    options.parsed_whole = parse_errors_ == 0;
    Resolution resolution = resolve(work_.sources, tree, work_.bench.value_or(Bench{}), options, work_.findings);
    // A tree with holes resolves to a profile with holes.
    if (parse_errors_ == 0 && resolution.whole) {
      work_.profile = std::move(resolution.profile);
    } else if (work_.bench) {
      check_parts(resolution);
    }
  }

  // One mistake hides no other: what was understood is checked by itself.
  void check_parts(const Resolution& resolution) {
    const Profile& profile = resolution.profile;
    for (const Program* program : programs_of(profile)) check_branches(profile, *program, work_.findings);
    check_values(profile, programs_of(profile), resolution.unplaced, *work_.bench, work_.findings);
    check_settings(profile, resolution.unplaced, *work_.bench, work_.findings);
  }

  static std::vector<const Program*> programs_of(const Profile& profile) {
    std::vector<const Program*> programs{&profile.run};
    if (profile.safe) programs.push_back(&*profile.safe);
    return programs;
  }

  // They stand in the text and the load alone, so no other mistake hides them.
  void report_unknown_faults(const ast::Profile& tree) {
    if (!work_.load) return;
    std::vector<std::string> known;
    for (const Fault& fault : work_.load->faults) known.push_back(fault.name);
    for (const ast::Declaration& declaration : tree.declarations) {
      const auto* expect = std::get_if<ast::Expect>(&declaration.what);
      if (expect == nullptr || !expect->under || work_.load->find_fault(expect->under->text) != nullptr) continue;
      report_unknown_name("fault in the load", expect->under->text, expect->under->span, known, work_.findings);
    }
  }

  void lay_out() {
    const Profile& profile = *work_.profile;
    work_.run_timeline = build_timeline(profile, profile.run, TimelineStart::Off, work_.findings);
    if (profile.safe) {
      work_.safe_timeline = build_timeline(profile, *profile.safe, TimelineStart::Unknown, work_.findings);
    }
    if (!work_.run_timeline) {
      check_values(profile, programs_of(profile), {}, *work_.bench, work_.findings);
      check_settings(profile, {}, *work_.bench, work_.findings);
    } else if (profile.safe && !work_.safe_timeline) {
      check_values(profile, {&*profile.safe}, {}, *work_.bench, work_.findings);
    }
    if (work_.run_timeline) work_.run.emplace(profile, *work_.bench, *work_.run_timeline);
    if (work_.safe_timeline) work_.safe.emplace(profile, *work_.bench, *work_.safe_timeline);
  }

  Compilation& work_;
  const CompileOptions& options_;
  std::map<std::string, const ast::Profile*> known_trees_;
  std::vector<ImportedFile> imports_;
  ResolveOptions resolve_options_;
  std::size_t parse_errors_ = 0;
};

}  // namespace

bool is_same_file(const std::string& a, const std::string& b) {
  return one_spelling(a) == one_spelling(b);
}

const Simulation* Compilation::shown() const {
  if (asserts) return asserted ? &*asserted : nullptr;
  return shown_fault();
}

const Simulation* Compilation::shown_fault() const {
  if (!fault) return simulation ? &*simulation : nullptr;
  for (const FaultRun& run : fault_runs) {
    if (run.fault->name == *fault) return &run.simulation;
  }
  return nullptr;
}

std::vector<ExpectationResult> Compilation::expectations() const {
  std::vector<ExpectationResult> results;
  if (asserts) return results;
  if (!fault && simulation) results = judge_expectations(*profile, *simulation);
  for (const FaultRun& run : fault_runs) {
    if (fault && run.fault->name != *fault) continue;
    for (ExpectationResult& result : judge_expectations(*profile, run.simulation, run.fault->name)) {
      results.push_back(std::move(result));
    }
  }
  return results;
}

std::unique_ptr<Compilation> compile(const std::string& path, const CompileOptions& options) {
  auto work = std::make_unique<Compilation>(path);
  work->fault = options.fault;
  work->asserts = options.assert_line.has_value();
  Compiler(*work, options).run();
  return work;
}

}  // namespace rampart
