#include "runtime/compilation.h"

#include <algorithm>
#include <filesystem>
#include <map>
#include <set>

#include "compiler/checks/checks.h"
#include "compiler/checks/moves.h"
#include "compiler/file_values.h"
#include "compiler/parameter_ends.h"
#include "compiler/resolve.h"
#include "lang/findings/files.h"
#include "lang/findings/resolve.h"
#include "lang/parse.h"
#include "runtime/assertion.h"
#include "runtime/fault_runs.h"
#include "runtime/predictions.h"
#include "runtime/rule_findings.h"
#include "runtime/shortfall_findings.h"
#include "runtime/spread/spread_findings.h"
#include "runtime/waveform/recorder.h"

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
    resolve_profile(*tree);
    if (!work_.profile || !work_.bench) return;
    lay_out();
    if (!work_.run) return;
    run_checks(*work_.run, work_.safe ? &*work_.safe : nullptr, work_.findings);
    check_parameter_ends(work_.sources, *tree, *work_.bench, resolve_options_, *work_.profile, work_.findings);
    work_.rules = judge_rules(*work_.run);
    if (work_.load) {
      predict();
    } else if (options_.needs_load && !work_.unreadable && !work_.findings.has_errors()) {
      work_.findings.report(finding::NoLoad, Span{tree->file, 0, 0})
          .hint("write `load \"FILE.load.yaml\"` or give one with --load FILE");
    }
    if (options_.waveforms) record();
    report_rules(*work_.profile, work_.rules, work_.simulation ? &*work_.simulation : nullptr, work_.findings);
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
    FileText file = read_file(named.path);
    const std::string name = named.path == "-" ? "standard input" : named.path;
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
    for (std::size_t next = 0; next < work_.trees.size(); ++next) {
      const ast::Profile& importer = *work_.trees[next];
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
    work_.profile = resolve(work_.sources, tree, work_.bench.value_or(Bench{}), options, work_.findings);
    // A tree with holes resolves to a profile with holes.
    if (parse_errors_ > 0) work_.profile.reset();
  }

  void lay_out() {
    const Profile& profile = *work_.profile;
    work_.run_timeline = build_timeline(profile, profile.run, TimelineStart::Off, work_.findings);
    if (profile.safe) {
      work_.safe_timeline = build_timeline(profile, *profile.safe, TimelineStart::Unknown, work_.findings);
    }
    if (work_.run_timeline) work_.run.emplace(profile, *work_.bench, *work_.run_timeline);
    if (work_.safe_timeline) work_.safe.emplace(profile, *work_.bench, *work_.safe_timeline);
  }

  // A load may describe more than a profile uses, unless a rail without a load is meant.
  void report_unused_loads() {
    std::vector<std::string> bare;
    for (const Rail& rail : work_.profile->rails) {
      if (work_.load->find_rail(rail.name) == nullptr) bare.push_back(rail.name);
    }
    for (const RailLoad& load : work_.load->rails) {
      const auto is_it = [&load](const Rail& rail) { return rail.name == load.rail; };
      if (std::any_of(work_.profile->rails.begin(), work_.profile->rails.end(), is_it)) continue;
      const std::string nearest = nearest_name(load.rail, bare);
      if (nearest.empty()) continue;
      work_.findings.report(finding::UnusedLoad, load.span, load.rail)
          .hint("did you mean `" + nearest + "`, which has no load?");
    }
  }

  void predict() {
    report_unused_loads();
    work_.simulation =
        simulate(*work_.run, work_.safe ? &*work_.safe : nullptr, *work_.load, {}, nullptr, options_.progress);
    if (options_.progress) options_.progress(1, 1);
    std::vector<Overload> overloads;
    for (const checks::Usage& usage : checks::usage_of(*work_.run_timeline)) {
      overloads.push_back({usage.highest_limit.to_double(), usage.highest_power.to_double()});
    }
    work_.fuse_delays =
        fuse_delays(*work_.run, work_.safe ? &*work_.safe : nullptr, *work_.load, *work_.simulation, overloads);
    report_predictions(*work_.profile, *work_.load, *work_.simulation, work_.findings, work_.fuse_delays);
    for (const Expectation& expectation : work_.profile->expectations) {
      if (expectation.fault) run_fault(*expectation.fault, expectation.fault_span);
    }
    if (options_.fault) run_fault(*options_.fault, place_of_option("--fault", *options_.fault));
    if (options_.assert_line) run_assertion(*options_.assert_line);
    if (options_.every_fault) try_faults();
    if (options_.corners || options_.sample) try_many();
  }

  void try_many() {
    work_.many = std::make_unique<spread::Runner>(*work_.run, work_.safe ? &*work_.safe : nullptr, *work_.load);
    const Effort effort{.progress = options_.progress};
    if (options_.corners) {
      work_.corners = spread::try_corners(*work_.many, effort);
      spread::report_corners(*work_.many, *work_.corners, work_.findings);
    }
    if (options_.sample) work_.sample = spread::try_sample(*work_.many, *options_.sample, effort);
  }

  // Records a second run: how fine is known from the first one.
  void record() {
    static const Load kNoLoad;
    const Load& load = work_.load ? *work_.load : kNoLoad;
    const Table* safe = work_.safe ? &*work_.safe : nullptr;
    if (!work_.load) {
      record(load, simulate(*work_.run, safe, load));
    } else if (work_.shown() != nullptr) {
      record(load, *work_.shown());
    }
  }

  void record(const Load& load, const Simulation& known) {
    WaveRecorder recorder(wave_errors(known), *options_.waveforms);
    static_cast<void>(simulate(*work_.run, work_.safe ? &*work_.safe : nullptr, load, shown_incidents_, &recorder,
                               options_.progress));
    if (options_.progress) options_.progress(1, 1);
    work_.waveforms = recorder.finish();
  }

  Span place_of_option(const std::string& option, const std::string& text) {
    return {work_.sources.add(option, text), 0, static_cast<std::uint32_t>(text.size())};
  }

  [[nodiscard]] Simulation simulate_with(const Incidents& incidents) const {
    return simulate(*work_.run, work_.safe ? &*work_.safe : nullptr, *work_.load, incidents);
  }

  void try_faults() {
    const Effort effort{.progress = options_.progress};
    work_.every_fault =
        try_every_fault(*work_.run, work_.safe ? &*work_.safe : nullptr, *work_.load, *work_.simulation, effort);
    report_every_fault(*work_.profile, *work_.every_fault, work_.findings);
  }

  // With the fault, if one is asked for too.
  void run_assertion(const std::string& text) {
    const Span place = place_of_option("--assert", text);
    Incidents incidents;
    incidents.assertion = read_assertion(work_.sources, place.file, *work_.profile, work_.findings);
    if (!incidents.assertion) return;
    const Fault* fault = options_.fault ? work_.load->find_fault(*options_.fault) : nullptr;
    if (options_.fault) {
      if (work_.shown_fault() == nullptr) return;
      FindingSink known;
      incidents.fault = place_fault(*fault, *work_.profile, *work_.simulation, known);
    }
    Simulation simulation = simulate_with(incidents);
    shown_incidents_ = incidents;
    if (!simulation.asserted) {
      work_.findings.report(finding::AssertedAfterRun, place, (*work_.profile)[incidents.assertion->line].name,
                            incidents.assertion->at.whole, to_text(simulation.duration_s, "s"));
      return;
    }
    work_.asserted = std::move(simulation);
    report_left_charged(*work_.profile, *work_.load, *work_.asserted, *work_.simulation,
                        " with `" + (*work_.profile)[incidents.assertion->line].name + "` asserted", work_.findings);
  }

  // Each fault is run once, whoever names it.
  void run_fault(const std::string& name, const Span& place) {
    if (!faults_named_.insert(name).second) return;
    const Fault* fault = work_.load->find_fault(name);
    if (fault == nullptr) {
      std::vector<std::string> names;
      for (const Fault& known : work_.load->faults) names.push_back(known.name);
      report_unknown_name("fault in the load", name, place, names, work_.findings);
      return;
    }
    std::optional<Injection> injection = place_fault(*fault, *work_.profile, *work_.simulation, work_.findings);
    if (!injection) return;
    Incidents incidents;
    incidents.fault = std::move(injection);
    if (options_.fault == name && !options_.assert_line) shown_incidents_ = incidents;
    work_.fault_runs.push_back({fault, simulate_with(incidents)});
    const Simulation& simulation = work_.fault_runs.back().simulation;
    report_fault_run(*work_.profile, *fault, simulation, work_.findings);
    if (options_.fault != name || !simulation.fault) return;
    report_left_charged(*work_.profile, *work_.load, simulation, *work_.simulation, " under `" + name + "`",
                        work_.findings);
  }

  Compilation& work_;
  const CompileOptions& options_;
  std::map<std::string, const ast::Profile*> known_trees_;
  std::vector<ImportedFile> imports_;
  ResolveOptions resolve_options_;
  std::size_t parse_errors_ = 0;
  std::set<std::string> faults_named_;
  Incidents shown_incidents_;  // of the run to show
};

}  // namespace

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
