// Makes the patients of the weighing study, or judges the weighing on them.
#include "bench/weighing_study.h"

#include <cstdio>
#include <cstdlib>
#include <fstream>

namespace {

using namespace phren;

int complain(const std::string& message) {
  std::fprintf(stderr, "weighing_study: %s\n", message.c_str());
  return 1;
}

int make(const std::string& file, std::uint64_t per_condition, std::uint64_t part,
         std::uint64_t parts, std::uint64_t first) {
  auto tools = bench::StudyTools::load();
  if (!tools) return complain(tools.error().message);
  std::ofstream out(file);
  std::uint64_t n = 0;
  for (std::uint64_t index = first; index < first + per_condition; ++index) {
    for (const auto& condition : tools->knowledge.conditions) {
      if (n++ % parts != part) continue;
      const auto made = bench::make_study_patient(condition.id, index, *tools);
      if (!made) return complain(made.error().message);
      out << bench::to_line(*made) << std::flush;
    }
  }
  return out ? 0 : complain(file + ": cannot be written");
}

}  // namespace

int main(int count, char** words) {
  const std::vector<std::string> arguments(words + 1, words + count);
  const auto number = [&](std::size_t i, std::uint64_t otherwise) {
    return i < arguments.size() ? std::strtoull(arguments[i].c_str(), nullptr, 10) : otherwise;
  };
  if (arguments.size() >= 3 && arguments[0] == "make") {
    return make(arguments[1], number(2, 1), number(3, 0), number(4, 1), number(5, 1));
  }
  if (arguments.size() >= 4 && arguments[0] == "judge") {
    return bench::judge(arguments[1], number(2, 0), {arguments.begin() + 3, arguments.end()});
  }
  std::puts(
      "weighing_study make OUT.jsonl PER_CONDITION [PART PARTS [FIRST_PATIENT]]\n"
      "weighing_study judge FOLDER EXAMINER IN.jsonl...");
  return 2;
}
