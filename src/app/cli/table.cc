#include "app/cli/table.h"

#include <algorithm>
#include <cassert>
#include <ostream>

namespace phren::app {

std::size_t display_width(const std::string& text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) {
    return (static_cast<unsigned char>(c) & 0xC0u) != 0x80u;
  }));
}

Table::Table(std::vector<std::string> headings) : headings_(std::move(headings)) {
  for (std::string& heading : headings_) {
    to_the_right_.push_back(!heading.empty() && heading.front() == '>');
    if (to_the_right_.back()) heading.erase(0, 1);
  }
}

void Table::row(std::vector<std::string> cells) {
  assert(cells.size() == headings_.size());
  rows_.push_back(std::move(cells));
}

void Table::print_row(std::ostream& out, const std::vector<std::string>& cells,
                      const std::vector<std::size_t>& widths) const {
  for (std::size_t i = 0; i < cells.size(); ++i) {
    const std::string padding(widths[i] - display_width(cells[i]), ' ');
    if (i > 0) out << "  ";
    if (to_the_right_[i]) out << padding;
    out << cells[i];
    if (!to_the_right_[i] && i + 1 < cells.size()) out << padding;
  }
  out << '\n';
}

void Table::print(std::ostream& out) const {
  std::vector<std::size_t> widths;
  for (const std::string& heading : headings_) widths.push_back(display_width(heading));
  for (const auto& cells : rows_) {
    for (std::size_t i = 0; i < cells.size(); ++i) {
      widths[i] = std::max(widths[i], display_width(cells[i]));
    }
  }
  print_row(out, headings_, widths);
  std::vector<std::string> rule;
  for (const std::size_t width : widths) rule.emplace_back(width, '-');
  print_row(out, rule, widths);
  for (const auto& cells : rows_) print_row(out, cells, widths);
}

}  // namespace phren::app
