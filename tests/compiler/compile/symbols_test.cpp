#include "compiler/compile/symbols.h"

#include <doctest/doctest.h>

#include <algorithm>

#include "runtime/load/load_file.h"
#include "runtime/load/load_symbols.h"
#include "tests/support/held_profile.h"

// Places are counted by hand, as an editor's search would find the names.
namespace {

using rampart::Occurrence;
using rampart::SymbolId;
using rampart::SymbolIndex;
using rampart::SymbolKind;

struct Indexed {
  explicit Indexed(rampart::HeldTexts files) {
    compiled = rampart::compile(files, "p.ramp", {}, findings);
    const rampart::LoadPtr load = rampart::read_load(compiled, files, findings);
    index = rampart::symbols_of(compiled);
    if (compiled.load()) {
      const rampart::FileId file = findings.texts().texts().back()->id();
      rampart::add_load_symbols(findings.texts(), file, compiled.faults(), index);
    }
  }

  // "p.ramp:3:7= p.ramp:9:5": where a name stands; `=` where it is defined.
  [[nodiscard]] std::string places(SymbolKind kind, const std::string& path) const {
    const auto id = index.find(kind, path);
    if (!id) return "unknown";
    std::vector<std::pair<std::size_t, std::string>> all;
    for (const Occurrence& one : index.occurrences()) {
      if (one.symbol != *id) continue;
      const rampart::SourceFile& file = findings.texts()[one.span.file];
      const rampart::Position at = file.position(one.span.begin);
      CHECK(findings.texts().text(one.span) == index[*id].name);
      all.emplace_back(
          findings.texts().place_of(one.span.file),
          file.name() + ":" + std::to_string(at.line) + ":" + std::to_string(at.column) + (one.defines ? "=" : ""));
    }
    std::stable_sort(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
    std::string text;
    for (const auto& [place, one] : all) text += (text.empty() ? "" : " ") + one;
    return text;
  }

  [[nodiscard]] std::string values(SymbolKind kind, const std::string& path) const {
    const auto id = index.find(kind, path);
    std::string text;
    if (id) {
      for (const std::string& value : index[*id].values) text += (text.empty() ? "" : ", ") + value;
    }
    return text;
  }

  rampart::FindingSink findings;
  rampart::Compiled compiled;
  SymbolIndex index;
};

rampart::HeldTexts with_library(const std::string& profile) {
  rampart::HeldTexts files = rampart::test::held_profile(profile);
  files.hold("lib.ramp", "let v_up = 2 * 2.5 V\nsequence up(v, r) {\n  ramp r to v over 1 s\n  on core\n}\n");
  return files;
}

constexpr const char* kImporting = R"(bench "one.bench.yaml"
import "lib.ramp"
rail core on bench.ch1
run {
  limit core to 1 A
  do up(v_up, core)
  for k in [1, 2] { step core to k * v_up }
  do up(3 V, core)
}
)";

}  // namespace

TEST_CASE("symbols: of profile, bench and load, across all three") {
  const Indexed all(rampart::test::held_profile());
  CHECK(all.places(SymbolKind::Parameter, "level") == "p.ramp:5:7= p.ramp:21:16");
  CHECK(all.places(SymbolKind::Rail, "core") ==
        "p.ramp:7:6= p.ramp:9:9 p.ramp:16:27 p.ramp:19:9 p.ramp:20:6 p.ramp:21:8 p.ramp:24:8 p.ramp:25:7 p.ramp:29:7 "
        "p.ramp:32:21 p.ramp:33:13 board.load.yaml:3:3 board.load.yaml:8:11");
  CHECK(all.places(SymbolKind::Supply, "bench") == "p.ramp:7:14 one.bench.yaml:3:3=");
  CHECK(all.places(SymbolKind::Channel, "bench.ch1") == "p.ramp:7:20 one.bench.yaml:6:7=");
  CHECK(all.places(SymbolKind::Mark, "up") == "p.ramp:22:9= board.load.yaml:9:14");
  CHECK(all.places(SymbolKind::Fault, "shorted") == "p.ramp:33:32 board.load.yaml:7:3=");
  CHECK(all.values(SymbolKind::Parameter, "level") == "5 V");
}

TEST_CASE("symbols: across an import, with what calls hand over") {
  const Indexed all(with_library(kImporting));
  CHECK(all.findings.error_count() == 0);
  CHECK(all.places(SymbolKind::Value, "v_up") == "p.ramp:6:9 p.ramp:7:38 lib.ramp:1:5=");
  CHECK(all.values(SymbolKind::Value, "v_up") == "5 V");
  CHECK(all.places(SymbolKind::Sequence, "up") == "p.ramp:6:6 p.ramp:8:6 lib.ramp:2:10=");
  CHECK(all.places(SymbolKind::Argument, "v") == "lib.ramp:2:13= lib.ramp:3:13");
  CHECK(all.values(SymbolKind::Argument, "v") == "5 V, 3 V");
  CHECK(all.values(SymbolKind::Argument, "r") == "core");
  CHECK(all.places(SymbolKind::Variable, "k") == "p.ramp:7:7= p.ramp:7:34");
  CHECK(all.values(SymbolKind::Variable, "k") == "1, 2");
  // A sequence names the rails of the profile that imports it.
  CHECK(all.places(SymbolKind::Rail, "core") ==
        "p.ramp:3:6= p.ramp:5:9 p.ramp:6:15 p.ramp:7:26 p.ramp:8:14 lib.ramp:4:6");
}

TEST_CASE("symbols: they stay where there are mistakes") {
  std::string text = rampart::test::kHeldProfile;
  text.replace(text.find("limit core to 1 A"), 17, "limit core to oops A +");
  const Indexed syntax(rampart::test::held_profile(text));
  CHECK(syntax.findings.error_count() > 0);
  CHECK(syntax.places(SymbolKind::Parameter, "level") == "p.ramp:5:7= p.ramp:21:16");
  CHECK(syntax.values(SymbolKind::Parameter, "level") == "5 V");

  rampart::HeldTexts no_bench = rampart::test::held_profile();
  no_bench.hold("one.bench.yaml", "bench: x\nsupplies: {bench: {timing: 3, channels: {ch1: {}}}}\n");
  const Indexed bad_bench(std::move(no_bench));
  CHECK(bad_bench.compiled.bench() == nullptr);
  CHECK(bad_bench.places(SymbolKind::Channel, "bench.ch1") == "p.ramp:7:20 one.bench.yaml:2:42=");
}

TEST_CASE("symbols: a local name hides nothing and is known in its block alone") {
  const Indexed all(with_library(kImporting));
  const auto argument = all.index.find(SymbolKind::Argument, "v");
  REQUIRE(argument);
  CHECK(all.findings.texts().text(all.index[*argument].scope).starts_with("sequence up"));
  const rampart::FileId file = all.compiled.texts().texts().front()->id();
  CHECK(all.index.at(file, 0) == nullptr);
  const Occurrence* behind =
      all.index.at(file, static_cast<std::uint32_t>(std::string(kImporting).find("core on") + 4));
  REQUIRE(behind != nullptr);
  CHECK(all.index[behind->symbol].name == "core");
}
