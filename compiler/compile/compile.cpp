#include "compiler/compile/compile.h"

#include <algorithm>
#include <filesystem>
#include <map>
#include <utility>

#include "compiler/bench/bench_symbols.h"
#include "compiler/checks/checks.h"
#include "compiler/compile/symbols.h"
#include "compiler/resolve/resolve.h"
#include "compiler/resolve/symbols.h"
#include "compiler/rules/rule_findings.h"
#include "compiler/shape/shape.h"
#include "compiler/timeline/branch_conflicts.h"
#include "lang/findings/files.h"
#include "lang/findings/resolve.h"
#include "lang/syntax/ast.h"
#include "lang/syntax/bodies.h"
#include "lang/syntax/parse.h"
#include "lang/text/overloaded.h"

namespace rampart {

// What was read, whatever the values of parameters.
struct Compiled::Read {
  std::string path;
  std::vector<Dependency> files;
  SourceSet texts;
  std::vector<std::unique_ptr<ast::Profile>> trees;  // the profile's, then those of its imports
  std::vector<ImportedFile> imports;
  std::map<std::string, std::optional<Shape>> shapes;  // by canonical path; empty: not to be read
  std::map<PlaceOfPath, const Shape*> shape_of;
  std::vector<FileId> settings;
  bool parsed_whole = true;
  std::optional<Bench> bench;
  std::optional<NamedPath> load;
  std::vector<NamedFault> faults;

  [[nodiscard]] ResolveOptions resolve_options() const {
    ResolveOptions options;
    options.settings = settings;
    options.imports = imports;
    options.shapes = shape_of;
    options.bench_known = bench.has_value();
    options.parsed_whole = parsed_whole;
    return options;
  }
  [[nodiscard]] const Bench& bench_or_none() const {
    static const Bench kNoBench;
    return bench ? *bench : kNoBench;
  }
};

// The parts point to each other, so they stay where they were made.
struct Compiled::Whole {
  Whole() = default;
  Whole(const Whole&) = delete;
  Whole& operator=(const Whole&) = delete;

  std::shared_ptr<const Read> read;
  std::optional<Profile> profile;
  std::optional<Timeline> run_timeline;
  std::optional<Timeline> safe_timeline;
  std::optional<Table> run;
  std::optional<Table> safe;
  std::vector<HighestDemand> demands;
  std::vector<RuleResult> rules;
};

namespace {

std::string in_folder(const std::filesystem::path& folder, const std::string& path) {
  const std::filesystem::path named(path);
  return named.is_absolute() ? path : (folder / named).lexically_normal().string();
}

template <class Node>
const Node* find_declaration(const ast::Profile& tree) {
  for (const ast::Declaration& declaration : tree.declarations) {
    if (const Node* node = std::get_if<Node>(&declaration.what)) return node;
  }
  return nullptr;
}

std::vector<NamedFault> faults_of(const ast::Profile& tree) {
  std::vector<NamedFault> faults;
  for (const ast::Declaration& declaration : tree.declarations) {
    const auto* expect = std::get_if<ast::Expect>(&declaration.what);
    if (expect != nullptr && expect->under) faults.push_back({std::string(expect->under->text), expect->under->span});
  }
  return faults;
}

// In the order of the text.
void collect_waveforms(const ast::Block& block, std::vector<const ast::Waveform*>& waveforms) {
  for (const ast::Statement& statement : block.statements) {
    if (const auto* waveform = std::get_if<ast::Boxed<ast::Waveform>>(&statement.what))
      waveforms.push_back(&**waveform);
    if (const ast::Block* body = ast::body_of(statement)) collect_waveforms(*body, waveforms);
  }
}

std::vector<const Program*> programs_of(const Profile& profile) {
  std::vector<const Program*> programs{&profile.run};
  if (profile.safe) programs.push_back(&*profile.safe);
  return programs;
}

// One mistake hides no other: what was understood is checked by itself.
void check_parts(const Resolution& resolution, const Bench& bench, FindingSink& findings) {
  const Profile& profile = resolution.profile;
  for (const Program* program : programs_of(profile)) check_branches(profile, *program, findings);
  check_values(profile, programs_of(profile), resolution.unplaced, bench, findings);
  check_settings(profile, resolution.unplaced, bench, findings);
}

}  // namespace

// Reads the profile and all that it names but its load.
class Compiled::Reader {
 public:
  Reader(Files& files, const CompileOptions& options, Read& read, FindingSink& findings)
      : files_(files), options_(options), read_(read), findings_(findings) {}

