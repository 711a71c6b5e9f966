// Logs: their description, their fields, and lines that are none. All logs here are invented.
#include <doctest/doctest.h>

#include <cstdio>
#include <nlohmann/json.hpp>
#include <set>

#include "compiler/compile/compile.h"
#include "lang/files/files.h"
#include "runtime/log/log_description.h"
#include "runtime/log/log_keys.h"
#include "runtime/log/log_reader.h"
#include "runtime/log/log_values.h"

namespace rampart {
namespace {

using nlohmann::json;

std::string project_file(const std::string& name) {
  std::string why;
  const TextPtr file = Disk().read(std::string(RAMPART_SOURCE_DIR) + "/" + name, why);
  REQUIRE_MESSAGE(file != nullptr, name << ": " << why);
  return std::string(file->text());
}

std::optional<LogDescription> described(const std::string& text, FindingSink& findings) {
  const FileId file = findings.texts().add("x.log.yaml", text);
  return read_log_description(findings.texts(), file, findings);
}

constexpr const char* kBench = R"(bench: One
supplies:
  left:
    timing: {minimum_step: 10 ms, resolution: 1 ms}
    channels:
      ch1: {voltage: {range: 0 V .. 20 V, resolution: 1 mV}, current: {range: 0 A .. 2 A, resolution: 1 mA}}
)";
constexpr const char* kProfile = R"(bench "b.bench.yaml"
rail core on left.ch1
run { limit core to 1 A; on core; dwell 1 s; off core }
safe { off core }
)";

// A log in memory, read to its end.
struct Read {
  FindingSink findings;
  bool opened = false;
  std::vector<LogReading> readings;
  std::vector<double> times;
  std::int64_t commands = 0;
  std::int64_t events = 0;
  std::int64_t broken = 0;
};

void read(const std::string& text, const std::string& description, Read& result) {
  HeldTexts files;
  files.hold("p.ramp", kProfile);
  files.hold("b.bench.yaml", kBench);
  FindingSink compiled_findings;
  const Compiled compiled = compile(files, "p.ramp", {}, compiled_findings);
  REQUIRE(compiled.profile() != nullptr);
  const LogNames names(*compiled.profile(), *compiled.bench());
  LogDescription how;
  if (!description.empty()) {
    std::optional<LogDescription> given = described(description, result.findings);
    REQUIRE(given.has_value());
    how = *std::move(given);
  }
  std::FILE* stream = fmemopen(const_cast<char*>(text.data()), text.size(), "rb");
  REQUIRE(stream != nullptr);
  const std::string name = "log.csv";
  LogReader reader(stream, name, how, names, &result.findings);
  result.opened = reader.open();
  while (result.opened && reader.next()) {
    for (const LogReading& reading : reader.readings()) {
      result.readings.push_back(reading);
      result.times.push_back(static_cast<double>(reader.time().count()) / 1e9);
    }
    result.commands += reader.command() ? 1 : 0;
    result.events += reader.event() ? 1 : 0;
  }
  result.broken = reader.broken_lines();
  std::fclose(stream);
}

}  // namespace

TEST_CASE("log: reader, schema and document have the same keys") {
  const json schema = json::parse(project_file("docs/log.schema.json"));
  const std::string document = project_file("docs/as-run.md");
  for (const KeyTable& table : log_keys::kTables) {
    CAPTURE(std::string(table.what));
    const json& map = table.what == "log" ? schema : schema.at("$defs").at(std::string(table.what));
    CHECK(map.at("additionalProperties") == false);
    std::set<std::string> keys;
    for (const auto& [key, value] : map.at("properties").items()) keys.insert(key);
    CHECK(std::set<std::string>(table.keys.begin(), table.keys.end()) == keys);
    for (const std::string_view key : table.keys) {
      CAPTURE(std::string(key));
      CHECK(document.find("`" + std::string(key) + "`") != std::string::npos);
    }
  }
  for (const LogColumnRow& row : log_column_rows()) {
    CHECK(document.find("`" + std::string(row.header) + "`") != std::string::npos);
    CHECK(document.find("`" + std::string(row.is) + "`") != std::string::npos);
  }
}

