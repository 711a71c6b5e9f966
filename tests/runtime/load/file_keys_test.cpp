// Readers, JSON Schemas and documents of bench and load files say the same.
#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <set>

#include "compiler/bench/bench.h"
#include "compiler/bench/bench_keys.h"
#include "runtime/load/load.h"
#include "runtime/load/load_keys.h"
#include "tests/support/file_text.h"

namespace rampart {
namespace {

using nlohmann::json;

std::string project_file(const std::string& name) {
  const FileText file = read_file(std::string(RAMPART_SOURCE_DIR) + "/" + name);
  REQUIRE_MESSAGE(file.failure.empty(), name << ": " << file.failure);
  return file.text;
}

// The keys that the schema gives to the map `what`; its top is the map `top`.
std::set<std::string> schema_keys(const json& schema, std::string_view what, std::string_view top) {
  const json& map = what == top ? schema : schema.at("$defs").at(std::string(what));
  CHECK(map.at("additionalProperties") == false);
  std::set<std::string> keys;
  for (const auto& [key, value] : map.at("properties").items()) keys.insert(key);
  return keys;
}

void check_tables(std::span<const KeyTable> tables, const std::string& kind) {
  const json schema = json::parse(project_file("docs/" + kind + ".schema.json"));
  const std::string document = project_file("docs/" + kind + ".md");
  for (const KeyTable& table : tables) {
    CAPTURE(std::string(table.what));
    CHECK(std::set<std::string>(table.keys.begin(), table.keys.end()) == schema_keys(schema, table.what, kind));
    for (const std::string_view key : table.keys) {
      CAPTURE(std::string(key));
      CHECK(document.find("`" + std::string(key) + "`") != std::string::npos);
    }
  }
}

struct Verdict {
  bool was_read = false;
  std::string findings;
};

Verdict verdict_of(const std::string& kind, const std::string& text) {
  SourceSet sources;
  FindingSink sink;
  const FileId file = sources.add(kind, text);
  Verdict verdict;
  verdict.was_read =
      kind == "bench" ? read_bench(sources, file, sink).has_value() : read_load(sources, file, sink).has_value();
  for (const std::string& line : test::finding_lines(sources, sink)) verdict.findings += line + "\n";
  return verdict;
}

// The ```yaml blocks of a document.
std::vector<std::string> yaml_blocks(const std::string& document) {
  constexpr std::string_view kOpen = "```yaml\n";
  std::vector<std::string> blocks;
  for (std::size_t at = 0; (at = document.find(kOpen, at)) != std::string::npos;) {
    at += kOpen.size();
    blocks.push_back(document.substr(at, document.find("```", at) - at));
  }
  return blocks;
}

}  // namespace

TEST_CASE("files: schema and document have the keys of the readers") {
  check_tables(bench_keys::kTables, "bench");
  check_tables(load_keys::kTables, "load");
  check_tables(load_keys::kElements, "load");
}

TEST_CASE("files: the examples of the documents are read") {
  for (const std::string kind : {"bench", "load"}) {
    const std::vector<std::string> blocks = yaml_blocks(project_file("docs/" + kind + ".md"));
    CHECK_FALSE(blocks.empty());
    for (const std::string& block : blocks) CHECK(verdict_of(kind, block).findings == "");
  }
}

// The same file is given to the schemas by tests/meta/check_schemas.py.
TEST_CASE("files: readers refuse what the schemas refuse") {
  const json cases = json::parse(project_file("tests/data/wrong_files.json"));
  for (const auto& [kind, files] : cases.items()) {
    const std::string right = files.at("right");
    CHECK(verdict_of(kind, right).findings == "");
    CHECK(files.at("changes").size() >= 30);
    for (const json& change : files.at("changes")) {
      const std::string text =
          test::with(right, change.at("from").get<std::string>(), change.at("to").get<std::string>());
      CAPTURE(change.dump());
      CHECK_FALSE(verdict_of(kind, text).was_read);
    }
  }
}

}  // namespace rampart