  void run() {
    const ast::Profile* tree = read_tree({read_.path, std::nullopt}, FileRole::Profile);
    if (tree == nullptr) return;
    read_imports(*tree);
    report_import_cycles(*tree);
    for (const auto& each : read_.trees) read_shapes(*each);
    read_bench_file(*tree);
    read_.load = named_path<ast::LoadPath>(*tree, options_.load);
    read_.faults = faults_of(*tree);
    for (const std::string& setting : options_.settings) {
      const TextPtr text = make_text("--set " + setting, setting);
      findings_.texts().add(text);
      read_.settings.push_back(read_.texts.add(text));
    }
  }

 private:
  // A path as the given file names it.
  [[nodiscard]] std::string beside(const ast::Profile& tree, const std::string& path) const {
    const bool is_profile = &tree == read_.trees.front().get();
    if (is_profile && options_.folder) return in_folder(*options_.folder, path);
    if (is_profile && read_.path == "-") return path;
    return in_folder(std::filesystem::path(read_.texts[tree.file].name()).parent_path(), path);
  }

  // Empty, with a finding, if it could not be read.
  std::optional<FileId> read_text(const NamedPath& named, FileRole role) {
    const TextPtr text = rampart::read_text(files_, named, findings_);
    read_.files.push_back({role, named.path, text});
    return text != nullptr ? std::optional(read_.texts.add(text)) : std::nullopt;
  }

  const ast::Profile* read_tree(const NamedPath& named, FileRole role) {
    const std::optional<FileId> file = read_text(named, role);
    if (!file) return nullptr;
    const std::size_t errors = findings_.error_count();
    read_.trees.push_back(std::make_unique<ast::Profile>(parse(read_.texts, *file, findings_)));
    if (findings_.error_count() > errors) read_.parsed_whole = false;
    return read_.trees.back().get();
  }

  // Reads each imported file once, however many ways lead to it.
  void read_imports(const ast::Profile& tree) {
    known_trees_.emplace(files_.canonical(read_.path), &tree);
    std::size_t next = 0;
    while (next < read_.trees.size()) {  // which grow as they are read
      const ast::Profile& importer = *read_.trees[next++];
      for (const ast::Declaration& declaration : importer.declarations) {
        const auto* import = std::get_if<ast::Import>(&declaration.what);
        if (import == nullptr) continue;
        const std::string path = beside(importer, import->path.value);
        const auto [known, is_new] = known_trees_.try_emplace(files_.canonical(path), nullptr);
        if (is_new) known->second = read_tree({path, import->path.span}, FileRole::Import);
        read_.imports.push_back({declaration.span, known->second});
      }
    }
  }

  // Follows the imports from file to file. One that leads back into a file still being followed closes a cycle, and is
  // cut.
  void report_import_cycles(const ast::Profile& tree) {
    std::map<FileId, std::vector<ImportedFile*>> imports_of;
    for (ImportedFile& import : read_.imports) imports_of[import.statement.file].push_back(&import);
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
        findings_.report(finding::ImportCycle, import.statement, read_.texts[import.profile->file].name())
            .hint("move what both need to a third file");
        import.profile = nullptr;
      }
    }
  }

  // Reads each file of a waveform once, however many statements name it.
  void read_shapes(const ast::Profile& tree) {
    std::vector<const ast::Waveform*> waveforms;
    for (const ast::Declaration& declaration : tree.declarations) {
      std::visit(Overloaded{[&](const ast::Run& run) { collect_waveforms(run.body, waveforms); },
                            [&](const ast::Safe& safe) { collect_waveforms(safe.body, waveforms); },
                            [&](const ast::Sequence& sequence) { collect_waveforms(sequence.body, waveforms); },
                            [](const auto&) {}},
                 declaration.what);
    }
    for (const ast::Waveform* waveform : waveforms) {
      if (!waveform->file) continue;
      const Span& place = waveform->file->span;
      const std::string path = beside(tree, waveform->file->value);
      const auto [shape, is_new] = read_.shapes.try_emplace(files_.canonical(path));
      if (is_new) {
        const std::optional<FileId> file = read_text({path, place}, FileRole::Waveform);
        if (file) shape->second = read_shape(read_.texts[*file], findings_);
      }
      read_.shape_of[{place.file, place.begin}] = shape->second ? &*shape->second : nullptr;
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
      if (!findings_.has_errors()) {
        findings_.report(finding::NoBench, Span{tree.file, 0, 0})
            .hint("write `bench \"FILE.bench.yaml\"` or give one with --bench FILE");
      }
      return;
    }
    if (const std::optional<FileId> file = read_text(*named, FileRole::Bench)) {
      read_.bench = read_bench(read_.texts, *file, findings_);
    }
  }

  Files& files_;
  const CompileOptions& options_;
  Read& read_;
  FindingSink& findings_;
  std::map<std::string, const ast::Profile*> known_trees_;
};

