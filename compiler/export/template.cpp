#include "compiler/export/template.h"

#include <algorithm>
#include <map>

#include "compiler/export/segments.h"
#include "compiler/export/template_fields.h"
#include "compiler/table/setup.h"
#include "lang/findings/tables.h"

namespace rampart {
namespace {

std::optional<Rational> seconds(Nanoseconds time) {
  return to_seconds(time);
}
std::optional<Rational> milliseconds(Nanoseconds time) {
  return to_seconds(time) * Rational(1000);
}

template <class Value>
std::optional<Rational> si_of(const std::optional<Value>& value) {
  return value ? std::optional<Rational>(value->si) : std::nullopt;
}

std::string interpolation_name(const Bench& bench, ChannelId channel) {
  return bench.supply_of(channel).timing.interpolation == Interpolation::Hold ? "hold" : "linear";
}

std::string written(const std::string& name, const std::string& format) {
  return "{" + name + (format.empty() ? "" : ":") + format + "}";
}

// A field that would have to be rounded.
struct InexactField {
  TemplatePart part{};
  std::string name;
  InexactNumber number;
};

// Puts the values of a table into the parts of a template.
class TemplateWriter {
 public:
  TemplateWriter(const TableTemplate& text, const Table& run, const Origin& origin, TextSink& sink)
      : template_(text), run_(run), origin_(origin), lines_(line_names(run)), buffer_(sink) {
    for (const RailSetup& rail : run.rails()) {
      for (const ChannelId channel : rail.members) rails_[channel] = run.profile()[rail.rail].name;
    }
  }

  void write_document(TemplatePart part) {
    add(part, {{"title", run_.profile().title}, {"profile", origin_.profile.name}, {"version", origin_.version}});
  }

  void write_setup() {
    for (const ChannelSetup& setup : channel_setups(run_)) {
      const std::string coupled = names(setup.coupled);
      std::string linked;
      std::optional<Rational> fuse_delay;
      std::optional<Rational> fuse_current;
      if (setup.fuse) {
        fuse_delay = seconds(setup.fuse->delay);
        fuse_current = si_of(setup.fuse->current);
        linked = names(setup.fuse->linked);
      }
      add(TemplatePart::Setup, {{"channel", run_.bench()[setup.channel].name},
                                {"rail", run_.profile()[setup.rail].name},
                                {"sense", std::string(setup.remote_sense ? "remote" : "local")},
                                {"overvoltage_V", si_of(setup.overvoltage)},
                                {"fuse_s", fuse_delay},
                                {"fuse_A", fuse_current},
                                {"overpower_W", si_of(setup.overpower)},
                                {"overpower_s", setup.overpower ? seconds(setup.overpower_delay) : std::nullopt},
                                {"linked", linked},
                                {"coupled", coupled},
                                {"interpolation", interpolation_name(run_.bench(), setup.channel)}});
    }
    for (std::size_t i = 0; i < lines_.size(); ++i) {
      const Line& line = run_.profile().lines[i];
      std::string rails;
      for (const RailId rail : line.rails) rails += (rails.empty() ? "" : " ") + run_.profile()[rail].name;
      add(TemplatePart::Role, {{"line", lines_[i]},
                               {"name", line.name},
                               {"direction", std::string(line.is_output ? "output" : "input")},
                               {"role", std::string(line_role(line))},
                               {"rails", rails}});
    }
  }

  [[nodiscard]] std::string names(const std::vector<ChannelId>& channels) const {
    std::string text;
    for (const ChannelId id : channels) text += (text.empty() ? "" : " ") + run_.bench()[id].name;
    return text;
  }
  [[nodiscard]] bool keep_going() { return buffer_.keep_going(); }

  void begin_segment(const std::string& name) {
    segment_ = name;
    last_time_ = Nanoseconds{0};
    add(TemplatePart::Segment, {{"segment", segment_}});
  }

