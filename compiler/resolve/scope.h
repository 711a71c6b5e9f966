#pragma once

#include <deque>
#include <functional>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "compiler/resolve/reporter.h"
#include "compiler/resolve/resolve.h"
#include "compiler/resolve/value.h"

namespace rampart::resolving {

struct FileScope;

enum class DefinitionKind : std::uint8_t { Parameter, Let, Rail, Line, Sequence };
[[nodiscard]] std::string_view kind_name(DefinitionKind kind);

// Shows a cycle of names from its first back to it; of a long one only the ends.
[[nodiscard]] std::string cycle_text(const std::vector<std::string_view>& names);

struct Definition {
  DefinitionKind kind{};
  ast::Name name;
  FileScope* home = nullptr;
  const ast::Parameter* parameter = nullptr;
  const ast::Let* let = nullptr;
  const ast::Rail* rail = nullptr;
  const ast::Line* line = nullptr;
  const ast::Sequence* sequence = nullptr;
  // Parameters and lets once they are calculated, rails and lines once they have an id.
  Value value;
  bool used = false;
  bool expanded = false;   // a sequence that was called
  bool recursive = false;  // a sequence that calls itself, which has been reported
};

// The names of one file. Rails and lines that it lacks come from the profile that imports it.
struct FileScope {
  const ast::Profile* file = nullptr;
  const FileScope* main = nullptr;  // none: this is the profile itself
  std::deque<Definition> own;
  std::map<std::string_view, Definition*> names;  // its own and what its imports bring in
  bool complete = true;                           // false: an import or a declaration could not be read
};

// A name that is known inside a sequence or a `for` only.
struct Local {
  ast::Name name;
  Value value;
  std::vector<Span> origins;  // what a call hands over: where it was written
};

// Where an expression stands: its file and the names around it.
struct Frame {
  const FileScope* scope = nullptr;
  std::vector<Local> locals;
};

// What a name stands for; both null where it is unknown.
struct Found {
  const Local* local = nullptr;
  Definition* definition = nullptr;
};

class Scopes {
 public:
  Scopes(const SourceSet& sources, const ast::Profile& profile, const ResolveOptions& options, Reporter& reporter);

  [[nodiscard]] FileScope& main() { return files_.front(); }
  [[nodiscard]] std::deque<FileScope>& files() { return files_; }

  // Marks what it finds as used.
  [[nodiscard]] Found find(std::string_view name, const Frame& frame) const;
  // Reports a name that is not there, with the nearest one that is.
  void report_unknown(std::string_view kind, const ast::Name& name, const Frame& frame);
  // Adds a name to the frame; reports it where it hides another one.
  void add_local(Frame& frame, const ast::Name& name, Value value, std::vector<Span> origins = {});
  void report_unused();
  // Is told what calls and passes of `for` give to names.
  void on_local(std::function<void(const ast::Name&, const Value&)> listener) { on_local_ = std::move(listener); }

 private:
  FileScope& scope_of(const ast::Profile& profile);
  void define_all(FileScope& scope);
  void define(FileScope& scope, DefinitionKind kind, const ast::Name& name, Definition definition);
  void bring_in(FileScope& scope, const FileScope& imported, const Span& statement);
  void import_all(FileScope& scope);
  // The files that `scope` imports, in the order of their statements.
  [[nodiscard]] std::vector<const ImportedFile*> imports_of(const FileScope& scope) const;
  // Imported files before those that import them, so that what a file brings in is complete before it is handed on.
  [[nodiscard]] std::vector<FileScope*> innermost_first();

  const SourceSet& sources_;
  Reporter& reporter_;
  std::deque<FileScope> files_;
  std::map<const ast::Profile*, FileScope*> by_profile_;
  std::map<FileId, std::vector<const ImportedFile*>> imports_;  // by the file where they stand
  std::function<void(const ast::Name&, const Value&)> on_local_;
  int hints_left_ = 100;  // looking for a near name takes time for each name there is
};

}  // namespace rampart::resolving
