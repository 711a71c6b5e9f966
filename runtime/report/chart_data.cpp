#include <cmath>
#include <map>
#include <nlohmann/json.hpp>
#include <tuple>

#include "runtime/report/packed_numbers.h"
#include "runtime/report/sections.h"

namespace rampart::report {
namespace {

using Json = nlohmann::ordered_json;

// Values are written as whole multiples of this share of the error that a rail's samples have.
constexpr double kQuantumShare = 0.1;
constexpr std::size_t kMaxEvents = 2'000;

class ChartData {
 public:
  explicit ChartData(const Subject& subject) : subject_(subject) {}

  [[nodiscard]] Json write() {
    const Waveforms& waveforms = *subject_.answer.predictions.waveforms;
    Json rails = Json::array();
    for (const RailWaveform& rail : waveforms.rails) rails.push_back(write(rail));
    Json document;
    document["simulated"] = subject_.simulation != nullptr;
    document["rails"] = std::move(rails);
    document["events"] = events();
    document["excursions"] = excursions();
    document["statements"] = statements_;
    document["left_out_from"] = waveforms.left_out_from ? Json(*waveforms.left_out_from) : Json(nullptr);
    return document;
  }

 private:
  [[nodiscard]] Json write(const RailWaveform& rail) {
    WaveValues quantum{};
    for (std::size_t i = 0; i < kWaveQuantities; ++i) quantum[i] = kQuantumShare * rail.error[i];
    return {{"name", subject_.profile[rail.rail].name},
            {"quantum", quantum},
            {"thresholds", thresholds(subject_.profile[rail.rail])},
            {"nodes", write(rail.nodes, quantum)},
            {"measured", measured(rail.rail, quantum)}};
  }

  // Readings, each [parts, ns since the one before, ns that it takes, least and greatest of each part]; of parts 1 is
  // the voltage, 2 the current and 4 the power. Null where there are no logs.
  [[nodiscard]] Json measured(RailId rail, const WaveValues& quantum) const {
    const as_run::AsRun* as_run = subject_.as_run();
    const auto index = static_cast<std::size_t>(rail);
    if (as_run == nullptr || index >= as_run->curves.size()) return nullptr;
    PackedNumbers numbers;
    std::int64_t last = 0;
    for (const as_run::MeasuredPoint& point : as_run->curves[index]) {
      const std::int64_t from = std::llround(point.from_s * 1e9);
      numbers.add((point.volts ? 1 : 0) + (point.amps ? 2 : 0) + (point.watts ? 4 : 0));
      numbers.add(from - last);
      numbers.add(std::llround(point.to_s * 1e9) - from);
      last = from;
      const auto add = [&](const std::optional<as_run::Band>& band, WaveQuantity quantity) {
        if (!band) return;
        const double size = quantum[static_cast<std::size_t>(quantity)];
        numbers.add(std::llround(band->low / size));
        numbers.add(std::llround((band->high - band->low) / size));
      };
      add(point.volts, WaveQuantity::TerminalVoltage);
      add(point.amps, WaveQuantity::Current);
      add(point.watts, WaveQuantity::Power);
    }
    return numbers.text();
  }

  // Excursions, to be marked where they are, numbered as in the section of the run.
  [[nodiscard]] Json excursions() const {
    Json list = Json::array();
    const as_run::AsRun* as_run = subject_.as_run();
    if (as_run == nullptr) return list;
    std::size_t number = 0;
    for (const as_run::Excursion& one : as_run->excursions) {
      ++number;
      list.push_back({{"rail", static_cast<std::uint32_t>(one.rail)},
                      {"on", one.quantity == as_run::Measured::Voltage ? "voltage" : "current"},
                      {"from", one.from.run_s},
                      {"to", one.to.run_s},
                      {"words", "E" + std::to_string(number)}});
    }
    return list;
  }

  // Lines to draw: quantity, level, words.
  static Json thresholds(const Rail& rail) {
    const Protection& protection = rail.protection;
    // Told as a magnitude; the courses of a reversed rail are negative.
    const double sign = rail.reversed ? -1 : 1;
    Json lines = Json::array();
    const auto add = [&](const char* quantity, double level, const std::string& words) {
      lines.push_back({{"on", quantity}, {"level", level}, {"words", words}});
    };
    if (protection.ceiling) {
      add("voltage", sign * std::abs(protection.ceiling->value.to_double()),
          "ceiling " + to_text(protection.ceiling->value));
    }
    if (protection.overvoltage) {
      add("voltage", sign * std::abs(protection.overvoltage->value.to_double()),
          "overvoltage " + to_text(protection.overvoltage->value));
    }
    if (protection.fuse && protection.fuse->current) {
      add("current", protection.fuse->current->value.to_double(), "fuse " + to_text(protection.fuse->current->value));
    }
    if (protection.overpower) {
      add("power", protection.overpower->power.value.to_double(),
          "overpower " + to_text(protection.overpower->power.value));
    }
    return lines;
  }

