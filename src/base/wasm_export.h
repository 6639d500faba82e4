// What a browser module gives to the page. Natively it is a plain C function, for tests.
#pragma once

#ifdef __wasm__
#define PHREN_EXPORT(name) extern "C" __attribute__((export_name(#name)))
#else
#define PHREN_EXPORT(name) extern "C"
#endif
