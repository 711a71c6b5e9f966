#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "compiler/export/template.h"
#include "compiler/export/template_fields.h"
#include "lang/findings/tables.h"

namespace rampart {
namespace {

constexpr std::string_view kPartNames[kTemplateParts] = {"header", "setup", "role",    "segment", "row",
                                                         "line",   "mark",  "measure", "wait",    "footer"};

constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";

std::string listed_fields(TemplatePart part) {
  std::string text;
  for (const TemplateValue& field : sample_fields(part)) text += (text.empty() ? "" : ", ") + field.name;
  return text;
}

// Reads a template line by line; the text of each part is tried field by field, so that each mistake has its place.
class TemplateReader {
 public:
  TemplateReader(const SourceSet& sources, FileId file, FindingSink& findings)
      : file_(file), text_(sources[file].text()), findings_(findings) {}

  std::optional<TableTemplate> read() {
    const std::size_t errors = findings_.error_count();
    result_.file = file_;
    for (std::size_t at = text_.starts_with(kByteOrderMark) ? kByteOrderMark.size() : 0; at < text_.size();) {
      const std::size_t end = std::min(text_.find('\n', at), text_.size() - 1) + 1;
      read_line(at, end);
      at = end;
    }
    if (!result_[TemplatePart::Row]) {
      report(0, 0, finding::TemplateSyntax, "the template has no [row]");
    }
    if (findings_.error_count() > errors) return std::nullopt;
    return std::move(result_);
  }

 private:
  template <class... Arguments>
  FindingSink::Addition report(std::size_t begin, std::size_t end, const FindingKind<Arguments...>& kind,
                               const std::type_identity_t<Arguments>&... arguments) {
    const Span span{file_, static_cast<std::uint32_t>(begin), static_cast<std::uint32_t>(end)};
    return findings_.report(kind, span, arguments...);
  }

  // A line that is a word in brackets begins a part.
  void read_line(std::size_t begin, std::size_t end) {
    std::string_view line = text_.substr(begin, end - begin);
    while (!line.empty() && (line.back() == '\n' || line.back() == '\r')) line.remove_suffix(1);
    const bool is_mark = line.size() > 2 && line.front() == '[' && line.back() == ']' &&
                         std::all_of(line.begin() + 1, line.end() - 1,
                                     [](char c) { return std::islower(static_cast<unsigned char>(c)) != 0; });
    if (is_mark) {
      begin_part(line.substr(1, line.size() - 2), begin, end);
    } else if (part_) {
      check_fields(begin, begin + line.size());
      *result_.parts[static_cast<std::size_t>(*part_)] += std::string(text_.substr(begin, end - begin));
    }
  }

  void begin_part(std::string_view name, std::size_t begin, std::size_t next_line) {
    const auto* const found = std::find(std::begin(kPartNames), std::end(kPartNames), name);
    const std::size_t end = begin + name.size() + 2;
    part_.reset();
    if (found == std::end(kPartNames)) {
      report(begin, end, finding::TemplateSyntax, "there is no part [" + std::string(name) + "]")
          .hint(
              "parts are [header], [setup], [role], [segment], [row], [line], [mark], [measure], [wait] and [footer]");
      return;
    }
    const auto index = static_cast<std::size_t>(found - std::begin(kPartNames));
    if (result_.parts[index]) {
      report(begin, end, finding::TemplateSyntax, "part [" + std::string(name) + "] occurs twice");
    }
    part_ = static_cast<TemplatePart>(index);
    result_.parts[index].emplace();
    result_.begins[index] = next_line;
  }

  void check_fields(std::size_t begin, std::size_t end) {
    for (std::size_t at = begin; at < end; ++at) {
      const char c = text_[at];
      if (c != '{' && c != '}') continue;
      if (at + 1 < end && text_[at + 1] == c) {
        ++at;
        continue;
      }
      const std::size_t close = c == '{' ? text_.find_first_of("{}", at + 1) : std::string_view::npos;
      if (close >= end || text_[close] != '}') {
        report(at, at + 1, finding::TemplateSyntax, "this brace has no partner")
            .hint("a field is `{name}` or `{name:format}`; `{{` and `}}` are braces themselves");
        return;
      }
      check_field(at, close + 1);
      at = close;
    }
  }

  void check_field(std::size_t begin, std::size_t end) {
    const std::string field(text_.substr(begin, end - begin));
    const std::string name = field.substr(1, std::min(field.find(':'), field.size() - 1) - 1);
    const TemplateValues& fields = sample_fields(*part_);
    const bool known =
        std::any_of(fields.begin(), fields.end(), [&](const TemplateValue& one) { return one.name == name; });
    if (!known) {
      const std::string part = "[" + std::string(kPartNames[static_cast<std::size_t>(*part_)]) + "]";
      report(begin, end, finding::TemplateField, name, part).hint("its fields are " + listed_fields(*part_));
      return;
    }
    if (has_large_number(field)) {
      report(begin, end, finding::TemplateFormat, name, field,
             "a width or precision is at most " + std::to_string(kMaxTemplateNumber));
      return;
    }
    try {
      static_cast<void>(fill_in(field, fields));
    } catch (const fmt::format_error& error) {
      report(begin, end, finding::TemplateFormat, name, field, error.what());
    }
  }

  static bool has_large_number(const std::string& field) {
    int number = 0;
    for (const char c : field.substr(std::min(field.find(':'), field.size()))) {
      number = std::isdigit(static_cast<unsigned char>(c)) != 0 ? 10 * number + (c - '0') : 0;
      if (number > kMaxTemplateNumber) return true;
    }
    return false;
  }

  FileId file_;
  std::string_view text_;
  FindingSink& findings_;
  TableTemplate result_;
  std::optional<TemplatePart> part_;
};

}  // namespace

std::optional<TableTemplate> read_template(const SourceSet& sources, FileId file, FindingSink& findings) {
  return TemplateReader(sources, file, findings).read();
}

}  // namespace rampart
