# What every target of this project is compiled with. Never exported: a project that links Rampart keeps its own.
include_guard()

add_library(rampart_settings INTERFACE)
target_compile_features(rampart_settings INTERFACE cxx_std_20)
target_include_directories(rampart_settings INTERFACE "${PROJECT_SOURCE_DIR}")
# Warnings are errors, and floating point gives the same bytes at every optimisation level.
target_compile_options(rampart_settings INTERFACE -Wall -Wextra -Wpedantic -Wconversion -Werror -ffp-contract=off)
# GCC 12 sees overlapping copies in every `"x" + std::string` (its bug 105651).
target_compile_options(rampart_settings INTERFACE $<$<CXX_COMPILER_ID:GNU>:-Wno-restrict>)

set(CMAKE_CXX_EXTENSIONS OFF)

if(RAMPART_SANITIZE)
  # Directory-wide, so that every object and every link agrees.
  add_compile_options(-fsanitize=${RAMPART_SANITIZE} -fno-sanitize-recover=all -fno-omit-frame-pointer)
  add_link_options(-fsanitize=${RAMPART_SANITIZE})
  # GCC says of itself that sanitizers bring false warnings: this one comes from inside the library's <regex>.
  add_compile_options($<$<CXX_COMPILER_ID:GNU>:-Wno-maybe-uninitialized>)
endif()

# Used where it happens to be installed; nothing depends on it.
find_program(RAMPART_CCACHE ccache)
if(RAMPART_CCACHE AND NOT CMAKE_CXX_COMPILER_LAUNCHER)
  set(CMAKE_CXX_COMPILER_LAUNCHER "${RAMPART_CCACHE}")
endif()
