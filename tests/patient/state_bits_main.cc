// Usage: state_bits < SCRIPT > BITS. Built by the compiler that did not build the tests.
#include <iostream>

#include "state_bits.h"

int main() {
  std::cout << phren::patient::play(phren::patient::read(std::cin));
}
