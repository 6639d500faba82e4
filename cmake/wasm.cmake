# WebAssembly modules for the browser, compiled by clang from the same files as the native program.
# Needs clang++-19 with wasi-libc and libc++-19-dev-wasm32; without them PHREN_HAS_WASM is off.

find_program(WASM_CXX NAMES clang++-19)
set(PHREN_HAS_WASM OFF)
if(WASM_CXX AND EXISTS /usr/include/wasm32-wasi/c++/v1)
  set(PHREN_HAS_WASM ON)
endif()
set(WASM_FLAGS --target=wasm32-wasi -std=c++20 -O3 -msimd128 -fno-exceptions -fno-rtti
  -ffp-contract=off -Wall -Wextra -Wconversion -Wshadow -Werror -I${CMAKE_SOURCE_DIR}/src
  -DPHREN_VERSION="${PROJECT_VERSION}" -DPHREN_SOURCE_DIR="")

# phren_wasm(name file.wasm SOURCES path/from/root.cc ... [STACK bytes] [OPTIONS -O1 ...])
function(phren_wasm name file)
  cmake_parse_arguments(W "" "STACK" "SOURCES;OPTIONS" ${ARGN})
  if(NOT W_STACK)
    set(W_STACK 262144)
  endif()
  set(objects)
  foreach(source ${W_SOURCES})
    string(REPLACE "/" "_" object ${source})
    set(object ${CMAKE_CURRENT_BINARY_DIR}/wasm/${object}.o)
    add_custom_command(OUTPUT ${object}
      COMMAND ${CMAKE_COMMAND} -E make_directory ${CMAKE_CURRENT_BINARY_DIR}/wasm
      COMMAND ${CCACHE} ${WASM_CXX} ${WASM_FLAGS} ${W_OPTIONS} -MD -MF ${object}.d -c
              ${CMAKE_SOURCE_DIR}/${source} -o ${object}
      DEPENDS ${CMAKE_SOURCE_DIR}/${source} DEPFILE ${object}.d
      COMMENT "Browser: ${source}" VERBATIM)
    list(APPEND objects ${object})
  endforeach()
  get_filename_component(folder ${file} DIRECTORY)
  add_custom_command(OUTPUT ${file}
    COMMAND ${CMAKE_COMMAND} -E make_directory ${folder}
    COMMAND ${WASM_CXX} --target=wasm32-wasi -mexec-model=reactor -O3 -Wl,--strip-all
            -Wl,-z,stack-size=${W_STACK} ${objects} -o ${file}
    DEPENDS ${objects} COMMENT "Linking ${file}" VERBATIM)
  add_custom_target(${name} ALL DEPENDS ${file})
endfunction()
