# What every target of this project is compiled with. Never exported: a project that links Rampart keeps its own.
include_guard()

add_library(rampart_settings INTERFACE)
target_compile_features(rampart_settings INTERFACE cxx_std_20)
target_include_directories(rampart_settings INTERFACE "${PROJECT_SOURCE_DIR}")
# Warnings are errors, and floating point gives the same bytes at every optimisation level.
target_compile_options(rampart_settings INTERFACE -Wall -Wextra -Wpedantic -Wconversion -Werror -ffp-contract=off)
# GCC 12 sees overlapping or endless copies where a literal meets a std::string (its bug 105651).
target_compile_options(rampart_settings INTERFACE "$<$<CXX_COMPILER_ID:GNU>:-Wno-restrict;-Wno-stringop-overflow;-Wno-array-bounds>")

# GCC takes a source that is compiled together with others for a header, which may not hide a class that it uses.
if(CMAKE_UNITY_BUILD)
  target_compile_options(rampart_settings INTERFACE $<$<CXX_COMPILER_ID:GNU>:-Wno-subobject-linkage>)
endif()

set(CMAKE_CXX_EXTENSIONS OFF)

if(RAMPART_SANITIZE)
  # Directory-wide, so that every object and every link agrees.
  add_compile_options(-fsanitize=${RAMPART_SANITIZE} -fno-sanitize-recover=all -fno-omit-frame-pointer)
  add_link_options(-fsanitize=${RAMPART_SANITIZE})
  # GCC says of itself that sanitizers bring false warnings: this one comes from inside the library's <regex>.
  add_compile_options($<$<CXX_COMPILER_ID:GNU>:-Wno-maybe-uninitialized>)
endif()

# Used where it happens to be installed; nothing depends on it. It serves objects made with a precompiled header only if
# it may overlook that macros and times inside that header are not part of what it compares.
find_program(RAMPART_CCACHE ccache)
if(RAMPART_CCACHE AND NOT CMAKE_CXX_COMPILER_LAUNCHER)
  set(CMAKE_CXX_COMPILER_LAUNCHER
      "${CMAKE_COMMAND}" -E env CCACHE_SLOPPINESS=pch_defines,time_macros "${RAMPART_CCACHE}")
endif()

# Reading the headers of the standard library is a third of the work of compiling a file: they are read once. A file still
# includes what it uses: the preset `tidy` builds without.
add_library(rampart_precompiled STATIC "${PROJECT_SOURCE_DIR}/cmake/precompiled.cpp")
target_link_libraries(rampart_precompiled PRIVATE rampart_settings)
target_precompile_headers(
  rampart_precompiled
  PRIVATE <algorithm> <array> <charconv> <cmath> <cstdint> <deque> <functional> <limits> <map> <memory> <optional> <set>
          <span> <string> <string_view> <tuple> <utility> <variant> <vector>)
# For compiler caches: what was precompiled is named in the preprocessed text.
target_compile_options(rampart_settings INTERFACE $<$<CXX_COMPILER_ID:GNU>:-fpch-preprocess>)
