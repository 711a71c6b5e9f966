#pragma once

#include <deque>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "compiler/resolve/resolve.h"
#include "lang/syntax/parse.h"
#include "tests/support/program_builder.h"

namespace rampart::test {

// What a profile comes to on a bench: if none is given, one with the channels s1.ch1 and s1.ch2 and the lines s1.in and
// s1.out.
// `files` are those it may import, by name.
class Resolved {
 public:
  explicit Resolved(const std::string& text, const std::vector<std::string>& settings = {},
                    const std::map<std::string, std::string>& files = {})
      : Resolved(two_channels(), text, settings, files) {}
  Resolved(Bench on_bench, const std::string& text, const std::vector<std::string>& settings = {},
           const std::map<std::string, std::string>& files = {})
      : bench(std::move(on_bench)) {
    const ast::Profile& tree = trees_.emplace_back(parse(sources, sources.add("p.ramp", text), findings));
    ResolveOptions options;
    for (const std::string& setting : settings) options.settings.push_back(sources.add("--set " + setting, setting));
    for (std::size_t i = 0; i < trees_.size(); ++i) read_imports(trees_[i], files, options);
    options.parsed_whole = findings.findings().empty();
    profile = resolve(sources, tree, bench, options, findings).take_whole();
  }

  // The names of the findings in their order, without warnings.
  [[nodiscard]] std::string errors() const {
    std::string names;
    for (const Finding& finding : findings.findings()) {
      if (finding.severity == Severity::Error) names += (names.empty() ? "" : " ") + std::string(finding.name);
    }
    return names;
  }

  // All findings with their places: "NAME LINE:COLUMN, …".
  [[nodiscard]] std::string places() const {
    std::string text;
    for (const Finding& finding : findings.findings()) {
      text += (text.empty() ? "" : ", ") + std::string(finding.name) + " " + place(finding.span);
    }
    return text;
  }

  // "LINE:COLUMN" in the profile; the file's name before it in any other.
  [[nodiscard]] std::string place(const Span& span) const {
    const SourceFile& file = sources[span.file];
    const Position at = file.position(span.begin);
    const std::string prefix = file.name() == "p.ramp" ? "" : file.name() + ":";
    return prefix + std::to_string(at.line) + ":" + std::to_string(at.column);
  }

  SourceSet sources;
  FindingSink findings;
  Bench bench;
  std::optional<Profile> profile;

 private:
  static Bench two_channels() {
    Bench bench = make_bench({{.channels = {{.name = "ch1"}, {.name = "ch2"}}}});
    bench.supplies[0].lines = {"in", "out"};
    return bench;
  }

  void read_imports(const ast::Profile& tree, const std::map<std::string, std::string>& files,
                    ResolveOptions& options) {
    for (const ast::Declaration& declaration : tree.declarations) {
      const auto* import = std::get_if<ast::Import>(&declaration.what);
      if (import == nullptr) continue;
      const auto [known, is_new] = known_.try_emplace(import->path.value, nullptr);
      if (is_new) {
        const FileId file = sources.add(import->path.value, files.at(import->path.value));
        known->second = &trees_.emplace_back(parse(sources, file, findings));
      }
      options.imports.push_back({declaration.span, known->second});
    }
  }

  std::deque<ast::Profile> trees_;
  std::map<std::string, const ast::Profile*> known_;
};

// The voltage or current that a step, limit or ramp leads to.
inline Rational target_of(const Statement& statement, std::size_t index = 0) {
  if (const auto* jump = std::get_if<Jump>(&statement.what)) return jump->motions.at(index).value;
  return std::get<Ramp>(statement.what).motions.at(index).value;
}

}  // namespace rampart::test
