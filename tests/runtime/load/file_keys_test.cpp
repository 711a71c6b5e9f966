// Readers, JSON Schemas and documents of bench, load and link files say the same.
#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <set>

#include "compiler/bench/bench.h"
#include "compiler/bench/bench_keys.h"
#include "lang/files/files.h"
#include "runtime/link/link.h"
#include "runtime/link/link_keys.h"
#include "runtime/load/elements/element_kinds.h"
#include "runtime/load/load.h"
#include "runtime/load/load_keys.h"
#include "tests/support/file_text.h"

namespace rampart {
namespace {

using nlohmann::json;

std::string project_file(const std::string& name) {
  std::string why;
  const TextPtr file = Disk().read(std::string(RAMPART_SOURCE_DIR) + "/" + name, why);
  REQUIRE_MESSAGE(file != nullptr, name << ": " << why);
  return std::string(file->text());
}

// The keys that the schema gives to the map `what`; its top is the map `top`.
std::set<std::string> schema_keys(const json& schema, std::string_view what, std::string_view top) {
  const json& map = what == top ? schema : schema.at("$defs").at(std::string(what));
  CHECK(map.at("additionalProperties") == false);
  std::set<std::string> keys;
  for (const auto& [key, value] : map.at("properties").items()) keys.insert(key);
  return keys;
}

void check_tables(std::span<const KeyTable> tables, const std::string& kind, const std::string& page) {
  const json schema = json::parse(project_file("docs/" + kind + ".schema.json"));
  const std::string document = project_file("docs/" + page + ".md");
  for (const KeyTable& table : tables) {
    CAPTURE(std::string(table.what));
    CHECK(std::set<std::string>(table.keys.begin(), table.keys.end()) == schema_keys(schema, table.what, kind));
    for (const std::string_view key : table.keys) {
      CAPTURE(std::string(key));
      CHECK(document.find("`" + std::string(key) + "`") != std::string::npos);
    }
  }
}

// The chapter of docs/load.md on one kind of element.
std::string chapter_of(const std::string& document, const std::string& kind) {
  const std::size_t begin = document.find("### `" + kind + "`\n");
  REQUIRE(begin != std::string::npos);
  return document.substr(begin, document.find("\n##", begin + 1) - begin);
}

// The row of a table of keys.
std::string row_of(const std::string& chapter, const std::string& key) {
  const std::size_t begin = chapter.find("\n| `" + key + "` |");
  REQUIRE(begin != std::string::npos);
  return chapter.substr(begin + 1, chapter.find('\n', begin + 1) - begin - 1);
}

// What schema and document call the value that stands in for an absent key.
template <class Part>
std::string absent_value(const ElementField<Part>& field) {
  if (std::holds_alternative<std::optional<Toleranced> Part::*>(field.member)) return "none";
  const Part absent;
  const auto* exact = std::get_if<double Part::*>(&field.member);
  const double value = exact != nullptr ? absent.**exact : (absent.*std::get<Toleranced Part::*>(field.member)).nominal;
  const auto* range = std::get_if<ValueRange>(&field.range);
  return to_text(value, range != nullptr ? unit_text(range->dimension) : "");
}

void check_absent(const json& entry, const std::string& absent) {
  if (entry.contains("default")) {
    CHECK(entry.at("default").dump() == absent);
  } else {
    CHECK(entry.at("description").get<std::string>().ends_with("Default: " + absent + "."));
  }
}

// The name of a dimension in the definitions of the schema.
std::string name_of(const Dimension& dimension) {
  const std::vector<std::pair<Dimension, std::string>> names{{dimension::kResistance, "resistance"},
                                                             {dimension::kCapacitance, "capacitance"},
                                                             {dimension::kInductance, "inductance"},
                                                             {dimension::kVoltage, "voltage"},
                                                             {dimension::kCurrent, "current"},
                                                             {dimension::kPower, "power"},
                                                             {dimension::kTime, "time"},
                                                             {dimension::kTemperature, "temperature"},
                                                             {dimension::kNone, "number"},
                                                             {dimension::kHeatCapacity, "heat_capacity"}};
  for (const auto& [one, name] : names) {
    if (one == dimension) return name;
  }
  return {};
}

// A value of one dimension within its bound, with a tolerance or without.
void check_value(const json& entry, const ValueRange& range, bool toleranced) {
  const std::string name = name_of(range.dimension);
  if (name == "number") {
    CHECK(range.bound == Bound::Positive);
    CHECK((toleranced ? entry.at("anyOf").at(0) : entry).at("exclusiveMinimum") == 0);
    if (toleranced) CHECK(entry.at("anyOf").at(1).at("$ref") == "#/$defs/number_toleranced");
    return;
  }
  const std::string form = range.bound == Bound::Any ? "_signed" : toleranced ? "_toleranced" : "_value";
  CHECK(entry.at("$ref") == "#/$defs/" + name + form);
  // No temperature is 0 K or less, by its pattern.
  if (name == "temperature") return;
  CHECK(entry.contains("not") == (range.bound == Bound::Positive));
}

template <class Part>
void check_entry(const json& entry, const ElementField<Part>& field) {
  if (const auto* range = std::get_if<ValueRange>(&field.range)) {
    check_value(entry, *range, !std::holds_alternative<double Part::*>(field.member));
  } else if (const auto* count = std::get_if<CountRange>(&field.range)) {
    CHECK(entry.at("type") == "integer");
    CHECK(entry.at("minimum") == 1);
    CHECK(entry.at("maximum") == count->most);
  } else {
    const auto& [fewest, first, second] = std::get<PointsRange>(field.range);
    CHECK(entry.at("minItems") == fewest);
    check_value(entry.at("items").at("prefixItems").at(0), first, false);
    check_value(entry.at("items").at("prefixItems").at(1), second, false);
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
  verdict.was_read = kind == "bench"  ? read_bench(sources, file, sink).has_value()
                     : kind == "link" ? link::read_link(sources, file, sink).has_value()
                                      : read_load(sources, file, sink).has_value();
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
  check_tables(bench_keys::kTables, "bench", "bench");
  check_tables(load_keys::kTables, "load", "load");
  check_tables(link::link_keys::kTables, "link", "run");
  std::vector<std::string_view> messages;
  for (const link::MessageRow& row : link::message_rows()) messages.push_back(row.key);
  const KeyTable table{"messages", messages};
  check_tables({&table, 1}, "link", "run");
}

TEST_CASE("files: README lists the kinds of element with the keys that each requires, and some in full") {
  const std::string document = project_file("README.md");
  std::size_t whole = 0;
  for_each_kind([&](const auto& kind) {
    std::string row = "\n| `" + std::string(kind.name) + "` | ";
    const char* between = "";
    for (const auto& field : kind.fields) {
      if (field.is_required) row += std::exchange(between, ", ") + ("`" + std::string(field.key) + "`");
    }
    CAPTURE(row);
    CHECK(document.find(row + " |\n") != std::string::npos);
    whole += document.find("\n- " + std::string(kind.example)) != std::string::npos;
  });
  CHECK(whole == 4);
}

TEST_CASE("files: the schema says of every key of an element what the element's own list says") {
  const json schema = json::parse(project_file("docs/load.schema.json"));
  const std::string document = project_file("docs/load.md");
  std::vector<std::string> listed;
  for_each_kind([&]<class Part>(const ElementKind<Part>& kind) {
    const std::string name(kind.name);
    CAPTURE(name);
    listed.push_back("#/$defs/" + name);
    const json& map = schema.at("$defs").at(name);
    CHECK(map.at("properties").at("kind").at("const") == name);
    std::set<std::string> keys{"kind", "name"};
    std::set<std::string> needed{"kind"};
    const std::string chapter = chapter_of(document, name);
    for (const ElementField<Part>& field : kind.fields) {
      const std::string key(field.key);
      CAPTURE(key);
      keys.insert(key);
      if (field.is_required) needed.insert(key);
      const json& entry = map.at("properties").at(key);
      check_entry(entry, field);
      const std::string absent = field.is_required ? "error" : absent_value(field);
      CHECK_MESSAGE(row_of(chapter, key).ends_with("| " + absent + " |"), absent);
      if (!field.is_required) check_absent(entry, absent);
    }
    CHECK(schema_keys(schema, name, "load") == keys);
    CHECK(map.at("required").get<std::set<std::string>>() == needed);
  });
  std::vector<std::string> offered;
  for (const json& one : schema.at("$defs").at("elements").at("items").at("oneOf")) offered.push_back(one.at("$ref"));
  CHECK(offered == listed);
}

TEST_CASE("files: the examples of the documents are read") {
  for (const auto& [kind, page] : {std::pair("bench", "bench"), std::pair("load", "load"), std::pair("link", "run")}) {
    const std::vector<std::string> blocks = yaml_blocks(project_file("docs/" + std::string(page) + ".md"));
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
