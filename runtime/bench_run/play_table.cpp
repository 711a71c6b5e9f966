#include "runtime/bench_run/play_table.h"

#include <algorithm>
#include <exception>
#include <initializer_list>
#include <nlohmann/json.hpp>
#include <utility>

#include "lang/text/character.h"
#include "runtime/audit/table_row.h"

namespace rampart::bench_run {
namespace {

// Numbers as texts, so that each is exactly what the table says.
using Json = nlohmann::ordered_json;

// Thrown where the table is not what an audit lets through, and where the reader has enough.
struct Malformed {
  std::string what;
};
struct Enough {};

const Json& member(const Json& object, const char* key) {
  if (!object.is_object() || !object.contains(key)) throw Malformed{"the key `" + std::string(key) + "` is missing"};
  return object[key];
}

// Names and prompts go to a terminal and into the log, a line each. No profile can give them what is obeyed there.
std::string plain_text(const Json& value, const char* key) {
  if (!value.is_string()) throw Malformed{"`" + std::string(key) + "` is not a text"};
  std::string text = value.get<std::string>();
  if (visible_text(text) != text) throw Malformed{"`" + std::string(key) + "` holds a character that is not shown"};
  return text;
}

std::string text_of(const Json& object, const char* key) {
  return plain_text(member(object, key), key);
}

bool truth_of(const Json& object, const char* key) {
  const Json& value = member(object, key);
  if (!value.is_boolean()) throw Malformed{"`" + std::string(key) + "` is not true or false"};
  return value.get<bool>();
}

// The shortest decimal that reads as the same double is the one that was written: no number of a table has more digits
// than a double keeps.
std::optional<Rational> number_of(const Json& object, const char* key) {
  const Json& value = member(object, key);
  if (value.is_null()) return std::nullopt;
  const std::optional<audit::TableNumber> number =
      value.is_number() ? audit::read_json_number(value.dump()) : std::nullopt;
  if (!number) throw Malformed{"`" + std::string(key) + "` is not a number"};
  return number->value();
}

Rational needed_number(const Json& object, const char* key) {
  const std::optional<Rational> number = number_of(object, key);
  if (!number) throw Malformed{"`" + std::string(key) + "` has no value"};
  return *number;
}

Nanoseconds time_of(const Json& object, const char* key) {
  const std::optional<Nanoseconds> time = to_nanoseconds(needed_number(object, key));
  if (!time || *time < Nanoseconds::zero()) throw Malformed{"`" + std::string(key) + "` is not a time"};
  return *time;
}

std::vector<std::string> names_of(const Json& object, const char* key) {
  std::vector<std::string> names;
  for (const Json& name : member(object, key)) {
    names.push_back(plain_text(name, key));
  }
  return names;
}

TableRow row_of(const Json& json) {
  TableRow row;
  if (json.contains("channels")) throw Malformed{"its rows are instants, with all channels side by side"};
  row.name = text_of(json, "channel");
  row.voltage = number_of(json, "voltage_V");
  row.current = number_of(json, "current_A");
  // A limit of 0 says that none was set.
  if (row.current && row.current->sign() == 0) row.current.reset();
  if (!member(json, "output").is_null()) row.output = truth_of(json, "output");
  return row;
}

double double_of(const Json& object, const char* key) {
  const Json& value = member(object, key);
  if (!value.is_number()) throw Malformed{"`" + std::string(key) + "` is not a number"};
  return value.get<double>();
}

std::size_t choice_of(const Json& object, const char* key, std::initializer_list<std::string_view> words) {
  const std::string word = text_of(object, key);
  const auto found = std::find(words.begin(), words.end(), word);
  if (found == words.end()) throw Malformed{"`" + word + "` is not known in `" + std::string(key) + "`"};
  return static_cast<std::size_t>(found - words.begin());
}

ConditionStep step_of(const Json& json) {
  ConditionStep step;
  step.op = static_cast<ConditionOp>(choice_of(json, "op", {"compare", "and", "or", "not"}));
  if (step.op != ConditionOp::Compare) return step;
  step.constant = double_of(json, "constant");
  step.is_strict = truth_of(json, "strict");
  for (const Json& term : member(json, "terms")) {
    const std::size_t quantity = choice_of(term, "quantity", {"voltage", "current", "power", "slew"});
    if (quantity > static_cast<std::size_t>(Measured::Power))
      throw Malformed{"a wait for a slew rate cannot be measured"};
    step.terms.push_back({static_cast<Measured>(quantity), text_of(term, "rail"), double_of(term, "factor")});
  }
  return step;
}

// In postfix: each operator finds its operands, and one value is left.
void check_steps(const std::vector<ConditionStep>& steps) {
  std::size_t values = 0;
  for (const ConditionStep& step : steps) {
    const std::size_t taken = step.op == ConditionOp::Compare ? 0 : step.op == ConditionOp::Not ? 1 : 2;
    if (values < taken) throw Malformed{"the steps of a condition do not fit together"};
    values = values - taken + 1;
  }
  if (values != 1) throw Malformed{"the steps of a condition do not fit together"};
}

std::optional<TableWait> wait_of(const Json& json) {
  if (json.is_null()) return std::nullopt;
  TableWait wait;
  wait.within = time_of(json, "within_s");
  const std::string what = text_of(json, "await");
  if (what == "line") {
    wait.what = LineWait{text_of(json, "line"), truth_of(json, "high")};
  } else if (what == "condition") {
    ConditionWait condition{text_of(json, "condition"), {}};
    for (const Json& step : member(json, "steps")) condition.steps.push_back(step_of(step));
    check_steps(condition.steps);
    wait.what = std::move(condition);
  } else if (what == "operator") {
    wait.what = OperatorWait{text_of(json, "prompt")};
  } else {
    throw Malformed{"there is no wait for `" + what + "`"};
  }
  return wait;
}

TableChannel channel_of(const Json& json) {
  TableChannel channel;
  channel.channel = text_of(json, "channel");
  channel.rail = text_of(json, "rail");
  channel.remote_sense = text_of(json, "sense") == "remote";
  channel.is_linear = text_of(json, "interpolation") != "hold";
  channel.coupled = names_of(json, "coupled");
  const Json& protection = member(json, "protection");
  channel.overvoltage = number_of(protection, "overvoltage_V");
  if (const Json& fuse = member(protection, "fuse"); !fuse.is_null()) {
    channel.fuse = {needed_number(fuse, "delay_s"), number_of(fuse, "current_A"), names_of(fuse, "switches_off")};
  }
  if (const Json& overpower = member(protection, "overpower"); !overpower.is_null()) {
    channel.overpower = {needed_number(overpower, "power_W"), needed_number(overpower, "delay_s")};
  }
  return channel;
}

void collect_digests(const Json& json, std::vector<std::string>& digests) {
  if (json.is_object() && json.contains("sha256") && json["sha256"].is_string())
    digests.push_back(json["sha256"].get<std::string>());
  if (!json.is_structured()) return;
  for (const Json& inner : json) collect_digests(inner, digests);
}

void read_head(const Json& json, TableHead& head) {
  head.title = text_of(json, "title");
  head.origin = member(json, "origin").dump();
  collect_digests(member(json, "origin"), head.origin_digests);
  const Json& setup = member(json, "setup");
  for (const Json& rail : member(setup, "rails")) {
    const Json& arrangement = member(rail, "arrangement");
    head.rails.push_back({text_of(rail, "rail"), names_of(rail, "channels"), truth_of(rail, "reversed"),
                          arrangement.is_string() && arrangement.get<std::string>() == "series"});
  }
  for (const Json& channel : member(setup, "channels")) head.channels.push_back(channel_of(channel));
  for (const Json& line : member(setup, "lines")) {
    head.lines.push_back(
        {text_of(line, "line"), text_of(line, "name"), text_of(line, "role"), names_of(line, "rails")});
  }
}

// Takes the values of the document as they are complete. Rows and segments go on at once and are not kept.
class Reader {
 public:
  Reader(const std::function<bool(TableItem)>& take) : take_(take) {}

