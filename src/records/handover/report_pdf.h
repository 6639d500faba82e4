// The mark sheet of one encounter as a PDF: what was asked for, what was done, why each mark.
//
// Units:   A4 pages, points.
// Errors:  kIo when the file cannot be written.
// Limits:  drawn with one font of the system; letters that it lacks show as boxes.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/result.h"
#include "teaching/marking/mark.h"

namespace phren::records {

struct ReportHeader {
  std::string title;      // of the checklist
  std::string learner;    // as the roll calls them
  std::string encounter;  // id, so that it can be replayed; kept in the file, not on the page
  std::string date;       // as it should be printed
  std::string status;     // whose word the checklist is; a status word before it is left out
  std::string patient;    // what the patient had; may be empty
};
struct MarkReport {
  ReportHeader header;
  teaching::MarkSheet sheet;
};
// One file with each report on pages of its own. kInvalidArgument without a report.
Result<std::string> mark_reports_pdf(const std::vector<MarkReport>& reports);
Status write_mark_report(const std::filesystem::path& file, const ReportHeader& header,
                         const teaching::MarkSheet& sheet);

}  // namespace phren::records