Compiled Compiled::settle(std::shared_ptr<const Read> read, std::span<const Held> held, FindingSink& findings,
                          const Job& job) {
  auto whole = std::make_shared<Whole>();
  whole->read = std::move(read);
  const Read& files = *whole->read;
  if (files.trees.empty()) return Compiled(std::move(whole));
  job.check();
  ResolveOptions options = files.resolve_options();
  options.held.assign(held.begin(), held.end());
  options.job = job;
  const Bench& bench = files.bench_or_none();
  Resolution resolution = resolve(files.texts, *files.trees.front(), bench, options, findings);
  // A tree with holes resolves to a profile with holes.
  if (!files.parsed_whole || !resolution.whole) {
    if (files.bench) check_parts(resolution, bench, findings);
    return Compiled(std::move(whole));
  }
  const Profile& profile = whole->profile.emplace(std::move(resolution.profile));
  if (!files.bench) return Compiled(std::move(whole));
  job.check();
  whole->run_timeline = build_timeline(profile, profile.run, TimelineStart::Off, findings);
  if (profile.safe) whole->safe_timeline = build_timeline(profile, *profile.safe, TimelineStart::Unknown, findings);
  if (!whole->run_timeline) {
    check_values(profile, programs_of(profile), {}, bench, findings);
    check_settings(profile, {}, bench, findings);
  } else if (profile.safe && !whole->safe_timeline) {
    check_values(profile, {&*profile.safe}, {}, bench, findings);
  }
  if (whole->safe_timeline) whole->safe.emplace(profile, bench, *whole->safe_timeline);
  if (!whole->run_timeline) return Compiled(std::move(whole));
  const Table& run = whole->run.emplace(profile, bench, *whole->run_timeline);
  whole->demands = run_checks(run, whole->safe ? &*whole->safe : nullptr, findings);
  job.check();
  whole->rules = judge_rules(run);
  report_broken_rules(run, whole->rules, findings);
  return Compiled(std::move(whole));
}

Compiled::Compiled()
    : whole_([] {
        static const auto kNothing = [] {
          auto whole = std::make_shared<Whole>();
          whole->read = std::make_shared<Read>();
          return whole;
        }();
        return kNothing;
      }()) {}

namespace {

template <class Part>
const Part* pointer_to(const std::optional<Part>& part) {
  return part ? &*part : nullptr;
}

}  // namespace

const std::string& Compiled::path() const {
  return whole_->read->path;
}

const std::vector<Dependency>& Compiled::files() const {
  return whole_->read->files;
}

const SourceSet& Compiled::texts() const {
  return whole_->read->texts;
}

const ast::Profile* Compiled::tree() const {
  return whole_->read->trees.empty() ? nullptr : whole_->read->trees.front().get();
}

const ast::Profile* Compiled::tree(FileId file) const {
  for (const std::unique_ptr<ast::Profile>& tree : whole_->read->trees) {
    if (tree->file == file) return tree.get();
  }
  return nullptr;
}

const Bench* Compiled::bench() const {
  return pointer_to(whole_->read->bench);
}

const std::optional<NamedPath>& Compiled::load() const {
  return whole_->read->load;
}

const std::vector<NamedFault>& Compiled::faults() const {
  return whole_->read->faults;
}

const Profile* Compiled::profile() const {
  return pointer_to(whole_->profile);
}

const Timeline* Compiled::run_timeline() const {
  return pointer_to(whole_->run_timeline);
}

const Table* Compiled::run() const {
  return pointer_to(whole_->run);
}

const Table* Compiled::safe() const {
  return pointer_to(whole_->safe);
}

const std::vector<HighestDemand>& Compiled::demands() const {
  return whole_->demands;
}

const std::vector<RuleResult>& Compiled::rules() const {
  return whole_->rules;
}

SymbolIndex symbols_of(const Compiled& compiled) {
  SymbolIndex index;
  const SourceSet& texts = compiled.texts();
  for (const Dependency& file : compiled.files()) {
    const bool is_bench = file.role == FileRole::Bench && file.text != nullptr;
    if (is_bench) add_bench_symbols(texts, file.text->id(), index);
  }
  const Compiled::Read& read = *compiled.whole_->read;
  const ast::Profile* tree = compiled.tree();
  if (tree != nullptr) add_profile_symbols(texts, *tree, read.bench_or_none(), read.resolve_options(), index);
  return index;
}

Compiled compile(Files& files, const std::string& path, const CompileOptions& options, FindingSink& findings,
                 const Job& job) {
  auto read = std::make_shared<Compiled::Read>();
  read->path = path;
  Compiled::Reader(files, options, *read, findings).run();
  return Compiled::settle(std::move(read), {}, findings, job);
}

Compiled with_values(const Compiled& compiled, std::span<const Held> held, FindingSink& findings, const Job& job) {
  findings.texts().add_all(compiled.texts());
  return Compiled::settle(compiled.whole_->read, held, findings, job);
}

}  // namespace rampart
