#include "compiler/yaml/yaml_document.h"

#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/parser.h>

#include <algorithm>
#include <map>
#include <sstream>

#include "compiler/yaml/file_text.h"
#include "lang/findings/files.h"

namespace rampart {
namespace {

constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";

// Thrown through the YAML parser once a finding has been reported that ends the reading.
struct Refused {};

// Builds the tree from the parser's events, without recursion.
class TreeBuilder : public YAML::EventHandler {
 public:
  // `shift` is how many bytes of `text` the parser does not see.
  TreeBuilder(std::string_view text, FileId file, std::uint32_t shift, FindingSink& findings)
      : text_(text), file_(file), shift_(shift), findings_(findings) {}

  void OnDocumentStart(const YAML::Mark& mark) override {
    if (++documents_ == 1) return;
    findings_.report(finding::FileSeveralDocuments, span_at(mark, 3))
        .hint("put the second document in a file of its own");
    throw Refused{};
  }
  void OnDocumentEnd() override {}
  void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override {
    refuse_decoration(mark, "?", anchor);
    if (joins_decimal_comma()) return;
    YamlNode node;
    const bool is_value = !open_.empty() && open_.back().has_key;
    node.span = is_value ? open_.back().key_span : span_at(mark, 1);
    add(std::move(node));
  }
  void OnAlias(const YAML::Mark& mark, YAML::anchor_t) override { refuse_decoration(mark, "?", 1); }
  void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                const std::string& value) override {
    refuse_decoration(mark, tag, anchor);
    add(text_node(mark, value, tag == "!"));
  }
  void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                       YAML::EmitterStyle::value style) override {
    refuse_decoration(mark, tag, anchor);
    open(mark, YamlKind::List, style);
  }
  void OnSequenceEnd() override { close(']'); }
  void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                  YAML::EmitterStyle::value style) override {
    refuse_decoration(mark, tag, anchor);
    open(mark, YamlKind::Map, style);
  }
  void OnMapEnd() override {
    drop_duplicates(open_.back().node);
    close('}');
  }

  [[nodiscard]] bool has_document() const { return documents_ > 0; }
  [[nodiscard]] YamlNode take() { return std::move(root_); }
  [[nodiscard]] Span span_at(const YAML::Mark& mark, std::uint32_t length) const {
    const auto size = static_cast<std::uint32_t>(text_.size());
    const std::uint32_t begin = mark.pos < 0 ? 0 : std::min(static_cast<std::uint32_t>(mark.pos) + shift_, size);
    return {file_, begin, std::min(begin + length, size)};
  }

 private:
  struct OpenNode {
    YamlNode node;
    bool flow = false;
    bool has_key = false;
    std::string key;
    Span key_span;
  };

  void refuse_decoration(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor) {
    const bool tagged = !tag.empty() && tag != "?" && tag != "!";
    if (anchor != 0) {
      findings_.report(finding::FileAnchor, span_at(mark, 1))
          .hint("write the value again; a channel can use `like: ch1`");
      throw Refused{};
    }
    if (tagged) {
      findings_.report(finding::FileTag, span_at(mark, 1))
          .hint("remove the tag: the type of a value follows from its key");
      throw Refused{};
    }
  }

  // `{power: 24,5 W}` reads as a value `24` and a key `5 W`: no key begins with a digit, so a decimal comma is meant.
  bool joins_decimal_comma() {
    if (open_.empty() || !open_.back().has_key || !open_.back().flow || open_.back().node.entries.empty()) return false;
    OpenNode& map = open_.back();
    YamlNode& value = map.node.entries.back().value;
    const auto is_digit = [](char c) { return c >= '0' && c <= '9'; };
    const bool joined = value.kind == YamlKind::Text && value.verbatim && map.key_span.begin == value.span.end + 1 &&
                        text_[value.span.end] == ',' && is_digit(text_[value.span.end - 1]) &&
                        is_digit(map.key.front());
    if (!joined) return false;
    const std::size_t number = value.text.find_last_not_of("0123456789") + 1;
    const Span place{file_, value.text_begin + static_cast<std::uint32_t>(number), map.key_span.end};
    findings_.report(finding::FileDecimalComma, place, shown_text(text_.substr(place.begin, place.end - place.begin)))
        .hint("write a decimal point, not a comma: `" + shown_text(value.text.substr(number) + "." + map.key) + "`");
    value.text += "." + map.key;
    value.verbatim = false;
    map.has_key = false;
    return true;
  }

  YamlNode text_node(const YAML::Mark& mark, const std::string& value, bool quoted) {
    if (value.size() > kMaxYamlTextBytes) {
      findings_.report(finding::FileTextTooLong, span_at(mark, 1), static_cast<std::int64_t>(kMaxYamlTextBytes));
      throw Refused{};
    }
    YamlNode node;
    node.kind = YamlKind::Text;
    node.text = value;
    node.span = span_at(mark, 1);
    node.text_begin = node.span.begin + (quoted ? 1 : 0);
    node.verbatim = text_.substr(std::min<std::size_t>(node.text_begin, text_.size())).starts_with(value);
    node.span.end = quoted ? quoted_end(node.span.begin) : plain_end(node);
    // check_file_text() refuses these characters in the file itself; an escape in quotes, `\u202E`, still makes one.
    if (quoted && has_hidden(value)) {
      findings_.report(finding::FileControlCharacter, node.span).hint("remove it");
      throw Refused{};
    }
    return node;
  }

  std::uint32_t line_end(std::uint32_t begin) const {
    std::size_t end = std::min(text_.find_first_of("\r\n", begin), text_.size());
    while (end > begin + 1 && text_[end - 1] == ' ') --end;
    return static_cast<std::uint32_t>(end);
  }
  // A text over several lines is shown by its first one.
  std::uint32_t plain_end(const YamlNode& node) const {
    if (node.verbatim) return node.text_begin + static_cast<std::uint32_t>(node.text.size());
    return line_end(node.span.begin);
  }
  std::uint32_t quoted_end(std::uint32_t begin) const {
    const char quote = text_[begin];
    if (quote != '"' && quote != '\'') return line_end(begin);
    for (std::size_t i = begin + 1; i < text_.size(); ++i) {
      if (quote == '"' && text_[i] == '\\') {
        ++i;
      } else if (text_[i] == quote) {
        const bool doubled = quote == '\'' && i + 1 < text_.size() && text_[i + 1] == '\'';
        if (!doubled) return static_cast<std::uint32_t>(i + 1);
        ++i;
      }
    }
    // The parser takes the end of the file for the closing quote.
    findings_.report(finding::FileNotYaml, {file_, begin, begin + 1}, "end of quoted text not found")
        .hint("close the quotes");
    throw Refused{};
  }

  void open(const YAML::Mark& mark, YamlKind kind, YAML::EmitterStyle::value style) {
    if (open_.size() >= kMaxYamlDepth) {
      findings_.report(finding::FileTooDeep, span_at(mark, 1), static_cast<std::int64_t>(kMaxYamlDepth));
      throw Refused{};
    }
    OpenNode node;
    node.node.kind = kind;
    node.node.span = span_at(mark, 1);
    node.flow = style == YAML::EmitterStyle::Flow;
    open_.push_back(std::move(node));
  }

  // Events give no place for an end: the last part's end is the end, and after it a closing bracket.
  void close(char bracket) {
    OpenNode closed = std::move(open_.back());
    open_.pop_back();
    Span& span = closed.node.span;
    for (const YamlNode& item : closed.node.items) span.end = std::max(span.end, item.span.end);
    for (const YamlEntry& entry : closed.node.entries) {
      span.end = std::max({span.end, entry.key_span.end, entry.value.span.end});
    }
    if (closed.flow) {
      const std::size_t next = text_.find_first_not_of(" \t\r\n,:", span.end);
      if (next < text_.size() && text_[next] == bracket) span.end = static_cast<std::uint32_t>(next + 1);
    }
    add(std::move(closed.node));
  }

  void add(YamlNode node) {
    if (++nodes_ > kMaxYamlNodes) {
      findings_.report(finding::FileTooManyValues, node.span, static_cast<std::int64_t>(kMaxYamlNodes));
      throw Refused{};
    }
    if (open_.empty()) {
      root_ = std::move(node);
      return;
    }
    OpenNode& parent = open_.back();
    if (parent.node.kind == YamlKind::List) {
      parent.node.items.push_back(std::move(node));
    } else if (parent.has_key) {
      parent.node.entries.push_back({std::move(parent.key), parent.key_span, std::move(node)});
      parent.has_key = false;
    } else if (node.kind == YamlKind::Text) {
      parent.key = std::move(node.text);
      parent.key_span = node.span;
      parent.has_key = true;
    } else {
      findings_.report(finding::FileBadKey, node.span).hint("write `key: value`");
      throw Refused{};
    }
  }

  void drop_duplicates(YamlNode& map) {
    std::map<std::string_view, Span> seen;
    std::vector<bool> repeated;
    for (const YamlEntry& entry : map.entries) {
      const auto [first, is_new] = seen.emplace(entry.key, entry.key_span);
      repeated.push_back(!is_new);
      if (is_new) continue;
      findings_.report(finding::DuplicateKey, entry.key_span, shown_text(entry.key))
          .note(finding::FirstGivenHere, first->second)
          .hint("keep one of the two");
    }
    if (std::find(repeated.begin(), repeated.end(), true) == repeated.end()) return;
    std::vector<YamlEntry> kept;
    for (std::size_t i = 0; i < repeated.size(); ++i) {
      if (!repeated[i]) kept.push_back(std::move(map.entries[i]));
    }
    map.entries = std::move(kept);
  }

  std::string_view text_;
  FileId file_;
  std::uint32_t shift_;
  FindingSink& findings_;
  int documents_ = 0;
  std::size_t nodes_ = 0;
  std::vector<OpenNode> open_;
  YamlNode root_;
};

