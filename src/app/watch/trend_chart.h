// A monitor trend as one page: a panel per quantity, treatments as marked lines.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "app/watch/drawing.h"
#include "patient/signs.h"

namespace phren::app {

struct TrendRow {
  double minute = 0.0;
  patient::Monitor monitor;
  patient::Inside inside;
  std::string speech, consciousness, done;
};
using Trend = std::vector<TrendRow>;

Drawing trend_chart(std::string_view title, const Trend& trend);

}  // namespace phren::app
