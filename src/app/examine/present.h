// From an examination to the pictures and words of its report.
//
// Errors: none.
#pragma once

#include "app/examine/examine.h"
#include "app/examine/report_model.h"
#include "reasoning/findings.h"

namespace phren::app {

ReportModel report_model(const Examined& examined, const reasoning::FindingTable& table);

// "34-year-old woman", "2-year-old boy", "5-month-old girl".
std::string person_in_words(const patient::Person& person);
// "wheeze present (x 3.2), ...": what moved a condition most, strongest first.
std::string reasons_in_words(const reasoning::RankedCondition& ranked, std::size_t most);
// What was measured at one place, loud or soft: "wheeze 412 Hz, 62 % of expiration"; "nothing added"
// where only breath was made out, since one place alone cannot tell that it is too soft.
std::string measured_in_words(const exam::SiteRecord& record);
// "81 %", with "below" or "above" where the scale of shown probabilities ends.
std::string probability_in_words(const reasoning::RankedCondition& ranked);
// "right, 6 sites" or "F5, F7".
std::string place_in_words(const exam::Finding& finding);

}  // namespace phren::app