  // A stretch: [begin, length, statement, limited, samples]; passes: [begin, length, count, period, nodes, "passes"]; a
  // band: [begin, length, statement, limited, least, greatest, mean and deviation, "band"].
  [[nodiscard]] Json write(const std::vector<WaveNode>& nodes, const WaveValues& quantum) {
    Json list = Json::array();
    for (const WaveNode& node : nodes) {
      if (const auto* repeat = std::get_if<WaveRepeat>(&node.what)) {
        list.push_back(
            {node.begin, node.length, repeat->count, repeat->period, write(repeat->body, quantum), "passes"});
      } else if (const auto* band = std::get_if<WaveBand>(&node.what)) {
        list.push_back(
            {node.begin, node.length, index_of(band->statement), band->limited ? 1 : 0,
             packed({{0, node.range.low}, {0, node.range.high}, {0, band->mean}, {0, band->deviation}}, quantum),
             "band"});
      } else {
        const auto& stretch = std::get<WaveStretch>(node.what);
        list.push_back({node.begin, node.length, index_of(stretch.statement), stretch.limited ? 1 : 0,
                        packed(stretch.samples, quantum)});
      }
    }
    return list;
  }

  // Whole numbers, each the step from the sample before: ns, then multiples of the quanta.
  static Json packed(const std::vector<WaveSample>& samples, const WaveValues& quantum) {
    PackedNumbers numbers;
    std::int64_t last_time = 0;
    std::array<std::int64_t, kWaveQuantities> last{};
    for (const WaveSample& sample : samples) {
      const std::int64_t time = std::llround(sample.time * 1e9);
      numbers.add(time - last_time);
      last_time = time;
      for (std::size_t i = 0; i < kWaveQuantities; ++i) {
        const std::int64_t value = std::llround(sample.values[i] / quantum[i]);
        numbers.add(value - last[i]);
        last[i] = value;
      }
    }
    return numbers.text();
  }

  // The place of a statement in the list of [element id of its line, its line]; -1 for none.
  [[nodiscard]] std::int64_t index_of(const Span& span) {
    if (span.end <= span.begin) return -1;
    const auto key = std::tuple(span.file, span.begin, span.end);
    const auto [known, is_new] = known_.try_emplace(key, static_cast<std::int64_t>(statements_.size()));
    if (is_new) {
      const std::uint32_t line = subject_.line_number(span);
      statements_.push_back({subject_.line_id(span.file, line), line});
    }
    return known->second;
  }

  [[nodiscard]] Json events() {
    Json list = Json::array();
    if (subject_.charted() == nullptr) return list;
    for (const Event& event : subject_.charted()->events) {
      if (!row_of(event.kind).is_charted || list.size() >= kMaxEvents) continue;
      list.push_back({{"time", event.time_s},
                      {"rail", event.rail ? Json(static_cast<std::uint32_t>(*event.rail)) : Json(nullptr)},
                      {"kind", row_of(event.kind).name},
                      {"words", words_of(event)}});
    }
    return list;
  }

  [[nodiscard]] std::string words_of(const Event& event) const {
    if (event.kind == EventKind::Mark) return event.mark;
    if (!event.part.empty()) return event.part + " " + std::string(row_of(event.kind).verb);
    if (event.line) {
      return subject_.profile[*event.line].name + (event.kind == EventKind::LineHigh ? " high" : " low");
    }
    if (event.kind == EventKind::Trip) {
      const std::optional<Trip>& trip = subject_.charted()->rails[static_cast<std::size_t>(*event.rail)].trip;
      return "trip: " + std::string(trip ? trip_cause_words(trip->cause) : "");
    }
    return std::string(row_of(event.kind).name);
  }

  const Subject& subject_;
  std::map<std::tuple<FileId, std::uint32_t, std::uint32_t>, std::int64_t> known_;
  Json statements_ = Json::array();
};

}  // namespace

std::string chart_data(const Subject& subject) {
  const std::string document = ChartData(subject).write().dump(-1, ' ', false, Json::error_handler_t::replace);
  // No text of the document can end the element it stands in.
  std::string safe;
  safe.reserve(document.size());
  for (const char c : document) {
    if (c == '<') {
      safe += "\\u003c";
    } else {
      safe += c;
    }
  }
  return safe;
}

}  // namespace rampart::report
