// A readable table of text for the terminal: columns as wide as their widest cell.
//
// Limits:  width counts UTF-8 characters, which is right for the Latin text Phren prints.
#pragma once

#include <iosfwd>
#include <string>
#include <vector>

namespace phren::app {

class Table {
 public:
  // A heading that starts with '>' is of a column aligned to the right, for numbers.
  explicit Table(std::vector<std::string> headings);
  void row(std::vector<std::string> cells);  // REQUIRES: as many cells as headings
  void print(std::ostream& out) const;       // headings, a rule, the rows; last column not padded

 private:
  void print_row(std::ostream& out, const std::vector<std::string>& cells,
                 const std::vector<std::size_t>& widths) const;
  std::vector<std::string> headings_;
  std::vector<bool> to_the_right_;
  std::vector<std::vector<std::string>> rows_;
};

std::size_t display_width(const std::string& text);

}  // namespace phren::app