  // For the parser of the JSON library: false throws a value away.
  bool operator()(int depth, Json::parse_event_t event, Json& value) {
    using Event = Json::parse_event_t;
    constexpr int kInDocument = 1;
    constexpr int kSegment = 2;
    constexpr int kInSegment = 3;
    constexpr int kRow = 4;
    if (event == Event::key && depth == kInDocument) in_segments_ = value == "segments";
    if (!in_segments_) return true;
    if (event == Event::key && depth == kInSegment) key_ = value.get_ref<const std::string&>();
    if (is_list_of_objects() && ((depth == kInSegment && (event == Event::value || event == Event::object_start)) ||
                                 (depth == kRow && (event == Event::value || event == Event::array_start)))) {
      throw Malformed{"`" + key_ + "` is not a list of objects"};
    }
    if (event == Event::object_start && depth == kSegment) begin_segment();
    if (event == Event::value && depth == kInSegment && key_ == "segment") begin_.name = plain_text(value, "segment");
    if (event == Event::array_start && depth == kInSegment && key_ == "rows") give_begin();
    if (event == Event::object_end && depth == kRow && key_ == "rows") {
      take_row(value);
      return false;
    }
    if (event == Event::object_end && depth == kRow && (key_ == "marks" || key_ == "measurements")) {
      take_mark(value);
      return false;
    }
    if (event == Event::object_end && depth == kSegment) {
      end_segment(value);
      return false;
    }
    return true;
  }