TEST_CASE("log: the description in the document is read") {
  const std::string document = project_file("docs/as-run.md");
  const std::size_t begin = document.find("```yaml\n") + 8;
  FindingSink findings;
  const std::optional<LogDescription> log =
      described(document.substr(begin, document.find("```", begin) - begin), findings);
  REQUIRE(log.has_value());
  CHECK(findings.findings().empty());
  CHECK(log->separator == ';');
  CHECK(log->decimal_comma);
  CHECK(log->columns.at(0).factor == 1e-3);
  CHECK(log->columns.at(1).factor == -1);
  // One period of 50 Hz.
  CHECK(log->instruments.at(0).meter.window == std::chrono::milliseconds(20));
  CHECK(log->instruments.at(1).meter.current->ranges.size() == 2);
}

TEST_CASE("log: descriptions with mistakes are refused") {
  for (const std::string text :
       {"log: x\nseparator: comma\ndecimal: comma\n", "decimal: comma\n", "log: x\ntime: {zone: Berlin}\n",
        "log: x\ncolumns: {U: {is: voltage, rail: a, channel: b}}\n", "log: x\ncolumns: {U: {is: voltage, unit: A}}\n",
        "log: x\ncolumns: {U: {is: voltage, instrument: none}}\n", "log: x\ninstruments: {m: {nplc: 1, window: 1 s}}\n",
        "log: x\ninstruments: {m: {mains: 60 Hz}}\n", "log: x\ninstruments: {m: {voltage: {noise: 1 mV}}}\n",
        "log: x\ninstruments: {m: {voltage: {ranges: [{up_to: 2 V, accuracy: 1 %}, {up_to: 1 V, accuracy: 1 %}]}}}\n",
        "log: x\ndate: 2027-02-30\n", "log: x\nskip_lines: -1\n", "log: x\nspeed: 1\n"}) {
    CAPTURE(text);
    FindingSink findings;
    CHECK_FALSE(described(text, findings).has_value());
    CHECK(findings.has_errors());
  }
}