  void row(const Row& row) {
    const OutputLimits& limits = run_.bench()[row.channel].limits;
    TemplateValues fields = fields_at(row.time);
    fields.push_back({"channel", run_.bench()[row.channel].name});
    fields.push_back({"rail", rails_[row.channel]});
    fields.push_back({"voltage_V", value_of(row.known.voltage, row.voltage, limits.voltage_resolution.si)});
    fields.push_back({"current_A", value_of(row.known.limit, row.current, limits.current_resolution.si)});
    fields.push_back({"output", row.known.output ? std::optional<bool>(row.output) : std::nullopt});
    fields.push_back({"interpolation", interpolation_name(run_.bench(), row.channel)});
    add(TemplatePart::Row, fields);
  }

  void row(const LineRow& row) {
    const auto index = static_cast<std::size_t>(row.line);
    TemplateValues fields = fields_at(row.time);
    fields.push_back({"line", lines_[index]});
    fields.push_back({"name", run_.profile().lines[index].name});
    fields.push_back({"level", std::optional<bool>(row.high)});
    add(TemplatePart::Line, fields);
  }

  void row(const MarkReached& mark) {
    if (!template_[TemplatePart::Mark]) return;  // nor does it count as a row
    TemplateValues fields = fields_at(mark.time);
    fields.push_back({"name", std::string(mark.name)});
    add(TemplatePart::Mark, fields);
  }

  void row(const MeasurementDue& due) {
    TemplateValues fields = fields_at(due.time);
    fields.push_back({"name", due.measurement->name});
    fields.push_back({"over_s", seconds(due.measurement->over)});
    fields.push_back({"over_ms", milliseconds(due.measurement->over)});
    add(TemplatePart::Measure, fields);
  }

  void end_segment(const SegmentEnded& end) {
    if (end.await == nullptr) return;
    std::string kind = "operator";
    std::string what;
    if (const auto* line = std::get_if<AwaitLine>(&end.await->what)) {
      kind = line->high ? "high" : "low";
      what = lines_[static_cast<std::size_t>(line->line)];
    } else if (const auto* condition = std::get_if<AwaitCondition>(&end.await->what)) {
      kind = "condition";
      what = condition_text(run_.profile(), run_.profile().conditions[condition->condition]);
    } else {
      what = std::get<AwaitOperator>(end.await->what).prompt;
    }
    add(TemplatePart::Wait, {{"segment", segment_},
                             {"duration_s", seconds(end.time)},
                             {"kind", kind},
                             {"what", what},
                             {"within_s", seconds(end.await->within)}});
  }

 private:
  static std::optional<Rational> value_of(bool known, std::int64_t counts, const Rational& resolution) {
    return known ? std::optional<Rational>(Rational(counts) * resolution) : std::nullopt;
  }

  // What rows of channels and lines have in common; waits count from the row before.
  TemplateValues fields_at(Nanoseconds time) {
    TemplateValues fields{{"number", ++number_},
                          {"segment", segment_},
                          {"time_s", seconds(time)},
                          {"time_ms", milliseconds(time)},
                          {"wait_s", seconds(time - last_time_)},
                          {"wait_ms", milliseconds(time - last_time_)}};
    last_time_ = time;
    return fields;
  }

  void add(TemplatePart part, const TemplateValues& fields) {
    if (!template_[part]) return;
    try {
      buffer_.text() += fill_in(*template_[part], fields);
    } catch (InexactNumber& number) {
      throw InexactField{part, name_of(number, *template_[part], fields), std::move(number)};
    }
  }

  // The first field that has this value and is written like this.
  static std::string name_of(const InexactNumber& number, const std::string& text, const TemplateValues& fields) {
    for (const TemplateValue& field : fields) {
      const auto* value = std::get_if<std::optional<Rational>>(&field.value);
      const bool is_it = value != nullptr && *value && **value == number.value &&
                         text.find(written(field.name, number.format)) != std::string::npos;
      if (is_it) return field.name;
    }
    return {};
  }

