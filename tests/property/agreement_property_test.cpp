#include <doctest/doctest.h>

#include <cstdio>
#include <cstdlib>
#include <functional>
#include <optional>
#include <random>
#include <string>
#include <vector>

#include "compiler/bench/bench.h"
#include "compiler/checks/checks.h"
#include "compiler/export/csv.h"
#include "compiler/resolve/resolve.h"
#include "compiler/table/table.h"
#include "compiler/timeline/timeline.h"
#include "lang/syntax/format.h"
#include "lang/syntax/parse.h"
#include "runtime/audit/audit.h"
#include "tests/support/dice.h"
#include "tests/support/string_sink.h"

// Random benches and profiles: what the checks of the compiler let through, the audit lets through, and a table that
// was tampered with is found out. The two share no code for limits, so each is the other's outside reference.
using namespace rampart;

namespace {

class Random {
 public:
  explicit Random(std::uint64_t seed) : engine_(seed) {}
  // low to high, both included.
  int number(int low, int high) {
    return low + static_cast<int>(engine_() % static_cast<std::uint64_t>(high - low + 1));
  }
  bool one_in(int n) { return number(1, n) == 1; }
  template <class Item>
  const Item& of(const std::vector<Item>& items) {
    return items[static_cast<std::size_t>(number(0, static_cast<int>(items.size()) - 1))];
  }

 private:
  std::mt19937_64 engine_;
};

std::string ms(int value) {
  return std::to_string(value) + " ms";
}

struct RandomBench {
  std::string text;
  std::vector<std::string> outputs;  // channels, then combinations
};

RandomBench random_bench(Random& random) {
  RandomBench bench;
  bench.text = "bench: random\nsupplies:\n";
  const int supplies = random.number(1, 2);
  std::vector<std::string> channels;
  std::vector<std::string> ways;  // how each channel goes from row to row
  for (int s = 1; s <= supplies; ++s) {
    const int resolution = random.of(std::vector{1, 2, 5});
    const std::string way = random.one_in(3) ? "linear" : "hold";
    bench.text += "  s" + std::to_string(s) +
                  ":\n    timing: {minimum_step: " + ms(resolution * random.of(std::vector{1, 2, 10})) +
                  ", resolution: " + ms(resolution) + ", interpolation: " + way + "}\n";
    if (random.one_in(3)) bench.text += "    power: " + std::to_string(random.number(5, 80)) + " W\n";
    bench.text += "    channels:\n";
    const int count = random.number(1, 3);
    for (int c = 1; c <= count; ++c) {
      const std::string name = "ch" + std::to_string(c);
      channels.push_back("s" + std::to_string(s) + "." + name);
      ways.push_back(way);
      bench.text +=
          test::in_order({"      ", name, ":\n        voltage: {range: 0 V .. ", std::to_string(random.number(5, 40)),
                          " V, resolution: ", std::to_string(random.of(std::vector{1, 2, 5, 10, 25})),
                          " mV}\n        current: {range: 0 A .. ", std::to_string(random.number(1, 5)),
                          " A, resolution: ", std::to_string(random.of(std::vector{1, 2, 5, 10})), " mA}\n"});
      if (random.one_in(3)) bench.text += "        power: " + std::to_string(random.number(3, 60)) + " W\n";
    }
  }
  bench.outputs = channels;
  if (channels.size() >= 2 && random.one_in(2)) {
    const std::size_t first = static_cast<std::size_t>(random.number(0, static_cast<int>(channels.size()) - 2));
    if (ways[first] != ways[first + 1]) return bench;
    bench.text += std::string("outputs:\n  both: {") + (random.one_in(2) ? "series" : "parallel") + ": [" +
                  channels[first] + ", " + channels[first + 1] + "]}\n";
    bench.outputs.erase(bench.outputs.begin() + static_cast<std::ptrdiff_t>(first),
                        bench.outputs.begin() + static_cast<std::ptrdiff_t>(first) + 2);
    bench.outputs.emplace_back("both");
  }
  return bench;
}

class ProfileWriter {
 public:
  ProfileWriter(Random& random, std::size_t rails) : random_(random), rails_(rails) {}

