// The examination report: one HTML file that needs nothing but itself (sound is linked, not held).
//
// Errors: none; every text is escaped.
#pragma once

#include <string>

#include "app/examine/report_model.h"

namespace phren::app {

std::string report_html(const ReportModel& model);

}  // namespace phren::app
