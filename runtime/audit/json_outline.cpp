#include "runtime/audit/json_outline.h"

#include <nlohmann/json.hpp>

#include "runtime/audit/json_source.h"

namespace rampart::audit {
namespace {

using Json = nlohmann::json;

class OutlineEvents {
 public:
  OutlineEvents(Record& record, SegmentNames& names) : record_(record), names_(names) {}

  bool null() { return true; }
  bool boolean(bool) { return true; }
  bool number_integer(Json::number_integer_t value) { return number(std::to_string(value)); }
  bool number_unsigned(Json::number_unsigned_t value) { return number(std::to_string(value)); }
  bool number_float(Json::number_float_t, const std::string& text) { return number(text); }
  bool binary(Json::binary_t&) { return true; }
  bool string(std::string& value) {
    if (!in_segments_) record_.text(value);
    if (in_segments_ && depth_ == kInSegment && key_ == "segment" && rows_first_ && names_.size() < kMaxRecorded) {
      names_[count_ - 1] = value;
    }
    return true;
  }
  bool key(std::string& value) {
    if (!in_segments_) record_.key(value);
    if (depth_ <= kInSegment) key_ = std::move(value);
    return true;
  }
  bool start_object(std::size_t) {
    if (in_segments_ && depth_ + 1 == kInSegment) {
      ++count_;
      rows_first_ = false;
    }
    return open(true);
  }
  bool start_array(std::size_t) {
    if (depth_ == 1 && key_ == "segments") in_segments_ = true;
    if (in_segments_ && depth_ == kInSegment && key_ == "rows") rows_first_ = true;
    return open(false);
  }
  bool end_object() { return close(); }
  bool end_array() { return close(); }
  bool parse_error(std::size_t, const std::string&, const Json::exception&) { return false; }

 private:
  // The document, its segments, one of them.
  static constexpr std::size_t kInSegment = 3;

  bool number(const std::string& text) {
    if (!in_segments_) record_.number(text);
    return true;
  }
  bool open(bool is_object) {
    if (!in_segments_) record_.open(is_object);
    return ++depth_ < kMaxDepth;
  }
  bool close() {
    --depth_;
    if (in_segments_ && depth_ == 1) {
      in_segments_ = false;
    } else if (!in_segments_) {
      record_.close();
    }
    return true;
  }

  RecordBuilder record_;
  SegmentNames& names_;
  std::size_t depth_ = 0;
  std::size_t count_ = 0;  // of segments
  std::string key_;
  bool in_segments_ = false;
  bool rows_first_ = false;
};

}  // namespace

Record read_outline(std::FILE* stream, SegmentNames& names) {
  Record record;
  JsonSource source(stream);
  OutlineEvents events(record, names);
  static_cast<void>(Json::sax_parse(source.begin(), JsonSource::end(), &events));
  return record;
}

}  // namespace rampart::audit