// ISO 8601-1:2019, 5.4.2.1 (date and time of day, extended form) and 4.3.13 (offsets). 2000-01-01 is 946,684,800 s
// after 1970-01-01 (IEEE 1003.1, seconds since the epoch).
TEST_CASE("log: times") {
  const auto seconds = [](const char* text, LogTimeFormat format, bool comma = false,
                          std::optional<Nanoseconds> zone = {}) -> std::optional<double> {
    const auto time = parse_log_time(text, format, comma, zone);
    if (!time) return std::nullopt;
    return static_cast<double>(time->count()) / 1e9;
  };
  CHECK(seconds("2000-01-01T00:00:00Z", LogTimeFormat::Iso8601) == 946'684'800.0);
  CHECK(seconds("2000-01-01T01:00:00.25+01:00", LogTimeFormat::Iso8601) == 946'684'800.25);
  CHECK(seconds("1999-12-31 20:30:00,5-0330", LogTimeFormat::Iso8601) == 946'684'800.5);
  CHECK(seconds("2000-01-01T02:00:00", LogTimeFormat::Iso8601, false, std::chrono::hours(2)) == 946'684'800.0);
  for (const char* text : {"2000-01-01T02:00:00", "2000-02-30T00:00:00Z", "2000-01-01T25:00:00Z", "2000-01-01", "now",
                           "2000-01-01T00:00:00+25:00", ""}) {
    CAPTURE(text);
    CHECK_FALSE(seconds(text, LogTimeFormat::Iso8601).has_value());
  }
  CHECK(seconds("1.5", LogTimeFormat::Seconds) == 1.5);
  CHECK(seconds("-0.000000001", LogTimeFormat::Seconds) == -1e-9);
  CHECK(seconds("1,5", LogTimeFormat::Seconds, true) == 1.5);
  CHECK(seconds("1.5e-3", LogTimeFormat::Seconds) == 1.5e-3);
  CHECK(seconds("250", LogTimeFormat::Milliseconds) == 0.25);
  CHECK(seconds("0.5", LogTimeFormat::Days) == 43'200.0);
  for (const char* text : {"1,5", "1.5 s", "99999999999", "1e30", ".", "--1", "0x10"}) {
    CAPTURE(text);
    CHECK_FALSE(seconds(text, LogTimeFormat::Seconds).has_value());
  }
}

// SCPI-1999, volume 1, 7.2.1.4 and 7.2.1.5: 9.9E37 stands for an infinity, 9.91E37 for what is no number.
TEST_CASE("log: numbers") {
  using Is = LogNumber::Is;
  CHECK(parse_log_number("3.25", false).value == 3.25);
  CHECK(parse_log_number("+3,25", true).value == 3.25);
  CHECK(parse_log_number(" -1e-3 ", false).value == -1e-3);
  for (const char* text : {"", "  ", "NaN", "inf", "-inf", "9.9E37", "-9.9E37", "9.91E37"}) {
    CAPTURE(text);
    CHECK(parse_log_number(text, false).is == Is::Missing);
  }
  for (const char* text : {"1e999", "1e13", "3,25", "1 V", "0x1", "1.2.3", "e"}) {
    CAPTURE(text);
    CHECK(parse_log_number(text, false).is == Is::Wrong);
  }
}

TEST_CASE("log: long and wide forms say the same") {
  Read wide;
  Read tall;
  read("time_s,core_measured_V,core_measured_A\n0,1,0.5\n1,2,NaN\n", "", wide);
  read("measured_A,rail,time_s,measured_V,note\n0.5,core,0,1,x\n9.91E37,core,1,2,y\n", "", tall);
  for (const Read* one : {&wide, &tall}) {
    CHECK(one->findings.findings().empty());
    REQUIRE(one->readings.size() == 2);
    CHECK(one->readings[0].volts == 1.0);
    CHECK(one->readings[0].amps == 0.5);
    CHECK(one->readings[1].volts == 2.0);
    CHECK_FALSE(one->readings[1].amps.has_value());
    CHECK(one->times[1] == 1.0);
  }
}

TEST_CASE("log: commands, events and qualities") {
  Read log;
  read(
      "time_s,kind,segment,channel,measured_V,measured_A,set_V,set_A,output,mode,quality,planned_s,acked_s,text\n"
      "0,event,1,,,,,,,,,,,start\n"
      "0.01,command,1,left.ch1,,,1.5,1,1,,,0,0.01,\n"
      "0.02,reading,1,left.ch1,1.5,0.1,,,1,CV,,,,\n"
      "0.03,,1,left.ch1,9,9,,,1,CC,overflow,,,\n"
      "0.04,event,1,left.ch1,,,,,,,,,,trip overvoltage\n",
      "", log);
  CHECK(log.findings.findings().empty());
  CHECK(log.commands == 1);
  CHECK(log.events == 2);
  REQUIRE(log.readings.size() == 2);
  CHECK(log.readings[0].mode == LogMode::ConstantVoltage);
  CHECK_FALSE(log.readings[1].volts.has_value());
}

TEST_CASE("log: a setpoint table is no log") {
  Read log;
  read("segment,time_s,channel,voltage_V,current_A,output\n1,0,left.ch1,0,1,1\n", "", log);
  CHECK_FALSE(log.opened);
  REQUIRE(log.findings.findings().size() == 1);
  CHECK(log.findings.findings().front().name == "log-malformed");
}

TEST_CASE("log: a cell that cannot be read costs no other") {
  Read log;
  read(
      "time_s,core_measured_V,core_measured_A,core_output,core_mode,core_quality\n"
      "0,OL,0.5,1,CV,\n1,2, - ,1,CV,\n2,3,0.7,on,CV,\n3,4,0.8,1,constant,\n4,5,0.9,1,CV,bad\n5,\"6,1\",1.0,1,CV,\n",
      "", log);
  CHECK(log.broken == 0);
  REQUIRE(log.readings.size() == 6);
  CHECK_FALSE(log.readings[0].volts.has_value());
  CHECK(log.readings[0].amps == 0.5);
  CHECK(log.readings[1].volts == 2.0);
  CHECK_FALSE(log.readings[1].amps.has_value());
  CHECK(log.readings[2].volts == 3.0);
  CHECK_FALSE(log.readings[2].output.has_value());
  CHECK(log.readings[3].amps == 0.8);
  CHECK(log.readings[3].mode == LogMode::Unknown);
  CHECK_FALSE(log.readings[4].volts.has_value());
  CHECK_FALSE(log.readings[4].amps.has_value());
  CHECK_FALSE(log.readings[5].volts.has_value());
  REQUIRE(log.findings.findings().size() == 1);
  const Finding& finding = log.findings.findings().front();
  CHECK(finding.severity == Severity::Warning);
  CHECK(finding.message ==
        "6 cells cannot be read and count as missing; the first: `OL` in column `core_measured_V` "
        "is not a number within 1e12");
  CHECK(finding.span.end - finding.span.begin == 2);
}

TEST_CASE("log: what other programs export is told with what to write") {
  const auto told = [](const std::string& text) {
    Read log;
    read(text, "", log);
    REQUIRE(!log.findings.findings().empty());
    const Finding& first = log.findings.findings().front();
    return first.message + " / " + first.hint;
  };
  const auto has = [&](const std::string& text, const char* words) {
    return told(text).find(words) != std::string::npos;
  };
  CHECK(has("time_s;core_measured_V\n0;1\n", "write `separator: semicolon`"));
  CHECK(has("time_s\tcore_measured_V\n0\t1\n", "write `separator: tab`"));
  CHECK(has("Time [s],core_measured_V\n0,1\n", "a file beside the log can describe other columns"));
  CHECK(has("time_s,core_measured_V\n0,1\n0,1,2,0\n",
            "the line has 4 fields instead of 2 / numbers with a decimal comma"));
  CHECK(has("time_s,core_measured_V\n0,1\n0.1\n", "the line has 1 field instead of 2"));
  CHECK(has(std::string("\xFF\xFEt\0i\0", 6), "UTF-16"));
}

TEST_CASE("log: a command that cannot be read is no command") {
  Read log;
  read("time_s,kind,channel,measured_V,set_V,output,planned_s\n0,command,left.ch1,,x,1,0\n0,command,left.ch1,,1,y,0\n",
       "", log);
  CHECK(log.broken == 2);
  CHECK(log.commands == 0);
}

TEST_CASE("log: broken lines are told with their places, and bounded") {
  Read log;
  std::string text = "time_s,core_measured_V\n";
  for (int i = 0; i < 1000; ++i) text += "x,1\n";
  text += "5,1\n";
  read(text, "", log);
  CHECK(log.broken == 1000);
  CHECK(log.readings.size() == 1);
  // The first ones, and a last one that counts the others.
  CHECK(log.findings.findings().size() == static_cast<std::size_t>(kMaxLogFindings) + 1);
}

TEST_CASE("log: no two times are further apart than a log may last") {
  // Both are times, and no 64 bits hold the nanoseconds between them.
  Read log;
  read("time_s,core_measured_V\n-9223372036,1\n9223372036,1\n-4823372036,2\n-4823372035,2\n", "", log);
  CHECK(log.times == std::vector<double>{-9223372036, -4823372036});
  CHECK(log.broken == 2);
  // A clock that begins at 1900 until it is set.
  Read reset;
  read("t,core_measured_V\n1900-01-01T00:00:00Z,1\n2027-03-01T00:00:00Z,1\n2250-12-31T00:00:00Z,1\n",
       "log: A clock\ntime: {format: iso8601}\ncolumns: {t: {is: time}}\n", reset);
  CHECK(reset.readings.size() == 2);
  CHECK(reset.broken == 1);
}

TEST_CASE("log: what a command says of times is bounded as well") {
  Read log;
  read(R"(time_s,kind,channel,measured_V,planned_s,sent_s,acked_s
0,command,left.ch1,,9223372036.854775807,,
0,command,left.ch1,,,-9223372036,
0,command,left.ch1,,,,5e9
0,command,left.ch1,,1,2,3
)",
       "", log);
  CHECK(log.commands == 1);
  CHECK(log.broken == 3);
}

}  // namespace rampart
