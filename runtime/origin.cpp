#include "runtime/origin.h"

#include "lang/version.h"
#include "runtime/sha256.h"

namespace rampart {
namespace {

OriginFile origin_file(const Compilation& compilation, FileId file) {
  const SourceFile& source = compilation.sources[file];
  return {source.name(), sha256_of(source.text())};
}

}  // namespace

Origin origin_of(const Compilation& compilation) {
  Origin origin;
  origin.version = std::string(version());
  origin.profile = origin_file(compilation, compilation.trees.front()->file);
  for (std::size_t i = 1; i < compilation.trees.size(); ++i) {
    origin.imports.push_back(origin_file(compilation, compilation.trees[i]->file));
  }
  if (compilation.bench) origin.bench = origin_file(compilation, compilation.bench->file);
  if (compilation.load) origin.load = origin_file(compilation, compilation.load->file);
  for (const ParameterValue& parameter : compilation.profile->parameters) {
    origin.parameters.push_back({parameter.name, parameter.value, parameter.set});
  }
  return origin;
}

std::string setup_path(const std::string& table_path) {
  return table_path + ".setup.json";
}

}  // namespace rampart
