#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <random>
#include <sstream>
#include <string>
#include <tuple>
#include <vector>

#include "compiler/export/csv.h"
#include "compiler/export/json_table.h"
#include "tests/support/program_builder.h"
#include "tests/support/random_table.h"
#include "tests/support/string_sink.h"

// Round trips: what a format holds, read by another library or split by hand, is the table again.

using namespace rampart;
using namespace rampart::test;

namespace {

using Plain = std::vector<PlainRow>;

// "12.5" with three decimals: 12500.
std::int64_t counts_of(const std::string& text, int decimals) {
  const std::size_t point = text.find('.');
  std::string digits = text.substr(0, point);
  std::string fraction = point == std::string::npos ? "" : text.substr(point + 1);
  REQUIRE(fraction.size() <= static_cast<std::size_t>(decimals));
  fraction.resize(static_cast<std::size_t>(decimals), '0');
  return std::stoll(digits + fraction);
}

std::vector<std::string> split(const std::string& line) {
  std::vector<std::string> fields(1);
  for (const char c : line) {
    if (c == ',') {
      fields.emplace_back();
    } else {
      fields.back() += c;
    }
  }
  return fields;
}

Plain rows_of_csv(const std::string& text) {
  Plain rows;
  std::istringstream lines(text);
  std::string line;
  std::getline(lines, line);
  while (std::getline(lines, line)) {
    const std::vector<std::string> fields = split(line);
    REQUIRE(fields.size() == 5);
    rows.push_back(
        {counts_of(fields[0], 9), fields[1], counts_of(fields[2], 2), counts_of(fields[3], 3), fields[4] == "1"});
  }
  return rows;
}

// Doubles of JSON are the nearest to the decimals, so rounding to counts gives these back.
std::int64_t nearest(const nlohmann::json& number, double counts) {
  return std::llround(number.get<double>() * counts);
}

Plain rows_of_json(const std::string& text) {
  Plain rows;
  const nlohmann::json document = nlohmann::json::parse(text);
  REQUIRE(document.at("segments").size() == 1);
  for (const nlohmann::json& row : document["segments"][0]["rows"]) {
    rows.push_back({nearest(row["time_s"], 1e9), row["channel"], nearest(row["voltage_V"], 1e2),
                    nearest(row["current_A"], 1e3), row["output"]});
  }
  return rows;
}

// Rows of instants, without those that only repeat what a channel holds; the last of each channel stays.
Plain changes_of_instants(const std::string& text) {
  Plain rows;
  const nlohmann::json document = nlohmann::json::parse(text);
  const nlohmann::json& instants = document["segments"][0]["rows"];
  std::map<std::string, nlohmann::json> held;
  for (std::size_t i = 0; i < instants.size(); ++i) {
    for (const auto& [name, cell] : instants[i]["channels"].items()) {
      const bool is_last = i + 1 == instants.size();
      if (held.count(name) != 0 && held[name] == cell && !is_last) continue;
      held[name] = cell;
      rows.push_back({nearest(instants[i]["time_s"], 1e9), name, nearest(cell["voltage_V"], 1e2),
                      nearest(cell["current_A"], 1e3), cell["output"]});
    }
  }
  return rows;
}

}  // namespace

TEST_CASE("CSV and JSON hold the table, whatever the program") {
  for (std::uint32_t seed = 1; seed <= 200; ++seed) {
    CAPTURE(seed);
    const RandomTable random(seed);
    const Plain rows = plain_rows(random.table());
    StringSink csv;
    write_csv(random.table(), nullptr, RowForm::Changes, csv);
    CHECK(rows_of_csv(csv.text()) == rows);
    StringSink json;
    write_json(random.table(), nullptr, Origin{}, SourceSet{}, RowForm::Changes, json);
    CHECK(rows_of_json(json.text()) == rows);
    StringSink instants;
    write_json(random.table(), nullptr, Origin{}, SourceSet{}, RowForm::Instants, instants);
    CHECK(changes_of_instants(instants.text()) == rows);
  }
}

TEST_CASE("numbers of JSON have no zeros at the end") {
  const Bench bench = make_bench({{}});
  Profile profile = make_profile(bench);
  profile.run = {limit(0, "1 A"), on(0), step(0, "2.5 V"), dwell("1.5 s"), off(0)};
  FindingSink findings;
  const std::optional<Timeline> timeline = build_timeline(profile, profile.run, TimelineStart::Off, findings);
  REQUIRE(timeline);
  StringSink json;
  write_json(Table(profile, bench, *timeline), nullptr, Origin{}, SourceSet{}, RowForm::Changes, json);
  CHECK(json.text().find("{\"time_s\": 1.5, \"channel\": \"s1.ch1\", \"voltage_V\": 2.5, \"current_A\": 1, \"output\": "
                         "false, \"place\": null}") != std::string::npos);
}