// A stretch of the text without the blanks around it.
struct Stretch {
  std::size_t begin = 0;
  std::size_t end = 0;
};

Stretch line_around(std::string_view text, std::size_t at) {
  Stretch line;
  line.begin = at == 0 ? 0 : text.rfind('\n', at - 1) + 1;
  line.end = std::min(text.find('\n', line.begin), text.size());
  return line;
}

// The key and value of a line that has both and no `:` between them; empty for all other lines.
std::optional<Stretch> line_without_colon(std::string_view text, const Stretch& line) {
  const auto is_blank = [](char c) { return c == ' ' || c == '\t' || c == '\r'; };
  Stretch words = line;
  while (words.begin < words.end && is_blank(text[words.begin])) ++words.begin;
  const std::string_view content = text.substr(words.begin, words.end - words.begin);
  words.end = words.begin + std::min(content.find(" #"), content.size());
  const std::size_t key_end = text.find_first_of("{[\"'", words.begin);
  while (words.end > words.begin && is_blank(text[words.end - 1])) --words.end;
  const std::string_view written = text.substr(words.begin, words.end - words.begin);
  const std::string_view before_value = text.substr(words.begin, std::min(key_end, words.end) - words.begin);
  const bool has_key =
      !written.empty() && ((written[0] >= 'a' && written[0] <= 'z') || (written[0] >= 'A' && written[0] <= 'Z'));
  if (!has_key || before_value.find(':') != std::string_view::npos) return std::nullopt;
  return words;
}

