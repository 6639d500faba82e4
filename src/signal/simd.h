// One function, several instruction sets: the marked function is compiled for plain x86-64, AVX2
// and AVX-512, and the best one this machine has is chosen when the program starts. Contraction is
// off, so all of them give the same bits. Elsewhere, and under sanitizers, it is compiled once.
#pragma once

#if defined(__x86_64__) && defined(__linux__) && !defined(__SANITIZE_ADDRESS__) && \
    !defined(__SANITIZE_THREAD__) && !defined(__clang__)
#define PHREN_SIMD_CLONES \
  __attribute__((target_clones("arch=x86-64-v4", "arch=x86-64-v3", "default")))
#else
#define PHREN_SIMD_CLONES
#endif
#define PHREN_INLINE [[gnu::always_inline]] inline