  const TableTemplate& template_;
  const Table& run_;
  const Origin& origin_;
  std::vector<std::string> lines_;
  std::map<ChannelId, std::string> rails_;
  std::string segment_;
  Nanoseconds last_time_{0};
  std::int64_t number_ = 0;
  TextBuffer buffer_;
};

// Takes a text that is not wanted.
class NoSink : public TextSink {
 public:
  void write(std::string_view) override {}
  [[nodiscard]] bool failed() const override { return false; }
};

// Notes which parts a table would need.
struct NeededParts {
  bool lines = false;
  bool waits = false;
  bool measures = false;
  [[nodiscard]] bool keep_going() const { return !lines || !waits || !measures; }
  // What a pass needs all that are like it need.
  [[nodiscard]] static bool took() { return false; }
  void begin_segment(const std::string&) {}
  void row(const Row&) {}
  void row(const LineRow&) { lines = true; }
  void row(const MarkReached&) {}
  void row(const MeasurementDue&) { measures = true; }
  void end_segment(const SegmentEnded& end) { waits = waits || end.await != nullptr; }
};

// On a `linear` supply a row is where a straight run begins: whoever takes it for a setting makes a jump of it.
std::string missing_course(const TableTemplate& text, const Table& run) {
  for (const TemplatePart part : {TemplatePart::Setup, TemplatePart::Row}) {
    if (text[part] && text[part]->find("{interpolation") != std::string::npos) return {};
  }
  for (const ChannelId channel : driven_channels(run)) {
    if (run.bench().supply_of(channel).timing.interpolation == Interpolation::Hold) continue;
    return "channel `" + run.bench()[channel].name +
           "` moves along straight lines between rows, but the template has no `{interpolation}` in [setup] or [row]";
  }
  return {};
}

}  // namespace

std::string missing_part(const TableTemplate& text, const Table& run, const Table* safe) {
  NeededParts needed;
  walk_segments(run, safe, needed);
  if (needed.lines && !text[TemplatePart::Line])
    return "the profile drives trigger lines, but the template has no [line]";
  if (needed.measures && !text[TemplatePart::Measure]) {
    return "the profile takes readings, but the template has no [measure]";
  }
  if (needed.waits && !text[TemplatePart::Wait]) return "the profile waits, but the template has no [wait]";
  if (safe != nullptr && !text[TemplatePart::Segment]) {
    return "the profile has a `safe` block, but the template has no [segment] to separate it from the run";
  }
  const std::vector<Line>& lines = run.profile().lines;
  const bool has_roles =
      std::any_of(lines.begin(), lines.end(), [](const Line& line) { return line.trigger != LineTrigger::None; });
  if (has_roles && text[TemplatePart::Setup] && !text[TemplatePart::Role]) {
    return "lines of the profile act by themselves, but the template has [setup] without [role]";
  }
  return missing_course(text, run);
}

void check_exact(const TableTemplate& text, const Table& run, const Table* safe, FindingSink& findings) {
  NoSink sink;
  try {
    write_template(text, run, safe, Origin{}, sink);
  } catch (const InexactField& field) {
    const auto part = static_cast<std::size_t>(field.part);
    const std::string place = written(field.name, field.number.format);
    const auto begin = static_cast<std::uint32_t>(text.begins[part] + text.parts[part]->find(place));
    const std::optional<std::string> value = exact_decimal(field.number.value);
    findings
        .report(finding::TemplateInexact, Span{text.file, begin, begin + static_cast<std::uint32_t>(place.size())},
                field.name, value ? *value : "not a decimal number", place)
        .hint(value ? "write `{" + field.name + "}`: without a precision a number has as many digits as it needs"
                    : "give the profile a value that is a decimal number");
  }
}

void write_template(const TableTemplate& text, const Table& run, const Table* safe, const Origin& origin,
                    TextSink& sink) {
  TemplateWriter writer(text, run, origin, sink);
  writer.write_document(TemplatePart::Header);
  writer.write_setup();
  walk_segments(run, safe, writer);
  writer.write_document(TemplatePart::Footer);
}

}  // namespace rampart