  std::string write(const std::vector<std::string>& outputs) {
    for (std::size_t i = 0; i < rails_; ++i) {
      text_ += "rail r" + std::to_string(i) + " on " + outputs[i] + (random_.one_in(6) ? " reversed\n" : "\n");
      reversed_.push_back(text_.ends_with("reversed\n"));
    }
    text_ += "run {\n";
    for (std::size_t i = 0; i < rails_; ++i) {
      text_ += "limit " + rail(i) + " to " + std::to_string(random_.number(1, 9) * 100) + " mA\n";
      if (!random_.one_in(8)) text_ += "on " + rail(i) + "\n";
    }
    const int statements = random_.number(2, 9);
    for (int i = 0; i < statements; ++i) statement(2);
    for (std::size_t i = 0; i < rails_; ++i) text_ += "off " + rail(i) + "\n";
    text_ += "}\n";
    if (random_.one_in(3)) safe();
    return std::move(text_);
  }

 private:
  // The orderly stop knows no setpoint that it has not set itself.
  void safe() {
    text_ += "safe {\n";
    for (std::size_t i = 0; i < rails_; ++i) {
      last_ = i;
      if (random_.one_in(3)) text_ += test::in_order({"step ", rail(i), " to ", level(), "\ndwell ", length(), "\n"});
      if (random_.one_in(4)) text_ += "limit " + rail(i) + " to 50 mA\ndwell " + length() + "\n";
      if (random_.one_in(3)) {
        text_ += test::in_order({"ramp ", rail(i), " from ", level(), " to ", level(), " over ", length(), "\n"});
      }
      text_ += test::in_order({"off ", rail(i), "\n", random_.one_in(2) ? "dwell " + length() + "\n" : ""});
    }
    text_ += "}\n";
  }