// The parser stumbles where the text goes on. What is wrong with a line that lacks its `:` or begins with a tab is said
// at that line: the one where it stumbled, or the last one before that is not empty.
bool report_line(std::size_t at, std::string_view text, FileId file, FindingSink& findings) {
  const auto span = [file](std::size_t begin, std::size_t end) {
    return Span{file, static_cast<std::uint32_t>(begin), static_cast<std::uint32_t>(end)};
  };
  Stretch line = line_around(text, std::min(at, text.size()));
  for (int looked_at = 0; looked_at < 2;) {
    const std::size_t first = text.find_first_not_of(" \t\r", line.begin);
    const bool is_empty = first >= line.end || text[first] == '#';
    const std::size_t tab = text.find_first_not_of(' ', line.begin);
    if (!is_empty && text[tab] == '\t') {
      findings.report(finding::FileTabIndent, span(tab, tab + 1)).hint("indent with blanks, not with tabs");
      return true;
    }
    if (const auto words = line_without_colon(text, line); !is_empty && words) {
      const std::string_view written = text.substr(words->begin, words->end - words->begin);
      const std::size_t key_end = std::min(written.find(' '), written.size());
      const std::string value(written.substr(key_end));
      findings.report(finding::FileNoColon, span(words->begin, words->end))
          .hint("write `" + shown_text(std::string(written.substr(0, key_end)) + ":" + (value.empty() ? " …" : value)) +
                "`");
      return true;
    }
    if (!is_empty) ++looked_at;
    if (line.begin == 0) return false;
    line = line_around(text, line.begin - 1);
  }
  return false;
}

