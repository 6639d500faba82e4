// Reads the small tables of tests/published/psychometrics and counts checks against them.
#pragma once

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <fstream>
#include <map>
#include <sstream>
#include <string>
#include <vector>

namespace phren::published {

using CsvRow = std::map<std::string, std::string>;

inline std::vector<std::string> split(const std::string& line) {
  std::vector<std::string> cells;
  std::stringstream stream(line);
  for (std::string cell; std::getline(stream, cell, ',');) cells.push_back(cell);
  if (!line.empty() && line.back() == ',') cells.emplace_back();
  return cells;
}

inline std::vector<CsvRow> read_csv(const std::string& name) {
  std::ifstream file("tests/published/psychometrics/" + name);
  EXPECT_TRUE(file.good()) << name;
  std::string line;
  std::getline(file, line);
  const auto header = split(line);
  std::vector<CsvRow> rows;
  while (std::getline(file, line)) {
    if (line.empty()) continue;
    const auto cells = split(line);
    EXPECT_EQ(cells.size(), header.size()) << name << ": " << line;
    CsvRow row;
    for (std::size_t i = 0; i < header.size() && i < cells.size(); ++i) row[header[i]] = cells[i];
    rows.push_back(row);
  }
  return rows;
}

inline double number(const CsvRow& row, const std::string& key) {
  return std::stod(row.at(key));
}

// "12 of 12" for one family of values; a miss is also a test failure.
class Tally {
 public:
  explicit Tally(std::string what) : what_(std::move(what)) {}
  ~Tally() { std::printf("CHECKED %s: %d of %d within tolerance\n", what_.c_str(), good_, all_); }
  void near(const std::string& name, double ours, double theirs, double tolerance) {
    ++all_;
    const bool ok = std::abs(ours - theirs) <= tolerance;
    good_ += ok ? 1 : 0;
    EXPECT_TRUE(ok) << what_ << ", " << name << ": ours " << ours << ", source " << theirs
                    << ", tolerance " << tolerance;
  }

 private:
  std::string what_;
  int good_ = 0, all_ = 0;
};

}  // namespace phren::published
