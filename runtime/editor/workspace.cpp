#include "runtime/editor/workspace.h"

#include <algorithm>
#include <filesystem>
#include <set>
#include <tuple>

#include "lang/files/file_uri.h"
#include "lang/files/folder.h"
#include "lang/findings/files.h"
#include "lang/findings/resolve.h"
#include "runtime/editor/text_change.h"

namespace rampart::editor {
namespace {

// Profiles that are looked through for the users of a file, and of these those that are kept.
constexpr std::size_t kMaxCandidates = 200;
constexpr std::size_t kMaxUsers = 8;
constexpr std::size_t kCandidateDepth = 4;

std::string folder_of(const std::string& path) {
  return std::filesystem::path(path).parent_path().string();
}

bool uses(const Analysis& analysis, const std::string& path) {
  return std::find(analysis.files.begin(), analysis.files.end(), path) != analysis.files.end();
}

}  // namespace

std::string Workspace::path_of(const std::string& uri) {
  return path_of_uri(uri).value_or(uri);
}

std::string Workspace::uri_of(const std::string& path) const {
  const std::string canonical = files_.canonical(path);
  const auto known = documents_.find(canonical);
  return known != documents_.end() ? known->second.uri : file_uri(canonical);
}

const Document* Workspace::document(const std::string& uri) const {
  const auto found = documents_.find(files_.canonical(path_of(uri)));
  return found == documents_.end() ? nullptr : &found->second;
}

std::vector<std::string> Workspace::open_uris() const {
  std::vector<std::string> uris;
  for (const auto& [path, document] : documents_) uris.push_back(document.uri);
  return uris;
}

void Workspace::put(const std::string& uri, std::int64_t version, std::string text) {
  const std::string path = files_.canonical(path_of(uri));
  files_.hold(path, std::move(text));
  std::string why;
  Document& document = documents_[path];
  document.uri = uri;
  document.version = version;
  document.text = files_.read(path, why);
  document.kind = kind_of_file(path, document.text->text());
  if (document.kind == FileKind::Profile) {
    document.alone = {};
    roots_[path].is_open = true;
  } else {
    document.alone = analyse_file(document.text, document.kind);
    roots_.erase(path);
  }
  mark_stale(path);
}

void Workspace::open(const std::string& uri, std::int64_t version, std::string text) {
  put(uri, version, std::move(text));
}

void Workspace::change(const std::string& uri, std::int64_t version, std::string text) {
  put(uri, version, std::move(text));
}

void Workspace::close(const std::string& uri) {
  const std::string path = files_.canonical(path_of(uri));
  if (documents_.erase(path) == 0) return;
  files_.release(path);
  if (const auto root = roots_.find(path); root != roots_.end()) root->second.is_open = false;
  mark_stale(path);
  drop_unneeded();
}

void Workspace::files_changed() {
  for (auto& [path, root] : roots_) root.is_stale = true;
  for (auto& [path, document] : documents_) document.looked_for_users = false;
}

void Workspace::mark_stale(const std::string& path) {
  for (auto& [root_path, root] : roots_) {
    if (root_path == path || root.now == nullptr || uses(*root.now, path)) root.is_stale = true;
  }
}

// Profiles that are there for a file that nobody has open any more.
void Workspace::drop_unneeded() {
  std::erase_if(roots_, [&](const auto& entry) {
    const Root& root = entry.second;
    if (root.is_open) return false;
    return std::none_of(documents_.begin(), documents_.end(),
                        [&](const auto& open) { return root.now == nullptr || uses(*root.now, open.first); });
  });
}

bool Workspace::is_stale() const {
  return std::any_of(roots_.begin(), roots_.end(), [](const auto& root) { return root.second.is_stale; }) ||
         std::any_of(documents_.begin(), documents_.end(),
                     [](const auto& document) { return !document.second.looked_for_users; });
}

void Workspace::analyse_root(const std::string& path, Root& root, const Job& job) {
  root.now = analyse(files_, path, job);
  root.is_stale = false;
  const bool is_whole = root.now->compiled.run() != nullptr && root.now->load != nullptr;
  const bool had_load = root.whole != nullptr && root.whole->load != nullptr;
  if (is_whole || (root.now->compiled.run() != nullptr && !had_load)) root.whole = root.now;
}

void Workspace::refresh(const Job& job) {
  for (auto& [path, root] : roots_) {
    if (root.is_stale) analyse_root(path, root, job);
  }
  look_for_users(job);
}

bool Workspace::is_used(const std::string& path) const {
  return std::any_of(roots_.begin(), roots_.end(), [&](const auto& entry) {
    return entry.first != path && entry.second.now != nullptr && uses(*entry.second.now, path);
  });
}

std::vector<std::string> Workspace::profiles_near(const std::string& path) const {
  std::vector<std::string> near = files_below(folder_of(path), ".ramp", 1);
  for (const std::string& folder : folders_) {
    for (std::string& one : files_below(folder, ".ramp", kCandidateDepth)) near.push_back(std::move(one));
  }
  std::set<std::string> known;
  std::erase_if(near, [&](const std::string& one) { return !known.insert(files_.canonical(one)).second; });
  if (near.size() > kMaxCandidates) near.resize(kMaxCandidates);
  return near;
}

void Workspace::look_for_users(const Job& job) {
  std::map<std::string, Root> found;
  for (auto& [path, document] : documents_) {
    if (document.looked_for_users) continue;
    const auto root = roots_.find(path);
    const bool needs_user = document.kind != FileKind::Profile ||
                            (root != roots_.end() && root->second.now != nullptr && root->second.now->is_library());
    if (needs_user && !is_used(path)) {
      std::size_t users = 0;
      for (const AnalysisPtr& user : users_of(path, job)) {
        if (++users > kMaxUsers) break;
        Root& one = found[files_.canonical(user->path)];
        one.is_stale = false;
        one.now = user;
        if (user->compiled.run() != nullptr) one.whole = user;
      }
    }
    document.looked_for_users = true;
  }
  for (auto& [path, root] : found) roots_.try_emplace(path, std::move(root));
}

std::vector<AnalysisPtr> Workspace::users_of(const std::string& path, const Job& job) {
  std::vector<AnalysisPtr> users;
  for (const auto& [root_path, root] : roots_) {
    if (root.now != nullptr && uses(*root.now, path)) users.push_back(root.now);
  }
  for (const std::string& candidate : profiles_near(path)) {
    const std::string canonical = files_.canonical(candidate);
    if (roots_.contains(canonical)) continue;
    AnalysisPtr analysis = analyse(files_, canonical, job);
    if (uses(*analysis, path)) users.push_back(std::move(analysis));
  }
  return users;
}

std::optional<View> Workspace::view(const std::string& uri) const {
  const std::string path = files_.canonical(path_of(uri));
  const auto document = documents_.find(path);
  if (document == documents_.end()) return std::nullopt;
  View view;
  view.path = path;
  view.text = document->second.text;
  view.kind = document->second.kind;
  if (view.kind != FileKind::Profile) view.alone = &document->second.alone.names;
  const Root* best = nullptr;
  for (const auto& [root_path, root] : roots_) {
    if (root.now == nullptr || !uses(*root.now, path)) continue;
    // A profile answers for itself, unless it is no more than a part of others.
    const bool is_better = best == nullptr || (root_path == path && !root.now->is_library()) || best->now->is_library();
    if (is_better) best = &root;
  }
  if (best == nullptr) return view;
  view.now = best->now;
  view.whole = best->whole;
  if (view.whole != nullptr) view.whole_text = view.whole->text_of(files_, path);
  view.predicted = best->predicted;
  return view;
}

std::vector<AnalysisPtr> Workspace::unpredicted() const {
  std::vector<AnalysisPtr> all;
  for (const auto& [path, root] : roots_) {
    const bool is_known = root.predicted != nullptr && root.predicted->of == root.now;
    if (root.now != nullptr && !root.is_stale && !is_known) all.push_back(root.now);
  }
  return all;
}

void Workspace::predicted(const PredictionPtr& prediction) {
  for (auto& [path, root] : roots_) {
    if (root.now == prediction->of) root.predicted = prediction;
  }
}

bool Workspace::speaks(const std::string& path, const Root& root) const {
  return !root.now->is_library() || !is_used(path);
}

namespace {

// What the last simulation said, at the places where it stands now.
void add_moved(const Prediction& old, const Analysis& now, std::vector<PlacedFinding>& into) {
  for (const Finding& finding : old.findings.findings()) {
    const std::size_t place = old.findings.texts().place_of(finding.span.file);
    if (finding.family != Family::Predicted || place >= now.texts().texts().size()) continue;
    const SourceFile& before = *old.findings.texts().texts()[place];
    const SourceFile& after = *now.texts().texts()[place];
    if (before.name() != after.name()) continue;
    const auto span = TextChange(before.text(), after.text()).after(finding.span, after.id());
    if (!span) continue;
    Finding moved = finding;
    moved.span = *span;
    moved.notes.clear();
    into.push_back({std::move(moved), &now.texts()});
  }
}

}  // namespace

std::map<std::string, std::vector<PlacedFinding>> Workspace::findings() const {
  std::vector<PlacedFinding> all;
  for (const auto& [path, root] : roots_) {
    if (root.now == nullptr || !speaks(path, root)) continue;
    const bool is_fresh = root.predicted != nullptr && root.predicted->of == root.now;
    const FindingSink& sink = is_fresh ? root.predicted->findings : root.now->findings;
    const bool is_library = root.now->is_library();
    for (const Finding& finding : sink.findings()) {
      // A file for others to import lacks what they have.
      const bool is_lack = finding.name == finding::NoRun.wording.name || finding.name == finding::NoBench.wording.name;
      if (!(is_library && is_lack)) all.push_back({finding, &sink.texts()});
    }
    const bool goes_on = root.predicted != nullptr && !is_fresh && root.now->compiled.run() != nullptr;
    if (goes_on) add_moved(*root.predicted, *root.now, all);
  }
  for (const auto& [path, document] : documents_) {
    const FindingSink& sink = document.alone.findings;
    for (const Finding& finding : sink.findings()) all.push_back({finding, &sink.texts()});
  }
  std::map<std::string, std::vector<PlacedFinding>> by_path;
  std::map<FileId, std::string> paths;
  std::set<std::tuple<std::string, std::uint32_t, std::uint32_t, std::string_view, std::string>> known;
  for (PlacedFinding& one : all) {
    if (one.finding.accepted || one.texts->texts().empty()) continue;
    const Span& span = one.finding.span;
    const SourceFile& text = (*one.texts)[span.file];
    std::string& path = paths[text.id()];
    if (path.empty()) path = files_.canonical(text.name());
    if (!known.insert({path, span.begin, span.end, one.finding.name, one.finding.message}).second) continue;
    by_path[path].push_back(std::move(one));
  }
  return by_path;
}

}  // namespace rampart::editor
