// Sorting that keeps the order of equals.
//
// std::stable_sort of libstdc++ 12 calls a deprecated function, which clang 19 reports as ours.
// This sorts places instead, a tie going to the earlier one, so that the order is total. Shapes:
// any vector-like range of movable items. Errors: none. Cost: n log n, one vector of places.
#pragma once

#include <algorithm>
#include <cstddef>
#include <numeric>
#include <utility>
#include <vector>

namespace phren {

template <class Item, class Less>
void stable_sort(std::vector<Item>& items, Less less) {
  std::vector<std::size_t> places(items.size());
  std::iota(places.begin(), places.end(), std::size_t{0});
  std::sort(places.begin(), places.end(), [&](std::size_t a, std::size_t b) {
    if (less(items[a], items[b])) return true;
    return !less(items[b], items[a]) && a < b;
  });
  std::vector<Item> sorted;
  sorted.reserve(items.size());
  for (const std::size_t place : places) sorted.push_back(std::move(items[place]));
  items = std::move(sorted);
}

}  // namespace phren
