#include "records/handover/report_pdf.h"

#include <cairo-pdf.h>

#include <cstdio>
#include <memory>
#include <sstream>
#include <vector>

#include "base/files.h"
#include "base/text.h"

namespace phren::records {
namespace {

constexpr double kWidth = 595.0, kHeight = 842.0;  // A4
constexpr double kLeft = 56.0, kRight = 539.0, kTop = 64.0, kBottom = 770.0;
constexpr double kTextLeft = 132.0;  // after verdict and points

struct Closer {
  void operator()(cairo_t* c) const { cairo_destroy(c); }
  void operator()(cairo_surface_t* s) const { cairo_surface_destroy(s); }
};

// Writes lines down the page and turns to a new one when it is full.
class Page {
 public:
  explicit Page(cairo_t* cairo) : cairo_(cairo) {}

  void font(double size, bool bold) {
    cairo_select_font_face(cairo_, "sans-serif", CAIRO_FONT_SLANT_NORMAL,
                           bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_font_size(cairo_, size);
    line_ = size * 1.4;
  }
  void grey(double value) { cairo_set_source_rgb(cairo_, value, value, value); }
  void put(double x, const std::string& text) {
    cairo_move_to(cairo_, x, y_);
    cairo_show_text(cairo_, text.c_str());
  }
  void down(double by = 0.0) { y_ += line_ + by; }
  void room(double needed) {
    if (y_ + needed <= kBottom) return;
    foot();
    cairo_show_page(cairo_);
    y_ = kTop;
  }
  // Words wrapped between x and the right edge.
  void wrapped(double x, const std::string& text) {
    for (const std::string& line : lines_of(text, kRight - x)) {
      room(line_);
      put(x, line);
      down();
    }
  }
  void rule() {
    cairo_set_line_width(cairo_, 0.5);
    cairo_move_to(cairo_, kLeft, y_ - line_ * 0.7);
    cairo_line_to(cairo_, kRight, y_ - line_ * 0.7);
    cairo_stroke(cairo_);
  }
  void foot() {
    const double kept = y_;
    y_ = kHeight - 40.0;
    font(8.0, false);
    grey(0.35);
    put(kLeft,
        "Training aid with a simulated patient. Not a medical device. Follow local protocols and "
        "medical direction.");
    y_ = kept;
    grey(0.0);
  }

 private:
  std::vector<std::string> lines_of(const std::string& text, double width) {
    std::vector<std::string> lines;
    std::istringstream words(text);
    std::string line;
    for (std::string word; words >> word;) {
      const std::string longer = line.empty() ? word : line + " " + word;
      cairo_text_extents_t extents;
      cairo_text_extents(cairo_, longer.c_str(), &extents);
      if (extents.x_advance > width && !line.empty()) {
        lines.push_back(line);
        line = word;
      } else {
        line = longer;
      }
    }
    if (!line.empty()) lines.push_back(line);
    return lines;
  }

  cairo_t* cairo_;
  double y_ = kTop;
  double line_ = 14.0;
};

std::string points_of(double points, double of) {
  return number_text(points, 1) + " of " + number_text(of, 1);
}

// An item as the candidate read it.
std::string text_of(const teaching::MarkSheet& sheet, const std::string& id) {
  for (const teaching::ItemMark& item : sheet.items) {
    if (item.item_id == id) return item.text;
  }
  return id;
}

// "ENGINEERING: our own list" -> "Our own list": the word before the colon is for those who keep the data.
std::string without_status_word(const std::string& status) {
  const std::size_t colon = status.find(": ");
  const bool is_word = colon != std::string::npos &&
                       status.find_first_not_of("ABCDEFGHIJKLMNOPQRSTUVWXYZ-") == colon;
  std::string text = is_word ? status.substr(colon + 2) : status;
  if (!text.empty() && text[0] >= 'a' && text[0] <= 'z')
    text[0] = static_cast<char>(text[0] - 'a' + 'A');
  return text;
}

void write_head(Page& page, const ReportHeader& header, const teaching::MarkSheet& sheet) {
  page.font(18.0, true);
  page.wrapped(kLeft, header.title);
  page.font(10.0, false);
  page.wrapped(kLeft, header.learner + "   " + header.date);
  if (!header.patient.empty()) page.wrapped(kLeft, "The patient had: " + header.patient);
  page.down(4.0);
  page.font(13.0, true);
  std::string verdict = sheet.passed ? "Passed" : "Not passed";
  verdict += ", " + points_of(sheet.points, sheet.max_points) + " points";
  page.wrapped(kLeft, verdict);
  page.font(10.0, false);
  if (sheet.over_time) page.wrapped(kLeft, "The time limit was passed.");
  if (!sheet.critical_missed.empty()) {
    page.wrapped(kLeft, "Critical items missed:");
    for (const std::string& id : sheet.critical_missed) {
      page.wrapped(kTextLeft, text_of(sheet, id));
    }
  }
  page.down(6.0);
}

void write_item(Page& page, const teaching::ItemMark& item) {
  page.font(10.0, true);
  page.room(48.0);
  page.grey(0.75);
  page.rule();
  page.grey(0.0);
  page.put(kLeft, std::string(teaching::to_string(item.verdict)));
  page.wrapped(kTextLeft, item.text + (item.critical ? "  (critical)" : ""));
  page.font(9.0, false);
  if (item.verdict != teaching::Verdict::kNotJudged) {
    page.put(kLeft, points_of(item.points, item.max_points));
  }
  page.wrapped(kTextLeft, item.reason.empty() ? "No reason was noted." : item.reason);
  page.down(0.0);
}

}  // namespace

Result<std::string> mark_reports_pdf(const std::vector<MarkReport>& reports) {
  if (reports.empty()) {
    return fail(ErrorCode::kInvalidArgument, "there is no marked encounter to report on");
  }
  std::string bytes;
  const auto append = [](void* target, const unsigned char* data, unsigned int length) {
    static_cast<std::string*>(target)->append(reinterpret_cast<const char*>(data), length);
    return CAIRO_STATUS_SUCCESS;
  };
  const std::unique_ptr<cairo_surface_t, Closer> surface(
      cairo_pdf_surface_create_for_stream(append, &bytes, kWidth, kHeight));
  cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_TITLE,
                                 reports.front().header.title.c_str());
  std::string encounters;
  for (const MarkReport& report : reports)
    encounters += (encounters.empty() ? "" : ", ") + report.header.encounter;
  cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_KEYWORDS, encounters.c_str());
  const std::unique_ptr<cairo_t, Closer> cairo(cairo_create(surface.get()));
  for (const MarkReport& report : reports) {
    Page page(cairo.get());
    write_head(page, report.header, report.sheet);
    for (const teaching::ItemMark& item : report.sheet.items) write_item(page, item);
    page.font(8.0, false);
    if (!report.header.status.empty()) {
      page.wrapped(kLeft, "Checklist: " + without_status_word(report.header.status));
    }
    page.foot();
    cairo_show_page(cairo.get());
  }
  cairo_surface_finish(surface.get());
  const cairo_status_t status = cairo_surface_status(surface.get());
  if (status != CAIRO_STATUS_SUCCESS || cairo_status(cairo.get()) != CAIRO_STATUS_SUCCESS) {
    return fail(ErrorCode::kIo,
                std::string("the report cannot be written: ") + cairo_status_to_string(status));
  }
  return bytes;
}

Status write_mark_report(const std::filesystem::path& file, const ReportHeader& header,
                         const teaching::MarkSheet& sheet) {
  const auto bytes = TRY(at(file.filename().string(), mark_reports_pdf({{header, sheet}})));
  return write_file(file, bytes);
}

}  // namespace phren::records