void report_syntax(const YAML::Exception& error, const TreeBuilder& builder, std::string_view text,
                   FindingSink& findings) {
  const Span place = builder.span_at(error.mark, 1);
  const bool in_flow = error.msg.find(" flow") != std::string::npos;
  if (!in_flow && report_line(place.begin, text, place.file, findings)) return;
  FindingSink::Addition finding = findings.report(finding::FileNotYaml, place, error.msg);
  if (error.msg == "illegal map value") {
    finding.hint("indent the keys of one level alike, and put a text that holds `: ` in quotes");
  } else if (in_flow) {
    finding.hint("close the bracket, and write a comma between the parts");
  } else if (error.msg.starts_with("end of")) {
    finding.hint("indent the keys of one level alike");
  }
}

}  // namespace

Span YamlNode::part(std::size_t offset, std::size_t length) const {
  if (!verbatim || length == 0) return span;
  const auto begin = static_cast<std::uint32_t>(text_begin + offset);
  return {span.file, begin, static_cast<std::uint32_t>(begin + length)};
}

const YamlEntry* YamlNode::find(std::string_view key) const {
  for (const YamlEntry& entry : entries) {
    if (entry.key == key) return &entry;
  }
  return nullptr;
}

std::optional<YamlNode> read_yaml(const SourceSet& sources, FileId file, FindingSink& findings) {
  const std::string_view text = sources[file].text();
  const Span start{file, 0, static_cast<std::uint32_t>(std::min<std::size_t>(text.size(), 1))};
  if (text.size() > kMaxYamlBytes) {
    findings.report(finding::FileTooLarge, start, static_cast<std::int64_t>(kMaxYamlBytes >> 10));
    return std::nullopt;
  }
  if (!check_file_text(text, file, findings)) return std::nullopt;
  const std::size_t shift = text.starts_with(kByteOrderMark) ? kByteOrderMark.size() : 0;
  std::istringstream stream{std::string(text.substr(shift))};
  TreeBuilder builder(text, file, static_cast<std::uint32_t>(shift), findings);
  try {
    YAML::Parser parser(stream);
    while (parser.HandleNextDocument(builder)) continue;
  } catch (const Refused&) {
    return std::nullopt;
  } catch (const YAML::Exception& error) {
    report_syntax(error, builder, text, findings);
    return std::nullopt;
  }
  YamlNode root = builder.take();
  if (!builder.has_document() || root.kind == YamlKind::Empty) {
    findings.report(finding::FileEmpty, start);
    return std::nullopt;
  }
  if (root.kind != YamlKind::Map) {
    findings.report(finding::FileNoKeys, root.span).hint("write `key: value` lines");
    return std::nullopt;
  }
  return root;
}

}  // namespace rampart
