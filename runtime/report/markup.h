#pragma once

#include <initializer_list>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

// HTML whose every character from outside has gone through one function.
namespace rampart::report {

// HTML that may stand in a page as it is. Made by the functions below alone.
class Markup {
 public:
  Markup() = default;
  [[nodiscard]] const std::string& html() const { return html_; }
  [[nodiscard]] bool empty() const { return html_.empty(); }
  Markup& operator+=(const Markup& other) {
    html_ += other.html_;
    return *this;
  }
  friend Markup operator+(Markup a, const Markup& b) { return a += b; }

 private:
  explicit Markup(std::string html) : html_(std::move(html)) {}
  friend Markup text(std::string_view);
  friend Markup verbatim(std::string_view);
  friend Markup element(std::string_view, std::initializer_list<std::pair<std::string_view, std::string>>,
                        const Markup&);
  std::string html_;
};

// Any text. What has a meaning in HTML is escaped; bytes that are no UTF-8, control characters and those that would
// turn the direction of text become U+FFFD.
[[nodiscard]] Markup text(std::string_view any);

// A message: what stands between backticks is set as source text.
[[nodiscard]] Markup message(std::string_view any);

// What the program itself brings: never text from a file or a name.
[[nodiscard]] Markup verbatim(std::string_view html);

using Attributes = std::initializer_list<std::pair<std::string_view, std::string>>;
// <tag attributes>inside</tag>; the attributes' values may be any text.
[[nodiscard]] Markup element(std::string_view tag, Attributes attributes, const Markup& inside);
[[nodiscard]] inline Markup element(std::string_view tag, const Markup& inside) {
  return element(tag, {}, inside);
}
// A name that someone chose: it cannot turn the direction of the text around it.
[[nodiscard]] Markup name(std::string_view any);

// A table with a caption. Columns whose title begins with `#` are numbers, to the right.
class HtmlTable {
 public:
  HtmlTable(std::string_view caption, const std::vector<std::string>& columns);
  // As many cells as columns.
  void add(const std::vector<Markup>& cells) { add_row("", cells); }
  // `kind` is a class for its looks.
  void add_row(std::string_view kind, const std::vector<Markup>& cells);
  // A row that is one cell from side to side.
  void add_band(const Markup& words);
  [[nodiscard]] bool empty() const { return rows_.empty(); }
  [[nodiscard]] Markup markup() const;

 private:
  std::string caption_;
  std::vector<std::string> titles_;
  std::vector<bool> is_number_;
  Markup rows_;
};

}  // namespace rampart::report
