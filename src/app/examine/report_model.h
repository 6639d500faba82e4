// What the report says, as plain text and pictures, apart from how it looks.
#pragma once

#include <string>
#include <vector>

#include "app/examine/chest_map.h"

namespace phren::app {

struct Fact {  // "SpO2", "91 %"
  std::string label, value;
};

struct SiteCard {
  exam::Site site;
  std::string picture_svg;
  std::string audio_file;             // relative to the report; empty if there is none
  std::vector<std::string> measured;  // what the measurer found, one thing a line
  std::vector<std::string> truth;     // what the patient really made, one thing a line
};

struct FindingRow {
  std::string label, meaning;
  exam::Presence presence = exam::Presence::kUnknown;
  std::string basis, where, note;
  double confidence = 1.0;
};

struct ThreatRow {
  std::string label, why, source, standing;
  std::string grounds;  // the findings that name it
};

struct ImpressionRow {
  std::string label;
  double probability = 0.0;      // 0..1, the length of the bar
  double low = 0.0, high = 1.0;  // its 95 % interval
  bool is_threat = false;        // could kill soon
  std::string shown;             // the probability in words
  std::string why;               // the evidence that moved it most, in words
};

struct ReportModel {
  std::string title, subtitle, story;
  std::vector<std::string> teaching_points;
  std::vector<Fact> vital_signs;
  std::vector<ChestMark> marks;
  std::string legend;  // spells out the letters of the marks
  std::vector<FindingRow> findings;
  std::vector<ThreatRow> threats;      // named by a rule, most urgent first
  std::vector<ImpressionRow> ranking;  // most likely first
  std::vector<std::string> remarks;    // what the reader should know about the weighing
  std::string next_look;               // empty if nothing more would help
  std::vector<SiteCard> sites;         // mirrored places stand side by side where they can
  std::string how_made;                // case, seed, what it was made with
};

}  // namespace phren::app
