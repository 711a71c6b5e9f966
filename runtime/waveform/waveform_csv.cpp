#include "runtime/waveform/waveform_csv.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <string>

namespace rampart {
namespace {

constexpr std::size_t kChunk = std::size_t{64} * 1024;
constexpr int kTimeDecimals = 9;
constexpr int kMaxDecimals = 12;

// So many that the last one is far below the error.
int decimals_for(double error) {
  return std::clamp(static_cast<int>(std::ceil(-std::log10(error))) + 1, 0, kMaxDecimals);
}

void append_number(double value, int decimals, std::string& text) {
  char buffer[400];
  const auto end = std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::fixed, decimals).ptr;
  const std::string_view number(buffer, static_cast<std::size_t>(end - buffer));
  const bool is_nothing = number.find_first_not_of("-0.") == std::string_view::npos;
  text += is_nothing && number.front() == '-' ? number.substr(1) : number;
}

// The next sample of one rail.
struct Source {
  Source(const Rail& rail, const RailWaveform& waveform) : name(rail.name), cursor(waveform), next(cursor.next()) {
    for (const double error : waveform.error) decimals.push_back(decimals_for(error));
  }
  // Not a row that its rail has already: samples may be less apart than the digits show.
  void append_row(std::string& text) {
    row.clear();
    append_number(next->time, kTimeDecimals, row);
    row += ',';
    row += name;
    for (std::size_t i = 0; i < kWaveQuantities; ++i) {
      row += ',';
      append_number(next->values[i], decimals[i], row);
    }
    row += '\n';
    if (row == last_row) return;
    text += row;
    row.swap(last_row);
  }

  std::string name;
  WaveCursor cursor;
  std::optional<WaveSample> next;
  std::vector<int> decimals;
  std::string row;
  std::string last_row;
};

Source* earliest(std::vector<Source>& sources) {
  Source* first = nullptr;
  for (Source& source : sources) {
    if (source.next && (first == nullptr || source.next->time < first->next->time)) first = &source;
  }
  return first;
}

}  // namespace

std::optional<double> write_waveform_csv(const Profile& profile, const Waveforms& waveforms, TextSink& sink) {
  std::vector<Source> sources;
  for (const RailWaveform& rail : waveforms.rails) sources.emplace_back(profile[rail.rail], rail);
  std::string text = "time_s,rail,setpoint_V,limit_A,terminal_V,load_V,current_A,power_W\n";
  std::optional<double> left_out_from = waveforms.left_out_from;
  std::int64_t rows = 0;
  while (Source* source = earliest(sources)) {
    if (sink.failed() || (waveforms.left_out_from && source->next->time > *waveforms.left_out_from)) break;
    if (rows++ == kMaxWaveformRows) {
      left_out_from = source->next->time;
      break;
    }
    source->append_row(text);
    source->next = source->cursor.next();
    if (text.size() < kChunk) continue;
    sink.write(text);
    text.clear();
  }
  sink.write(text);
  return left_out_from;
}

}  // namespace rampart
