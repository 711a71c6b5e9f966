#include "runtime/editor/completion.h"

#include <algorithm>
#include <set>

#include "lang/files/folder.h"
#include "lang/syntax/expected.h"
#include "lang/syntax/scanner.h"
#include "lang/values/unit.h"
#include "runtime/editor/file_completion.h"

namespace rampart::editor {
namespace {

constexpr std::size_t kMaxItems = 1000;

CompletionKind kind_of(SymbolKind kind) {
  switch (kind) {
    case SymbolKind::Rail:
      return CompletionKind::Rail;
    case SymbolKind::Line:
    case SymbolKind::TriggerLine:
      return CompletionKind::Line;
    case SymbolKind::Sequence:
      return CompletionKind::Sequence;
    case SymbolKind::Supply:
    case SymbolKind::Channel:
    case SymbolKind::Output:
      return CompletionKind::Channel;
    case SymbolKind::Mark:
      return CompletionKind::Text;
    default:
      return CompletionKind::Value;
  }
}

class Completer {
 public:
  Completer(const View& view, std::uint32_t offset, const std::string& folder)
      : view_(view), offset_(offset), folder_(folder), names_(names_of(view)) {}

  Completion run() {
    const std::vector<Expected> all = expected_at(view_.text->text(), offset_);
    if (all.empty()) return {};
    // Names before words: there are fewer, and they are what people look for. Operators are the shortest to type.
    for (const int rank : {0, 1, 2}) {
      for (const Expected& one : all) {
        if (rank_of(one.what) == rank) add(one);
      }
    }
    return std::move(result_);
  }

 private:
  static int rank_of(Wanted what) { return what == Wanted::Operator ? 2 : what == Wanted::Keyword ? 1 : 0; }

  void add(const Expected& expected) {
    const Span span{view_.text->id(), expected.begin, expected.end};
    // One range for all: that of what comes first.
    if (result_.items.empty()) result_.replaced = span;
    if (span != result_.replaced) return;
    quoted_ = expected.quoted;
    switch (expected.what) {
      case Wanted::Keyword:
        return item(std::string(expected.word), CompletionKind::Word, "");
      case Wanted::Operator:
        return item(std::string(expected.word), CompletionKind::Operator, "");
      case Wanted::Value:
        symbols(
            {SymbolKind::Argument, SymbolKind::Variable, SymbolKind::Value, SymbolKind::Parameter, SymbolKind::Rail});
        return;
      case Wanted::Rail:
        return symbols({SymbolKind::Rail, SymbolKind::Argument});
      case Wanted::Line:
        return symbols({SymbolKind::Line, SymbolKind::Argument});
      case Wanted::Sequence:
        return symbols({SymbolKind::Sequence});
      case Wanted::Channel:
        return symbols({SymbolKind::Output, SymbolKind::Channel});
      case Wanted::TriggerLine:
        return symbols({SymbolKind::TriggerLine});
      case Wanted::Fault:
        return symbols({SymbolKind::Fault});
      case Wanted::Mark:
        return symbols({SymbolKind::Mark}, !quoted_);
      case Wanted::RailOrTotal:
        symbols({SymbolKind::Rail});
        return item("total", CompletionKind::Word, "all rails together");
      default:
        return add_listed(expected.what);
    }
  }

  void add_listed(Wanted what) {
    if (what == Wanted::Unit) {
      for (const std::string_view unit : usual_units()) item(std::string(unit), CompletionKind::Unit, "");
    } else if (what == Wanted::Figure) {
      for (const FigureRow& row : figure_rows()) {
        item(std::string(row.name), CompletionKind::Function, std::string(row.form));
      }
    } else if (what == Wanted::Cause) {
      for (const TripCauseRow& row : trip_cause_rows()) {
        if (row.is_expected_by_name) item(std::string(row.name), CompletionKind::Word, std::string(row.words));
      }
    } else if (what == Wanted::Measure) {
      for (const std::string_view measure : scan::kMeasures) {
        item(std::string(measure), CompletionKind::Function, "of a rail");
      }
    } else if (what == Wanted::Finding) {
      for (const Wording& wording : finding_registry()) {
        if (wording.family == Family::Practice) item(std::string(wording.name), CompletionKind::Text, "");
      }
    } else if (what == Wanted::BenchPath) {
      files({".bench.yaml", ".bench.yml"});
    } else if (what == Wanted::LoadPath) {
      files({".load.yaml", ".load.yml"});
    } else if (what == Wanted::ImportPath) {
      files({".ramp"});
    } else if (what == Wanted::ShapePath) {
      files({".csv"});
    }
  }

  void symbols(std::initializer_list<SymbolKind> kinds, bool in_quotes = false) {
    if (names_ == nullptr) return;
    for (const SymbolKind kind : kinds) {
      for (const Symbol& symbol : names_->symbols()) {
        if (symbol.kind != kind || !is_known_here(symbol)) continue;
        const std::string value = symbol.values.empty() ? "" : ": " + symbol.values.front();
        item(symbol.path, kind_of(kind), std::string(symbol_kind_name(kind)) + value,
             in_quotes ? "\"" + symbol.path + "\"" : symbol.path);
      }
    }
  }

  // Arguments and variables are known in their blocks alone.
  [[nodiscard]] bool is_known_here(const Symbol& symbol) const {
    if (symbol.scope == Span{}) return true;
    if (names_ == (view_.now != nullptr ? &view_.now->names : view_.alone)) {
      return symbol.scope.file == view_.text->id() && symbol.scope.begin <= offset_ && offset_ <= symbol.scope.end;
    }
    return view_.whole_text != nullptr && symbol.scope.file == view_.whole_text->id() && symbol.scope.begin <= offset_;
  }

  // In the folder of the text, and one below it.
  void files(std::initializer_list<std::string_view> suffixes) {
    for (const std::string_view suffix : suffixes) {
      for (const std::string& path : files_below(folder_, suffix, 1)) {
        const std::string name = path.starts_with(folder_ + "/") ? path.substr(folder_.size() + 1) : path;
        if (path == view_.path) continue;
        item(name, CompletionKind::File, "", quoted_ ? name : "\"" + name + "\"");
      }
    }
  }

  void item(std::string label, CompletionKind kind, std::string detail, std::string text = {}) {
    if (result_.items.size() >= kMaxItems || !known_.insert(label).second) return;
    if (text.empty()) text = label;
    result_.items.push_back({std::move(label), kind, std::move(detail), std::move(text)});
  }

  const View& view_;
  std::uint32_t offset_;
  const std::string& folder_;
  const SymbolIndex* names_;
  bool quoted_ = false;
  std::set<std::string> known_;
  Completion result_;
};

}  // namespace

Completion complete(const View& view, std::uint32_t offset, const std::string& folder) {
  if (view.kind != FileKind::Profile) return complete_file(view, offset);
  return Completer(view, offset, folder).run();
}

}  // namespace rampart::editor
