// Short ways to build examinations for the tests of this room.
#pragma once

#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "base/files.h"
#include "reasoning/weigh.h"

namespace phren::reasoning {

inline const Knowledge& the_knowledge() {
  static const Knowledge knowledge = [] {
    auto loaded = Knowledge::load(data_directory());
    if (!loaded) {
      ADD_FAILURE() << loaded.error().message;
      std::abort();
    }
    return std::move(*loaded);
  }();
  return knowledge;
}

inline exam::Finding found(const std::string& id, exam::Side side = exam::Side::kMidline) {
  exam::Finding f;
  f.id = id;
  f.presence = exam::Presence::kPresent;
  f.side = side;
  return f;
}

inline exam::Finding not_found(const std::string& id) {
  exam::Finding f = found(id);
  f.presence = exam::Presence::kAbsent;
  return f;
}

inline exam::Examination patient(double age_years, std::vector<exam::Finding> findings = {}) {
  exam::Examination x;
  x.age_years = age_years;
  x.setting = age_years < 16 ? "ems_child" : "ems_adult";
  x.findings = std::move(findings);
  return x;
}

inline Impression weighed(const exam::Examination& x, const WeighOptions& options = {}) {
  auto impression = weigh(x, the_knowledge(), options);
  if (!impression) {
    ADD_FAILURE() << impression.error().message;
    return {};
  }
  return std::move(*impression);
}

inline RankedCondition ranked(const Impression& impression, const std::string& id) {
  for (const auto& r : impression.ranking) {
    if (r.id == id) return r;
  }
  ADD_FAILURE() << id << " is not in the ranking";
  return {};
}

}  // namespace phren::reasoning