  static std::string rail(std::size_t index) { return "r" + std::to_string(index); }
  std::string any_rail() {
    last_ = static_cast<std::size_t>(random_.number(0, static_cast<int>(rails_) - 1));
    return rail(last_);
  }
  // Mostly within 5 V, now and then something else.
  std::string level() {
    const int millivolts = random_.one_in(50) ? random_.number(0, 42'000) : 50 * random_.number(0, 100);
    return (reversed_[last_] ? "-" : "") + std::to_string(millivolts) + " mV";
  }
  // Mostly on every grid and long enough, now and then neither.
  std::string length() {
    if (random_.one_in(40)) return std::to_string(random_.number(1, 120'000)) + " us";
    return ms(random_.one_in(25) ? random_.number(1, 60) : 50 * random_.number(1, 12));
  }

  void statement(int depth) {
    const std::string name = any_rail();
    switch (random_.number(0, depth > 0 ? 11 : 5)) {
      case 0:
        text_ += test::in_order({"step ", name, " to ", level(), "\ndwell ", length(), "\n"});
        break;
      case 1:
        text_ += "step " + name + " by " + (reversed_[last_] ? "-" : "") + "10 mV\ndwell " + length() + "\n";
        break;
      case 2:
      case 3:
        text_ += test::in_order({"ramp ", name, " to ", level(), " over ", length(), "\n"});
        break;
      case 4:
        text_ += test::in_order({"limit ", name, random_.one_in(2) ? " ramp to " : " to ",
                                 std::to_string(random_.number(1, 20) * 50), " mA"});
        text_ += text_.find("ramp to", text_.rfind("limit")) != std::string::npos ? " over " + length() + "\n"
                                                                                  : "\ndwell " + length() + "\n";
        break;
      case 5:
        text_ += test::in_order({"off ", name, "\ndwell ", length(), "\non ", name, "\ndwell ", length(), "\n"});
        break;
      case 6:
        block("repeat " + std::to_string(random_.number(1, 5)) + " {\n", depth);
        break;
      case 7:
        text_ += "together {\n";
        for (std::size_t i = 0; i < rails_; ++i) {
          last_ = i;
          text_ +=
              test::in_order({"{ ramp ", rail(i), " to ", level(), " over ", length(), "; dwell ", length(), " }\n"});
        }
        text_ += "}\n";
        break;
      case 8:
        text_ +=
            test::in_order({"for k in [1, 2, 3] { step ", name, " to k / 3 * ", level(), "; dwell ", length(), " }\n"});
        break;
      case 9:
        text_ += "await operator \"go on\" within 10 s assume 1 s\n";
        break;
      case 10:
        // Statements without effect, and one after the other in one instant.
        text_ += "step " + name + " by 0 V\nlimit " + name + " by 0 A\n";
        break;
      default:
        block("{\n", depth);
    }
  }

  void block(const std::string& head, int depth) {
    text_ += head;
    const int statements = random_.number(1, 3);
    for (int i = 0; i < statements; ++i) statement(depth - 1);
    text_ += "}\n";
  }

  Random& random_;
  std::size_t rails_;
  std::size_t last_ = 0;
  std::vector<bool> reversed_;
  std::string text_;
};

// One random pair on its way: the table is there if nothing at error level was found.
struct Case {
  SourceSet sources;
  FindingSink findings;
  std::string bench_text;
  std::string profile_text;
  std::optional<Bench> bench;
  std::optional<std::string> table;
  std::optional<std::string> instants;  // the same, all channels side by side

  explicit Case(std::uint64_t seed, const std::function<std::string(std::string)>& change = {}) {
    Random random(seed);
    const RandomBench made = random_bench(random);
    bench_text = made.text;
    const auto rails = static_cast<std::size_t>(random.number(1, static_cast<int>(made.outputs.size())));
    profile_text = ProfileWriter(random, rails).write(made.outputs);
    if (change) profile_text = change(std::move(profile_text));
    bench = read_bench(sources, sources.add("b.yaml", bench_text), findings);
    const ast::Profile tree = parse(sources, sources.add("p.ramp", profile_text), findings);
    REQUIRE_MESSAGE(!findings.has_errors(), (bench_text + profile_text));
    const std::optional<Profile> profile = resolve(sources, tree, *bench, {}, findings).take_whole();
    if (!profile) return;
    const auto timeline = build_timeline(*profile, profile->run, TimelineStart::Off, findings);
    if (!timeline) return;
    const Table run(*profile, *bench, *timeline);
    std::optional<Timeline> stop;
    if (profile->safe) stop = build_timeline(*profile, *profile->safe, TimelineStart::Unknown, findings);
    if (findings.has_errors()) return;
    std::optional<Table> safe;
    if (stop) safe.emplace(*profile, *bench, *stop);
    run_checks(run, safe ? &*safe : nullptr, findings);
    if (findings.has_errors()) return;
    test::StringSink sink;
    write_csv(run, safe ? &*safe : nullptr, RowForm::Changes, sink);
    table = sink.text();
    test::StringSink instant_sink;
    write_csv(run, safe ? &*safe : nullptr, RowForm::Instants, instant_sink);
    instants = instant_sink.text();
  }

  [[nodiscard]] bool warns(std::string_view name) const { return holds(findings, name); }
  static bool holds(const FindingSink& sink, std::string_view name) {
    for (const Finding& finding : sink.findings()) {
      if (finding.name == name) return true;
    }
    return false;
  }
};

FindingSink audited(const std::string& text, const Bench& bench) {
  FindingSink findings;
  SourceSet sources;
  std::FILE* stream = fmemopen(const_cast<char*>(text.data()), text.size(), "r");
  audit::audit_csv(stream, "t.csv", bench, nullptr, sources, findings);
  std::fclose(stream);
  return findings;
}

std::string shown(const FindingSink& sink) {
  std::string text;
  for (const Finding& finding : sink.findings()) text += std::string(finding.name) + ": " + finding.message + "\n";
  return text;
}

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  for (std::size_t begin = 0; begin < text.size();) {
    const std::size_t end = text.find('\n', begin);
    lines.push_back(text.substr(begin, end - begin));
    begin = end + 1;
  }
  return lines;
}

std::string joined(const std::vector<std::string>& lines) {
  std::string text;
  for (const std::string& line : lines) text += line + "\n";
  return text;
}

// The text of a row's field replaced.
std::string with_field(const std::string& row, int field, const std::string& value) {
  std::size_t begin = 0;
  for (int i = 0; i < field; ++i) begin = row.find(',', begin) + 1;
  const std::size_t end = row.find(',', begin);
  return row.substr(0, begin) + value + (end == std::string::npos ? "" : row.substr(end));
}

// Does one thing to a table that no supply could play.
std::string tampered(std::vector<std::string> lines, Random& random) {
  const auto at = static_cast<std::size_t>(random.number(1, static_cast<int>(lines.size()) - 1));
  std::string& row = lines[at];
  switch (random.number(0, 7)) {
    case 0:
      row = with_field(row, 2, "40.001");
      break;
    case 1:
      row = with_field(row, 2, "1.0005");
      break;
    case 2:
      row = with_field(row, 3, "5.010");
      break;
    case 3:
      row = with_field(row, 3, "0.0001");
      break;
    case 4:
      row = with_field(row, 0, "0.000300000");
      break;
    case 5:
      lines.insert(lines.begin() + static_cast<std::ptrdiff_t>(at), row);
      break;
    case 6:
      row = with_field(row, 1, "s9.ch9");
      break;
    default:
      row = with_field(row, 4, "2");
  }
  return joined(lines);
}

}  // namespace

// RAMPART_PAIRS asks for another number of pairs of a bench and a profile: 120,000 leave more than 10^5 that the checks
// let through.
TEST_CASE("what the checks let through, the audit lets through") {
  const char* wanted = std::getenv("RAMPART_PAIRS");
  const std::uint64_t pairs = wanted != nullptr ? std::strtoull(wanted, nullptr, 10) : 10'000;
  std::uint64_t passed = 0;
  for (std::uint64_t seed = 1; seed <= pairs; ++seed) {
    const Case made(seed);
    if (!made.table) continue;
    ++passed;
    for (const std::string* table : {&*made.table, &*made.instants}) {
      const FindingSink found = audited(*table, *made.bench);
      bool agree = !found.has_errors();
      // Power beyond what can be given is a warning on both sides.
      for (const char* name : {"power-envelope", "total-power"})
        agree = agree && (!Case::holds(found, name) || made.warns(name));
      if (agree) continue;
      const std::string story =
          std::to_string(seed) + "\n" + made.bench_text + made.profile_text + *table + shown(found);
      FAIL(story);
    }
  }
  MESSAGE(passed << " of " << pairs << " pairs were let through");
  // Enough of the pairs have to get this far for the test to mean something.
  CHECK(passed > pairs * 3 / 10);
}

namespace {

std::string replaced(std::string text, const std::string& from, const std::string& to) {
  for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; at += to.size()) {
    text.replace(at, from.size(), to);
  }
  return text;
}

// Each `repeat` as a `for`, which writes its passes out.
std::string written_out(std::string text) {
  const std::string head = "repeat ";
  int names = 0;
  for (std::size_t at = 0; (at = text.find(head, at)) != std::string::npos; ++at) {
    const std::size_t end = text.find(" {", at);
    const std::string count = text.substr(at + head.size(), end - at - head.size());
    text.replace(at, end - at, "for n" + std::to_string(++names) + " in 1 .. " + count + " step 1");
  }
  return text;
}

}  // namespace

// A slow evaluator to compare with: the same checks where nothing is left out, since nothing is a loop.
TEST_CASE("a loop is judged as its passes are when they are written out") {
  int differing_from_clean = 0;
  for (std::uint64_t seed = 1; seed <= 4'000; ++seed) {
    // Ten times as fast, so that many changes come too soon.
    const auto fast = [](const std::string& text) { return replaced(text, "00 ms", "0 ms"); };
    const Case folded(seed, fast);
    const Case unrolled(seed, [&](const std::string& text) { return written_out(fast(text)); });
    for (const char* name : {"step-too-short", "no-current-limit", "current-range", "coarse-ramp"}) {
      const bool found = Case::holds(unrolled.findings, name);
      differing_from_clean += found ? 1 : 0;
      CHECK_MESSAGE(Case::holds(folded.findings, name) == found,
                    (std::to_string(seed) + " " + name + "\n" + folded.bench_text + folded.profile_text));
    }
  }
  CHECK(differing_from_clean > 500);
}

TEST_CASE("a table that was tampered with is found out") {
  int tried = 0;
  for (std::uint64_t seed = 1; seed <= 4'000; ++seed) {
    const Case made(seed);
    // What is done to a row goes by its columns, without one for segments.
    if (!made.table || made.table->starts_with("segment")) continue;
    Random random(seed);
    const std::string text = tampered(lines_of(*made.table), random);
    const FindingSink found = audited(text, *made.bench);
    CHECK_MESSAGE(found.has_errors(), (made.bench_text + text));
    ++tried;
  }
  CHECK(tried > 500);
}

namespace {

// The same text with other blanks, comments and spellings of units.
std::string untidy(const std::string& text, std::uint64_t seed) {
  Random random(seed);
  std::string result;
  for (const char c : text) {
    if (c == ' ' && random.one_in(4)) result += random.one_in(2) ? "   " : "\t";
    if (c == '\n' && random.one_in(4)) result += random.one_in(2) ? "   # a note" : "\n";
    result += c;
  }
  return result;
}

std::string formatted(const std::string& text) {
  SourceSet sources;
  FindingSink findings;
  const FileId file = sources.add("p.ramp", text);
  const ast::Profile tree = parse(sources, file, findings);
  return format_profile(sources, file, tree);
}

}  // namespace

TEST_CASE("formatting changes no table, and what is formatted stays as it is") {
  for (std::uint64_t seed = 1; seed <= 1'000; ++seed) {
    const Case made(seed);
    std::string once;
    const Case again(seed, [&](const std::string& text) { return once = formatted(untidy(text, seed)); });
    REQUIRE_MESSAGE(formatted(once) == once, once);
    REQUIRE_MESSAGE(made.table == again.table, once);
  }
}
