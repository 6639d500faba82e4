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

# Compiles one file for the browser to `object`, in the present folder of the build. Relative names let ccache
# give one build's object to the other.
function(phren_wasm_object source object depends)
  add_custom_command(OUTPUT ${CMAKE_CURRENT_BINARY_DIR}/${object}
    COMMAND ${CCACHE} ${WASM_CXX} ${WASM_FLAGS} ${ARGN} -MD -MF ${object}.d -c ${source} -o ${object}
    DEPENDS ${source} ${depends} DEPFILE ${CMAKE_CURRENT_BINARY_DIR}/${object}.d
    WORKING_DIRECTORY ${CMAKE_CURRENT_BINARY_DIR} COMMENT "Browser: ${object}" VERBATIM)
endfunction()

# phren_wasm(name file.wasm SOURCES path/from/root.cc ... [STACK bytes] [OPTIONS -O1 ...])
# As in the one-pass builds, up to six files of a room are compiled in one pass, but for phren_alone's.
function(phren_wasm name file)
  cmake_parse_arguments(W "" "STACK" "SOURCES;OPTIONS" ${ARGN})
  if(NOT W_STACK)
    set(W_STACK 262144)
  endif()
  set(objects)
  set(batch)
  set(batch_room "")
  set(n 0)
  foreach(source ${W_SOURCES} end)
    get_filename_component(room ${source} DIRECTORY)
    list(LENGTH batch length)
    if(length GREATER 0 AND (length EQUAL 6 OR NOT room STREQUAL batch_room))
      math(EXPR n "${n} + 1")
      string(REPLACE "/" "_" stem ${batch_room})
      set(one ${name}_${stem}_${n}.cc)
      list(TRANSFORM batch REPLACE "(.+)" "#include \"\\1\"\n" OUTPUT_VARIABLE lines)
      string(JOIN "" lines ${lines})
      file(GENERATE OUTPUT ${CMAKE_CURRENT_BINARY_DIR}/${one} CONTENT "${lines}")
      phren_wasm_object(${one} ${one}.o "${batch}" ${W_OPTIONS})
      list(APPEND objects ${CMAKE_CURRENT_BINARY_DIR}/${one}.o)
      set(batch)
    endif()
    if(source STREQUAL end)
      break()
    endif()
    set(is_alone FALSE)
    if(NOT room MATCHES "^src/app/")
      get_source_file_property(is_alone ${CMAKE_SOURCE_DIR}/${source} DIRECTORY ${CMAKE_SOURCE_DIR}/${room}
                               SKIP_UNITY_BUILD_INCLUSION)
    endif()
    if(is_alone)
      string(REPLACE "/" "_" object ${source})
      set(object ${name}_${object}.o)
      phren_wasm_object(${CMAKE_SOURCE_DIR}/${source} ${object} "" ${W_OPTIONS})
      list(APPEND objects ${CMAKE_CURRENT_BINARY_DIR}/${object})
    else()
      list(APPEND batch ${CMAKE_SOURCE_DIR}/${source})
      set(batch_room ${room})
    endif()
  endforeach()
  get_filename_component(folder ${file} DIRECTORY)
  add_custom_command(OUTPUT ${file}
    COMMAND ${CMAKE_COMMAND} -E make_directory ${folder}
    COMMAND ${WASM_CXX} --target=wasm32-wasi -mexec-model=reactor -O3 -Wl,--strip-all
            -Wl,-z,stack-size=${W_STACK} ${objects} -o ${file}
    DEPENDS ${objects} COMMENT "Linking ${file}" VERBATIM)
  add_custom_target(${name} ALL DEPENDS ${file})
endfunction()