 private:
  [[nodiscard]] bool is_list_of_objects() const { return key_ == "rows" || key_ == "marks" || key_ == "measurements"; }
  void begin_segment() {
    key_.clear();
    instant_ = {};
    begin_ = {};
    name_.clear();
  }
  void give_begin() {
    if (begin_.name.empty()) throw Malformed{"a segment has rows before its name"};
    name_ = begin_.name;
    give(std::exchange(begin_, {}));
  }
  void take_mark(const Json& json) {
    if (begin_.marks.size() + begin_.measurements.size() >= kMostMarks) {
      throw Malformed{"a segment has more than " + std::to_string(kMostMarks) + " marks and measurements"};
    }
    if (key_ == "marks") {
      begin_.marks.push_back({time_of(json, "time_s"), text_of(json, "name")});
    } else {
      begin_.measurements.push_back({time_of(json, "time_s"), text_of(json, "name"), time_of(json, "over_s")});
    }
  }
  void take_row(const Json& json) {
    const Nanoseconds time = time_of(json, "time_s");
    if (!instant_.rows.empty() && time != instant_.time) give_instant();
    instant_.time = time;
    instant_.rows.push_back(row_of(json));
  }
  void end_segment(const Json& json) {
    if (name_.empty()) throw Malformed{"a segment has no rows"};
    give_instant();
    give(SegmentEnd{name_, time_of(json, "duration_s"), wait_of(member(json, "then"))});
  }
  void give_instant() {
    if (!instant_.rows.empty()) give(std::move(instant_));
    instant_ = {};
  }
  void give(TableItem item) {
    if (!take_(std::move(item))) throw Enough{};
  }

  const std::function<bool(TableItem)>& take_;
  bool in_segments_ = false;
  std::string key_;
  SegmentBegin begin_;
  std::string name_;
  TableInstant instant_;
};

}  // namespace

std::string read_table(std::FILE* stream, TableHead& head, const std::function<bool(TableItem)>& take) {
  std::rewind(stream);
  Reader reader(take);
  try {
    const Json json = Json::parse(stream, std::ref(reader));
    read_head(json, head);
  } catch (const Enough&) {
    return {};
  } catch (const Malformed& wrong) {
    return wrong.what;
  } catch (const std::exception& wrong) {
    // From the JSON library, or no memory: an exception must not leave the thread that reads.
    return wrong.what();
  }
  return {};
}

TableItems::TableItems(std::FILE* stream) : thread_([this, stream] { read(stream); }) {}

TableItems::~TableItems() {
  {
    const std::lock_guard lock(mutex_);
    is_stopped_ = true;
  }
  changed_.notify_all();
  thread_.join();
}

void TableItems::read(std::FILE* stream) {
  TableHead head;
  std::string mistake = read_table(stream, head, [this](TableItem item) { return put(std::move(item)); });
  {
    const std::lock_guard lock(mutex_);
    mistake_ = std::move(mistake);
    is_over_ = true;
  }
  changed_.notify_all();
}

bool TableItems::put(TableItem item) {
  std::unique_lock lock(mutex_);
  changed_.wait(lock, [this] { return is_stopped_ || waiting_.size() < kMostWaiting; });
  if (is_stopped_) return false;
  waiting_.push_back(std::move(item));
  lock.unlock();
  changed_.notify_all();
  return true;
}

// A run that ends early asks while the other thread still reads the table.
std::string TableItems::mistake() {
  const std::lock_guard lock(mutex_);
  return mistake_;
}

std::optional<TableItem> TableItems::next() {
  std::unique_lock lock(mutex_);
  changed_.wait(lock, [this] { return is_over_ || !waiting_.empty(); });
  if (waiting_.empty()) return std::nullopt;
  TableItem item = std::move(waiting_.front());
  waiting_.pop_front();
  lock.unlock();
  changed_.notify_all();
  return item;
}

}  // namespace rampart::bench_run
