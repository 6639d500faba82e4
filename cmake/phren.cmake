# Build helpers: one library per room, one test program per room.

find_program(CCACHE ccache)
if(CCACHE)
  set(CMAKE_CXX_COMPILER_LAUNCHER ${CCACHE})
endif()

add_library(phren_flags INTERFACE)
target_compile_options(phren_flags INTERFACE
  -Wall -Wextra -Wconversion -Wshadow -Werror
  # g++ 12 at -O3 sees overlap in "text" + std::string where there is none (GCC bug 105651).
  $<$<CXX_COMPILER_ID:GNU>:-Wno-restrict>
  # Native and browser builds must agree bit for bit, so no fused multiply-add behind our back.
  -ffp-contract=off)
# toml++ 3.3 asserts where its own next lines report the error of a malformed file (parse_key); a
# case file with a slip must be answered, not abort the program.
target_compile_options(phren_flags INTERFACE "-DTOML_ASSERT(expr)=static_assert(true)"
                                             -DTOML_HEADER_ONLY=0)
target_include_directories(phren_flags INTERFACE ${CMAKE_SOURCE_DIR}/src)
target_compile_definitions(phren_flags INTERFACE PHREN_VERSION="${PROJECT_VERSION}")
if(PHREN_SANITIZE)
  target_compile_options(phren_flags INTERFACE -fsanitize=${PHREN_SANITIZE} -fno-omit-frame-pointer
                                               -fno-sanitize-recover=all
    # Checks woven into std::variant and std::optional make g++ 12 see unset members where there are
    # none (GCC manual, -fsanitize: warnings may be false); the release build keeps this warning.
    $<$<CXX_COMPILER_ID:GNU>:-Wno-maybe-uninitialized>)
  if(PHREN_SANITIZE MATCHES undefined)
    # Left out for a third of the compile time. A null or stray pointer stops at the address sanitizer
    # as well; a misaligned one, which x86 forgives, and a wrong dynamic type are not looked for (vptr
    # also stumbles over SOCI's hidden types).
    target_compile_options(phren_flags INTERFACE
      -fno-sanitize=null,alignment,object-size,vptr,nonnull-attribute,returns-nonnull-attribute)
  endif()
  target_link_options(phren_flags INTERFACE -fsanitize=${PHREN_SANITIZE})
endif()
if(PHREN_FUZZ)  # what libFuzzer steers by; its own main goes to the fuzz target only
  target_compile_options(phren_flags INTERFACE -fsanitize=fuzzer-no-link)
endif()

# What faces the network and the store is built as Debian builds such programs: stacks and copies are
# watched. FORTIFY needs optimisation and does not go with the sanitizers, which watch more.
function(phren_harden target)
  if(NOT PHREN_SANITIZE)
    target_compile_options(${target} PRIVATE -fstack-protector-strong -fstack-clash-protection
                           $<$<CONFIG:Release>:-D_FORTIFY_SOURCE=2>)
  endif()
endfunction()

# Files that the one-pass builds (presets release and asan) compile alone: their file-local names would
# meet those of a neighbour.
function(phren_alone)
  set_source_files_properties(${ARGN} PROPERTIES SKIP_UNITY_BUILD_INCLUSION ON)
endfunction()

# phren_room(name SOURCES a.cc ... USES room ... [LINK library ...])
function(phren_room name)
  cmake_parse_arguments(ROOM "" "" "SOURCES;USES;LINK" ${ARGN})
  add_library(phren_${name} STATIC ${ROOM_SOURCES})
  target_link_libraries(phren_${name} PUBLIC phren_flags)
  foreach(used ${ROOM_USES})
    target_link_libraries(phren_${name} PUBLIC phren_${used})
  endforeach()
  target_link_libraries(phren_${name} PUBLIC ${ROOM_LINK})
endfunction()

# phren_test(name SOURCES a_test.cc ... USES room ... [LINK library ...])
# Suites whose name ends in "Slow" are left out of `make test-fast`.
function(phren_test name)
  cmake_parse_arguments(T "" "" "SOURCES;USES;LINK" ${ARGN})
  add_executable(${name}_tests ${T_SOURCES})
  foreach(used ${T_USES})
    target_link_libraries(${name}_tests PRIVATE phren_${used})
  endforeach()
  target_link_libraries(${name}_tests PRIVATE phren_flags GTest::gtest_main GTest::gmock ${T_LINK})
  target_include_directories(${name}_tests PRIVATE ${CMAKE_SOURCE_DIR}/tests)
  gtest_discover_tests(${name}_tests TEST_PREFIX ${name}. DISCOVERY_TIMEOUT 60
                       PROPERTIES TIMEOUT 600 WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
endfunction()
include(GoogleTest)
