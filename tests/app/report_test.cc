#include "app/examine/report.h"

#include <gtest/gtest.h>

namespace phren::app {
namespace {

exam::Site site(const char* id, exam::Side side, exam::Aspect aspect, double u) {
  exam::Site out;
  out.id = id;
  out.name = std::string("place ") + id;
  out.side = side;
  out.at = {aspect, u, 0.5};
  return out;
}

double x_of_circle(const std::string& svg, const std::string& title) {
  const std::size_t at = svg.find("cx='", svg.find("<title>" + title));
  return std::stod(svg.substr(at + 4, 8));
}

TEST(ChestMap, TheBackIsSeenFromBehind) {
  using exam::Aspect, exam::Side;
  std::vector<ChestMark> marks(4);
  marks[0].site = site("FR", Side::kRight, Aspect::kFront, -0.5);
  marks[1].site = site("FL", Side::kLeft, Aspect::kFront, 0.5);
  marks[2].site = site("BR", Side::kRight, Aspect::kBack, -0.5);
  marks[3].site = site("BL", Side::kLeft, Aspect::kBack, 0.5);
  for (ChestMark& mark : marks) mark.description = mark.site.id;
  const std::string svg = chest_map_svg(marks, "map");
  EXPECT_LT(x_of_circle(svg, "FR"), x_of_circle(svg, "FL"));
  EXPECT_GT(x_of_circle(svg, "BR"), x_of_circle(svg, "BL"));
}

TEST(ChestMap, SilenceIsDrawnByShapeNotByColourAlone) {
  std::vector<ChestMark> marks(1);
  marks[0].is_silent = true;
  EXPECT_NE(chest_map_svg(marks, "map").find("class='silent'"), std::string::npos);
}

TEST(Report, SaysEverythingInTheModelAndEscapesIt) {
  ReportModel model;
  model.title = "A <b>case</b>";
  model.story = "She said \"help\" & sat down.";
  model.vital_signs = {{"SpO2", "91 %"}};
  model.threats = {{"Tension pneumothorax", "air under pressure", "Roberts 2015",
                    "rule is our choice", "one side is silent"}};
  model.ranking = {{"Asthma", 0.81, 0.6, 0.92, true, "81 %", "wheeze"}};
  model.next_look = "Tap both sides";
  model.findings = {{"wheeze", "a whistle", exam::Presence::kAbsent, "measured", "", "", 0.9}};
  SiteCard card;
  card.site = site("F5", exam::Side::kRight, exam::Aspect::kFront, -0.6);
  card.audio_file = "audio/F5.wav";
  card.measured = {"wheeze 412 Hz"};
  card.truth = {"wheeze, twelve times"};
  model.sites = {card};
  model.teaching_points = {"Listen to both sides."};
  const std::string html = report_html(model);
  for (const char* part :
       {"A &lt;b&gt;case&lt;/b&gt;", "&quot;help&quot; &amp; sat", "91 %", "Tension pneumothorax",
        "one side is silent", "Roberts 2015; rule is our choice", "60.0 to 92.0 %", ">81 %",
        "Tap both sides", "Looked for, and not there:</b> wheeze.", "id='site-F5'", "audio/F5.wav",
        "wheeze 412 Hz", "twelve times", "Listen to both sides.", "Training aid."}) {
    EXPECT_NE(html.find(part), std::string::npos) << part;
  }
  EXPECT_EQ(html.find("<b>case"), std::string::npos);
}

TEST(Report, NeedsNothingFromOutside) {
  const std::string html = report_html({});
  for (const char* part : {"http://", "https://", "<script", "@import", "<link"}) {
    EXPECT_EQ(html.find(part), std::string::npos) << part;
  }
}

}  // namespace
}  // namespace phren::app
