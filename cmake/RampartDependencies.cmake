# Libraries that the layers use inside their .cpp files, by one name each. Installed with the package too: whoever links
# the static layers has to link what stands behind them.
include_guard()

# Header-only ones are needed to build the layers, not to use them.
if(NOT RAMPART_DEPENDENCIES_LINK_ONLY)
  # 1.81 is the newest Boost in Debian 12. The distribution's default, 1.74, reports a failed `expect` of Spirit X3 at
  # the start of the rule and not where it failed, so columns in findings would be wrong.
  find_package(Boost 1.81 REQUIRED)
  find_package(CLI11 REQUIRED)
  find_package(Eigen3 REQUIRED NO_MODULE)
  find_package(fmt REQUIRED)
  find_package(nlohmann_json REQUIRED)
endif()

# rampart_library(NAME FILE...): the target NAME for a library by the name of its file. Debian describes those below for
# CMake not at all, or the shared library alone; the static one starts faster.
function(rampart_library name)
  if(TARGET ${name})
    return()
  endif()
  find_library(${name}_FILE NAMES ${ARGN} REQUIRED)
  add_library(${name} UNKNOWN IMPORTED)
  set_target_properties(${name} PROPERTIES IMPORTED_LOCATION "${${name}_FILE}")
endfunction()

rampart_library(rampart_yaml_cpp libyaml-cpp.a yaml-cpp)
rampart_library(rampart_cryptopp libcryptopp.a cryptopp)
