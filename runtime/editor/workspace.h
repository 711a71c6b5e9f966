#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "lang/files/files.h"
#include "runtime/editor/edits.h"
#include "runtime/editor/view.h"

namespace rampart::editor {

// A text that an editor has open.
struct Document {
  std::string uri;  // as the editor spells it
  std::int64_t version = 0;
  TextPtr text;
  FileKind kind{};
  FileAnalysis alone;  // of a bench or load file
  bool looked_for_users = false;
};

// A finding with the text that it stands in.
struct PlacedFinding {
  Finding finding;
  const SourceSet* texts = nullptr;  // of the finding and its notes
};

// All that is known of the open texts: which profiles they belong to, and what these come to. A profile that is open
// is analysed; of a file that others use, so are the profiles in its folder and in those of the workspace that use it.
// One thread uses it at a time.
class Workspace {
 public:
  void add_folder(const std::string& path) { folders_.push_back(path); }

  void open(const std::string& uri, std::int64_t version, std::string text);
  void change(const std::string& uri, std::int64_t version, std::string text);
  void close(const std::string& uri);
  // Files of the disk have changed.
  void files_changed();

  [[nodiscard]] const Document* document(const std::string& uri) const;
  [[nodiscard]] std::vector<std::string> open_uris() const;
  [[nodiscard]] bool is_stale() const;
  // Analyses what has changed. Throws JobStopped, with what is done kept.
  void refresh(const Job& job);

  // Of an open text; after refresh() it speaks of the text as it is.
  [[nodiscard]] std::optional<View> view(const std::string& uri) const;
  // The profiles that use a file, those on the disk included that nobody has open.
  [[nodiscard]] std::vector<AnalysisPtr> users_of(const std::string& path, const Job& job);

  // The analyses that no prediction has been made of or given up for.
  [[nodiscard]] std::vector<AnalysisPtr> unpredicted() const;
  void predicted(const PredictionPtr& prediction);

  // By canonical path; each finding once. Paths without findings any more are not in it.
  [[nodiscard]] std::map<std::string, std::vector<PlacedFinding>> findings() const;

  [[nodiscard]] std::string uri_of(const std::string& path) const;
  [[nodiscard]] static std::string path_of(const std::string& uri);
  [[nodiscard]] Files& files() { return files_; }

 private:
  // A profile that is analysed.
  struct Root {
    bool is_open = false;  // an editor has it open; else it is there for a file that it uses
    bool is_stale = true;
    AnalysisPtr now;
    AnalysisPtr whole;
    PredictionPtr predicted;
  };

  void put(const std::string& uri, std::int64_t version, std::string text);
  void mark_stale(const std::string& path);
  void analyse_root(const std::string& path, Root& root, const Job& job);
  void look_for_users(const Job& job);
  [[nodiscard]] bool is_used(const std::string& path) const;
  [[nodiscard]] std::vector<std::string> profiles_near(const std::string& path) const;
  // A file of values and sequences speaks through the profiles that import it.
  [[nodiscard]] bool speaks(const std::string& path, const Root& root) const;
  void drop_unneeded();

  Disk disk_;
  HeldTexts files_{disk_};
  std::vector<std::string> folders_;
  std::map<std::string, Document> documents_;  // by canonical path
  std::map<std::string, Root> roots_;          // likewise
};

}  // namespace rampart::editor
