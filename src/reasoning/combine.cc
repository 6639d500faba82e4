#include "reasoning/combine.h"

#include <algorithm>
#include <cmath>

#include "base/stable_sort.h"

namespace phren::reasoning {

int GroupCounts::take(const FindingInfo& info) {
  int rank = 0;
  for (const std::size_t g : info.group_indices) rank = std::max(rank, counts_[g]);
  for (const std::size_t g : info.group_indices) ++counts_[g];
  return rank;
}

double shrunk(double shrink, int rank) {
  double out = 1.0;
  for (int i = 0; i < rank; ++i) out *= shrink;
  return out;
}

void combine(std::vector<Contribution>& contributions, const FindingTable& table, double shrink) {
  std::sort(contributions.begin(), contributions.end(),
            [](const Contribution& a, const Contribution& b) {
              const double x = std::abs(a.log_odds), y = std::abs(b.log_odds);
              return x != y ? x > y : a.finding_id < b.finding_id;
            });
  GroupCounts counts(table);
  for (Contribution& c : contributions) {
    c.shrink = shrunk(shrink, counts.take(table[*table.index_of(c.finding_id)]));
    c.log_odds *= c.shrink;
    c.sd *= c.shrink;
  }
  phren::stable_sort(contributions, [](const Contribution& a, const Contribution& b) {
    return std::abs(a.log_odds) > std::abs(b.log_odds);
  });
}

double total_with(const std::vector<Weighted>& sorted, const Weighted& added,
                  const FindingTable& table, double shrink) {
  GroupCounts counts(table);
  double total = 0.0;
  bool is_in = false;
  const auto take = [&](const Weighted& w) {
    total += w.log_odds * shrunk(shrink, counts.take(table[w.finding]));
  };
  for (const Weighted& w : sorted) {
    if (!is_in && std::abs(added.log_odds) > std::abs(w.log_odds)) {
      take(added);
      is_in = true;
    }
    take(w);
  }
  if (!is_in) take(added);
  return total;
}

}  // namespace phren::reasoning
